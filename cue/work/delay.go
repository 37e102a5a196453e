package work

import (
	"fmt"
	"math"

	"backfield/cue/score"
	"backfield/cue/timeline"
	"backfield/layout/sound"
	"backfield/layout/stands"
)

// Delay is how a channel's delay at its cue's moment is chosen, in ms. The stretch has what comes after it.
type Delay struct {
	Policy   *stands.Policy
	Arrival  sound.Arrival    // of the first loudspeaker at the press box, by the rule for seats
	PlayerMS float64          // when the player's own sound arrives there
	FirstMS  float64          // what is heard there first, without a delay: the mean of the parts
	Parts    []stands.BoxPart // the stacks that are heard first there
	LeadMS   float64
	Box      score.BoxBound
	WantMS   float64 // what the policy wants, at least 0; NaN where the seats and the box decide
	RawMS    float64 // the path's delay, which may be off by the knots' tolerance
	Unheard  bool    // no stack carries the mic to the stands
	BelowMS  float64 // how far below 0 the delay would have to be at some moment of the cue, or 0
	OverMS   float64 // how long it would have to be, if that is longer than the mixer's longest; or 0
	Manual   bool    // set in the rig
	MS       float64 // rounded to the mixer's step, as it is sent
}

// delayOf is the delay at the cue's moment.
func delayOf(p *micPart, place MicPlace, pan Pan) Delay {
	d := Delay{Policy: p.policy, LeadMS: p.Score.LeadMS, Box: p.box, WantMS: p.stretch.WantMS[p.lo]}
	d.Arrival = p.System.First(p.Rig.Reference, pan.Gains)
	d.PlayerMS = 1000 * place.ReferenceM / p.System.SpeedMPS
	needMS, parts, heard := p.Listeners.BoxNeedMS(pan.Gains, place.Start)
	later := 1000 * LaterS(p.Rig, p.line)
	if d.Unheard = !heard; heard {
		d.FirstMS, d.Parts = d.PlayerMS-needMS+later, parts
		for i := range d.Parts {
			d.Parts[i].MS += later
		}
	}
	mic := p.line.Fixed
	d.Manual = mic != nil && mic.DelayMS != nil
	if d.RawMS = p.stretch.delayAt(p.lo); d.Manual {
		d.RawMS = *mic.DelayMS
	}
	d.MS = p.sent(d.RawMS)
	d.limits(p)
	return d
}

// delayAt is the delay of the knot at a cue's first sample.
func (s *MicStretch) delayAt(sample int) float64 {
	for _, k := range s.Knots {
		if k.Sample == sample {
			return k.DelayMS
		}
	}
	return s.DelayMS[sample] // not reached: every cue is a knot
}

// limits finds the moments of the cue at which the delay is out of what a mixer can do.
func (d *Delay) limits(p *micPart) {
	most := max(p.Mixer.Delay.Max, 0)
	if d.Manual {
		if d.RawMS > most {
			d.OverMS = d.RawMS
		}
		return
	}
	below, over := 0.0, 0.0
	for k := p.lo; k <= p.hi; k++ {
		lo, hi := p.stretch.WantMS[k], p.stretch.WantMS[k]
		if p.policy.FromSeats() {
			lo, hi = p.stretch.NeedMS[k]+p.box.MS[0], p.stretch.NeedMS[k]+p.box.MS[1]
		}
		if !math.IsNaN(lo) {
			below, over = min(below, hi), max(over, lo)
		}
	}
	if p.line.Fixed == nil {
		d.BelowMS = 0 - below
	}
	if over > most {
		d.OverMS = over
	}
}

func (d Delay) notes(l timeline.Limits) (notes []string) {
	if d.Unheard {
		notes = append(notes, "no stack carries this mic to the stands, so it has no delay: check its pan and "+
			"the stacks' left and right")
	}
	if d.BelowMS > 0 {
		notes = append(notes,
			fmt.Sprintf("the delay would have to be %.1f ms: too close to the audience for the loudspeakers; "+
				"0 is sent", -d.BelowMS))
	}
	if d.OverMS > 0 {
		notes = append(notes, fmt.Sprintf("a delay of %.1f ms is needed, and the mixer's longest is %g ms", d.OverMS,
			max(l.Max, 0)))
	}
	return notes
}
