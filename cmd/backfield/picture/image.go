package picture

import (
	"math"
	"slices"

	"backfield/cmd/backfield/show"
	"backfield/cue"
	"backfield/layout"
	"backfield/layout/sound"
)

// Image is the place on the line of the stacks where the sound of an open channel will seem to come from, heard at the
// reference seat, in meters. It is where the direction of the sound crosses the line between the stacks. In stereo the
// direction is the tangent law read backwards, for the outermost stacks. With zones it is the sum of the directions of
// the stacks that get the channel, weighted by amplitude, as in pairwise panning (V. Pulkki, JAES 45(6), 1997,
// equation 7). ok is false for a closed channel, and if the stacks make no image.
func Image(s *show.Loaded, c cue.Channel) (p layout.Point, ok bool) {
	sys, ref := s.Rig.System(s.Input.Mixer.Law), s.Rig.Reference
	switch {
	case !c.Open || len(sys.Stacks) == 0:
		return p, false
	case s.Rig.Zones:
		return zoneImage(s, sys, c)
	}
	t := sys.TangentPan(layout.Point{}, ref) // only the span of the stacks is used, which is the same for every place
	if t.Note != "" {
		if gains := carrying(sys.Gains(c.Pan)); len(gains) == 1 {
			return sys.Stacks[gains[0]].At, true
		}
		return p, false
	}
	return crossing(ref, t.Mid+sys.Image(t, c.Pan), sys.Stacks[t.LeftStack].At, sys.Stacks[t.RightStack].At)
}

func zoneImage(s *show.Loaded, sys *sound.System, c cue.Channel) (p layout.Point, ok bool) {
	amplitudes := make([]float64, len(sys.Stacks))
	for i, k := range s.Rig.MainStacks() { // in the order of the system's stacks
		for _, v := range c.Sends {
			if v.Zone == k.Zone && v.LevelDB != cue.Silent {
				amplitudes[i] = sound.Gain(float64(v.LevelDB))
			}
		}
	}
	carry := carrying(amplitudes)
	if len(carry) == 0 {
		return p, false
	}
	ref := s.Rig.Reference
	slices.SortStableFunc(carry, func(a, b int) int {
		if sys.Stacks[a].At.Azimuth(ref) < sys.Stacks[b].At.Azimuth(ref) {
			return -1
		}
		return 1
	})
	first, last := sys.Stacks[carry[0]].At, sys.Stacks[carry[len(carry)-1]].At
	if len(carry) == 1 {
		return first, true
	}
	x, y := 0.0, 0.0
	for _, i := range carry {
		sin, cos := math.Sincos(sys.Stacks[i].At.Azimuth(ref))
		x, y = x+amplitudes[i]*sin, y+amplitudes[i]*cos
	}
	return crossing(ref, math.Atan2(x, y), first, last)
}

// carrying lists the stacks with an amplitude above 0.
func carrying(amplitudes []float64) []int {
	var list []int
	for i, g := range amplitudes {
		if g > 0 {
			list = append(list, i)
		}
	}
	return list
}

// crossing is where the direction az (radians) from a seat meets the line from a to b, seen from above. It stays
// between the two.
func crossing(seat layout.Point, az float64, a, b layout.Point) (p layout.Point, ok bool) {
	sin, cos := math.Sincos(az)
	// The distance of a place from the line of sight, negative on the left.
	side := func(q layout.Point) float64 { return (q.X-seat.X)*cos - (q.Y-seat.Y)*sin }
	da, db := side(a), side(b)
	if da == db {
		return p, false
	}
	t := min(max(da/(da-db), 0), 1)
	return layout.Point{X: a.X + (b.X-a.X)*t, Y: a.Y + (b.Y-a.Y)*t}, true
}
