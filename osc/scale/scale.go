// Package scale is the way from a parameter's value to the number that a mixer takes for it, as the mixer's file writes
// it: amplitude, a straight line, or a curve of points.
package scale

import (
	"math"
	"slices"
)

// Largest is the greatest number that a scale may hold: far over any mixer's, and small enough that no
// arithmetic on it leaves the finite numbers.
const Largest = 1e15

// Scale is the way from a parameter's value, in its own unit, to the number on the wire. The zero Scale
// sends the value itself.
type Scale struct {
	in, out []float64 // points of a piecewise linear curve, in rising
	unity   float64   // where over 0: dB to amplitude, and this is what 0 dB is sent as
}

// Apply returns the number on the wire. Beyond the ends of a curve it is the end's.
func (s Scale) Apply(v float64) float64 {
	switch {
	case s.unity > 0:
		return s.unity * math.Pow(10, v/20)
	case len(s.in) == 0:
		return v
	}
	i, exact := slices.BinarySearch(s.in, v)
	switch {
	case exact:
		return s.out[i]
	case i == 0:
		return s.out[0]
	case i == len(s.in):
		return s.out[i-1]
	}
	return s.out[i-1] + (s.out[i]-s.out[i-1])*(v-s.in[i-1])/(s.in[i]-s.in[i-1])
}

// Invert is the way back: the value that is sent as v, the softest or lowest of those that are. Beyond the ends of
// a curve it is the end's.
func (s Scale) Invert(v float64) float64 {
	switch {
	case s.unity > 0 && v <= 0:
		return math.Inf(-1)
	case s.unity > 0:
		return 20 * math.Log10(v/s.unity)
	case len(s.in) == 0:
		return v
	}
	last := len(s.in) - 1
	falls := s.out[0] > s.out[last]
	reached := func(i int) bool { return s.out[i] >= v && !falls || s.out[i] <= v && falls }
	for i := range s.in {
		if !reached(i) {
			continue
		}
		if i == 0 || s.out[i] == v {
			return s.in[i]
		}
		return s.in[i-1] + (s.in[i]-s.in[i-1])*(v-s.out[i-1])/(s.out[i]-s.out[i-1])
	}
	return s.in[last]
}

// Ends are the first and last value that the scale sends as different numbers, in the parameter's unit.
func (s Scale) Ends() (lo, hi float64) {
	if len(s.in) == 0 {
		return math.Inf(-1), math.Inf(1)
	}
	return s.in[0], s.in[len(s.in)-1]
}

// Amplitude reports whether it is the way from dB to amplitude, whose silence is 0.
func (s Scale) Amplitude() bool { return s.unity > 0 }

// Softest is the number on the wire of the lowest value that the scale goes down to, where lo is the parameter's least;
// rises says whether greater values are sent as greater numbers.
func (s Scale) Softest(lo float64) (softest float64, rises bool) {
	if len(s.out) == 0 {
		return s.Apply(lo), true
	}
	return s.out[0], s.out[0] <= s.out[len(s.out)-1]
}
