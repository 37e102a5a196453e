package rows

import (
	"iter"
	"slices"
	"strings"

	"backfield/layout/field"
	"backfield/layout/setlist"
	"backfield/layout/source"
	"backfield/layout/table"
)

// rowIndex are the columns of such rows: set, player, whether it is sound, and those of a place that the sheet has, in
// the order of their keys.
func rowIndex(places [placeKeys]int) map[string]int {
	index := map[string]int{"set": 0, "player": 1, Unsound: 2}
	for key, at := range places {
		if at >= 0 {
			index[placeNames[key]] = len(index)
		}
	}
	return index
}

// Unsound is a column of such rows that has something in it where a cell of the dot may not be read as it is.
const Unsound = "unsound"

// most is how many dots a sheet may have.
const most = 1_000_000

// DotSheet is a sheet of dots.
type DotSheet struct {
	File     *source.File
	Columns  *Columns
	Together bool // it has the sets too

	Ground field.Field             // where its dots are: what can be read as a dot is no note
	Known  func(label string) bool // whether the list of sets has a set of that label
	Sets   string                  // the sheet of the same workbook that has the sets, "" where there is none
}

// arranger turns a sheet of dots into rows.
type arranger struct {
	DotSheet
	layout  layout
	listing setlist.Listing
	pages   []*page
	dots    int             // how many there are
	listed  []table.Cell    // the players who are named, by first mention; not where each dot has a row of its own
	after   []int           // of listed: the row above, where no dot comes below it, else 0
	seen    map[string]bool // of listed
	active  map[string]bool // players who have a dot
	head    []table.Cell    // the last names of columns, for blocks that have none
	unread  map[string]bool // names of columns that are read by nobody
}

// Read turns the sheet into rows, whose columns are set, player, Unsound and those of a place. They are made as they are
// gone through, since a season's are many. It returns what the sheet says of the sets as well, nil where it could not be
// read at all; whole is false where a part of it could not.
func (s DotSheet) Read(p *source.Problems) (dots iter.Seq[table.Row], list *setlist.Listing, whole bool) {
	c := s.Columns
	none := func(func(table.Row) bool) {}
	if !c.check(p) {
		return none, nil, false
	}
	all := table.ReadSheets(s.File, p)
	whole = !p.Has(s.File, "csv-syntax")
	sections, ok := c.sections(s.File, s.withDots(all, p), p)
	if !ok {
		return none, nil, false
	}
	a := arranger{DotSheet: s, layout: c.layout(), listing: setlist.New(), seen: map[string]bool{},
		active: map[string]bool{}, unread: map[string]bool{}}
	for i, section := range sections {
		pg, ok := a.page(section, p)
		if !ok {
			whole = false
			continue
		}
		a.cutNotes(pg, i+1 == len(sections) && section.Name == sections[0].Name, p)
		if !a.read(pg, p) {
			return none, nil, false
		}
		a.pages = append(a.pages, pg)
	}
	for i, name := range a.listed {
		if !a.active[name.Text] {
			p.Add(noDotAtAll(name, a.after[i]))
		}
	}
	return a.again, &a.listing, whole
}

// again goes through the rows once more. What is wrong in them was reported the first time.
func (a *arranger) again(yield func(table.Row) bool) {
	var reported source.Problems
	for _, pg := range a.pages {
		pg.above = [2]table.Cell{}
		for _, cells := range pg.body.All() {
			if a.saysOfSets(pg, cells) >= 0 {
				continue
			}
			for i := range pg.forms {
				if row, ok := a.dot(pg, &pg.forms[i], cells, &reported); ok && !yield(row) {
					return
				}
			}
		}
	}
}

// read reads the rows of a sheet; false where there are more than any drill has.
func (a *arranger) read(pg *page, p *source.Problems) bool {
	for _, f := range pg.forms {
		if a.layout != perDot { // in the order of the sheet, whoever has a dot in them
			a.listing.List(f.label)
		}
	}
	for i, cells := range pg.body.All() {
		if key := a.saysOfSets(pg, cells); key >= 0 {
			a.listSets(pg, key, cells, p)
			continue
		}
		for f := range pg.forms {
			if row, ok := a.dot(pg, &pg.forms[f], cells, p); ok {
				a.note(pg, row, cells, p)
			}
		}
		if a.dots > most {
			p.Add(tooManyRows(cells[0].Span))
			return false
		}
		if name := pg.playerOf(cells, p); a.layout != perDot && name.Text != "" && !a.seen[name.Text] {
			a.seen[name.Text] = true
			a.listed, a.after = append(a.listed, name), append(a.after, pg.lastAbove(i))
		}
	}
	return true
}

