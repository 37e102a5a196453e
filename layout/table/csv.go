package table

import (
	"fmt"
	"iter"
	"slices"
	"strings"

	"backfield/layout/source"
)

// CSVLimit is the largest sheet read, in bytes: about a million dots.
const CSVLimit = 64 << 20

// Column is one column that a sheet may have. A name that ends in a star means all that begin like it.
type Column struct {
	Name     string
	Required bool
}

// ReadCSV reads a sheet with a header row: a text file, or a workbook that has one sheet with anything in it. Columns
// may come in any order and either case; one that looks like a misspelled one that is missing is reported and read as
// that, others are noted; blank rows and empty cells past the end are passed over.
func ReadCSV(f *source.File, columns []Column, p *source.Problems) Body {
	sheets := ReadSheets(f, p)
	if len(sheets) > 1 {
		var names []string
		for _, s := range sheets {
			names = append(names, s.Name)
		}
		p.Add(whichSheet(sheets[0].Span, names))
		return Body{}
	}
	if len(sheets) == 0 {
		if !p.Has(f, "csv-syntax") {
			p.Add(emptySheet(f, columns))
		}
		return Body{}
	}
	head, body := sheets[0].Rows.Row(0), sheets[0].Rows.After(0)
	index := header(head, columns, p)
	if index == nil {
		return Body{}
	}
	sheets[0].Extra(0, body.Len(), p)
	if f.Sheets != nil { // cells of a text file are sound
		for _, cells := range body.All() {
			for _, c := range columns { // in their order, not that of a map
				if at, ok := index[c.Name]; ok && at < len(cells) {
					cells[at].Sound(p)
				}
			}
		}
	}
	return Body{heads: head, index: index, body: body}
}

// Body is a sheet under a header row. One that could not be read has no rows.
type Body struct {
	heads []Cell
	index map[string]int
	body  SheetRows
}

// Len is how many rows there are below the header.
func (t Body) Len() int { return t.body.Len() }

// Has reports whether the sheet has a column.
func (t Body) Has(column string) bool { _, ok := t.index[column]; return ok }

// All goes through the rows below the header.
func (t Body) All() iter.Seq[Row] {
	return func(yield func(Row) bool) {
		for _, cells := range t.body.All() {
			if !yield(Row{Span: cells[0].Span, cells: cells, heads: t.heads, index: t.index}) {
				return
			}
		}
	}
}

// Whole reports whether ReadCSV read a sheet to its end. What a sheet that was refused lacks is no problem of
// the files that count on it.
func Whole(f *source.File, p *source.Problems) bool {
	return f != nil && !p.Has(f, "csv-syntax", "empty-file", "missing-column", "which-sheet")
}

// header finds the columns in the first row; nil where one is missing that must be there.
func header(cells []Cell, columns []Column, p *source.Problems) map[string]int {
	index := map[string]int{}
	var strangers []int
	for i, c := range cells {
		name := strings.ToLower(c.Text)
		_, twice := index[name]
		switch {
		case name == "":
		case !asked(columns, name):
			strangers = append(strangers, i)
		case twice:
			p.Add(columnTwice(c.Span, name))
		default:
			index[name] = i
		}
	}
	var absent []string
	for _, c := range columns {
		if _, ok := index[c.Name]; !ok && !strings.HasSuffix(c.Name, "*") {
			absent = append(absent, c.Name)
		}
	}
	for _, i := range strangers {
		c := cells[i]
		near := source.Nearest(c.Text, absent)
		if _, taken := index[near]; near != "" && !taken {
			p.Add(unknownColumn(c, near))
			index[near] = i
			continue
		}
		p.Idle(c.Span, fmt.Sprintf("the column %q", c.Text))
		for _, name := range absent {
			if len(name) > 2 && slices.Contains(strings.Fields(strings.ToLower(c.Text)), name) {
				p.Add(unreadColumn(c, name))
			}
		}
	}
	ok := true
	for _, c := range columns {
		if _, has := index[c.Name]; c.Required && !has {
			p.Add(missingColumn(cells[0].Span, c.Name, columns))
			ok = false
		}
	}
	if !ok {
		return nil
	}
	return index
}

// asked reports whether a column of that name, in small letters, is among those that a sheet may have.
func asked(columns []Column, name string) bool {
	return slices.ContainsFunc(columns, func(c Column) bool {
		begin, all := strings.CutSuffix(c.Name, "*")
		return c.Name == name || all && strings.HasPrefix(name, begin)
	})
}

// names lists columns for a message, those that may be missing in brackets.
func names(columns []Column) string {
	var list []string
	for _, c := range columns {
		name := c.Name
		if !c.Required {
			name = "[" + name + "]"
		}
		list = append(list, name)
	}
	return strings.Join(list, ", ")
}
