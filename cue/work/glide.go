package work

import (
	"math"

	"backfield/cue"
)

// glideOf lists the knots after a cue's moment, up to the next cue's or the end of the stretch; nil where nothing moves.
func glideOf(p *micPart, w *Derivation) []cue.Knot {
	var list []cue.Knot
	moves := false
	s := p.stretch
	for _, k := range s.Knots {
		if k.Sample <= p.lo || k.Sample > p.hi {
			continue
		}
		at := s.Samples[k.Sample].Moment
		x := cue.Knot{
			Movement: at.Movement, Count: Tidy(at.Count()), TimeS: Tidy(p.clock.Seconds(at)), DelayMS: Tidy(k.DelayMS),
		}
		if k.Sample == p.hi && !p.rules.glides() {
			// A jump at the next cue is that cue's, which may be late.
			x.DelayMS = Tidy(s.DelayMS[max(p.hi-1, p.lo)])
		}
		moves = moves || math.Abs(x.DelayMS-w.Delay.MS) > p.Mixer.Delay.Step/2+1e-9
		if want := s.Want[k.Sample]; p.Rig.Zones {
			place := Tidy(want)
			x.Place = &place
			moves = moves || math.Abs(want-w.Pan.Place) > 1e-6
		} else {
			x.Pan = Tidy(max(min(want, p.Mixer.Pan.Max), p.Mixer.Pan.Min))
			moves = moves || math.Abs(want-w.Pan.Raw) > 1e-6
		}
		if s.MakeUpDB != nil {
			level := cue.Level(p.levelWith(s.MakeUpDB[k.Sample]).DB)
			x.LevelDB = &level
			moves = moves || level != cue.Level(w.Level.DB)
		}
		list = append(list, x)
	}
	if !moves {
		return nil
	}
	return list
}

// Tidy rounds to six decimals, of a meter, a count or a second, what is only printed and not computed with.
func Tidy(v float64) float64 {
	if v = math.Round(v*1e6) / 1e6; v == 0 {
		return 0 // no -0
	}
	return v
}