// saysOfSets is which of SetKeys a row of a sheet with a column for each set gives, -1 for none.
func (a *arranger) saysOfSets(pg *page, cells []table.Cell) int {
	if a.layout != perSet || len(pg.players) == 0 {
		return -1
	}
	c, name := a.Columns, fold(at(cells, pg.players[0]).Text)
	keys := []table.Text{or(c.Movement.Text, "movement"), or(c.Counts, "counts"), or(c.Hold, "hold")}
	return slices.IndexFunc(keys, func(key table.Text) bool { return strings.EqualFold(name, fold(key.V)) })
}

// listSets takes a row that gives the i-th of SetKeys for each set.
func (a *arranger) listSets(pg *page, i int, cells []table.Cell, p *source.Problems) {
	for _, f := range pg.forms {
		for _, column := range f.places {
			if cell := at(cells, column); column >= 0 && cell.Text != "" && cell.Sound(p) {
				a.listing.Note(f.label, i, cell, p)
				break
			}
		}
	}
}

// fill takes a blank set or player for that of the row above, where the score says so. It reports whether it may.
func (a *arranger) fill(pg *page, label, player *table.Cell, anything bool) bool {
	if !a.Columns.Fill.Set {
		return false
	}
	for i, cell := range []*table.Cell{label, player} {
		switch {
		case cell.Text != "":
			if i == 1 && pg.byPlayer && cell.Text != pg.above[1].Text && label.Text == "" {
				pg.above[0] = table.Cell{} // another player, whose sets begin again
			}
			pg.above[i] = *cell
		case anything:
			cell.Text = pg.above[i].Text
		}
	}
	return label.Text == "" || player.Text == ""
}

// dot makes a row in Backfield's own layout from one dot of a row, if there is one.
func (a *arranger) dot(pg *page, f *dotIndex, cells []table.Cell, p *source.Problems) (row table.Row, ok bool) {
	player, label := pg.playerOf(cells, p), f.label
	if pg.set >= 0 {
		label = at(cells, pg.set)
	}
	own := append(make([]table.Cell, 0, len(f.index)), label, player, table.Cell{})
	anything := false
	for _, column := range f.places {
		if column >= 0 {
			cell := at(cells, column)
			own = append(own, cell)
			anything = anything || cell.Text != "" || flawed(cell)
		}
	}
	filled := a.fill(pg, &label, &player, anything)
	own[0], own[1] = label, player
	switch {
	case !anything && filled:
		return row, false // a name alone, for the rows below
	case !anything && (pg.set < 0 || player.Text == "" && label.Text == ""):
		return row, false // nobody there, or nothing but what is not read
	case !anything && player.Text == "":
		p.Add(aloneInRow(label, 0))
		return row, false
	case !anything && label.Text == "":
		p.Add(aloneInRow(player, 0))
		return row, false
	}
	// what the sheet, a title or a column's name says was looked at where it was found
	sound := func(c table.Cell, inRow bool) bool {
		return !inRow || a.Columns.Fill.Set && merged(c) || c.Sound(p)
	}
	named := len(pg.players) > 0
	if player.Text == "" && sound(player, named) {
		p.Add(dotWithoutPlayer(player.Span, a.layout == perDot && !a.Columns.Fill.Set))
	}
	if label.Text == "" && pg.set >= 0 && sound(label, true) {
		p.Add(dotWithoutSet(at(cells, pg.set).Span))
	}
	if player.Text == "" || label.Text == "" || !sound(player, named) || !sound(label, pg.set >= 0) {
		return row, false
	}
	for _, cell := range own[3:] {
		if !cell.Sound(p) {
			own[2] = table.Cell{Text: Unsound, Span: cell.Span}
		}
	}
	return table.NewRow(player.Span, own, f.index), true
}

// note keeps what a row with a dot says about its player and its set.
func (a *arranger) note(pg *page, row table.Row, cells []table.Cell, p *source.Problems) {
	a.dots++
	label, player := row.Cell("set"), row.Cell("player")
	a.active[player.Text] = true
	if label.Text == "" {
		return
	}
	a.listing.Meet(player.Text, label)
	for i, column := range []int{pg.movement, pg.counts, pg.hold} {
		if cell := at(cells, column); column >= 0 && cell.Text != "" && cell.Sound(p) {
			a.listing.Note(label, i, cell, p)
		}
	}
}
