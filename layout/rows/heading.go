package rows

import (
	"slices"
	"strings"

	"backfield/layout/source"
	"backfield/layout/table"
)

// wanted is one column that a header row must name, by the name that the score or we have for it.
type wanted struct {
	key      string
	name     table.Text
	at       *int
	optional bool
}

// heading finds the row that names the columns: the one that the score says, or the first that names all that must be
// there. head is its index, or that of the lower of two.
func (g *grid) heading(header HeaderKey, list []wanted, p *source.Problems) (names []table.Cell, head int, ok bool) {
	if header.Set {
		if names, head, ok = g.rowOf(header.Int, p); ok && header.Below.Set {
			var below []table.Cell
			if below, head, ok = g.rowOf(header.Below, p); ok {
				names = Joined(names, below)
			}
		}
		if !ok {
			return nil, 0, false
		}
	} else {
		if head = g.Rows.Find(headRows, func(cells []table.Cell) bool { return named(cells, list) }); head < 0 {
			head = g.likeliest(list)
		}
		names = g.Rows.Row(head)
	}
	if !named(names, list) {
		g.missing(names, list, p)
		return nil, 0, false
	}
	return names, head, assign(names, list, p)
}

// likeliest is the first row that names most of the columns, so that what is missing there is all that is said.
func (g *grid) likeliest(list []wanted) (head int) {
	most := 0
	for i := range min(headRows, g.Rows.Len()) {
		n := 0
		for _, w := range list {
			if find(g.Rows.Row(i), w.name.V) >= 0 {
				n++
			}
		}
		if n > most {
			head, most = i, n
		}
	}
	return head
}

// headRows is in how many of the first rows a header is looked for.
const headRows = 30

// rowOf finds a row by its number.
func (g *grid) rowOf(n table.Int, p *source.Problems) (cells []table.Cell, i int, ok bool) {
	for i := range g.Rows.Len() {
		if g.number(i) == n.V {
			return g.Rows.Row(i), i, true
		}
	}
	p.Add(emptyHeader(n.Span, g.line(), n.V))
	return nil, 0, false
}

// Joined are the names of columns in two rows: a group's name before that of each of its columns. A group goes on to the
// right over blank cells, as far as there are names below; where cells are merged, as far as they are.
func Joined(above, below []table.Cell) []table.Cell {
	merges := slices.ContainsFunc(above, merged)
	names := make([]table.Cell, max(len(above), len(below)))
	group := ""
	for i := range names {
		top, name := at(above, i), at(below, i)
		if top.Text != "" || name.Text == "" || merges && i < len(above) && !merged(top) {
			group = top.Text
		}
		names[i] = table.Cell{Text: strings.TrimSpace(group + " " + name.Text), Span: name.Span}
		if name.Text == "" {
			names[i], group = top, ""
		}
	}
	return names
}

// missing reports the columns that a header row does not name.
func (g *grid) missing(header []table.Cell, list []wanted, p *source.Problems) {
	var have []string
	for _, c := range header {
		if c.Text != "" {
			have = append(have, c.Text)
		}
	}
	for _, w := range list {
		switch {
		case w.optional || find(header, w.name.V) >= 0:
		case w.name.Set:
			p.Add(noSuchColumn(w.name, g, header, have))
		default:
			p.Add(unnamedColumn(header[0].Span, w.name.V, w.key))
		}
	}
}

// find is the index of the column of that name, -1 where there is none.
func find(cells []table.Cell, name string) int {
	return slices.IndexFunc(cells, func(c table.Cell) bool { return strings.EqualFold(fold(c.Text), fold(name)) })
}

// named reports whether a row names all columns that must be there.
func named(cells []table.Cell, list []wanted) bool {
	for _, w := range list {
		if !w.optional && find(cells, w.name.V) < 0 {
			return false
		}
	}
	return true
}

// assign notes where each column is, and refuses a name that is there twice.
func assign(cells []table.Cell, list []wanted, p *source.Problems) bool {
	ok := true
	for _, w := range list {
		i := find(cells, w.name.V)
		if *w.at = i; i < 0 {
			continue
		}
		ok = soundName(cells[i], p) && ok
		if j := find(cells[i+1:], w.name.V); j >= 0 {
			p.Add(columnTwice(cells[i], cells[i+1+j]))
			ok = false
		}
	}
	return ok
}

// soundName reports whether a column's name may be read as it is. One in merged cells may: it is over the first.
func soundName(c table.Cell, p *source.Problems) bool { return merged(c) || c.Sound(p) }

// merged reports whether a cell is one of several that are merged.
func merged(c table.Cell) bool {
	if c.Span.File == nil {
		return false
	}
	sheet := c.Span.File.SheetAt(c.Span.Start)
	return sheet != nil && sheet.Flaws[c.Span.Start].Merged
}
