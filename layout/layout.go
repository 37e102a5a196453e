// Package layout is the base of the program: what is written down, where things are, and how sound gets from
// there to the stands. This root holds only the point and its axes; the packages below do the work. It knows no
// cue and no OSC.
//
// Axes, everywhere inside the program: meters; X is 0 at the 50 and grows toward side 2, Y is 0 at the
// front sideline and grows toward the back, Z goes up from the grass.
package layout

import "math"

// Point is a place in meters.
type Point struct{ X, Y, Z float64 }

// Distance returns how far p is from q, in meters.
func (p Point) Distance(q Point) float64 {
	dx, dy, dz := p.X-q.X, p.Y-q.Y, p.Z-q.Z
	return math.Sqrt(dx*dx + dy*dy + dz*dz)
}

// Azimuth returns the direction of p seen from q in plan view, in radians: 0 straight toward the back
// sideline, positive toward side 2.
func (p Point) Azimuth(from Point) float64 { return math.Atan2(p.X-from.X, p.Y-from.Y) }
