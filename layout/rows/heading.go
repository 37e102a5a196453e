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

// heading finds the row that names the columns: the one that the score says, or the first that holds anything.
func heading(s *table.Sheet, header table.Int, list []wanted, p *source.Problems) (head int, ok bool) {
	if header.Set {
		head = slices.IndexFunc(s.Rows, func(cells []table.Cell) bool { return rowNumber(cells) == header.V })
		if head < 0 {
			p.Add(emptyHeader(header.Span, header.V))
			return 0, false
		}
	}
	if named(s.Rows[head], list) {
		return head, assign(s.Rows[head], list, p)
	}
	if !header.Set {
		for i := 1; i < min(len(s.Rows), headRows); i++ {
			if named(s.Rows[i], list) {
				p.Add(headerElsewhere(s.Rows[head], s.Rows[i]))
				return 0, false
			}
		}
	}
	missing(s, s.Rows[head], list, p)
	return 0, false
}

// headRows is in how many of the first rows another header is looked for.
const headRows = 30

// missing reports the columns that a header row does not name.
func missing(s *table.Sheet, header []table.Cell, list []wanted, p *source.Problems) {
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
			p.Add(noSuchColumn(w.name, s, header, have))
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
		ok = cells[i].Sound(p) && ok
		if j := find(cells[i+1:], w.name.V); j >= 0 {
			p.Add(columnTwice(cells[i], cells[i+1+j]))
			ok = false
		}
	}
	return ok
}
