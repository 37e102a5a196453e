package rows

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"backfield/layout/source"
	"backfield/layout/table"
)

// pick finds the sheets that are meant, and where the name has a placeholder the set or player that each is of. Those
// that lie across are turned.
func pick(f *source.File, all []table.Sheet, name table.Text, at source.Span, turn bool,
	p *source.Problems) (list []sheetBlock, ok bool) {
	take := func(s table.Sheet) sheetBlock {
		if turn {
			return sheetBlock{grid: across(s)}
		}
		return sheetBlock{grid: grid{Sheet: s}}
	}
	var names []string
	for _, s := range all {
		names = append(names, s.Name)
	}
	switch {
	case len(all) == 0:
		if !p.Has(f, "csv-syntax") {
			p.Add(emptySheet(f))
		}
		return nil, false
	case name.Set && all[0].Text:
		p.Add(textHasNoSheets(name.Span, f.Name))
		return nil, false
	case !name.Set && len(all) > 1:
		p.Add(whichSheet(at, f.Name, names))
		return nil, false
	case !name.Set:
		return []sheetBlock{take(all[0])}, true
	}
	var unread []table.Sheet
	for _, s := range all {
		label, ok := labelIn(name.V, s.Name)
		switch {
		case ok:
			list = append(list, take(s))
			list[len(list)-1].label(name.V, table.Cell{Text: label, Span: s.Span})
		case strings.EqualFold(fold(s.Name), fold(name.V)):
			list = append(list, take(s))
		default:
			unread = append(unread, s)
		}
	}
	if len(list) == 0 {
		p.Add(unknownSheet(name, f.Name, names))
	}
	for _, s := range list { // the sheet of sets and the sheets of dots may be in one workbook
		p.Used(s.Span)
	}
	for _, s := range unread {
		p.Idle(s.Span, fmt.Sprintf("the sheet %q", s.Name))
	}
	return list, len(list) > 0
}

// fold is a name as people read it: white space of any kind and length is one space.
func fold(s string) string { return strings.Join(strings.Fields(s), " ") }

// labelIn finds the label of a set or player in the name of a column, sheet or block, by a pattern such as "Set {set} L".
func labelIn(pattern, name string) (label string, ok bool) {
	slot := setSlot
	if strings.Contains(pattern, playerSlot) {
		slot = playerSlot
	}
	before, after, ok := strings.Cut(fold(pattern), slot)
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

// until are the rows below the header, up to the last that is to be read or the notes below the table.
func (g *grid) until(head int, last table.Int, isNote func(cells []table.Cell) bool,
	p *source.Problems) table.SheetRows {
	end := g.Rows.Len()
	if last.Set {
		for end > head+1 && g.number(end-1) > last.V {
			end--
		}
	} else {
		end = g.footer(head, isNote)
	}
	if end < g.Rows.Len() {
		what := fmt.Sprintf("%s %d", g.line(), g.number(end))
		if more := g.Rows.Len() - end - 1; more > 0 {
			what = fmt.Sprintf("%ss %d to %d", g.line(), g.number(end), g.number(g.Rows.Len()-1))
		}
		p.Idle(g.Rows.Row(end)[0].Span, what+", below the table")
	}
	if g.columns == nil {
		g.Extra(max(head, 0), end-1, p)
	}
	return g.Rows.Part(head+1, end)
}

// rowNumber is a row's number as the spreadsheet shows it; in a text file, its line.
func rowNumber(cells []table.Cell) int {
	n, _ := cells[0].Span.Position()
	return n
}

// place is how a message names a sheet.
func place(s *grid) string {
	if s.Text {
		return s.Span.File.Name
	}
	return fmt.Sprintf("the sheet %q", s.Name)
}

// flawed reports whether a cell may not be read as it is, without saying why.
func flawed(c table.Cell) bool { var p source.Problems; return !c.Sound(&p) }
