package form

import (
	"math"
	"slices"
	"strings"

	"backfield/layout/osctype"
	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/osc"
)

// Form is a message with placeholders: an address pattern, and arguments that are values or placeholders.
type Form struct {
	Address Pattern
	args    []messageArg
}

// messageArg is an argument of a form: a value, or a placeholder, which is "slot" for a number, "name" or "address" for
// a string.
type messageArg struct {
	value       osc.Arg
	placeholder string
}

// Fill makes the message with these values.
func (f Form) Fill(x Filling) osc.Message {
	m := osc.Message{Address: f.Address.Of(x)}
	for _, a := range f.args {
		m.Args = append(m.Args, a.of(x))
	}
	return m
}

func (a messageArg) of(x Filling) osc.Arg {
	switch a.placeholder {
	case "slot":
		return osc.Int32(int32(x.Slot))
	case "name":
		return osc.String(printable(x.Name))
	case "address":
		return osc.String(x.Address)
	}
	return a.value
}

// Match reverses Fill: it returns the values in a message; ok is false if the message does not have this form.
func (f Form) Match(m osc.Message) (x Filling, ok bool) {
	x, ok = f.Address.Match(m.Address)
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

// Sets finds an argument that is a number or a boolean. A query has none; yes is false if there is none.
func (f Form) Sets() (i int, yes bool) {
	i = slices.IndexFunc(f.args, func(a messageArg) bool { _, isNumber := a.value.Number(); return isNumber })
	return i, i >= 0
}

// take reads one argument of a message into x; ok is false if it does not match.
func (f Form) take(x *Filling, a messageArg, is osc.Arg) (ok bool) {
	switch a.placeholder {
	case "slot":
		v, ok := is.Number()
		if !ok || v != math.Trunc(v) || math.Abs(v) > math.MaxInt32 || f.Address.Has("slot") && int(v) != x.Slot {
			return false
		}
		x.Slot = int(v)
	case "name":
		x.Name, ok = is.Text()
		return ok
	case "address":
		s, ok := is.Text()
		if !ok || f.Address.Has("address") && s != x.Address {
			return false
		}
		x.Address = s
	default:
		return is.Same(a.value, 0)
	}
	return true
}

// Has reports whether the form has a placeholder of that name, in its address or among its arguments.
func (f Form) Has(name string) bool {
	return f.Address.Has(name) || slices.ContainsFunc(f.args, func(a messageArg) bool { return a.placeholder == name })
}

// printable makes a name fit for an OSC string: whatever is not printable ASCII becomes a question mark.
func printable(name string) string {
	return strings.Map(func(c rune) rune {
		if c < ' ' || c > '~' {
			return '?'
		}
		return c
	}, name)
}

// Argument is one argument of a message as it is written.
type Argument struct {
	Node *table.Node
	Span source.Span
}

// DecodeNode takes a number, a string or a boolean.
func (x *Argument) DecodeNode(n *table.Node, p *source.Problems) {
	if n.Kind != table.Number && n.Kind != table.String && n.Kind != table.Bool {
		p.Add(noArgument(n))
		return
	}
	*x = Argument{n, n.Span}
}

// MessageKeys are a message as it is written in some tables of mixer.toml.
type MessageKeys struct {
	table.Where
	Address table.Text `key:"address,required"`
	Args    []Argument `key:"args"`
}

// Read reads a message, which may have these placeholders; ok is false after errors.
func (k *MessageKeys) Read(p *source.Problems, placeholders ...string) (f Form, ok bool) {
	before := p.Errors()
	// An address cannot have a name, which may have spaces.
	inAddress := slices.DeleteFunc(slices.Clone(placeholders), func(s string) bool { return s == "name" })
	f.Address = readPattern(k.Address, inAddress, p)
	for _, a := range k.Args {
		if a.Node != nil {
			f.args = append(f.args, a.read(placeholders, p))
		}
	}
	return f, f.Address != nil && p.Errors() == before
}

// read makes one argument: i for a whole number, f for a number with a point, a string, a boolean, or a placeholder.
func (x Argument) read(placeholders []string, p *source.Problems) messageArg {
	switch n := x.Node; {
	case n.Kind == table.Bool:
		return messageArg{value: osc.Bool(n.Yes)}
	case n.Kind == table.Number:
		tag := byte('f')
		if n.Integer {
			tag = 'i'
		}
		if !osctype.Of(tag).Takes(n.Float) {
			p.Add(overflow(x.Span, tag, n.Float))
		}
		return messageArg{value: osc.Number(tag, n.Float)}
	}
	text := x.Node.Text
	for _, name := range placeholders {
		switch {
		case text == "{"+name+"}":
			return messageArg{placeholder: name}
		case strings.Contains(text, "{"+name+"}"):
			p.Add(placeholderInText(x.Span, name))
			return messageArg{}
		}
	}
	if name, ok := strings.CutPrefix(text, "{"); ok && strings.HasSuffix(name, "}") {
		p.Add(unknownArgPlaceholder(x.Span, strings.TrimSuffix(name, "}"), placeholders))
		return messageArg{}
	}
	if printable(text) != text {
		p.Add(notPrintable(x.Span, text))
	}
	return messageArg{value: osc.String(text)}
}
