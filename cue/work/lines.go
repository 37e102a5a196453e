package work

import (
	"math"
	"slices"

	"backfield/layout/path"
	"backfield/layout/sound"
	"backfield/layout/stands"
)

// makeUp is the level that distance adds, at every sample.
func (x *pathSolver) makeUp(p *StretchPath) {
	if !x.q.Worn || x.rules.MakeUpMaxDB <= 0 {
		return
	}
	p.MakeUpDB = make([]float64, len(x.q.Samples))
	for k := range p.MakeUpDB {
		d := x.q.Samples[k].At.Distance(x.Rig.Reference)
		p.MakeUpDB[k] = max(0, min(x.rules.MakeUpMaxDB, sound.DistanceDB(d, x.rules.MakeUpFromM)))
	}
}

// knots finds where the lines that are sent bend.
func (x *pathSolver) knots(p *StretchPath) {
	n := len(x.q.Samples)
	t := path.Trail{
		Counts: make([]float64, n), StepS: make([]float64, n), Forced: make([]bool, n),
		ToleranceMS: x.rules.KnotMS, MaxMS: x.rules.MaxMS, SlewMSPS: x.rules.SlewMSPS,
		Others: []path.Coordinate{{At: p.Want, Tolerance: x.rules.PanKnot}},
	}
	glides := x.rules.glides() && x.q.DelayMS == nil
	if glides {
		t.DelayMS = p.DelayMS
	}
	if p.MakeUpDB != nil {
		t.Others = append(t.Others, path.Coordinate{At: p.MakeUpDB, Tolerance: makeUpKnot})
	}
	for k := range x.q.Samples {
		q := &x.q.Samples[k]
		t.Counts[k], t.StepS[k] = q.Counts, q.StepS
		t.Forced[k] = q.IsCue || q.IsWait || !glides && k > 0 && p.DelayMS[k] != p.DelayMS[k-1]
	}
	for _, k := range t.Knots() {
		p.Knots = append(p.Knots, PathKnot{k.Sample, p.DelayMS[k.Sample] + float64(k.Offset)*t.ToleranceMS})
	}
}

// lines are the delays of the lines between the knots, at every sample, as they are sent.
func (x *pathSolver) lines(p *StretchPath) []float64 {
	if !x.rules.glides() || x.q.DelayMS != nil {
		return p.DelayMS
	}
	sent := make([]float64, len(p.DelayMS))
	for n, to := range p.Knots {
		from := p.Knots[max(n-1, 0)]
		begin, run := x.q.Samples[from.Sample].Counts, x.q.Samples[to.Sample].Counts-x.q.Samples[from.Sample].Counts
		for k := from.Sample + 1; k < to.Sample; k++ {
			part := (x.q.Samples[k].Counts - begin) / run
			sent[k] = x.sent(from.DelayMS + (to.DelayMS-from.DelayMS)*part)
		}
		sent[to.Sample] = x.sent(to.DelayMS)
	}
	return sent
}

// fit finds how the path works for the seats and the press box, by part of the stretch.
func (x *pathSolver) fit(p *StretchPath) {
	p.SentMS = x.lines(p)
	sent, last := p.SentMS, len(x.q.Samples)-1
	parts := x.q.Samples[last].Part + 1 // without samples, if a score has two cues at one moment, which is an error
	p.fits, p.boxLate = make([]*stands.Fit, parts), slices.Repeat([][2]float64{{math.Inf(1), math.Inf(-1)}}, parts)
	p.echoes = make([]partEcho, parts)
	for k := 0; k <= last; {
		part, late := x.q.Samples[k].Part, [2]float64{math.Inf(1), math.Inf(-1)}
		x.tally.Reset(x.rules.Window)
		for k <= last && x.q.Samples[k].Part == part {
			q, weightS := &x.q.Samples[k], 0.0
			to := k
			for ; to <= last && x.q.Samples[to].Part == part && x.q.Samples[to].At == q.At && p.Want[to] == p.Want[k] &&
				sent[to] == sent[k]; to++ {
				weightS += x.q.Samples[to].WeightS
			}
			if v := sent[k] - p.NeedMS[k]; !math.IsNaN(v) {
				late[0], late[1] = min(late[0], v), max(late[1], v)
			}
			if x.Listeners.Len() > 0 && x.q.Player && weightS > 0 {
				x.hear(p, k)
				x.tally.Add(x.needs, weightS, sent[k])
			}
			k = to
		}
		if f, ok := x.tally.Fit(); ok {
			p.fits[part] = &f
		}
		p.boxLate[part] = late
	}
}
