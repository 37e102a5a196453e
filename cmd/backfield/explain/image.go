package explain

import (
	"fmt"
	"math"

	"backfield/cue"
	"backfield/cue/timeline"
	"backfield/layout"
	"backfield/layout/sound"
	"backfield/layout/stands"
)

func degrees(rad float64) float64 { return rad * 180 / math.Pi }

func (e *explainer) pan() {
	w, t, sys := e.w, e.w.Pan.Tangent, e.s.Setup.System
	ref := e.s.Rig.Reference
	e.say("PAN")
	if w.Pan.Manual {
		e.say("  set in the rig: %.4g", w.Pan.Raw)
		e.round("pan", w.Pan.Raw, w.Pan.Value, e.s.Input.Mixer.Pan)
		return
	}
	e.say("  reference   x %.3f, y %.3f, z %.3f m", ref.X, ref.Y, ref.Z)
	e.say("  seen from above: %s at atan2(%.3f, %.3f) = %.3f degrees", w.Name, w.Place.Start.X-ref.X,
		w.Place.Start.Y-ref.Y, degrees(t.PlayerAz))
	e.say("  stacks      %s at %.3f, %s at %.3f degrees: half the span %.3f, its middle %.3f",
		sys.Stacks[t.LeftStack].Name, degrees(t.LeftAz), sys.Stacks[t.RightStack].Name, degrees(t.RightAz),
		degrees(t.Half), degrees(t.Mid))
	switch {
	case t.Note != "":
		e.say("  %s", t.Note)
	default:
		clamped := ""
		if t.Clamped {
			clamped = " (limited to the outermost stack)"
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
		e.say("  width       limited to %.4g", math.Copysign(width, t.Pan))
	}
	if e.s.Score.PanByStands {
		e.say("  stands      instead of the reference seat: %.5f has the least wrong image over all %s", w.Pan.Raw,
			e.seats())
	}
	if w.Pan.TurnDeg != 0 {
		e.say("  joint       seen turned by %d degrees, of at most %.4g: %.5f has more seats in time", w.Pan.TurnDeg,
			e.s.Score.JointDeg, w.Pan.Raw)
	}
	e.round("pan", w.Pan.Raw, w.Pan.Value, e.s.Input.Mixer.Pan)
}

// round writes the last step: the mixer's limits and step.
func (e *explainer) round(what string, raw, sent float64, l timeline.Limits) {
	note := ""
	if raw < l.Min || raw > l.Max {
		note = fmt.Sprintf(", within the mixer's %.4g to %.4g", l.Min, l.Max)
	}
	e.say("  sent        %.5f on the mixer's step of %g%s: %s %g\n", raw, l.Step, note, what, sent)
}

func (e *explainer) delay() {
	w, sys := e.w, e.s.Setup.System
	e.say("DELAY")
	if w.Delay.Manual {
		if mic := e.s.Lines.List[w.Line].Fixed; mic.DelaySet {
			e.say("  set in the rig: %.4g ms", w.Delay.RawMS)
		} else {
			e.say("  %.4g ms, as for every %s that the rig gives no delay", w.Delay.RawMS, mic.KindWords())
		}
		e.round("delay", w.Delay.RawMS, w.Delay.MS, e.s.Input.Mixer.Delay)
		return
	}
	e.say("  own sound   %.4f m to the reference seat / %.3f m/s = %.3f ms", w.Place.ReferenceM, sys.SpeedMPS,
		w.Delay.PlayerMS)
	if w.Pan.Sends == nil {
		left, right := sys.Law.Gains(w.Pan.Raw)
		e.say("  pan %.5f: left %.5f, right %.5f   (%s; before it is rounded)", w.Pan.Raw, left, right, sys.Law)
	}
	e.stacks(sys, e.s.Rig.Reference)
	if w.Delay.Unheard {
		e.say("  no stack is heard at the reference seat: 0 ms\n")
		return
	}
	e.first()
	own := w.Delay.PlayerMS - w.Delay.FirstMS
	e.say("  need        %.3f - %.3f = %.3f ms, so that both arrive together at the reference seat", w.Delay.PlayerMS,
		w.Delay.FirstMS, own)
	e.policy(own)
	if w.Delay.BelowMS > 0 {
		e.say("  below 0     %.3f ms would be needed while this cue lasts, and a mixer cannot send sound before it "+
			"comes in", -w.Delay.BelowMS)
	}
	e.round("delay", w.Delay.RawMS, w.Delay.MS, e.s.Input.Mixer.Delay)
	e.glide()
}

// first writes what is heard first at the reference seat: the mean of the stacks' arrivals by what each adds.
func (e *explainer) first() {
	stacks := e.s.Setup.System.Stacks
	for _, part := range e.w.Delay.Parts {
		e.say("  first       %s, after %.3f ms, counts for %.4f", stacks[part.Stack].Name, part.MS, part.Share)
	}
	if len(e.w.Delay.Parts) > 1 {
		e.say("              together %.3f ms   (6 dB below the loudest counts in full, 14 dB not at all)",
			e.w.Delay.FirstMS)
	}
}

// policy writes how the delay is chosen from the needs.
func (e *explainer) policy(ownMS float64) {
	d, score := e.w.Delay, e.s.Score
	x := stands.Explained{
		NeedMS: ownMS, LeadMS: d.LeadMS, WindowMS: score.WindowMS, Free: d.Box.Free, BoxMS: d.Box.MS,
		Seats: e.seats(), Delay: fmt.Sprintf("%.3f ms", d.WantMS),
	}
	if d.Policy.FromSeats() {
		x.Delay = fmt.Sprintf("%.1f ms here", d.RawMS)
	}
	e.say("  %-11s %s", d.Policy.Name, d.Policy.Explain(x))
}

// glide writes the knots of the path after the cue's moment.
func (e *explainer) glide() {
	if len(e.w.Glide) == 0 {
		return
	}
	e.say("GLIDE\n  straight from knot to knot, until the next cue")
	timeS, ms := e.snapshot.TimeS, e.w.Delay.MS
	for _, k := range e.w.Glide {
		where := fmt.Sprintf("pan %.2f", k.Pan)
		if k.Place != nil {
			where = fmt.Sprintf("place %.3f", *k.Place)
		}
		speed := ""
		if seconds := k.TimeS - timeS; seconds > 0 {
			speed = fmt.Sprintf(", %.1f ms/s", (k.DelayMS-ms)/seconds)
		}
		e.say("  %d:%-9.4g %s   delay %.1f ms, %s%s", k.Movement, k.Count, cue.ClockTime(k.TimeS), k.DelayMS, where,
			speed)
		timeS, ms = k.TimeS, k.DelayMS
	}
	e.say("")
}

// fit writes how the delay works for the seats.
func (e *explainer) fit() {
	f := e.w.Fit
	if f == nil {
		return
	}
	e.say("FIT\n  of %s, over this snapshot: %.0f %% in time, %.0f %% early (loudspeaker ahead, worst %.1f "+
		"ms), %.0f %% late (worst %.1f ms past the window)\n  median: the loudspeaker %.1f ms after the player\n",
		e.seats(), 100*f.Inside, 100*f.Early, f.WorstEarlyMS, 100*f.Late, f.WorstLateMS, f.MedianMS)
}

// zones writes the sends of a rig with zones.
func (e *explainer) zones() {
	w, z, sys, ref := e.w, e.w.Pan.Zones, e.s.Setup.System, e.s.Rig.Reference
	e.say("ZONES")
	e.say("  reference   x %.3f, y %.3f, z %.3f m", ref.X, ref.Y, ref.Z)
	e.say("  seen from above: %s at atan2(%.3f, %.3f) = %.3f degrees", w.Name, w.Place.Start.X-ref.X,
		w.Place.Start.Y-ref.Y, degrees(w.Place.Start.Azimuth(ref)))
	if z.Clamped {
		e.say("  beyond the outermost stack: limited to its %.3f degrees", degrees(z.HeldAz))
	}
	if z.Left == z.Right {
		why := ""
		if e.s.Score.ZonesMost == 1 {
			why = ", the nearest to the player's direction (zones.most = 1)"
		}
		e.say("  carried by  %s alone, at %.3f degrees%s", sys.Stacks[z.Left].Name, degrees(z.LeftAz), why)
	} else {
		e.say("  between     %s at %.3f and %s at %.3f degrees: sends as sin(%.3f) to sin(%.3f), so that their "+
			"powers add up to 1",
			sys.Stacks[z.Left].Name, degrees(z.LeftAz), sys.Stacks[z.Right].Name, degrees(z.RightAz),
			degrees(z.RightAz-z.HeldAz), degrees(z.HeldAz-z.LeftAz))
	}
	for _, s := range w.Pan.Sends {
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
		loudest = max(loudest, sound.LevelAt(e.w.Pan.Gains[i], k.At.Distance(seat)))
	}
	latencyS := sys.LatencyS
	if mic := e.s.Lines.List[e.w.Line].Fixed; mic != nil {
		latencyS = mic.LatencyS
	}
	for i, k := range sys.Stacks {
		d := k.At.Distance(seat)
		if e.w.Pan.Gains[i] == 0 {
			e.say("  %-*s  %9s  %10.4f  %14s  does not carry this channel", width, k.Name, "0", d, "-")
			continue
		}
		counts := ""
		if !sound.Significant(sound.LevelAt(e.w.Pan.Gains[i], d), loudest) {
			counts = "   does not count"
		}
		travel := 1000 * d / sys.SpeedMPS
		total := 1000*(latencyS+k.DelayS) + travel
		e.say("  %-*s  %9.5f  %10.4f  %14.2f  %.2f + %.2f + %.3f = %.3f ms%s", width, k.Name, e.w.Pan.Gains[i], d,
			20*math.Log10(e.w.Pan.Gains[i]/d), 1000*latencyS, 1000*k.DelayS, travel, total, counts)
	}
}
