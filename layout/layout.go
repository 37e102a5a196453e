// Package layout is the ground floor: what is written down, where things are, and how sound gets from
// there to the stand. This root holds only the point and its axes; the sub-rooms do the work. It knows no
// cue and no OSC.
//
// Axes, everywhere inside the program: metres; X is 0 at the 50 and grows towards side 2, Y is 0 at the
// front sideline and grows towards the back, Z goes up from the grass.
package layout

import "math"

// Point is a place in metres.
type Point struct{ X, Y, Z float64 }

// Distance returns how far p is from q, in metres.
func (p Point) Distance(q Point) float64 {
	dx, dy, dz := p.X-q.X, p.Y-q.Y, p.Z-q.Z
	return math.Sqrt(dx*dx + dy*dy + dz*dz)
}

// Azimuth returns the direction of p seen from q in plan view, in radians: 0 straight towards the back
// sideline, positive towards side 2.
func (p Point) Azimuth(from Point) float64 { return math.Atan2(p.X-from.X, p.Y-from.Y) }
