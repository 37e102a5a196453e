// Package scale turns a parameter's value into the number that a mixer takes for it, as mixer.toml describes it: an
// amplitude, a straight line, or a table of points.
package scale

import (
	"math"
	"slices"
)

// Largest is the largest number in a scale: far above any mixer's, and small enough that arithmetic on it stays finite.
const Largest = 1e15

// Scale turns a parameter's value, in its own unit, into the OSC number. The zero Scale sends the value itself.
type Scale struct {
	in, out []float64 // points with straight lines between them; `in` goes up
	unity   float64   // over 0 for dB to amplitude: what is sent for 0 dB
}

// Apply returns the OSC number. Beyond an end of the scale it is that of the end.
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

// Invert reverses Apply: the value that is sent as v, the lowest if there are several. Beyond an end of the scale it is
// the end.
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

// Ends are the first and last value of the scale, in the parameter's unit, or infinite.
func (s Scale) Ends() (lo, hi float64) {
	if len(s.in) == 0 {
		return math.Inf(-1), math.Inf(1)
	}
	return s.in[0], s.in[len(s.in)-1]
}

// Amplitude reports whether it turns dB into an amplitude, for which silence is 0.
func (s Scale) Amplitude() bool { return s.unity > 0 }

// Softest is the OSC number of the lowest value of the scale, or of lo for a scale without an end; rises is whether
// higher values are sent as higher numbers.
func (s Scale) Softest(lo float64) (softest float64, rises bool) {
	if len(s.out) == 0 {
		return s.Apply(lo), true
	}
	return s.out[0], s.out[0] <= s.out[len(s.out)-1]
}
