package desk

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/osc"
)

// form is a message with places: an address pattern, and arguments that are values or places themselves.
type form struct {
	address pattern
	args    []any // what osc.Message allows, or a hole
}

// hole is an argument that is filled: "slot" with a number, "name" or "address" with a string.
type hole string

// fill makes the message.
func (f form) fill(x filling) osc.Message {
	m := osc.Message{Address: f.address.of(x)}
	for _, a := range f.args {
		switch a {
		case hole("slot"):
			a = int32(x.slot)
		case hole("name"):
			a = printable(x.name)
		case hole("address"):
			a = x.address
		}
		m.Args = append(m.Args, a)
	}
	return m
}

// match is the way back: what the message fills the places with, if it is one of this form.
func (f form) match(m osc.Message) (filling, bool) {
	x, ok := f.address.match(m.Address)
	if !ok || len(m.Args) != len(f.args) {
		return x, false
	}
	for i, a := range f.args {
		switch a {
		case hole("slot"):
			v, ok := Number(m.Args[i])
			if !ok || v != math.Trunc(v) || math.Abs(v) > math.MaxInt32 || f.address.has("slot") && int(v) != x.slot {
				return x, false
			}
			x.slot = int(v)
		case hole("name"):
			if x.name, ok = m.Args[i].(string); !ok {
				return x, false
			}
		case hole("address"):
			s, ok := m.Args[i].(string)
			if !ok || f.address.has("address") && s != x.address {
				return x, false
			}
			x.address = s
		default:
			if !sameArgument(m.Args[i], a, 0) {
				return x, false
			}
		}
	}
	return x, true
}

// has reports whether the form has a place of that name, in its address or among its arguments.
func (f form) has(name string) bool {
	return f.address.has(name) || slices.Contains(f.args, any(hole(name)))
}

// printable is a name as an OSC string can carry it: what is not printable ASCII becomes a question mark.
func printable(name string) string {
	return strings.Map(func(c rune) rune {
		if c < ' ' || c > '~' {
			return '?'
		}
		return c
	}, name)
}

// argument is one argument of a form as it is written.
type argument struct {
	Node *table.Node
	Span source.Span
}

// DecodeNode takes a number, a string or a boolean.
func (x *argument) DecodeNode(n *table.Node, p *source.Problems) {
	if n.Kind != table.Number && n.Kind != table.String && n.Kind != table.Bool {
		p.Error("wrong-type", n.Span, fmt.Sprintf("an argument is a number, a string or true or false, and this is %s", n.Kind), `write args like [1, 0.5, "on", true]`)
		return
	}
	*x = argument{n, n.Span}
}

// form reads an address and arguments, which may have the places named; ok is false after errors.
func (r reader) form(address table.Text, args []argument, places ...string) (f form, ok bool) {
	before := r.p.Errors()
	// a name has spaces and more that no address may hold
	f.address = readPattern(address, slices.DeleteFunc(slices.Clone(places), func(s string) bool { return s == "name" }), r.p)
	for _, a := range args {
		if a.Node != nil {
			f.args = append(f.args, r.literal(a, places))
		}
	}
	return f, f.address != nil && r.p.Errors() == before
}

// literal makes one argument: int32 of a whole number, float32 of one with a point, a string, a boolean or a hole.
func (r reader) literal(a argument, places []string) any {
	n := a.Node
	switch {
	case n.Kind == table.Bool:
		return n.Yes
	case n.Kind == table.Number && n.Integer:
		if math.Abs(n.Float) > math.MaxInt32 {
			r.p.Error("desk-overflow", a.Span, fmt.Sprintf("type i holds no %v", n.Float), "write a number of 32 bits, or one with a point")
		}
		return wire('i', n.Float)
	case n.Kind == table.Number:
		if math.Abs(n.Float) > math.MaxFloat32 {
			r.p.Error("desk-overflow", a.Span, fmt.Sprintf("type f holds no %v", n.Float), "write a smaller number")
		}
		return wire('f', n.Float)
	}
	for _, name := range places {
		switch {
		case n.Text == "{"+name+"}":
			return hole(name)
		case strings.Contains(n.Text, "{"+name+"}"):
			r.p.Error("desk-argument", a.Span, fmt.Sprintf("{%s} must be an argument by itself", name), fmt.Sprintf("write \"{%s}\" between commas, and other text before or after as arguments of their own", name))
			return ""
		}
	}
	if name, ok := strings.CutPrefix(n.Text, "{"); ok && strings.HasSuffix(name, "}") {
		name = strings.TrimSuffix(name, "}")
		r.p.Error("desk-argument", a.Span, fmt.Sprintf("no place {%s} is known here", name), source.DidYouMean(name, places, "write "+braced(places)))
		return ""
	}
	if printable(n.Text) != n.Text {
		r.p.Error("desk-argument", a.Span, fmt.Sprintf("%q may not stand in an OSC string", n.Text), "use printable ASCII")
	}
	return n.Text
}

// Same reports whether an echoed message says what was meant: the same address and arguments. Numbers may come
// back in another type (T and F are 1 and 0) and lie within tolerance * max(1, |meant|); strings are exact.
func Same(echoed, meant osc.Message, tolerance float64) bool {
	if echoed.Address != meant.Address || len(echoed.Args) != len(meant.Args) {
		return false
	}
	for i, a := range echoed.Args {
		if !sameArgument(a, meant.Args[i], tolerance) {
			return false
		}
	}
	return true
}

func sameArgument(echoed, meant any, tolerance float64) bool {
	if echoed == meant {
		return true
	}
	v, ok := Number(echoed)
	w, isNumber := Number(meant)
	_, single := echoed.(float32)
	_, meantSingle := meant.(float32)
	switch {
	case !ok || !isNumber:
		return false
	case single || meantSingle: // as exact as the coarser of the two: 0.8 in 64 bits is 0.8 in 32
		v, w = float64(float32(v)), float64(float32(w))
	}
	return v == w || !math.IsInf(w, 0) && math.Abs(v-w) <= tolerance*max(1, math.Abs(w))
}

// Number is what a numeric argument or a boolean stands for.
func Number(arg any) (v float64, ok bool) {
	switch a := arg.(type) {
	case int32:
		return float64(a), true
	case int64:
		return float64(a), true
	case float32:
		return float64(a), true
	case float64:
		return a, true
	case bool:
		if a {
			return 1, true
		}
		return 0, true
	}
	return 0, false
}
