package stands

import (
	"math"

	"backfield/layout"
	"backfield/layout/sound"
)

// Listeners are the seats of the stands, one reference seat, and the stacks they hear. What depends on the
// stacks alone is computed once: energy directions depend on the pan step only, so they are rows of a table that is filled
// as it is asked for. It is safe for concurrent use.
type Listeners struct {
	System    *sound.System
	Reference layout.Point

	x, y, z, w []float64 // seats with weight, in input order
	total      float64   // of the weights
	// toward each stack from each seat, in plan, as long as its energy there at amplitude 1 is great
	ux, uy [][]float64
	steps  int // pan goes from -steps to +steps
	energy []energyRow

	seatArrivals []seatArrival // of each seat all stacks, by time
	together     []bool        // of each seat: two stacks are heard there at the same time
	boxArrivals  []seatArrival // at the reference seat
}

// New prepares the seats with weight over 0 for a system; panSteps is the number of steps of the mixer's pan
// between the middle and one side.
func New(seats []Seat, reference layout.Point, system *sound.System, panSteps int) *Listeners {
	l := &Listeners{System: system, Reference: reference, steps: panSteps, energy: make([]energyRow, 2*panSteps+1)}
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
	l.ux, l.uy = table(), table()
	for j := range l.x {
		heard := arrivalsAt(system, layout.Point{X: l.x[j], Y: l.y[j], Z: l.z[j]})
		for _, a := range heard {
			i, v, k := a.stack, a.level, system.Stacks[a.stack].At
			dx, dy := k.X-l.x[j], k.Y-l.y[j]
			if plan := math.Hypot(dx, dy); plan > 0 { // a stack straight above is from no side
				l.ux[i][j], l.uy[i][j] = v*dx/plan, v*dy/plan
			}
		}
		l.seatArrivals, l.together = append(l.seatArrivals, heard...), append(l.together, together(heard))
	}
	l.boxArrivals = arrivalsAt(system, reference)
	return l
}

// Len is the number of seats with weight.
func (l *Listeners) Len() int { return len(l.x) }
