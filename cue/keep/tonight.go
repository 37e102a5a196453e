package keep

import (
	"fmt"
	"slices"
	"strings"

	"backfield/layout/source"
	"backfield/layout/table"
)

// TonightRow is the text of a tonight.toml with an item added to one of its lists: a name, or some names as one item. Of
// an item that is there already it returns the text as it is. The error says what is wrong, at its place.
func TonightRow(f *source.File, key string, names ...string) (text string, err error) {
	var p source.Problems
	root := table.ReadTOML(f, &p)
	if p.Errors() > 0 {
		x := p.All()[0]
		return "", fmt.Errorf("%s: %s; fix that first", x.Span.Where(), x.What)
	}
	item := table.Quote(names[0])
	if len(names) > 1 {
		item = tomlList(names)
	}
	list := root.Get(key)
	switch {
	case list == nil:
		at := firstHeader(root, len(f.Text))
		line := fmt.Sprintf("%s = [%s]%s", key, item, lineEnd(f))
		if before := f.Text[:at]; before != "" && !strings.HasSuffix(before, "\n") {
			line = lineEnd(f) + line
		}
		return f.Text[:at] + line + f.Text[at:], nil
	case list.Kind != table.Array || !isPair(list):
		return "", fmt.Errorf("%s: %s is no list in brackets; add %s to it yourself", list.Span.Where(), key, item)
	case slices.ContainsFunc(list.Items, func(n *table.Node) bool { return sameNames(n, names) }):
		return f.Text, nil
	case len(list.Items) == 0:
		return changed(f.Text, []edit{{list.Span.Start, list.Span.End, "[" + item + "]"}}, 0, len(f.Text)), nil
	}
	at := list.Items[len(list.Items)-1].Span.End
	return changed(f.Text, []edit{{at, at, ", " + item}}, 0, len(f.Text)), nil
}

// firstHeader is where the first header of a table is, at most at.
func firstHeader(n *table.Node, at int) int {
	for _, field := range n.Fields {
		at = firstHeader(field.Node, at)
	}
	for _, item := range n.Items {
		at = firstHeader(item, at)
	}
	if n.Kind == table.Table && n.Span.File != nil && strings.HasPrefix(n.Span.File.Text[n.Span.Start:], "[") {
		at = min(at, n.Span.Start)
	}
	return at
}

func tomlList(names []string) string {
	var quoted []string
	for _, n := range names {
		quoted = append(quoted, table.Quote(n))
	}
	return "[" + strings.Join(quoted, ", ") + "]"
}

// sameNames reports whether an item is a name, or the same names in any order.
func sameNames(n *table.Node, names []string) bool {
	var has []string
	if n.Kind == table.String {
		has = []string{n.Text}
	}
	for _, x := range n.Items {
		has = append(has, x.Text)
	}
	for _, x := range n.Fields { // a dead pack with its spare
		has = append(has, x.Name)
	}
	return slices.Equal(slices.Sorted(slices.Values(has)), slices.Sorted(slices.Values(names)))
}
