package plain

import (
	"math"
	"slices"
)

const slack = 1e-9 // dB, in all comparisons of a proposal

// PlainCue is all that a proposal looks at: both ends of each snapshot of a cue, the walk at every quarter count for the
// loops, and the limits.
type PlainCue struct {
	Ends, Walk []*PlainScene
	Target     float64 // NaN: the role has none
	Share      float64 // percent
	Over       float64
	Margin     float64
}

// PlainProposal is a change of all faders of the featured. What is missing is NaN.
type PlainProposal struct {
	Has    bool // there is a target, a featured mic on a player with a dot, and something to lead over
	Need   float64
	Cap    float64
	Limit  string // loop, over or ceiling: what sets the cap
	Change float64
	Short  float64
	AskBed bool    // the change does not reach the target
	Bed    float64 // the change of all others with which it is reached
}

// grid calls f with every change from -20 to 20 dB in steps of 0.5 dB.
func grid(f func(x float64)) {
	for i := -40; i <= 40; i++ {
		f(float64(i) / 2)
	}
}

// greatest is the greatest change on the grid that keeps a limit, or -20.
func greatest(keeps func(x float64) bool) float64 {
	most := -20.0
	grid(func(x float64) {
		if keeps(x) {
			most = x
		}
	})
	return most
}

// Propose is the proposal of a cue.
func (c PlainCue) Propose() PlainProposal {
	p := PlainProposal{Need: math.NaN(), Cap: math.NaN(), Short: math.NaN(), Bed: math.NaN()}
	lead := c.leads()
	if math.IsNaN(c.Target) || !c.hasFeatured() || math.IsNaN(lead(0, 0)) {
		return p
	}
	p.Has = true
	reaches := func(x, y float64) bool { return lead(x, y) >= c.Target-slack }
	grid(func(x float64) {
		if math.IsNaN(p.Need) && reaches(x, 0) {
			p.Need = x
		}
	})
	p.Cap = math.Inf(1)
	for _, limit := range []struct {
		name string
		most float64
	}{{"loop", c.loopCap()}, {"over", c.overCap()}, {"ceiling", c.ceilingCap()}} {
		if limit.most < p.Cap {
			p.Cap, p.Limit = limit.most, limit.name
		}
	}
	switch {
	case math.IsNaN(p.Need):
		p.Change = p.Cap
	case p.Need > 0:
		p.Change = min(p.Need, p.Cap)
	case p.Cap >= 0:
		p.Change = 0
	case p.Limit == "loop":
		p.Change = p.Cap
	default:
		p.Change = max(p.Cap, p.Need)
	}
	if !math.IsNaN(p.Need) {
		p.Short = max(0, p.Need-p.Change)
	}
	if math.IsNaN(p.Need) || p.Change < p.Need {
		p.AskBed = true
		for i := 0; i >= -24 && math.IsNaN(p.Bed); i-- {
			if y := float64(i) / 2; reaches(p.Change, y) {
				p.Bed = y
			}
		}
	}
	return p
}

func (c PlainCue) hasFeatured() bool {
	return slices.ContainsFunc(c.Ends, func(s *PlainScene) bool {
		return slices.ContainsFunc(s.Players, func(m Musician) bool { return m.Featured && m.Mic != nil && !m.NoDot })
	})
}

// leads gives the lead at the share of the seats, the worst of all ends, with the faders moved.
func (c PlainCue) leads() func(x, y float64) float64 {
	heard := make([][]PlainHearing, len(c.Ends))
	for i, s := range c.Ends {
		for _, seat := range s.seats() {
			heard[i] = append(heard[i], s.Hear(seat.At))
		}
	}
	return func(x, y float64) float64 {
		worst := math.NaN()
		for i, s := range c.Ends {
			var value []float64
			for _, h := range heard[i] {
				value = append(value, h.Moved(x, y).Lead())
			}
			if v := ValueAt(s.seats(), value, c.Share); !math.IsNaN(v) && !(v >= worst) {
				worst = v
			}
		}
		return worst
	}
}

// loopCap keeps the total loop at the margin. Where the other mics alone do not, the featured mics stay 10 dB below it.
func (c PlainCue) loopCap() float64 {
	var featured, others []Octaves
	alone := math.Inf(-1)
	for _, s := range c.Walk {
		f, o := s.loops()
		featured, others = append(featured, f), append(others, o)
		alone = max(alone, slices.Max(o[:]))
	}
	most, withOthers := -c.Margin, true
	if alone > -c.Margin+slack {
		most, withOthers = -(c.Margin + 10), false
	}
	return greatest(func(x float64) bool {
		for i := range c.Walk {
			total := featured[i].plus(x)
			if withOthers {
				total = total.with(others[i])
			}
			if slices.Max(total[:]) > most+slack {
				return false
			}
		}
		return true
	})
}

// overCap keeps over at the box. Where there is nothing to compare, nothing stops it.
func (c PlainCue) overCap() float64 {
	var overs []float64
	for _, s := range c.Ends {
		overs = append(overs, s.Hear(s.Box).Over())
	}
	return greatest(func(x float64) bool {
		return !slices.ContainsFunc(overs, func(over float64) bool { return over+x > c.Over+slack })
	})
}

func (c PlainCue) ceilingCap() float64 {
	return greatest(func(x float64) bool {
		for _, s := range c.Ends {
			for _, m := range s.Players {
				if m.Featured && m.Mic != nil && m.Mic.Fader+x > m.Mic.Ceiling+slack {
					return false
				}
			}
		}
		return true
	})
}

// GroupChange is the proposal for the cues of a role that have as many featured mics: the median of their changes,
// rounded to 0.5 dB, halves up, and the nudge of each cue, 0 below 1.5 dB.
func GroupChange(changes []float64) (group float64, nudges []float64) {
	sorted := slices.Sorted(slices.Values(changes))
	n := len(sorted)
	median := (sorted[(n-1)/2] + sorted[n/2]) / 2
	group = math.Floor(2*median+0.5) / 2
	for _, x := range changes {
		nudge := x - group
		if math.Abs(nudge) < 1.5-slack {
			nudge = 0
		}
		nudges = append(nudges, nudge)
	}
	return group, nudges
}
