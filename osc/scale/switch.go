package scale

import (
	"math"

	"backfield/layout/osctype"
	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/osc"
)

// TypeNamed is the type that is written, nil if it is missing or unknown.
func TypeNamed(t table.Text) *osctype.Type {
	if len(t.V) != 1 {
		return nil
	}
	return osctype.Of(t.V[0])
}

// ReadType reads a type, or returns def if none is written. Only types of one kind fit, and why says why. For booleans
// it is T.
func ReadType(t table.Text, def *osctype.Type, kind osctype.ArgKind, why string, p *source.Problems) *osctype.Type {
	if !t.Set {
		return def
	}
	x := TypeNamed(t)
	switch {
	case x == nil:
		p.Add(unknownType(t, osctype.Letters(kind)))
	case x.Kind != kind:
		p.Add(unsuitableType(t, why, osctype.Letters(kind)))
	case kind == osctype.Bool:
		return osctype.Of('T')
	default:
		return x
	}
	return def
}

// Switch has the OSC values of the two ends of a switch. Type is nil if it is unknown. On and Off are zero if one of
// them is wrong.
type Switch struct {
	Type    *osctype.Type
	On, Off osc.Arg
}

// Ends reads the ends of a switch with the type t; meaning says what its two values mean.
func (s Keys) Ends(t table.Text, meaning string, p *source.Problems) (x Switch) {
	switch {
	case s.Bad:
		if t.Set && TypeNamed(t) == nil {
			p.Add(unknownType(t, osctype.Letters()))
		}
		return x
	case !s.Set:
		s = plainEnds(t)
	}
	on, off := s.On.Node, s.Off.Node
	if on.Kind != off.Kind {
		p.Add(twoKinds(s))
		return x
	}
	def, kind, why := byte('i'), osctype.Number, "on and off are numbers (1 and 0 unless `scale` says otherwise)"
	switch {
	case on.Kind == table.String:
		def, kind, why = 's', osctype.Text, "on and off are strings"
	case on.Kind == table.Bool:
		def, kind, why = 'T', osctype.Bool, "on and off are true and false"
	case !on.Integer || !off.Integer:
		def = 'f'
	}
	x.Type = ReadType(t, osctype.Of(def), kind, why, p)
	first, okOn := s.On.end(x.Type, p)
	second, okOff := s.Off.end(x.Type, p)
	switch {
	case !okOn || !okOff:
	case first == second:
		p.Add(sameEnds(s.Span, meaning))
	default:
		x.On, x.Off = first, second
	}
	return x
}

// plainEnds are the ends of a switch without a scale: true and false for a boolean type, otherwise 1 and 0.
func plainEnds(t table.Text) Keys {
	on, off := &table.Node{Kind: table.Number, Float: 1, Integer: true}, &table.Node{Kind: table.Number, Integer: true}
	if x := TypeNamed(t); x != nil && x.Kind == osctype.Bool {
		on, off = &table.Node{Kind: table.Bool, Yes: true}, &table.Node{Kind: table.Bool}
	}
	return Keys{Span: t.Span, On: SwitchEnd{Node: on}, Off: SwitchEnd{Node: off}}
}

// end makes the argument of one end of a switch.
func (x SwitchEnd) end(t *osctype.Type, p *source.Problems) (arg osc.Arg, ok bool) {
	switch n := x.Node; n.Kind {
	case table.Bool:
		return osc.Bool(n.Yes), true
	case table.String:
		for _, c := range n.Text {
			if c < ' ' || c > '~' {
				p.Add(notPrintable(x.Span, c))
				return arg, false
			}
		}
		return osc.Packed(t.Tag, 0, n.Text), true
	}
	if v := x.Node.Float; math.Abs(v) > Largest || !t.Takes(v) {
		p.Add(endOverflows(x.Span, t, v))
		return arg, false
	}
	return osc.Number(t.Tag, x.Node.Float), true
}
