package score

import (
	"math"
	"strings"

	"backfield/layout/osctype"
	"backfield/layout/source"
	"backfield/layout/table"
)

// rawTable is an extra message of a cue, as it is written.
type rawTable struct {
	table.Where
	Address table.Text `key:"address,required"`
	Args    []rawArg   `key:"args"`
	Types   table.Text `key:"types"`
}

// rawArg is one argument: a number, a string or a boolean.
type rawArg struct{ *table.Node }

func (a *rawArg) DecodeNode(n *table.Node, p *source.Problems) {
	if n.Kind != table.Number && n.Kind != table.String && n.Kind != table.Bool {
		p.Add(badArgument(n.Span, n.Kind))
		return
	}
	a.Node = n
}

// mostRaw is how many extra messages one cue may send: they go before anything opens.
const mostRaw = 64

// raws reads the messages of one cue.
func raws(list []rawTable, p *source.Problems) []Raw {
	if len(list) > mostRaw {
		p.Add(tooManyExtra(list[mostRaw].Span))
		list = list[:mostRaw]
	}
	var out []Raw
	for _, t := range list {
		if types, args, ok := t.arguments(p); ok && t.Address.Set {
			out = append(out, Raw{t.Address, types, args})
		}
	}
	return out
}

// arguments settles the types: those written, or else what each value looks like.
func (t *rawTable) arguments(p *source.Problems) (types string, args []any, ok bool) {
	before := p.Errors()
	args = []any{}
	if t.Types.Set {
		for i, tag := range t.Types.V {
			if tag > math.MaxUint8 || osctype.Of(byte(tag)) == nil {
				p.Add(unknownType(table.Inside(t.Types, i, i+1), tag))
				return "", nil, false
			}
		}
		if len(t.Types.V) != len(t.Args) {
			p.Add(typesForArguments(t.Types, len(t.Args)))
			return "", nil, false
		}
	}
	var tags strings.Builder
	for i, a := range t.Args {
		if a.Node == nil {
			continue // reported
		}
		tag := looksLike(a.Node)
		if t.Types.Set {
			tag = t.Types.V[i]
		}
		args = append(args, a.as(tag, p))
		tags.WriteByte(tag)
	}
	return tags.String(), args, p.Errors() == before && tags.Len() == len(t.Args)
}

// looksLike is the type that a value has where none is written: the smallest that every mixer knows.
func looksLike(n *table.Node) byte {
	switch {
	case n.Kind == table.String:
		return 's'
	case n.Kind == table.Bool && n.Yes:
		return 'T'
	case n.Kind == table.Bool:
		return 'F'
	case n.Integer:
		return 'i'
	}
	return 'f'
}

// as is the argument, held to what its type can say.
func (a rawArg) as(tag byte, p *source.Problems) any {
	n, t := a.Node, osctype.Of(tag)
	switch {
	case t.Kind == osctype.Bool:
		if n.Kind != table.Bool || n.Yes != t.Yes {
			p.Add(otherTruth(a.Span, tag))
		}
		return n.Yes
	case t.Kind == osctype.Text:
		if n.Kind != table.String {
			p.Add(noString(a.Span, tag, n.Kind))
		}
		if strings.ContainsFunc(n.Text, func(c rune) bool { return c < ' ' || c > '~' }) {
			p.Add(notASCII(a.Span))
		}
		return n.Text
	case n.Kind != table.Number:
		p.Add(noNumber(a.Span, tag, n.Kind))
		return 0.0
	case !t.Takes(n.Float):
		p.Add(numberDoesNotFit(a.Span, tag, n.Float))
	}
	return n.Float
}
