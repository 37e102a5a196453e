package stands

import (
	"math"
	"sync"

	"backfield/layout"
	"backfield/layout/sound"
)

// Listeners are the seats of the stands, one reference seat, and the stacks they hear. What depends on the
// stacks alone is computed once: first arrivals and energy directions depend on the pan step only, so they
// are rows of a table that is filled as it is asked for. It is safe for concurrent use.
type Listeners struct {
	System    *sound.System
	Reference layout.Point

	x, y, z, w []float64   // seats with weight, in input order
	total      float64     // of the weights
	level      [][]float64 // of each stack at each seat: its energy there at amplitude 1
	arrive     [][]float64 // of each stack at each seat: when it is heard there, in seconds, with no channel delay
	// toward each stack from each seat, in plan, as long as its energy there at amplitude 1 is great
	ux, uy   [][]float64
	steps    int // pan goes from -steps to +steps
	arrivals []arrivalRow
	energy   []energyRow

	seatArrivals []seatArrival // of each seat all stacks, by time
	together     []bool        // of each seat: two stacks are heard there at the same time
	boxArrivals  []seatArrival // at the reference seat
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

// Later is what is heard of a source whose sound takes longer to the loudspeakers, in seconds; less for a negative one.
func (h *Heard) Later(s float64) *Heard {
	if s == 0 {
		return h
	}
	later := &Heard{FirstS: make([]float64, len(h.FirstS)), Reference: h.Reference}
	later.Reference.TimeS += s
	for j, t := range h.FirstS {
		later.FirstS[j] = t + s
	}
	return later
}

// New prepares the seats with weight over 0 for a system; panSteps is the number of steps of the mixer's pan
// between the middle and one side.
func New(seats []Seat, reference layout.Point, system *sound.System, panSteps int) *Listeners {
	l := &Listeners{System: system, Reference: reference, steps: panSteps, arrivals: make([]arrivalRow, 2*panSteps+1),
		energy: make([]energyRow, 2*panSteps+1)}
	for _, s := range seats {
		if s.Weight > 0 {
			l.x, l.y, l.z, l.w = append(l.x, s.At.X), append(l.y, s.At.Y), append(l.z, s.At.Z), append(l.w, s.Weight)
			l.total += s.Weight
		}
	}
	table := func() [][]float64 {
		rows := make([][]float64, len(system.Stacks))
		for i := range rows {
			rows[i] = make([]float64, len(l.x))
		}
		return rows
	}
	l.level, l.arrive, l.ux, l.uy = table(), table(), table(), table()
	for i, k := range system.Stacks {
		for j := range l.x {
			d := k.At.Distance(layout.Point{X: l.x[j], Y: l.y[j], Z: l.z[j]})
			v := sound.LevelAt(1, d)
			l.level[i][j], l.arrive[i][j] = v, system.LatencyS+k.DelayS+d/system.SpeedMPS
			dx, dy := k.At.X-l.x[j], k.At.Y-l.y[j]
			if plan := math.Hypot(dx, dy); plan > 0 { // a stack straight above is from no side
				l.ux[i][j], l.uy[i][j] = v*dx/plan, v*dy/plan
			}
		}
	}
	l.boxArrivals = arrivalsAt(system, reference)
	for j := range l.x {
		at := layout.Point{X: l.x[j], Y: l.y[j], Z: l.z[j]}
		heard := arrivalsAt(system, at)
		l.seatArrivals, l.together = append(l.seatArrivals, heard...), append(l.together, together(heard))
	}
	return l
}

// Len is the number of seats with weight.
func (l *Listeners) Len() int { return len(l.x) }

// AtPan is what is heard at pan step k, which is the pan k/steps.
func (l *Listeners) AtPan(k int) *Heard {
	row := &l.arrivals[k+l.steps]
	row.once.Do(func() { row.heard = l.Through(l.System.Gains(float64(k) / float64(l.steps))) })
	return row.heard
}

// Through is what is heard of a mic that reaches the stacks with amplitudes g.
func (l *Listeners) Through(g []float64) *Heard {
	h := &Heard{FirstS: make([]float64, len(l.x)), Reference: l.System.First(l.Reference, g)}
	var carry []int
	for i, v := range g {
		if v > 0 {
			carry = append(carry, i)
		}
	}
	loudest, first := make([]float64, len(l.x)), h.FirstS
	for _, i := range carry {
		v, level := g[i]*g[i], l.level[i][:len(loudest)]
		for j, most := range loudest {
			loudest[j] = max(most, v*level[j])
		}
	}
	for j := range first {
		first[j] = math.Inf(1)
	}
	for _, i := range carry {
		v, level, arrive, loudest := g[i]*g[i], l.level[i][:len(first)], l.arrive[i][:len(first)], loudest[:len(first)]
		for j, before := range first {
			if t := arrive[j]; t < before-1e-12 && sound.Significant(v*level[j], loudest[j]) {
				first[j] = t
			}
		}
	}
	return h
}

// Needs fills q with each seat's need: the input delay in seconds that lets the player at p and the first
// loudspeaker arrive together; -Inf at a seat that no stack reaches. It returns the least and the greatest need of
// the n seats that are reached.
func (l *Listeners) Needs(h *Heard, p layout.Point, q []float64) (lo, hi float64, n int) {
	lo, hi = math.Inf(1), math.Inf(-1)
	sPerM := 1 / l.System.SpeedMPS
	x, y, z, first := l.x[:len(q)], l.y[:len(q)], l.z[:len(q)], h.FirstS[:len(q)]
	for j := range q {
		dx, dy, dz := p.X-x[j], p.Y-y[j], p.Z-z[j]
		v := math.Sqrt(dx*dx+dy*dy+dz*dz)*sPerM - first[j]
		if q[j] = v; !reached(v) {
			continue
		}
		if n++; v < lo {
			lo = v
		}
		if v > hi {
			hi = v
		}
	}
	return lo, hi, n
}

// needAt is the reference seat's need, in seconds; false where no stack reaches it.
func (l *Listeners) needAt(h *Heard, p layout.Point) (reference float64, ok bool) {
	return p.Distance(l.Reference)/l.System.SpeedMPS - h.Reference.TimeS, h.Reference.OK
}
