package scale

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"backfield/layout/source"
	"backfield/layout/table"
)

// Keys is a scale as it is written: the word "amplitude", or a table in one of four forms.
type Keys struct {
	Span source.Span
	Set  bool
	Bad  bool // its problems are already reported

	From      numberPair   `key:"from"`
	To        numberPair   `key:"to"`
	Points    []numberPair `key:"table"`
	Amplitude table.Num    `key:"amplitude"`
	On        SwitchEnd    `key:"on"`
	Off       SwitchEnd    `key:"off"`
}

const amplitude = "amplitude"

// Words lists the strings that a scale may be.
func (Keys) Words() []string { return []string{amplitude} }

// IsSwitch reports whether it has the two values of a switch instead of numbers.
func (s *Keys) IsSwitch() bool { return s.On.Set || s.Off.Set }

// DecodeNode reads a string or a table.
func (s *Keys) DecodeNode(n *table.Node, p *source.Problems) {
	s.Span, s.Set = n.Span, true
	before := p.Errors()
	switch n.Kind {
	case table.String:
		if n.Text != amplitude {
			p.Add(unknownScale(n))
		}
		s.Amplitude = table.Num{V: 1, Span: n.Span, Set: true}
	case table.Table:
		table.Decode(n, s, p)
		if p.Errors() == before {
			oneForm(n, p)
		}
	default:
		p.Add(noScale(n))
	}
	s.Bad = p.Errors() > before
}

// oneForm checks that a table has all keys of one form, and no others.
func oneForm(n *table.Node, p *source.Problems) {
	var given []string
	for _, form := range [][]string{{"from", "to"}, {"table"}, {"amplitude"}, {"on", "off"}} {
		missing := slices.DeleteFunc(slices.Clone(form), func(key string) bool { return n.Get(key) != nil })
		if len(missing) == len(form) {
			continue
		}
		given = append(given, strings.Join(form, " and "))
		for _, key := range missing {
			p.Add(halfScale(n.Span, key, form))
		}
	}
	switch {
	case len(given) == 0:
		p.Add(emptyScale(n.Span))
	case len(given) > 1:
		p.Add(mixedScale(n.Span, given))
	}
}

// Curve makes the scale; a switch has none. It marks a scale with errors as Bad.
func (s *Keys) Curve(p *source.Problems) Scale {
	before := p.Errors()
	defer func() { s.Bad = s.Bad || p.Errors() > before }()
	switch {
	case !s.Set || s.Bad || s.IsSwitch():
		return Scale{}
	case s.Amplitude.Set:
		if s.Amplitude.V <= 0 || s.Amplitude.V > Largest {
			p.Add(badAmplitude(s.Amplitude))
			return Scale{}
		}
		return Scale{unity: s.Amplitude.V}
	case s.From.Set:
		return s.line(p)
	}
	return s.points(p)
}

// line makes the scale of a straight line.
func (s *Keys) line(p *source.Problems) Scale {
	before := p.Errors()
	s.From.checkSize(p)
	s.To.checkSize(p)
	if s.From.A >= s.From.B {
		p.Add(fromNotRising(s.From.Span))
	}
	if s.To.A == s.To.B {
		p.Add(flatLine(s.To.Span))
	}
	if p.Errors() > before {
		return Scale{}
	}
	return Scale{in: []float64{s.From.A, s.From.B}, out: []float64{s.To.A, s.To.B}}
}

// points makes the scale of a table.
func (s *Keys) points(p *source.Problems) Scale {
	before := p.Errors()
	if len(s.Points) < 2 {
		p.Add(fewPoints(s.Span))
	}
	var c Scale
	direction := 0
	for i, x := range s.Points {
		x.checkSize(p)
		if i > 0 {
			last := s.Points[i-1]
			if x.A <= last.A {
				p.Add(pointsNotRising(x.Span, x.A, last.A))
			}
			turn := cmp.Compare(x.B, last.B)
			if turn != 0 && direction != 0 && turn != direction {
				p.Add(curveTurns(x.Span, x.B))
			} else if turn != 0 {
				direction = turn
			}
		}
		c.in, c.out = append(c.in, x.A), append(c.out, x.B)
	}
	if direction == 0 && len(s.Points) > 1 && p.Errors() == before {
		p.Add(flatTable(s.Span))
	}
	if p.Errors() > before {
		return Scale{}
	}
	return c
}

// numberPair is two numbers in a list.
type numberPair struct {
	A, B float64
	Span source.Span
	Set  bool
}

// DecodeNode reads a list of two numbers.
func (x *numberPair) DecodeNode(n *table.Node, p *source.Problems) {
	isNumber := func(n *table.Node) bool { return n.Kind == table.Number }
	if n.Kind != table.Array || len(n.Items) != 2 || !isNumber(n.Items[0]) || !isNumber(n.Items[1]) {
		p.Add(noPair(n.Span))
		return
	}
	*x = numberPair{n.Items[0].Float, n.Items[1].Float, n.Span, true}
}

// checkSize reports numbers over Largest.
func (x numberPair) checkSize(p *source.Problems) {
	if math.Abs(x.A) > Largest || math.Abs(x.B) > Largest {
		p.Add(overLargest(x.Span))
	}
}

// SwitchEnd is one end of a switch: a number, a string or a boolean.
type SwitchEnd struct {
	Node *table.Node
	Span source.Span
	Set  bool
}

// DecodeNode reads any of the three.
func (x *SwitchEnd) DecodeNode(n *table.Node, p *source.Problems) {
	if n.Kind != table.Number && n.Kind != table.String && n.Kind != table.Bool {
		p.Add(noScalar(n))
		return
	}
	*x = SwitchEnd{n, n.Span, true}
}
