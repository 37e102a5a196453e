package explain

import (
	"fmt"
	"io"
	"math"
	"strings"

	"backfield/cmd/backfield/show"
	"backfield/cue"
	"backfield/layout/field"
	"backfield/layout/unit"
)

// MoreSteps is the last line of Brief.
const MoreSteps = "  --all       shows every step, to check by hand"

// Brief writes in a dozen lines why a channel has its numbers in a cue: what is sent, and what each number comes from. mic
// is its name or the number of its channel.
func Brief(out io.Writer, s *show.Loaded, cueID, mic string) error {
	e, _, closed, err := explained(out, s, cueID, mic)
	if err != nil {
		return err
	}
	w := e.w
	title := fmt.Sprintf("%s (%s), cue %s", w.Name, e.who(), e.asked.ID)
	if e.asked.Name != "" {
		title += fmt.Sprintf(" %q", e.asked.Name)
	}
	e.say("%s at %s, %s", title, e.asked.At, cue.ClockTime(e.asked.TimeS))
	if closed {
		e.say("  closed      muted; what follows is of cue %s at %s, for which pan and delay are set while nobody "+
			"hears it", e.snapshot.ID, e.snapshot.At)
	} else {
		e.say("  open        as %s, %s", w.Role, e.openWords())
	}
	e.say("  stands      %s", e.standsWords())
	e.say("  level       %g dB = %s", w.Level.DB, strings.Join(e.levelParts(), ", "))
	e.say("  delay       %s", e.delayWords())
	e.say("  pan         %s", e.panWords())
	if text := e.pathWords(); text != "" {
		e.say("  then        %s", text)
	}
	if text := e.seatWords(); text != "" {
		e.say("  seats       %s", text)
	}
	e.say("  air         %s, sound %.1f m/s", unit.AirText(s.Rig.AirC), e.s.Setup.System.SpeedMPS)
	if len(w.Params) > 0 {
		var set []string
		for _, p := range w.Params {
			set = append(set, fmt.Sprintf("%s %s (%s)", p.Name, p.ValueText(p.Value), p.By))
		}
		e.say("  set         %s", strings.Join(set, ", "))
	}
	if len(w.Notes) > 0 {
		e.say("  notes       %s", strings.Join(w.Notes, "; "))
	}
	var sent []string
	for _, m := range s.Mixer.Messages(nil, one(e.asked, w.Channel)) {
		sent = append(sent, m.String())
	}
	e.say("  sent        %s", strings.Join(sent, ", "))
	e.say("%s", MoreSteps)
	return nil
}

// openWords says for how long the mic is open around the cue.
func (e *explainer) openWords() string {
	x := e.w.Stretch
	from, to := x.Samples[0].Moment, x.Samples[len(x.Samples)-1].Moment
	return fmt.Sprintf("from %d:%.6g to %d:%.6g without a break: %s", from.Movement, from.Count(), to.Movement,
		to.Count(), e.cuesOpen())
}

// standsWords says where the mic is, and where it walks before the next cue.
func (e *explainer) standsWords() string {
	p, d := &e.w.Place, e.s.Drill
	text := ""
	switch player, ok := d.Player(e.w.Name); {
	case e.w.Kind == cue.Fixed || !ok:
		return p.Dot
	case p.Leg.From == p.Leg.To || p.Leg.Part == 1:
		text = fmt.Sprintf("%s (set %s)", p.Dot, d.Sets[p.Leg.To].Label)
	case p.Leg.Part == 0:
		text = fmt.Sprintf("%s (set %s)", player.Dots[p.Leg.From].Words(), d.Sets[p.Leg.From].Label)
	default:
		text = fmt.Sprintf("%s, %.0f %% of the way from set %s to set %s", d.Field.Dot(p.Start), 100*p.Leg.Part,
			d.Sets[p.Leg.From].Label, d.Sets[p.Leg.To].Label)
	}
	if p.Start != p.End {
		text += fmt.Sprintf("; then walks %s before the next cue", field.Toward(p.Start, p.End))
	}
	return text
}

// delayWords says what the delay is made of, and what decides it.
func (e *explainer) delayWords() string {
	d := &e.w.Delay
	sent := fmt.Sprintf("%g ms", d.MS)
	switch {
	case d.Manual:
		return sent + ", set in the rig or by its kind"
	case d.Unheard:
		return sent + ": no stack is heard at the reference seat"
	}
	needMS := d.PlayerMS - d.FirstMS
	first := "the loudspeakers"
	if len(d.Parts) == 1 {
		first = e.s.Setup.System.Stacks[d.Parts[0].Stack].Name
	}
	way := "later"
	if d.MS < needMS {
		way = "earlier"
	}
	return fmt.Sprintf("%s = own sound %.1f - %s %.1f = %.1f, and %.1f %s; decided by %s", sent, d.PlayerMS, first,
		d.FirstMS, needMS, math.Abs(d.MS-needMS), way, e.heldBy())
}

// panWords says what the pan or the sends are made of.
func (e *explainer) panWords() string {
	p := &e.w.Pan
	switch {
	case p.Manual:
		return sideText(p.Value) + ", set in the rig"
	case p.Sends != nil:
		var sends []string
		for _, s := range p.Sends {
			level := "off"
			if s.LevelDB != cue.Silent {
				level = fmt.Sprintf("%.1f dB", float64(s.LevelDB))
			}
			sends = append(sends, fmt.Sprintf("zone %d %s", s.Zone, level))
		}
		return strings.Join(sends, ", ")
	}
	side := "side 2"
	if p.Tangent.Phi < 0 {
		side = "side 1"
	}
	text := fmt.Sprintf("%s: seen %.1f degrees toward %s, with stacks out to %.1f", sideText(p.Value),
		math.Abs(degrees(p.Tangent.Phi)), side, degrees(p.Tangent.Half))
	if math.Abs(p.Tangent.Pan) > e.s.Score.PanWidth {
		text += fmt.Sprintf(", limited to %.4g", e.s.Score.PanWidth)
	}
	if e.s.Score.PanByStands {
		text += ", the least wrong for all seats"
	}
	return text
}

// sideText is a pan for people: "L 0.20".
func sideText(pan float64) string {
	switch {
	case pan < 0:
		return fmt.Sprintf("L %.2f", -pan)
	case pan > 0:
		return fmt.Sprintf("R %.2f", pan)
	}
	return "center"
}

// pathWords says where delay and pan go until the next cue; "" where they stay.
func (e *explainer) pathWords() string {
	if len(e.w.Glide) == 0 {
		return ""
	}
	last := e.w.Glide[len(e.w.Glide)-1]
	was, is := fmt.Sprintf("%.1f", e.w.Delay.RawMS), fmt.Sprintf("%.1f", last.DelayMS)
	text := "delay " + was + " -> " + is + " ms"
	if was == is {
		text = "delay stays"
	}
	if last.Place == nil {
		text += fmt.Sprintf(", pan %s -> %s", sideText(e.w.Pan.Raw), sideText(last.Pan))
	}
	return text + fmt.Sprintf(" by %d:%.6g, while the player walks", last.Movement, last.Count)
}

// seatWords says how it is for the seats over the whole cue; "" in a show without stands.
func (e *explainer) seatWords() string {
	for i := range e.snapshot.Channels {
		if c := &e.snapshot.Channels[i]; c.Channel == e.w.Channel && c.Fit != nil {
			return fmt.Sprintf("%s; %.0f %% early, %.0f %% late", c.Fit.Figures(), 100*c.Fit.Early, 100*c.Fit.Late)
		}
	}
	return ""
}
