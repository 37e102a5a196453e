package stands

import (
	"backfield/layout"
)

// Joint searches pan and delay together for the most seats in the window: of the pan steps that allowed lets
// through, the one whose best delay has the largest weight; of equal ones the step nearest to from, the true
// direction's, then the smallest |k|, then the smaller k. ok is false where no step reaches a seat.
func (c *DelayChooser) Joint(p layout.Point, from int, allowed func(k int) bool, a Aim) (k int, ok bool) {
	best := -1.0
	for n := -c.l.steps; n <= c.l.steps; n++ {
		if n != from && !allowed(n) {
			continue
		}
		c.hear(c.l.AtPan(n), p)
		if c.n == 0 {
			continue
		}
		_, weight := c.order().mostSeats(c.reference, c.reached, a)
		if weight > best+slack || weight > best-slack && nearer(n, k, from) {
			best, k, ok = max(weight, best), n, true
		}
	}
	return k, ok
}

func nearer(a, b, from int) bool {
	switch {
	case abs(a-from) != abs(b-from):
		return abs(a-from) < abs(b-from)
	case abs(a) != abs(b):
		return abs(a) < abs(b)
	}
	return a < b
}
