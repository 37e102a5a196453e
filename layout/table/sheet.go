package table

import (
	"slices"
	"strings"

	"backfield/layout/csvtext"
	"backfield/layout/source"
)

// Sheet is the rows of a sheet as they are, without blank ones. Text means that it is a text file, where a comma
// too many moves what follows it.
type Sheet struct {
	Name string
	Span source.Span // its first cell
	Text bool
	Rows SheetRows
}

// ReadSheets reads the one sheet of a text file, or those sheets of a workbook that have anything in them. In a text
// file semicolons or tabs separate cells where the first row has them and no comma.
func ReadSheets(f *source.File, p *source.Problems) []Sheet {
	var sheets []Sheet
	if f.Sheets == nil {
		sheets = []Sheet{{Span: f.Whole(), Text: true, Rows: textRows(f, p)}}
	}
	for i, s := range f.Sheets {
		end := len(f.Text)
		if i+1 < len(f.Sheets) {
			end = f.Sheets[i+1].Start
		}
		first := source.Span{File: f, Start: s.Start, End: s.Start}
		sheets = append(sheets, Sheet{Name: s.Name, Span: first, Rows: workbookRows(f, s.Start, end)})
	}
	return slices.DeleteFunc(sheets, func(s Sheet) bool { return s.Rows.Len() == 0 })
}

// textRows reads the rows of a text file, up to the first that cannot be read.
func textRows(f *source.File, p *source.Problems) SheetRows {
	starts, comma := csvtext.Rows(f, p)
	return SheetRows{file: f, comma: comma, starts: starts}
}

// workbookRows reads the rows of a sheet of a workbook, as package workbook has written them.
func workbookRows(f *source.File, start, end int) SheetRows {
	rows := SheetRows{file: f, comma: '\t'}
	at := start
	for line := range strings.Lines(f.Text[start:end]) {
		if strings.TrimSpace(line) != "" {
			rows.starts = append(rows.starts, uint32(at))
		}
		at += len(line)
	}
	return rows
}

// Extra reports what is past the last cell of the head'th row, up to the last row, in a sheet where that means a
// comma too many.
func (s *Sheet) Extra(head, last int, p *source.Problems) {
	if !s.Text {
		return
	}
	width, rows := len(s.Rows.Row(head)), s.Rows.Part(head+1, last+1)
	var extra []Cell // the first of each row that has cells past the last column
	for _, cells := range rows.All() {
		for _, c := range cells[min(width, len(cells)):] {
			if c.Text != "" {
				extra = append(extra, c)
				break
			}
		}
	}
	if n := len(extra); n > 1 && 2*n > rows.Len() { // the header has a cell too few
		p.Add(headerTooShort(extra[0], n, rows.Len()))
		return
	}
	for _, c := range extra {
		p.Add(extraCell(c))
	}
}
