package stand

import (
	"math"
	"sync"

	"backfield/layout"
	"backfield/layout/sound"
)

// Listeners are the seats of a stand, one reference seat, and the stacks they hear. What depends on the
// stacks alone is worked out once: first arrivals and energy directions depend on the pan step only, so they
// are rows of a table that is filled as it is asked for. It is safe for concurrent use.
type Listeners struct {
	System    *sound.System
	Reference layout.Point

	x, y, z, w []float64   // seats with weight, in input order
	total      float64     // of the weights
	dist       [][]float64 // of each stack from each seat
	ux, uy     [][]float64 // towards each stack from each seat, in plan, as long as its energy there at amplitude 1 is great
	steps      int         // pan goes from -steps to +steps
	arrivals   []arrivalRow
	energy     []energyRow
}

type arrivalRow struct {
	once  sync.Once
	heard *Heard
}

// Heard is what seats hear first of a mic that is fed to the stacks in one way: for each seat the seconds from
// the mic to the first loudspeaker sound, +Inf where no stack reaches it.
type Heard struct {
	FirstS    []float64
	Reference sound.Arrival
}

// New prepares the seats with weight over 0 for a system; panSteps is the number of steps of the desk's pan
// between the middle and one side.
func New(seats []Seat, reference layout.Point, system *sound.System, panSteps int) *Listeners {
	l := &Listeners{System: system, Reference: reference, steps: panSteps, arrivals: make([]arrivalRow, 2*panSteps+1), energy: make([]energyRow, 2*panSteps+1)}
	for _, s := range seats {
		if s.Weight > 0 {
			l.x, l.y, l.z, l.w = append(l.x, s.At.X), append(l.y, s.At.Y), append(l.z, s.At.Z), append(l.w, s.Weight)
			l.total += s.Weight
		}
	}
	l.dist, l.ux, l.uy = make([][]float64, len(system.Stacks)), make([][]float64, len(system.Stacks)), make([][]float64, len(system.Stacks))
	for i, k := range system.Stacks {
		l.dist[i], l.ux[i], l.uy[i] = make([]float64, len(l.x)), make([]float64, len(l.x)), make([]float64, len(l.x))
		for j := range l.x {
			d := k.At.Distance(layout.Point{X: l.x[j], Y: l.y[j], Z: l.z[j]})
			dx, dy := k.At.X-l.x[j], k.At.Y-l.y[j]
			if plan := math.Hypot(dx, dy); plan > 0 { // a stack straight above is from no side
				v := sound.LevelAt(1, d)
				l.ux[i][j], l.uy[i][j] = v*dx/plan, v*dy/plan
			}
			l.dist[i][j] = d
		}
	}
	return l
}

// Len is the number of seats with weight.
func (l *Listeners) Len() int { return len(l.x) }

// AtPan is what is heard at pan step k, which stands for k/steps.
func (l *Listeners) AtPan(k int) *Heard {
	row := &l.arrivals[k+l.steps]
	row.once.Do(func() { row.heard = l.Through(l.System.Gains(float64(k) / float64(l.steps))) })
	return row.heard
}

// Through is what is heard of a mic that reaches the stacks with amplitudes g.
func (l *Listeners) Through(g []float64) *Heard {
	h := &Heard{FirstS: make([]float64, len(l.x)), Reference: l.System.First(l.Reference, g)}
	var carry []int
	for i := range g {
		if g[i] > 0 {
			carry = append(carry, i)
		}
	}
	level := make([]float64, len(carry))
	for j := range h.FirstS {
		loudest := 0.0
		for n, i := range carry {
			level[n] = sound.LevelAt(g[i], l.dist[i][j])
			loudest = max(loudest, level[n])
		}
		first := math.Inf(1)
		for n, i := range carry {
			if !sound.Significant(level[n], loudest) {
				continue
			}
			k := &l.System.Stacks[i]
			if t := l.System.LatencyS + k.DelayS + l.dist[i][j]/l.System.SpeedMPS; t < first-1e-12 {
				first = t
			}
		}
		h.FirstS[j] = first
	}
	return h
}

// Needs fills q with each seat's need: the input delay in seconds that lets the player at p and the first
// loudspeaker arrive together; -Inf at a seat that no stack reaches. The second result is the reference
// seat's need, and false where no stack reaches it.
func (l *Listeners) Needs(h *Heard, p layout.Point, q []float64) (reference float64, ok bool) {
	c := l.System.SpeedMPS
	for j := range q {
		dx, dy, dz := p.X-l.x[j], p.Y-l.y[j], p.Z-l.z[j]
		q[j] = math.Sqrt(dx*dx+dy*dy+dz*dz)/c - h.FirstS[j]
	}
	return p.Distance(l.Reference)/c - h.Reference.TimeS, h.Reference.OK
}
