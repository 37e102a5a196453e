package rows

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"backfield/layout/source"
	"backfield/layout/table"
)

// pick finds the sheets that are meant, and for a sheet per set the set that each is of.
func pick(f *source.File, all []table.Sheet, name table.Text, at source.Span,
	p *source.Problems) (sheets []table.Sheet, labels []table.Cell, ok bool) {
	var names []string
	for _, s := range all {
		names = append(names, s.Name)
	}
	switch {
	case len(all) == 0:
		if !p.Has(f, "csv-syntax") {
			p.Add(emptySheet(f))
		}
		return nil, nil, false
	case name.Set && all[0].Text:
		p.Add(textHasNoSheets(name.Span, f.Name))
		return nil, nil, false
	case !name.Set && len(all) > 1:
		p.Add(whichSheet(at, f.Name, names))
		return nil, nil, false
	case !name.Set:
		return all, make([]table.Cell, 1), true
	}
	for _, s := range all {
		if !strings.Contains(name.V, setSlot) {
			if strings.EqualFold(fold(s.Name), fold(name.V)) {
				return []table.Sheet{s}, make([]table.Cell, 1), true
			}
		} else if label, ok := labelIn(name.V, s.Name); ok {
			sheets = append(sheets, s)
			labels = append(labels, table.Cell{Text: label, Span: s.Span})
		}
	}
	if len(sheets) == 0 {
		p.Add(unknownSheet(name, f.Name, names))
	}
	return sheets, labels, len(sheets) > 0
}

// fold is a name as people read it: white space of any kind and length is one space.
func fold(s string) string { return strings.Join(strings.Fields(s), " ") }

// labelIn finds the label of a set in the name of a column or sheet, by a pattern such as "Set {set} L".
func labelIn(pattern, name string) (label string, ok bool) {
	before, after, ok := strings.Cut(fold(pattern), setSlot)
	name = fold(name)
	if !ok || len(name) <= len(before)+len(after) || !strings.EqualFold(name[:len(before)], before) ||
		!strings.EqualFold(name[len(name)-len(after):], after) {
		return "", false
	}
	label = strings.TrimSpace(name[len(before) : len(name)-len(after)])
	return label, label != "" && utf8.ValidString(label)
}

// at is a cell of a row, blank where the row or the column is not there.
func at(cells []table.Cell, i int) table.Cell {
	switch {
	case i < 0:
		return table.Cell{Span: cells[0].Span}
	case i >= len(cells):
		end := cells[len(cells)-1].Span
		end.Start = end.End
		return table.Cell{Span: end}
	}
	return cells[i]
}

// until are the rows below the header, up to the last that is to be read.
func until(s *table.Sheet, head int, last table.Int, p *source.Problems) [][]table.Cell {
	end := len(s.Rows)
	for last.Set && end > head+1 && rowNumber(s.Rows[end-1]) > last.V {
		end--
	}
	s.Extra(head, end-1, p)
	return s.Rows[head+1 : end]
}

// rowNumber is a row's number as the spreadsheet shows it; in a text file, its line.
func rowNumber(cells []table.Cell) int {
	n, _ := cells[0].Span.Position()
	return n
}

// place is how a message names a sheet.
func place(s *table.Sheet) string {
	if s.Text {
		return s.Span.File.Name
	}
	return fmt.Sprintf("the sheet %q", s.Name)
}

// flawed reports whether a cell may not be read as it is, without saying why.
func flawed(c table.Cell) bool { var p source.Problems; return !c.Sound(&p) }
