package main

import (
	"fmt"
	"io"
	"math"
	"strings"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/compiled"
	"backfield/cmd/backfield/show"
	"backfield/cue"
	"backfield/cue/compile"
	"backfield/layout"
	"backfield/layout/field"
	"backfield/layout/sound"
	"backfield/layout/stand"
	"backfield/layout/unit"
)

func explainCommand() *cobra.Command {
	var flags showFlags
	c := &cobra.Command{
		Use:   "explain SHOW CUE PLAYER",
		Short: "show the whole derivation of a player's numbers in a cue",
		Long: `Shows how level, mute, pan and delay of one player or fixed mic in one cue come about, step by
step, so that they can be checked by hand: the dot, the distances, the times, which stack is
heard first, rounding and limits. Put a name with a space in quotes: "Tpt 3".`,
		Args: exactly(3, "SHOW, CUE and PLAYER (quote a name with a space: \"Tpt 3\")"),
		RunE: func(c *cobra.Command, args []string) error {
			s, _, err := flags.compiled(c, show.Disk{}, args[0])
			if err != nil {
				return err
			}
			if strings.HasPrefix(args[2], "@") {
				return usage("explain wants one player or fixed mic, and %s is a section; name one of it", args[2])
			}
			if err := derive(c.OutOrStdout(), s, args[1], args[2]); err != nil {
				return &failure{exitUsage, err}
			}
			return nil
		},
	}
	flags.add(c)
	return c
}

// derive writes how the numbers of a player or fixed mic in a cue come about; an error says why there are none.
func derive(out io.Writer, s *show.Show, cueID, name string) error {
	w, at, closed, err := s.Explain(cueID, name)
	if err != nil {
		return err
	}
	snapshot, _ := s.Show.Find(at)
	asked, _ := s.Show.Find(cueID)
	e := explainer{Writer: out, s: s, w: w, snapshot: snapshot, asked: asked}
	if closed {
		e.closed(name)
	}
	e.all()
	return nil
}

// explainer writes one working in words. Every number comes from the working; nothing is computed here that
// the snapshot does not hold, but for the intermediate steps of the formulas shown.
type explainer struct {
	io.Writer
	s        *show.Show
	w        *compile.Working
	snapshot *cue.Snapshot // that the working belongs to
	asked    *cue.Snapshot // that was asked for: another one where the mic is closed in it
}

func (e *explainer) say(format string, args ...any) { fmt.Fprintf(e, format+"\n", args...) }

func (e *explainer) closed(name string) {
	when := "which the channel opens next in"
	if e.asked.TimeS > e.snapshot.TimeS {
		when = "which it was last open in"
	}
	if e.w.Name != name {
		when += ", for " + e.w.Name
	}
	moving := "Pan and delay"
	if len(e.w.Params) > 0 {
		moving = "Pan, delay and the desk's own parameters"
	}
	e.say("%s is closed in cue %s: muted, level off. %s are those of cue %s, %s,\nso that they move while nobody hears it.\n", name, e.asked.ID, moving, e.snapshot.ID, when)
}

func (e *explainer) all() {
	w := e.w
	who := fmt.Sprintf("channel %d", w.Channel)
	if w.Kind == cue.Worn {
		if w.Pack != "" {
			who = "pack " + w.Pack + ", " + who
		}
		if w.Section != "" {
			who = w.Section + ", " + who
		}
	} else {
		who = "fixed mic, " + who
	}
	e.say("%s (%s)\n%s\n", w.Name, who, compiled.Title(e.snapshot))
	e.place()
	e.air()
	if w.Sends != nil {
		e.zones()
	} else {
		e.pan()
	}
	e.delay()
	e.fit()
	e.level()
	e.params()
	if e.asked == e.snapshot {
		e.say("MUTE\n  open in this cue, as %s", w.Role)
	} else {
		e.say("MUTE\n  open in cue %s, as %s; closed in cue %s", e.snapshot.ID, w.Role, e.asked.ID)
	}
	if len(w.Notes) > 0 {
		e.say("\nNOTES")
		for _, n := range w.Notes {
			e.say("  %s", n)
		}
	}
	e.say("\nAS OSC, in cue %s", e.asked.ID)
	for _, m := range e.s.Desk.Messages(nil, one(e.asked, w.Channel)) {
		e.say("  %s", m)
	}
}

// one is the snapshot with a single channel.
func one(s *cue.Snapshot, channel int) *cue.Snapshot {
	single := *s
	single.Channels = nil
	for _, c := range s.Channels {
		if c.Channel == channel {
			single.Channels = append(single.Channels, c)
		}
	}
	return &single
}

