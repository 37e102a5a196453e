package rows

import (
	"fmt"
	"slices"
	"strings"

	"backfield/layout/source"
	"backfield/layout/table"
)

// cutNotes leaves out the rows below the last dot of a sheet or block that are no part of the table, and says so. Those
// that may be dots with mistakes stay. only says that the page is the last of the only sheet, so that one line of the
// score can leave them out.
func (a *arranger) cutNotes(pg *page, only bool, p *source.Problems) {
	if a.layout != perDot {
		return
	}
	end := pg.body.Len() - 1
	for end >= 0 && !a.anyDot(pg, pg.body.Row(end)) {
		end--
	}
	below := pg.body.Part(end+1, pg.body.Len())
	if end < 0 || below.Len() == 0 {
		return
	}
	known := func(cells []table.Cell) bool {
		return a.Together || pg.set < 0 || a.Known(at(cells, pg.set).Text)
	}
	alone, listed := true, false // whether each row has one cell, and whether one of them names a set
	for _, cells := range below.All() {
		one := len(slices.DeleteFunc(slices.Clone(cells), func(c table.Cell) bool { return c.Text == "" })) == 1
		if !one && known(cells) {
			return
		}
		alone, listed = alone && one, listed || known(cells)
	}
	last := 0
	if only {
		last = pg.numberOf(end)
	}
	first := below.Row(0)
	name := first[slices.IndexFunc(first, func(c table.Cell) bool { return c.Text != "" })]
	switch titled := pg.of.set.Text != "" || pg.of.player.Text != ""; {
	case titled && !listed && !a.Together:
		p.Idle(name.Span, fmt.Sprintf("%s %d, below the block", pg.of.line(), pg.numberOf(end+1)))
	case alone && listed && titled && !a.Together: // a set without a dot
		return
	case alone:
		p.Add(aloneInRow(name, last))
	default:
		p.Add(noteBelow(name, last))
	}
	pg.body, pg.below = pg.body.Part(0, end+1), pg.below+below.Len()
}

// numberOf is the number of the i-th row of the body, as the spreadsheet shows it.
func (pg *page) numberOf(i int) int {
	return pg.of.number(pg.of.Rows.Len() - pg.below - pg.body.Len() + i)
}

// lastAbove is the number of the row above the i-th of the body, 0 where a row with more than a name comes below.
func (pg *page) lastAbove(i int) int {
	if i == 0 {
		return 0
	}
	for _, cells := range pg.body.Part(i, pg.body.Len()).All() {
		for _, column := range pg.places() {
			if at(cells, column).Text != "" {
				return 0
			}
		}
	}
	return pg.numberOf(i - 1)
}

// withDots leaves out the sheets of a workbook that are no players' or sets' although their names may be: the one with
// the sets, and covers, which have neither the names of columns nor a dot. Unless no sheet is left.
func (s DotSheet) withDots(all []table.Sheet, p *source.Problems) []table.Sheet {
	name := s.Columns.Sheet.V
	if name != setSlot && name != playerSlot || s.Columns.Block.Set {
		return all
	}
	list := slices.DeleteFunc(slices.Clone(all), func(x table.Sheet) bool { return x.Name == s.Sets || s.isCover(x) })
	if len(list) == 0 {
		return all
	}
	for _, x := range all {
		if !slices.ContainsFunc(list, func(y table.Sheet) bool { return y.Name == x.Name }) {
			p.Idle(x.Span, fmt.Sprintf("the sheet %q", x.Name))
		}
	}
	return list
}

// isCover reports whether no cell of a sheet names a column or is a dot.
func (s DotSheet) isCover(x table.Sheet) bool {
	c := s.Columns
	places := c.places()
	names := append(c.Player.names("player"), append(places[:], or(c.Set, "set"))...)
	for _, cells := range x.Rows.All() {
		for _, cell := range cells {
			for _, t := range names {
				_, label := labelIn(t.V, cell.Text)
				if t.V != "" && cell.Text != "" && (label || strings.EqualFold(fold(t.V), fold(cell.Text))) {
					return false
				}
			}
			if _, _, fault := s.Ground.ReadDot(cell.Text); fault == nil {
				return false
			}
		}
	}
	return true
}
