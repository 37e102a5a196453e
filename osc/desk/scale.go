package desk

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"backfield/layout/source"
	"backfield/layout/table"
)

// largest is the greatest number that a scale may hold: far over any desk's, and small enough that no
// arithmetic on it leaves the finite numbers.
const largest = 1e15

// scale is the way from a parameter's value, in its own unit, to the number on the wire. The zero scale
// sends the value itself.
type scale struct {
	in, out []float64 // points of a piecewise linear curve, in rising
	unity   float64   // where over 0: dB to amplitude, and this is what 0 dB is sent as
}

// apply returns the number on the wire. Beyond the ends of a curve it is the end's.
func (s scale) apply(v float64) float64 {
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

// invert is the way back: the value that is sent as v, the softest or lowest of those that are. Beyond the ends of
// a curve it is the end's.
func (s scale) invert(v float64) float64 {
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

// ends are the first and last value that the scale tells apart, own unit.
func (s scale) ends() (lo, hi float64) {
	if len(s.in) == 0 {
		return math.Inf(-1), math.Inf(1)
	}
	return s.in[0], s.in[len(s.in)-1]
}

// scaleKeys is a scale as it is written: the word "amplitude", or a table in one of four forms.
type scaleKeys struct {
	Span source.Span
	Set  bool
	Bad  bool // its problems were reported already

	From      pair      `key:"from"`
	To        pair      `key:"to"`
	Points    []pair    `key:"table"`
	Amplitude table.Num `key:"amplitude"`
	On        scalar    `key:"on"`
	Off       scalar    `key:"off"`
}

// forms lists the ways to write a scale, for messages.
const forms = `{ from = [..], to = [..] }, { table = [[in, out], ..] }, "amplitude", or { on = .., off = .. } for a mute`

func (s *scaleKeys) isSwitch() bool { return s.On.Set || s.Off.Set }

// DecodeNode reads either shape.
func (s *scaleKeys) DecodeNode(n *table.Node, p *source.Problems) {
	s.Span, s.Set = n.Span, true
	before := p.Errors()
	switch n.Kind {
	case table.String:
		if n.Text != "amplitude" {
			p.Error("desk-scale", n.Span, fmt.Sprintf("no scale %q is known", n.Text), source.DidYouMean(n.Text, []string{"amplitude"}, "write "+forms))
		}
		s.Amplitude = table.Num{V: 1, Span: n.Span, Set: true}
	case table.Table:
		table.Decode(n, s, p)
		if p.Errors() == before {
			s.oneForm(n, p)
		}
	default:
		p.Error("wrong-type", n.Span, fmt.Sprintf("a scale is a table or a word, and this is %s", n.Kind), "write "+forms)
	}
	s.Bad = p.Errors() > before
}

func (s *scaleKeys) oneForm(n *table.Node, p *source.Problems) {
	var given []string
	for _, form := range [][]string{{"from", "to"}, {"table"}, {"amplitude"}, {"on", "off"}} {
		missing := slices.DeleteFunc(slices.Clone(form), func(key string) bool { return n.Get(key) != nil })
		if len(missing) == len(form) {
			continue
		}
		given = append(given, strings.Join(form, " and "))
		for _, key := range missing {
			p.Error("desk-scale", n.Span, fmt.Sprintf("this scale has no %q", key), "give both: "+strings.Join(form, " and "))
		}
	}
	switch {
	case len(given) == 0:
		p.Error("desk-scale", n.Span, "this scale is empty", "write "+forms)
	case len(given) > 1:
		p.Error("desk-scale", n.Span, "this scale mixes "+strings.Join(given, ", and "), "keep one of them")
	}
}

// curve makes the scale of its numbers; a switch has none. It marks a scale that makes no sense as bad.
func (s *scaleKeys) curve(p *source.Problems) scale {
	before := p.Errors()
	defer func() { s.Bad = s.Bad || p.Errors() > before }()
	switch {
	case !s.Set || s.Bad || s.isSwitch():
		return scale{}
	case s.Amplitude.Set:
		if s.Amplitude.V <= 0 || s.Amplitude.V > largest {
			p.Error("desk-scale", s.Amplitude.Span, fmt.Sprintf("the amplitude at 0 dB cannot be %v", s.Amplitude.V), "it is a number over 0, mostly 1.0")
			return scale{}
		}
		return scale{unity: s.Amplitude.V}
	case s.From.Set:
		return s.line(p)
	}
	return s.bend(p)
}

func (s *scaleKeys) line(p *source.Problems) scale {
	before := p.Errors()
	s.From.inReach(p)
	s.To.inReach(p)
	if s.From.A >= s.From.B {
		p.Error("desk-scale", s.From.Span, "`from` must rise", "write the lower value first, and turn `to` around if the desk counts the other way")
	}
	if s.To.A == s.To.B {
		p.Error("desk-scale", s.To.Span, "`to` sends the same for every value", "give it two different ends")
	}
	if p.Errors() > before {
		return scale{}
	}
	return scale{in: []float64{s.From.A, s.From.B}, out: []float64{s.To.A, s.To.B}}
}

func (s *scaleKeys) bend(p *source.Problems) scale {
	before := p.Errors()
	if len(s.Points) < 2 {
		p.Error("desk-scale", s.Span, "a table needs at least two points", "write { table = [[-60, 0], [0, 0.8], [10, 1]] } with your desk's own numbers")
	}
	var c scale
	direction := 0
	for i, x := range s.Points {
		x.inReach(p)
		if i > 0 {
			last := s.Points[i-1]
			if x.A <= last.A {
				p.Error("desk-scale", x.Span, fmt.Sprintf("the points must rise, and %v follows %v", x.A, last.A), "sort the table by its first number, each given once")
			}
			turn := cmpSign(x.B - last.B)
			if turn != 0 && direction != 0 && turn != direction {
				p.Error("desk-scale", x.Span, fmt.Sprintf("the curve turns back at %v", x.B), "the second numbers must all rise or all fall: louder may not be sent as softer")
			} else if turn != 0 {
				direction = turn
			}
		}
		c.in, c.out = append(c.in, x.A), append(c.out, x.B)
	}
	if direction == 0 && len(s.Points) > 1 && p.Errors() == before {
		p.Error("desk-scale", s.Span, "this table sends the same for every value", "give it different second numbers")
	}
	if p.Errors() > before {
		return scale{}
	}
	return c
}

func cmpSign(v float64) int {
	switch {
	case v > 0:
		return 1
	case v < 0:
		return -1
	}
	return 0
}

// pair is two numbers in a list.
type pair struct {
	A, B float64
	Span source.Span
	Set  bool
}

// DecodeNode reads them.
func (x *pair) DecodeNode(n *table.Node, p *source.Problems) {
	if n.Kind != table.Array || len(n.Items) != 2 || n.Items[0].Kind != table.Number || n.Items[1].Kind != table.Number {
		p.Error("wrong-type", n.Span, "this must be two numbers", "write them like [-60, 0]")
		return
	}
	*x = pair{n.Items[0].Float, n.Items[1].Float, n.Span, true}
}

func (x pair) inReach(p *source.Problems) {
	if math.Abs(x.A) > largest || math.Abs(x.B) > largest {
		p.Error("desk-range", x.Span, fmt.Sprintf("a number of a scale goes up to %g", float64(largest)), "write the desk's own number")
	}
}

// scalar is one end of a switch: a number, a string or a boolean.
type scalar struct {
	Node *table.Node
	Span source.Span
	Set  bool
}

// DecodeNode takes any of the three.
func (x *scalar) DecodeNode(n *table.Node, p *source.Problems) {
	if n.Kind != table.Number && n.Kind != table.String && n.Kind != table.Bool {
		p.Error("wrong-type", n.Span, fmt.Sprintf("this must be a number, a string or true or false, and is %s", n.Kind), "write { on = 1, off = 0 }")
		return
	}
	*x = scalar{n, n.Span, true}
}
