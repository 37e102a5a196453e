package rows

import (
	"fmt"
	"strings"

	"backfield/layout/source"
	"backfield/layout/table"
)

// NamesKey is the name of a column, or of several that have a name's parts: ["Symbol", "Label"].
type NamesKey struct {
	table.Text // the first
	Rest       []table.Text
}

// DecodeNode reads a name or a list of names.
func (k *NamesKey) DecodeNode(n *table.Node, p *source.Problems) {
	switch {
	case n.Kind != table.Array:
		k.Text.DecodeNode(n, p)
		return
	case len(n.Items) == 0:
		p.Add(noName(n.Span))
		return
	}
	list := make([]table.Text, len(n.Items))
	for i, item := range n.Items {
		list[i].DecodeNode(item, p)
	}
	k.Text, k.Rest = list[0], list[1:]
}

// names are the columns, Backfield's own where none is named.
func (k *NamesKey) names(own string) []table.Text {
	return append([]table.Text{or(k.Text, own)}, k.Rest...)
}

func (k *NamesKey) toml() string {
	if len(k.Rest) == 0 {
		return table.Quote(k.V)
	}
	var list []string
	for _, t := range k.names("") {
		list = append(list, table.Quote(t.V))
	}
	return "[" + strings.Join(list, ", ") + "]"
}

// HeaderKey is the number of the row that names the columns, or of the two that share the names: groups above, and the
// columns of each group below.
type HeaderKey struct {
	table.Int
	Below table.Int
}

// DecodeNode reads a number or a list of two.
func (k *HeaderKey) DecodeNode(n *table.Node, p *source.Problems) {
	if n.Kind == table.Array && len(n.Items) == 2 {
		k.Int.DecodeNode(n.Items[0], p)
		k.Below.DecodeNode(n.Items[1], p)
		return
	}
	k.Int.DecodeNode(n, p)
}

func (k *HeaderKey) toml() string {
	if k.Below.Set {
		return fmt.Sprintf("[%d, %d]", k.V, k.Below.V)
	}
	return fmt.Sprint(k.V)
}

// fillKey says that blank names are those of the row above.
type fillKey struct{ table.Text }

// Words are what it may be.
func (fillKey) Words() []string { return []string{"down"} }

// check finds a word that it may not be.
func (k fillKey) check(p *source.Problems) {
	if k.Set && k.V != "down" {
		p.Add(unknownFill(k.Text))
	}
}

// countsKey says what a set's counts are: those of each set, or a total that grows from set to set.
type countsKey struct{ table.Text }

// Words are what it may be.
func (countsKey) Words() []string { return []string{"each", "total"} }

// Total reports whether the counts grow from set to set.
func (k countsKey) Total() bool { return k.V == "total" }

// check finds a word that it may not be.
func (k countsKey) check(p *source.Problems) {
	if k.Set && k.V != "each" && k.V != "total" {
		p.Add(unknownCounts(k.Text))
	}
}
