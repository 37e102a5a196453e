package work

import (
	"fmt"
	"math"
	"strings"

	"backfield/cue/timeline"
	"backfield/layout/sound"
	"backfield/layout/stands"
	"backfield/layout/unit"
)

// Delay is how a channel's delay is chosen, in ms.
type Delay struct {
	Policy   *stands.Policy
	Arrival  sound.Arrival // of the first loudspeaker at the reference seat
	PlayerMS float64       // when the player's own sound arrives at the reference seat, at the first moment
	FirstMS  float64       // when the first loudspeaker arrives there without a delay
	LeadMS   float64
	RawMinMS float64 // the range that the policy wants along the path
	RawMaxMS float64
	RawMS    float64
	Unheard  bool    // no stack carries the mic to the stands
	BelowMS  float64 // how far below 0 the delay would have to be, or 0
	Manual   bool    // set in the rig
	Over     bool    // longer than the mixer's longest
	MS       float64 // rounded to the mixer's step, as it is sent
}

// delayOf is the middle of the delays that the policy wants along the path, or the longest of them if the policy says
// so, limited to 0 and to the mixer's longest, and rounded to the mixer's step.
func delayOf(p *micPart, policy *stands.Policy, place MicPlace, pan Pan, heard *stands.Heard) Delay {
	d := Delay{Policy: policy, Arrival: heard.Reference, LeadMS: p.Score.LeadMS}
	d.PlayerMS = 1000 * place.ReferenceM / p.System.SpeedMPS
	if d.Arrival.OK {
		d.FirstMS = 1000 * d.Arrival.TimeS
	}
	q := solverInput{Policy: policy, Gains: pan.Gains, Path: p.path, LaterS: p.laterS()}
	wanted := p.memo.delays.get(q.key(), func() delays { return wantedAlong(p, q, heard) })
	if d.Unheard = !wanted.ok; wanted.ok {
		d.RawMinMS, d.RawMaxMS = wanted.loMS, wanted.hiMS
	}
	if d.RawMS = (d.RawMinMS + d.RawMaxMS) / 2; policy.Longest {
		d.RawMS = d.RawMaxMS
	}
	if mic := p.line.Fixed; mic != nil && mic.DelayMS != nil {
		d.RawMS, d.Manual = *mic.DelayMS, true
	}
	if p.line.Fixed == nil && d.Arrival.OK {
		d.BelowMS = -min(d.RawMS, 0)
		if policy.FromZero {
			last := 1000*(place.PathMinS-d.Arrival.TimeS) + p.Score.WindowMS
			d.BelowMS = -min(last, 0)
		}
	}
	least, most := max(p.Mixer.Delay.Min, 0), max(p.Mixer.Delay.Max, 0)
	d.Over = d.RawMS > most
	v := max(min(d.RawMS, most), least)
	if d.MS = unit.Round(v, p.Mixer.Delay.Step); policy.Longest && !d.Manual {
		d.MS = unit.RoundUp(v, p.Mixer.Delay.Step)
	}
	d.MS = min(d.MS, most)
	return d
}

// wantedAlong is the range of the delays that a policy wants along a path.
func wantedAlong(p *micPart, q solverInput, heard *stands.Heard) delays {
	x := delays{loMS: math.Inf(1), hiMS: math.Inf(-1)}
	for i, at := range q.Path {
		if i > 0 && at == q.Path[i-1] {
			continue
		}
		if v, ok := p.delay.Raw(heard, at, q.Policy, p.aim); ok {
			x.loMS, x.hiMS, x.ok = min(x.loMS, 1000*v), max(x.hiMS, 1000*v), true
		}
	}
	return x
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
	if d.Over {
		notes = append(notes, fmt.Sprintf("a delay of %.1f ms is needed, and the mixer's longest is %g ms", d.RawMS,
			max(l.Max, 0)))
	}
	return notes
}

// Drift is how far off a piece's numbers are at its worst moment, since one snapshot has one value for a whole walk.
type Drift struct {
	MS, Pan, AngleDeg float64
	TooFar            bool   // more than the score allows
	Words             string // what is off, if it is too far
}

func driftOf(p *micPart, place MicPlace, pan Pan, delay Delay) Drift {
	d := Drift{MS: 1000 * (place.PathMaxS - place.PathMinS) / 2}
	if delay.Manual {
		d.MS = 0
	}
	swing := (pan.WantMax - pan.WantMin) / 2
	if p.Rig.Zones {
		d.AngleDeg = swing * 180 / math.Pi
	} else {
		d.Pan = swing
	}
	const slack = 1e-6
	var off []string
	f := p.Score.Waypoints
	if d.MS > f.DriftMS+slack {
		off = append(off, fmt.Sprintf("the delay is off by up to %.1f ms (limit %g ms)", d.MS, f.DriftMS))
	}
	if d.Pan > f.Pan+slack {
		off = append(off, fmt.Sprintf("the pan is off by up to %.2f (limit %g; 1 is hard left or right)", d.Pan, f.Pan))
	}
	if d.AngleDeg > f.AngleDeg+slack {
		off = append(off, fmt.Sprintf("the direction is off by up to %.1f degrees (limit %g)", d.AngleDeg, f.AngleDeg))
	}
	if len(off) > 0 {
		d.TooFar = true
		d.Words = "walks while open, and before the next snapshot " + strings.Join(off, " and ")
	}
	return d
}

func (d Drift) notes() []string {
	if !d.TooFar {
		return nil
	}
	return []string{d.Words}
}
