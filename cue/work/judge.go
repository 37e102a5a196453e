package work

import (
	"math"
	"slices"
	"sync"

	"backfield/cue"
	"backfield/cue/clock"
	"backfield/layout/stands"
)

// held is by how much fewer seats are in time than if the mixer's delay could glide: the difference of the mean shares
// over the stretch, 0 to 1. It is 0 for a mixer that glides, and for a mic whose delay the seats do not decide.
func (x *pathSolver) held(p *StretchPath) float64 {
	q := x.q
	still := !slices.ContainsFunc(q.Samples, func(k sampleInput) bool { return k.At != q.Samples[0].At })
	bySeats := slices.ContainsFunc(q.Samples, func(k sampleInput) bool { return k.Policy.FromSeats() })
	if x.rules.glides() || still || !bySeats || q.DelayMS != nil || !q.Player || !p.Heard || x.Listeners.Len() == 0 {
		return 0
	}
	gliding := *x.CompileSetup
	gliding.rules.Moves = cue.Glides
	y := &pathSolver{CompileSetup: &gliding, scratch: x.scratch, q: q}
	best, _, _ := y.path(p.TurnDeg, math.Inf(-1))
	return y.inTime(best.DelayMS, best) - y.inTime(p.DelayMS, best)
}

// inTime is the mean share of seats in time over a stretch, with delays by sample.
func (x *pathSolver) inTime(delayMS []float64, p *StretchPath) float64 {
	sum, total := 0.0, 0.0
	for k := range x.q.Samples {
		w := x.q.Samples[k].WeightS
		x.hear(p, k)
		sum, total = sum+w*x.needs.Share(x.rules.Window, delayMS[k]), total+w
	}
	if total == 0 {
		return 0
	}
	return sum / total
}

// BoxMiss is how far the press box hears a mic out of its bound in one cue. The worst is its farthest moment.
type BoxMiss struct {
	S     float64      // for how many seconds in all, by more than the knots' tolerance
	GapMS float64      // the arrival gap at the worst
	MS    [2]float64   // the bound there, as arrival gaps
	At    clock.Moment // of the worst
}

// BoxMiss finds where the press box hears a mic out of its bound in a cue. Where the policy wants a delay out of the
// bound, the bound reaches to that. A bound that the mixer's longest delay does not reach is left out.
func (s *CompileSetup) BoxMiss(w *Derivation) (m BoxMiss) {
	if w.Delay.Manual || w.Delay.Box.Free {
		return m
	}
	x, worst := w.Stretch, 0.0
	for k := w.Lo; k <= w.Hi; k++ {
		need := x.NeedMS[k]
		if math.IsNaN(need) || x.Samples[k].Rests || x.Samples[k].Cue != x.Samples[w.Lo].Cue {
			continue
		}
		box := w.Delay.Box
		if !w.Delay.Policy.FromSeats() {
			wanted := x.WantMS[k] - need
			box.MS = [2]float64{min(box.MS[0], wanted), max(box.MS[1], wanted)}
		}
		least, most := box.DelayMS(need)
		out := max(least-x.SentMS[k], x.SentMS[k]-most)
		if least > s.rules.MaxMS || out <= s.rules.KnotMS+s.rules.StepMS/2+1e-9 {
			continue
		}
		m.S += x.Samples[k].WeightS
		if out > worst {
			worst, m.GapMS, m.MS, m.At = out, x.SentMS[k]-need, box.MS, x.Samples[k].Moment
		}
	}
	return m
}

// AtSlew is the longest time that a delay moves as fast as it may, to one step of the search, of those that begin in its
// cue: for how many seconds, and from when. It is 0 for a mixer that does not glide.
func (s *CompileSetup) AtSlew(w *Derivation) (forS float64, from clock.Moment) {
	x := w.Stretch
	if !s.rules.glides() || w.Delay.Manual {
		return 0, from
	}
	fast := func(k int) bool {
		if k == 0 || k >= len(x.Samples) {
			return false
		}
		moved := math.Abs(x.DelayMS[k] - x.DelayMS[k-1])
		return moved > 1e-9 && moved >= s.rules.SlewMSPS*x.Samples[k].StepS-gridMS-1e-9
	}
	for k := w.Lo + 1; k <= w.Hi; k++ {
		if !fast(k) || fast(k-1) {
			continue
		}
		lasts := 0.0
		for n := k; fast(n); n++ {
			lasts += x.Samples[n].StepS
		}
		if lasts > forS {
			forS, from = lasts, x.Samples[k-1].Moment
		}
	}
	return forS, from
}

// EchoStack is the stack that most seats hear as an echo of a mic, at the middle of its cue if any do then, as an index
// into the system's stacks; -1 for none. needs is the caller's own memory, and laterMS how much longer than a worn mic's
// its sound takes to the loudspeakers. What a part of a path was found to echo by is kept with the path.
func (s *CompileSetup) EchoStack(needs *stands.SeatNeeds, w *Derivation, laterMS float64) int {
	x := w.Stretch
	kept := &x.echoes[x.Samples[w.Lo].Cue-x.Cues[0]]
	kept.once.Do(func() { kept.stack = s.echoStack(needs, w, laterMS) })
	return kept.stack
}

// partEcho is the stack that most seats hear as an echo in one part of a path, once somebody has asked.
type partEcho struct {
	once  sync.Once
	stack int
}

func (s *CompileSetup) echoStack(needs *stands.SeatNeeds, w *Derivation, laterMS float64) int {
	by, best := make([]float64, len(s.System.Stacks)), -1
	needs.LaterMS = laterMS
	for n := 0; n <= w.Hi-w.Lo && best < 0; n++ {
		k := w.Lo + ((w.Hi-w.Lo)/2+n)%(w.Hi-w.Lo+1)
		needs.Hear(s.GainsAt(w.Stretch.Want[k]), w.Stretch.Samples[k].At)
		needs.EchoesBy(w.Stretch.SentMS[k], by)
		for i, v := range by {
			if v > 0 && (best < 0 || v > by[best]) {
				best = i
			}
		}
	}
	return best
}
