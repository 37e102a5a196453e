package level_test

import (
	"math"
	"testing"

	"backfield/layout"
	"backfield/layout/level"
)

// TestRings: on a ring the stacks are as loud as it says, and further out they are not.
func TestRings(t *testing.T) {
	s, p := smallStadium(115, 0), smallScene(0)
	rings := s.Rings(p, 85, level.EarHeightM, 36)
	for k, ring := range rings {
		at, bounded := smallStacks[k].At, 0
		for _, q := range ring {
			x, y := q.X-at.X, q.Y-at.Y
			heard := s.Sounding(p).Near([]layout.Point{q, {X: at.X + 1.02*x, Y: at.Y + 1.02*y, Z: q.Z}})
			if math.Abs(heard[0].StacksDBA-85) < 0.001 {
				bounded++
				if heard[1].StacksDBA >= 85 {
					t.Errorf("stack %d: %.2f dBA outside of the ring", k, heard[1].StacksDBA)
				}
			} else if heard[0].StacksDBA < 85 {
				t.Errorf("stack %d: %.2f dBA on the ring", k, heard[0].StacksDBA)
			}
		}
		if bounded < 30 {
			t.Errorf("stack %d: the ring has %d of 36 points at 85 dBA", k, bounded)
		}
		// In front of a stack it is louder than behind it.
		front, back := ring[0].Y-at.Y, ring[18].Y-at.Y
		if -front < 2*back {
			t.Errorf("stack %d: the ring goes %.1f m to the front and %.1f m to the back", k, -front, back)
		}
	}
	for _, ring := range s.Rings(p, 140, level.EarHeightM, 36) {
		if len(ring) != 0 {
			t.Errorf("140 dBA at %v", ring)
		}
	}
}