func (e *explainer) place() {
	w, d := e.w, e.s.Drill
	e.say("PLACE")
	switch player, ok := d.Player(w.Name); {
	case w.Kind == cue.Fixed:
		e.say("  stands at   %q", w.Dot)
	case !ok:
	case w.Leg.From == w.Leg.To || w.Leg.Part == 1:
		e.say("  dot         set %s, as written: %q", d.Sets[w.Leg.To].Label, w.Dot)
	case w.Leg.Part == 0:
		e.say("  dot         set %s, as written: %q", d.Sets[w.Leg.From].Label, player.Dots[w.Leg.From].Words())
	default:
		from, to := d.Sets[w.Leg.From], d.Sets[w.Leg.To]
		walk := to.Arrive - to.Begin
		e.say("  walking     from set %s %q\n              to set %s %q,", from.Label, player.Dots[w.Leg.From].Words(), to.Label, player.Dots[w.Leg.To].Words())
		e.say("              %.4g of %s done, so %.1f %% of the way: %s", w.Leg.Part*float64(walk), plural(int(walk), "count"), 100*w.Leg.Part, d.Field.Dot(w.Start))
	}
	e.say("  metres      x %.4f (%.4g steps of 0.5715 m from the 50), y %.4f (%.4g steps of %.4f m from the front sideline), z %.2f",
		w.Start.X, w.Start.X/unit.StepM, w.Start.Y, w.Start.Y/d.Field.DepthStepM, d.Field.DepthStepM, w.Start.Z)
	if w.Start != w.End {
		e.say("  then walks  %.1f steps, to %s, before the next snapshot", field.Steps(w.Start, w.End), d.Field.Dot(w.End))
	}
	e.say("")
}

func (e *explainer) air() {
	t := e.s.Rig.AirC
	e.say("AIR\n  c = 343.2 sqrt((%.4g + 273.15) / 293.15) = %.3f m/s at %.4g C   (ISO 9613-1)\n", t, sound.SpeedMPS(t), t)
}

func degrees(rad float64) float64 { return rad * 180 / math.Pi }

func (e *explainer) pan() {
	w, t, sys := e.w, e.w.Tangent, e.s.System()
	ref := e.s.Rig.Reference
	e.say("PAN")
	if w.PanHand {
		e.say("  set by hand in the rig: %.4g", w.PanRaw)
		e.round("pan", w.PanRaw, w.Pan, e.s.Input.Desk.Pan)
		return
	}
	e.say("  reference   x %.3f, y %.3f, z %.3f m", ref.X, ref.Y, ref.Z)
	e.say("  seen from there, in plan: %s at atan2(%.3f, %.3f) = %.3f degrees", w.Name, w.Start.X-ref.X, w.Start.Y-ref.Y, degrees(t.PlayerAz))
	e.say("  stacks      %s at %.3f, %s at %.3f degrees: half the span %.3f, its middle %.3f",
		sys.Stacks[t.LeftStack].Name, degrees(t.LeftAz), sys.Stacks[t.RightStack].Name, degrees(t.RightAz), degrees(t.Half), degrees(t.Mid))
	switch {
	case t.Note != "":
		e.say("  %s", t.Note)
	default:
		clamped := ""
		if t.Clamped {
			clamped = " (beyond the outermost stack: held there)"
		}
		k := math.Tan(t.Phi) / math.Tan(t.Half)
		e.say("  phi         %.3f degrees from the middle%s", degrees(t.Phi), clamped)
		e.say("  k           tan(%.3f) / tan(%.3f) = %.5f", degrees(t.Phi), degrees(t.Half), k)
		switch sys.Law {
		case sound.ConstantPower:
			e.say("  p           4/pi atan(%.5f) = %.5f   (%s pan law)", k, t.Pan, sys.Law)
		default:
			e.say("  p           %.5f, where (right - left) / (right + left) = %.5f   (%s pan law)", t.Pan, k, sys.Law)
		}
	}
	width := e.s.Score.PanWidth
	if math.Abs(t.Pan) > width {
		e.say("  width       held to %.4g", math.Copysign(width, t.Pan))
	}
	if e.s.Score.StandFit {
		e.say("  stand-fit   not by the reference seat: %.5f turns the image nearest to him over all %s", w.WantMin, plural(e.s.Show.Rig.Delay.Seats, "seat"))
	}
	if w.WantMax != w.WantMin {
		e.say("  walking     from %.5f to %.5f before the next snapshot: the middle, %.5f", w.WantMin, w.WantMax, w.PanRaw)
	}
	if w.Joint {
		e.say("  joint       moved to %.5f, within %.4g degrees of his direction: more seats inside the window", w.PanRaw, e.s.Score.JointDeg)
	}
	e.round("pan", w.PanRaw, w.Pan, e.s.Input.Desk.Pan)
}

