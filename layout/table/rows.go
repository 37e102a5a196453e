package table

import (
	"iter"
	"regexp"
	"slices"
	"strings"

	"backfield/layout/csvtext"
	"backfield/layout/source"
)

// decimalComma is a number as a European spreadsheet writes it, in a sheet separated by semicolons or tabs.
var decimalComma = regexp.MustCompile(`(\d),(\d)`)

// SheetRows are the rows of a sheet, without blank ones; each has at least one cell. A season's dots are a million rows, so
// only where each begins is kept, and its cells are made when they are asked for.
type SheetRows struct {
	first  [][]Cell // rows that are held as they are; those of the file come after them
	file   *source.File
	comma  byte     // between two cells
	starts []uint32 // the first byte of each row
}

// RowsOf are rows that are held as they are, followed by others.
func RowsOf(first [][]Cell, others SheetRows) SheetRows {
	others.first = append(slices.Clip(first), others.first...)
	return others
}

// Len is how many rows there are.
func (r SheetRows) Len() int { return len(r.first) + len(r.starts) }

// Row is the i-th row.
func (r SheetRows) Row(i int) []Cell {
	if i < len(r.first) {
		return r.first[i]
	}
	var cells []Cell
	for _, c := range csvtext.Cut(r.file.Text, int(r.starts[i-len(r.first)]), r.comma, r.file.Sheets == nil) {
		cells = append(cells, r.cell(c.Start, c.End, c.Quoted))
	}
	return cells
}

// cell is the cell whose text, with white space around it, is the bytes from at to end.
func (r SheetRows) cell(at, end int, quoted bool) Cell {
	text := strings.TrimSpace(r.file.Text[at:end])
	if text != "" {
		at += strings.Index(r.file.Text[at:end], text)
	}
	span := source.Span{File: r.file, Start: at, End: at + len(text)}
	switch {
	case r.file.Sheets != nil:
		return Cell{strings.ReplaceAll(text, "\v", "\n"), span}
	case quoted:
		text = strings.ReplaceAll(strings.ReplaceAll(text, `""`, `"`), "\r\n", "\n")
	}
	if r.comma != ',' && strings.Contains(text, ",") {
		text = decimalComma.ReplaceAllString(text, "$1.$2")
	}
	return Cell{text, span}
}

// Part is the rows lo to hi.
func (r SheetRows) Part(lo, hi int) SheetRows {
	n := len(r.first)
	r.first = r.first[min(lo, n):min(hi, n)]
	r.starts = r.starts[max(lo-n, 0):max(hi-n, 0)]
	return r
}

// After is the rows after the i-th.
func (r SheetRows) After(i int) SheetRows { return r.Part(i+1, r.Len()) }

// All goes through the rows.
func (r SheetRows) All() iter.Seq2[int, []Cell] {
	return func(yield func(int, []Cell) bool) {
		for i := range r.Len() {
			if !yield(i, r.Row(i)) {
				return
			}
		}
	}
}

// Find is the index of the first row, among as many as `among`, that is asked for; -1 where there is none.
func (r SheetRows) Find(among int, is func(cells []Cell) bool) int {
	for i := range min(among, r.Len()) {
		if is(r.Row(i)) {
			return i
		}
	}
	return -1
}
