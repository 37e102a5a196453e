package scale

import (
	"math"
	"testing"
)

func TestCurve(t *testing.T) {
	s := Scale{in: []float64{-10, 0, 30}, out: []float64{5, 4, 1}}
	for _, c := range [][2]float64{{-11, 5}, {-10, 5}, {-5, 4.5}, {0, 4}, {10, 3}, {30, 1}, {31, 1}, {math.Inf(-1), 5},
		{math.Inf(1), 1}} {
		if got := s.Apply(c[0]); got != c[1] {
			t.Errorf("%v is sent as %v, want %v", c[0], got, c[1])
		}
	}
}
