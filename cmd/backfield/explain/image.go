package explain

import (
	"fmt"
	"math"

	"backfield/cue"
	"backfield/cue/timeline"
	"backfield/layout/sound"
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
	e.say("  place       %s", e.placeWords(w.Pan.Place))
	for _, s := range w.Pan.Sends {
		level := "off"
		if s.LevelDB != cue.Silent {
			level = fmt.Sprintf("%.2f dB", float64(s.LevelDB))
		}
		e.say("  sent        zone %d: %s", s.Zone, level)
	}
	e.say("")
}

// placeWords says which stacks a place along the row stands for, and how loud.
func (e *explainer) placeWords(place float64) string {
	row := e.s.Setup.System.Row(e.s.Rig.Reference).Order
	k := max(0, min(int(place), len(row)-1))
	text := fmt.Sprintf("%.5f along the row from the left, from 0: %s", place, e.s.Setup.System.Stacks[row[k]].Name)
	if part := place - float64(k); part > 0 && k+1 < len(row) {
		text += fmt.Sprintf(" cos(90 x %.5f) = %.5f, %s sin(90 x %.5f) = %.5f", part, math.Cos(part*math.Pi/2),
			e.s.Setup.System.Stacks[row[k+1]].Name, part, math.Sin(part*math.Pi/2))
	}
	return text
}