// round tells the last step: limits and the desk's grid.
func (e *explainer) round(what string, raw, sent float64, l compile.Limits) {
	note := ""
	if raw < l.Min || raw > l.Max {
		note = fmt.Sprintf(", within the desk's %.4g to %.4g", l.Min, l.Max)
	}
	e.say("  sent        %.5f on the desk's step of %g%s: %s %g\n", raw, l.Step, note, what, sent)
}

func (e *explainer) delay() {
	w, sys := e.w, e.s.System()
	e.say("DELAY")
	if w.DelayHand {
		e.say("  set by hand in the rig: %.4g ms", w.RawMS)
		e.round("delay", w.RawMS, w.DelayMS, e.s.Input.Desk.Delay)
		return
	}
	e.say("  own sound   %.4f m to the reference seat / %.3f m/s = %.3f ms", w.ReferenceM, sys.SpeedMPS, w.PlayerMS)
	if w.Sends == nil {
		left, right := sys.Law.Gains(w.Pan)
		e.say("  pan %-7g left %.5f, right %.5f   (%s)", w.Pan, left, right, sys.Law)
	}
	e.stacks(sys, e.s.Rig.Reference)
	if !w.Arrival.OK {
		e.say("  no stack is heard at the reference seat: 0 ms\n")
		return
	}
	e.say("  first       %s, after %.3f ms   (those 10 dB under the loudest there do not count)", sys.Stacks[w.Arrival.Stack].Name, w.FirstMS)
	own := w.PlayerMS - w.FirstMS
	e.say("  need        %.3f - %.3f = %.3f ms, so that both arrive together at the reference seat", w.PlayerMS, w.FirstMS, own)
	e.policy(own)
	if w.RawMaxMS != w.RawMinMS {
		which := "the middle"
		if w.Policy == stand.NeverEarly {
			which = "the longest"
		}
		e.say("  walking     from %.3f to %.3f ms before the next snapshot: %s, %.3f ms", w.RawMinMS, w.RawMaxMS, which, w.RawMS)
	}
	if w.RawMS < 0 {
		e.say("  below 0     a mixer cannot send sound before it comes in: 0")
	} else if w.BelowMS > 0 {
		e.say("  below 0     for the reference seat to be inside the window it would have to be %.3f ms: a mixer cannot send sound before it comes in", -w.BelowMS)
	}
	e.round("delay", max(w.RawMS, 0), w.DelayMS, e.s.Input.Desk.Delay)
}

// policy tells how the delay is chosen from the needs.
func (e *explainer) policy(own float64) {
	w, score := e.w, e.s.Score
	start := "at the start of this snapshot"
	if w.RawMaxMS == w.RawMinMS {
		start = fmt.Sprintf("%.3f ms", w.RawMS)
	}
	seats := plural(e.s.Show.Rig.Delay.Seats, "seat")
	switch w.Policy {
	case stand.Reference:
		e.say("  reference   + %.4g ms lead, so that the player is heard first: %.3f ms", w.LeadMS, own+w.LeadMS)
	case stand.NeverEarly:
		e.say("  never-early the longest need of all %s: %s", seats, start)
	case stand.LeastError:
		e.say("  least-error the median need of %s, + %.4g ms lead: %s", seats, w.LeadMS, start)
	default:
		bound := fmt.Sprintf(", between the reference seat's need and %.4g ms more", score.WindowMS)
		if score.Free {
			bound = ""
		}
		e.say("  %-11s the first delay that puts most of %s inside the window of %.4g ms%s: %s", w.Policy, seats, score.WindowMS, bound, start)
	}
}

// fit tells how the delay serves the stand.
func (e *explainer) fit() {
	f := e.w.Fit
	if f == nil {
		return
	}
	e.say("FIT\n  of %s, over this snapshot: %.0f %% inside the window, %.0f %% early (loudspeaker ahead, worst %.1f ms), %.0f %% late (worst %.1f ms past the window)\n  median: the loudspeaker %.1f ms after the player\n",
		plural(e.s.Show.Rig.Delay.Seats, "seat"), 100*f.Inside, 100*f.Early, f.WorstEarlyMS, 100*f.Late, f.WorstLateMS, f.MedianMS)
}

