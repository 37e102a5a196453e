package osc

import (
	"math"
	"testing"
)

func TestSame(t *testing.T) {
	m := func(args ...Arg) Message { return Message{Address: "/a", Args: args} }
	for _, c := range []struct {
		echoed, sent Message
		tolerance    float64
		want         bool
	}{
		{m(), m(), 0, true},
		{m(), Message{Address: "/b"}, 0, false},
		{m(Int32(1)), m(), 0, false},
		{m(Int32(1)), m(Float32(1)), 0, true},
		{m(Bool(true)), m(Int32(1)), 0, true},
		{m(Bool(false)), m(Float64(1.0)), 0, false},
		{m(Bool(false)), m(Int64(0)), 0, true},
		{m(String("1")), m(Int32(1)), 0.1, false},
		{m(String("on")), m(String("on")), 0, true},
		{m(String("On")), m(String("on")), 0.1, false},
		{m(Float64(0.8)), m(Float32(0.8)), 0, true},
		{m(Float32(0.8)), m(Float64(0.8)), 0, true},
		{m(Float64(0.802)), m(Float32(0.8)), 0.002, true}, // to 1e-9
		{m(Float64(0.8021)), m(Float64(0.8)), 0.002, false},
		{m(Float64(0.798)), m(Float64(0.8)), 0.0021, true},
		{m(Float64(500.9)), m(Float64(500.0)), 0.002, true},
		{m(Float64(501.1)), m(Float64(500.0)), 0.002, false},
		{m(Int64(math.MaxInt64)), m(Int64(math.MaxInt64 - 1)), 0, true}, // the same double
		{m(Float64(math.NaN())), m(Float64(0.0)), 0.1, false},
		{m(Float64(0.0)), m(Float64(math.NaN())), 0.1, false},
		{m(Float64(math.Inf(1))), m(Float64(math.Inf(1))), 0, true},
		{m(Float64(math.Inf(-1))), m(Float64(math.Inf(1))), 0.1, false},
		{m(Float64(1e30)), m(Float64(math.Inf(1))), 0.1, false},
		{m(Int32(1), String("x")), m(Int32(1), String("y")), 0, false},
	} {
		if got := c.echoed.Same(c.sent, c.tolerance); got != c.want {
			t.Errorf("%v for %v within %v: %t", c.echoed, c.sent, c.tolerance, got)
		}
	}
}
