package rows

import (
	"slices"
	"strings"

	"backfield/layout/source"
	"backfield/layout/table"
)

// grid is a sheet whose rows have numbers: those that the spreadsheet shows, or of its columns where it lies across.
type grid struct {
	table.Sheet
	columns []int // the numbers of the rows of a sheet that lies across; nil for any other
}

// number is the number of the i-th row.
func (g *grid) number(i int) int {
	if g.columns != nil {
		return g.columns[i]
	}
	n, _ := g.Rows.Row(i)[0].Span.Position()
	return n
}

// line is what a row is called in a message.
func (g *grid) line() string {
	if g.columns != nil {
		return "column"
	}
	return "row"
}

// part is the rows lo to hi of a sheet.
func (g grid) part(lo, hi int) grid {
	g.Rows = g.Rows.Part(lo, hi)
	if g.columns != nil {
		g.columns = g.columns[lo:hi]
	}
	return g
}

// Turned is a sheet whose columns are taken for rows, without blank ones.
func Turned(s table.Sheet) table.Sheet { return across(s).Sheet }

// across turns a sheet so that its columns become rows.
func across(s table.Sheet) grid {
	g := grid{Sheet: s, columns: []int{}}
	width := 0
	for _, cells := range s.Rows.All() {
		width = max(width, len(cells))
	}
	all := make([][]table.Cell, width)
	for _, cells := range s.Rows.All() {
		for i := range all {
			all[i] = append(all[i], at(cells, i))
		}
	}
	var turned [][]table.Cell
	for i, column := range all {
		if slices.ContainsFunc(column, func(c table.Cell) bool { return c.Text != "" }) {
			turned, g.columns = append(turned, column), append(g.columns, i+1)
		}
	}
	g.Rows = table.RowsOf(turned, table.SheetRows{})
	return g
}

// sheetBlock is a part of a sheet that has a header of its own, and the set or the player that all of it is of; either is
// blank where the rows say it.
type sheetBlock struct {
	grid
	set, player table.Cell
	above       table.SheetRows // rows above the first title: they may have the header of all
}

// sections are the sheets that are meant, each cut at its titles where blocks have them.
func (c *Columns) sections(f *source.File, all []table.Sheet, p *source.Problems) (list []sheetBlock, ok bool) {
	picked, ok := pick(f, all, c.Sheet, c.Where.Span, c.Transposed.V, p)
	if !ok || !c.Block.Set {
		return picked, ok
	}
	for _, s := range picked {
		list = append(list, s.split(c.Block.V, p)...)
	}
	if len(list) == 0 {
		p.Add(noBlock(c.Block, f))
	}
	return list, len(list) > 0
}

// split cuts a sheet at the rows that are titles of blocks.
func (s sheetBlock) split(pattern string, p *source.Problems) (list []sheetBlock) {
	from, first := 0, true
	var title table.Cell
	cut := func(to int) {
		if first {
			s.above = s.Rows.Part(0, to)
			return
		}
		block := s
		block.grid = s.part(from, to)
		block.label(pattern, title)
		switch {
		case !soundName(title, p):
		case block.Rows.Len() > 0:
			list = append(list, block)
		default:
			p.Add(emptyBlock(title))
		}
	}
	for i, cells := range s.Rows.All() {
		if label, ok := titleIn(cells, pattern); ok {
			cut(i)
			from, title, first = i+1, label, false
		}
	}
	cut(s.Rows.Len())
	return list
}

// label notes which set or player a pattern has found.
func (s *sheetBlock) label(pattern string, found table.Cell) {
	if strings.Contains(pattern, playerSlot) {
		s.player = found
	} else {
		s.set = found
	}
}

// titleIn finds the label in a row that is the title of a block: in one cell ("Performer: T1"), or with the words in one
// and the label in the next ("Performer:", "T1").
func titleIn(cells []table.Cell, pattern string) (label table.Cell, ok bool) {
	before := -1
	for i, c := range cells {
		if c.Text == "" {
			continue
		}
		if text, ok := labelIn(pattern, c.Text); ok {
			return table.Cell{Text: text, Span: c.Span}, true
		}
		if before >= 0 {
			if text, ok := labelIn(pattern, cells[before].Text+" "+c.Text); ok && text == fold(c.Text) {
				return table.Cell{Text: text, Span: c.Span}, true
			}
		}
		before = i
	}
	return table.Cell{}, false
}

// footer is the index of the first row of the notes below the table, which a blank row keeps apart from it. Without
// such notes it is how many rows there are.
func (g *grid) footer(head int, isNote func(cells []table.Cell) bool) int {
	last := g.Rows.Len() - 1
	for last > head && isNote(g.Rows.Row(last)) {
		last--
	}
	for i := last + 1; i < g.Rows.Len(); i++ {
		if i > head+1 && g.number(i) > g.number(i-1)+1 {
			return i
		}
	}
	return g.Rows.Len()
}
