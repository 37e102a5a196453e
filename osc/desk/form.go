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
	args    []formArg
}

// formArg is an argument of a form: a value, or a hole that is filled, "slot" with a number, "name" or "address" with a
// string.
type formArg struct {
	value osc.Arg
	hole  string
}

// fill makes the message.
func (f form) fill(x filling) osc.Message {
	m := osc.Message{Address: f.address.of(x)}
	for _, a := range f.args {
		m.Args = append(m.Args, a.of(x))
	}
	return m
}

func (a formArg) of(x filling) osc.Arg {
	switch a.hole {
	case "slot":
		return osc.Int32(int32(x.slot))
	case "name":
		return osc.String(printable(x.name))
	case "address":
		return osc.String(x.address)
	}
	return a.value
}

// match is the way back: what the message fills the places with, if it is one of this form.
func (f form) match(m osc.Message) (filling, bool) {
	x, ok := f.address.match(m.Address)
	if !ok || len(m.Args) != len(f.args) {
		return x, false
	}
	for i, a := range f.args {
		if !f.take(&x, a, m.Args[i]) {
			return x, false
		}
	}
	return x, true
}

// take fills a hole from what a message has there, or holds a value to it.
func (f form) take(x *filling, a formArg, arg osc.Arg) (ok bool) {
	switch a.hole {
	case "slot":
		v, ok := arg.Number()
		if !ok || v != math.Trunc(v) || math.Abs(v) > math.MaxInt32 || f.address.has("slot") && int(v) != x.slot {
			return false
		}
		x.slot = int(v)
	case "name":
		x.name, ok = arg.Text()
		return ok
	case "address":
		s, ok := arg.Text()
		if !ok || f.address.has("address") && s != x.address {
			return false
		}
		x.address = s
	default:
		return sameArgument(arg, a.value, 0)
	}
	return true
}

// has reports whether the form has a place of that name, in its address or among its arguments.
func (f form) has(name string) bool {
	return f.address.has(name) || slices.ContainsFunc(f.args, func(a formArg) bool { return a.hole == name })
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

// literal makes one argument: of type i of a whole number, f of one with a point, a string, a boolean or a hole.
func (r reader) literal(a argument, places []string) formArg {
	n := a.Node
	switch {
	case n.Kind == table.Bool:
		return formArg{value: osc.Bool(n.Yes)}
	case n.Kind == table.Number && n.Integer:
		if math.Abs(n.Float) > math.MaxInt32 {
			r.p.Error("desk-overflow", a.Span, fmt.Sprintf("type i holds no %v", n.Float), "write a number of 32 bits, or one with a point")
		}
		return formArg{value: osc.Number('i', n.Float)}
	case n.Kind == table.Number:
		if math.Abs(n.Float) > math.MaxFloat32 {
			r.p.Error("desk-overflow", a.Span, fmt.Sprintf("type f holds no %v", n.Float), "write a smaller number")
		}
		return formArg{value: osc.Number('f', n.Float)}
	}
	for _, name := range places {
		switch {
		case n.Text == "{"+name+"}":
			return formArg{hole: name}
		case strings.Contains(n.Text, "{"+name+"}"):
			r.p.Error("desk-argument", a.Span, fmt.Sprintf("{%s} must be an argument by itself", name), fmt.Sprintf("write \"{%s}\" between commas, and other text before or after as arguments of their own", name))
			return formArg{}
		}
	}
	if name, ok := strings.CutPrefix(n.Text, "{"); ok && strings.HasSuffix(name, "}") {
		name = strings.TrimSuffix(name, "}")
		r.p.Error("desk-argument", a.Span, fmt.Sprintf("no place {%s} is known here", name), source.DidYouMean(name, places, "write "+braced(places)))
		return formArg{}
	}
	if printable(n.Text) != n.Text {
		r.p.Error("desk-argument", a.Span, fmt.Sprintf("%q may not stand in an OSC string", n.Text), "use printable ASCII")
	}
	return formArg{value: osc.String(n.Text)}
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

func sameArgument(echoed, meant osc.Arg, tolerance float64) bool {
	if echoed == meant {
		return true
	}
	v, ok := echoed.Number()
	w, isNumber := meant.Number()
	switch {
	case !ok || !isNumber:
		return false
	case echoed.Type().Single() || meant.Type().Single(): // as exact as the coarser: 0.8 in 64 bits is 0.8 in 32
		v, w = float64(float32(v)), float64(float32(w))
	}
	return v == w || !math.IsInf(w, 0) && math.Abs(v-w) <= tolerance*max(1, math.Abs(w))
}
