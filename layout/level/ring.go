package level

import (
	"math"

	"backfield/layout"
)

// ringReachM is how far from its stack a ring is looked for.
const ringReachM = 60

// Rings are where the stacks together are as loud as dba, at a height above the grass: around each stack, from the front
// and positive toward side 2, the furthest place in each of n directions that is still as loud and nearer to this stack
// than to any other. A direction without such a place is left out, so a ring may be empty.
func (s *Stadium) Rings(p *Playing, dba, heightM float64, n int) [][]layout.Point {
	sent := s.sum(s.feeds(p, s.choirs(p.Performers)))
	want := Energy(dba)
	var transfer []Energies
	rings := make([][]layout.Point, len(s.Stacks))
	for k := range s.Stacks {
		at := s.Stacks[k].At
		for i := range n {
			sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(n))
			spot := func(r float64) layout.Point { return layout.Point{X: at.X + r*sin, Y: at.Y - r*cos, Z: heightM} }
			loud := func(r float64) bool {
				place := spot(r)
				transfer = s.appendTransfer(transfer[:0], place)
				e := sent.at(transfer)
				return e.A() >= want && s.nearest(place) == k
			}
			out, in := float64(ringReachM), float64(ringReachM)
			for in > nearM && !loud(in) {
				out, in = in, in/1.1
			}
			if in <= nearM {
				continue
			}
			for range 20 {
				if mid := (in + out) / 2; loud(mid) {
					in = mid
				} else {
					out = mid
				}
			}
			rings[k] = append(rings[k], spot(in))
		}
	}
	return rings
}

// nearest is the stack that is nearest to a place in plan, the first of equal ones.
func (s *Stadium) nearest(p layout.Point) (stack int) {
	least := math.Inf(1)
	for k := range s.Stacks {
		if d := math.Hypot(p.X-s.Stacks[k].At.X, p.Y-s.Stacks[k].At.Y); d < least {
			stack, least = k, d
		}
	}
	return stack
}