// zones tells the sends of a rig whose stacks hang on buses of their own.
func (e *explainer) zones() {
	w, z, sys, ref := e.w, e.w.Zones, e.s.System(), e.s.Rig.Reference
	e.say("ZONES")
	e.say("  reference   x %.3f, y %.3f, z %.3f m", ref.X, ref.Y, ref.Z)
	e.say("  seen from there, in plan: %s at atan2(%.3f, %.3f) = %.3f degrees", w.Name, w.Start.X-ref.X, w.Start.Y-ref.Y, degrees(w.Start.Azimuth(ref)))
	if w.WantMax != w.WantMin {
		e.say("  walking     from %.3f to %.3f degrees before the next snapshot: the middle, %.3f", degrees(w.WantMin), degrees(w.WantMax), degrees(z.PlayerAz))
	}
	if z.Clamped {
		e.say("  beyond the outermost stack: held to its %.3f degrees", degrees(z.HeldAz))
	}
	if z.Left == z.Right {
		why := ""
		if e.s.Score.ZonesMost == 1 {
			why = ", the nearest to his direction (zones.most = 1)"
		}
		e.say("  carried by  %s alone, at %.3f degrees%s", sys.Stacks[z.Left].Name, degrees(z.LeftAz), why)
	} else {
		e.say("  between     %s at %.3f and %s at %.3f degrees: sends as sin(%.3f) to sin(%.3f), so that their powers add up to 1",
			sys.Stacks[z.Left].Name, degrees(z.LeftAz), sys.Stacks[z.Right].Name, degrees(z.RightAz),
			degrees(z.RightAz-z.HeldAz), degrees(z.HeldAz-z.LeftAz))
	}
	for _, s := range w.Sends {
		level := "off"
		if s.LevelDB != cue.Silent {
			level = fmt.Sprintf("%.2f dB", float64(s.LevelDB))
		}
		e.say("  sent        zone %d: %s", s.Zone, level)
	}
	e.say("")
}

func (e *explainer) stacks(sys *sound.System, seat layout.Point) {
	width := len("stack")
	for _, k := range sys.Stacks {
		width = max(width, len(k.Name))
	}
	e.say("  %-*s  amplitude  distance m  level there dB  latency + output delay + travel", width, "stack")
	loudest := 0.0
	for i, k := range sys.Stacks {
		loudest = max(loudest, sound.LevelAt(e.w.Gains[i], k.At.Distance(seat)))
	}
	for i, k := range sys.Stacks {
		d := k.At.Distance(seat)
		if e.w.Gains[i] == 0 {
			e.say("  %-*s  %9s  %10.4f  %14s  does not carry this channel", width, k.Name, "0", d, "-")
			continue
		}
		counts := ""
		if !sound.Significant(sound.LevelAt(e.w.Gains[i], d), loudest) {
			counts = "   does not count"
		}
		travel := 1000 * d / sys.SpeedMPS
		total := 1000*(sys.LatencyS+k.DelayS) + travel
		e.say("  %-*s  %9.5f  %10.4f  %14.2f  %.2f + %.2f + %.3f = %.3f ms%s", width, k.Name, e.w.Gains[i], d, 20*math.Log10(e.w.Gains[i]/d), 1000*sys.LatencyS, 1000*k.DelayS, travel, total, counts)
	}
}

// params tells where the desk's own parameters come from.
func (e *explainer) params() {
	for _, s := range e.w.Params {
		e.say("%s\n  set by      %s: %s", strings.ToUpper(s.Name), s.By, s.Words(s.Raw))
		if s.Switch {
			e.say("")
			continue
		}
		e.round(s.Name, s.Raw, s.Value, s.Limits)
	}
}

func (e *explainer) level() {
	w := e.w
	e.say("LEVEL")
	parts := []string{fmt.Sprintf("role %s %+.4g", w.Role, w.RoleDB)}
	for _, x := range []struct {
		name string
		db   float64
	}{{"trim", w.TrimDB}, {"nudge", w.NudgeDB}, {"make-up", w.MakeUpDB}} {
		if x.db != 0 {
			parts = append(parts, fmt.Sprintf("%s %+.4g", x.name, x.db))
		}
	}
	if w.MakeUpDB != 0 {
		m := e.s.Score.MakeUp
		e.say("  make-up     min(%.4g, 20 log10(%.2f m / %.4g m)) = %.3f dB", m.MaxDB, w.ReferenceM, m.FromM, w.MakeUpDB)
	}
	e.say("  sum         %s = %.4g dB", strings.Join(parts, ", "), w.LevelRawDB)
	e.round("level", w.LevelRawDB, w.LevelDB, e.s.Input.Desk.Level)
}
