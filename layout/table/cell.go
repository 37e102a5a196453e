package table

import (
	"math"
	"strconv"
	"strings"

	"backfield/layout/source"
)

// Cell is one field of a sheet with its place, trimmed of white space. A cell that the row lacks has the
// place where it would be.
type Cell struct {
	Text string
	Span source.Span
}

// Row is one record; Span is its first cell.
type Row struct {
	Span  source.Span
	cells []Cell
	heads []Cell // the first row of the sheet
	index map[string]int
}

// Cell returns the cell of a column, empty if the row or the sheet has none.
func (r Row) Cell(column string) Cell {
	i, ok := r.index[column]
	switch {
	case !ok:
		return Cell{Span: r.Span}
	case i >= len(r.cells):
		last := r.cells[len(r.cells)-1].Span
		return Cell{Span: source.Span{File: last.File, Start: last.End, End: last.End}}
	}
	return r.cells[i]
}

// Under lists the heads of the columns whose names begin with a prefix, in the order of the sheet. Cell
// finds them by their Text.
func (r Row) Under(prefix string) []Cell {
	var list []Cell
	for i, h := range r.heads {
		h.Text = strings.ToLower(h.Text)
		if at, ok := r.index[h.Text]; ok && at == i && strings.HasPrefix(h.Text, prefix) {
			list = append(list, h)
		}
	}
	return list
}

// Has reports whether the sheet has the column at all.
func (r Row) Has(column string) bool { _, ok := r.index[column]; return ok }

// Reaches reports whether the row is long enough to have a cell of the column.
func (r Row) Reaches(column string) bool {
	i, ok := r.index[column]
	return ok && i < len(r.cells)
}

// NewRow makes a row from cells, by their columns' index.
func NewRow(span source.Span, cells []Cell, index map[string]int) Row {
	return Row{Span: span, cells: cells, index: index}
}

// Sound reports whether a cell may be read as it is. If not, it reports why, and nothing more is reported about it.
func (c Cell) Sound(p *source.Problems) bool {
	if c.Span.File == nil {
		return true
	}
	sheet := c.Span.File.SheetAt(c.Span.Start)
	if sheet == nil {
		return true
	}
	flaw, bad := sheet.Flaws[c.Span.Start]
	if bad {
		at := source.Span{File: c.Span.File, Start: flaw.At, End: len(c.Span.File.Text)}
		if n := strings.IndexAny(c.Span.File.Text[at.Start:], "\t\n"); n >= 0 {
			at.End = at.Start + n
		}
		p.Add(badCell(at, flaw))
		p.Close(c.Span)
	}
	return !bad
}

// Number reads the cell as a finite number, or def where it is empty.
func (c Cell) Number(def float64, what string, p *source.Problems) float64 {
	if c.Text == "" {
		return def
	}
	v, err := decimal(c.Text)
	if err != nil {
		p.Add(notANumber(c, what))
		return def
	}
	return v
}

// decimal reads a finite number in base 10.
func decimal(text string) (float64, error) {
	v, err := strconv.ParseFloat(text, 64)
	if err == nil && (math.IsInf(v, 0) || math.IsNaN(v) || strings.ContainsAny(text, "xX")) {
		err = strconv.ErrSyntax
	}
	return v, err
}

// Whole reads the cell as a whole number within lo and hi; ok is false where it is empty or wrong.
func (c Cell) Whole(lo, hi int, what string, p *source.Problems) (v int, ok bool) {
	if c.Text == "" {
		return 0, false
	}
	x, err := decimal(c.Text) // a spreadsheet may well write 16.0
	if err != nil || x != math.Trunc(x) || x < float64(lo) || x > float64(hi) {
		p.Add(notWhole(c, what, lo, hi))
		return 0, false
	}
	return int(x), true
}
