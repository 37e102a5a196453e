package rows

import (
	"fmt"
	"slices"
	"strings"

	"backfield/layout/source"
	"backfield/layout/table"
)

// dotIndex is the columns of one dot in a sheet: of one set where label is given, else of the set in the row. -1 is
// none.
type dotIndex struct {
	label  table.Cell
	places [placeKeys]int
	index  map[string]int
}

// page is a sheet of dots as its header row describes it.
type page struct {
	of                     sheetBlock
	head                   []table.Cell
	body                   table.SheetRows
	set                    int
	players                []int         // columns of the parts of a name
	above                  [2]table.Cell // the set and the player of the row above, where blank ones are filled
	below                  int           // rows that are below the body
	byPlayer               bool          // a name is above its sets, and no set above its players
	movement, counts, hold int
	forms                  []dotIndex
	byLabel                map[string]int // index of a set's form
}

// page reads the header row of a sheet or block.
func (a *arranger) page(s sheetBlock, p *source.Problems) (*page, bool) {
	c := a.Columns
	pg := &page{of: s, set: -1, movement: -1, counts: -1, hold: -1, byLabel: map[string]int{}}
	f := dotIndex{label: s.set}
	var list []wanted
	if !c.apart(playerSlot) {
		names := c.Player.names("player")
		pg.players = make([]int, len(names))
		for i, name := range names {
			list = append(list, wanted{"player", name, &pg.players[i], false})
		}
	}
	if a.layout == perDot {
		list = append(list, wanted{"set", or(c.Set, "set"), &pg.set, false})
	}
	for key, t := range c.places() {
		f.places[key] = -1
		if t.V != "" && a.layout != perSet {
			list = append(list, wanted{placeNames[key], t, &f.places[key], !t.Set})
		}
	}
	for _, w := range []wanted{
		{"counts", c.Counts, &pg.counts, false},
		{"hold", c.Hold, &pg.hold, !c.Hold.Set},
		{"movement", c.Movement.Text, &pg.movement, false}} {
		if a.layout == perSet || w.key == "movement" && c.Movement.All.Set || !a.Together && !w.name.Set {
			continue // they are rows, or one number, or given elsewhere
		}
		w.name = or(w.name, w.key)
		list = append(list, w)
	}
	head, ok := a.header(pg, list, p)
	if !ok {
		return nil, false
	}
	if a.layout == perSet {
		pg.body = s.Rows.After(head) // that a set has a column may show only in what is in it
		ok = a.columns(pg, p)
		a.cutBody(pg, head, p)
		a.idle(pg, p)
		return pg, ok
	}
	words := f.places[lateralKey] >= 0 && f.places[depthKey] >= 0
	plain := f.places[xKey] >= 0 && f.places[yKey] >= 0
	if _, own := c.named(); !own && !words && !plain {
		p.Add(noPlaceColumns(pg.head[0].Span))
		return nil, false
	}
	f.index = rowIndex(f.places)
	pg.forms = []dotIndex{f}
	a.cutBody(pg, head, p)
	a.idle(pg, p)
	pg.byPlayer = pg.listsByPlayer()
	return pg, true
}

// cutBody finds the rows below the header that are the table's.
func (a *arranger) cutBody(pg *page, head int, p *source.Problems) {
	pg.body = pg.of.until(head, a.Columns.Last, func(cells []table.Cell) bool { return a.isNote(pg, cells) }, p)
	pg.below = pg.of.Rows.Len() - max(head+1, 0) - pg.body.Len()
}

// listsByPlayer reports whether rows with a set have blanks for the player, and more so than the other way round.
func (pg *page) listsByPlayer() bool {
	if len(pg.players) == 0 || pg.set < 0 {
		return false
	}
	noPlayer, noSet := 0, 0
	for _, cells := range pg.body.All() {
		switch player, set := at(cells, pg.players[0]).Text, at(cells, pg.set).Text; {
		case player == "" && set != "":
			noPlayer++
		case player != "" && set == "":
			noSet++
		}
	}
	return noPlayer > noSet
}

// header finds the names of the columns: in the sheet or block itself, or for a block that has none above the first
// block or in the one before. head is the index of their row, -1 where they are elsewhere.
func (a *arranger) header(pg *page, list []wanted, p *source.Problems) (head int, ok bool) {
	s := &pg.of
	isHeader := func(cells []table.Cell) bool { return named(cells, list) }
	if a.Columns.Block.Set && s.Rows.Find(headRows, isHeader) < 0 {
		i := s.above.Find(s.above.Len(), isHeader)
		switch {
		case i >= 0:
			pg.head = s.above.Row(i)
		case a.head != nil:
			pg.head = a.head
		}
		if pg.head != nil {
			return -1, assign(pg.head, list, p)
		}
	}
	pg.head, head, ok = s.heading(a.Columns.Header, list, p)
	if ok {
		a.head = pg.head
	}
	return head, ok
}

// places are the columns that give a place, of one set or another.
func (pg *page) places() (list []int) {
	for _, f := range pg.forms {
		for _, i := range f.places {
			if i >= 0 {
				list = append(list, i)
			}
		}
	}
	return list
}

// isNote reports whether a row cannot be one of the table: it has nothing where a dot would be, or no dot and no player.
func (a *arranger) isNote(pg *page, cells []table.Cell) bool {
	if a.anyDot(pg, cells) {
		return false
	}
	anything := slices.ContainsFunc(pg.places(), func(i int) bool { return at(cells, i).Text != "" })
	return !anything || len(pg.players) > 0 && at(cells, pg.players[0]).Text == ""
}

// anyDot reports whether a cell of a row has what its column takes for a place.
func (a *arranger) anyDot(pg *page, cells []table.Cell) bool {
	for _, f := range pg.forms {
		for key, i := range f.places {
			if i >= 0 && at(cells, i).Text != "" && a.reads(key, at(cells, i).Text) {
				return true
			}
		}
	}
	return false
}

// reads reports whether a text is what the column of a key takes.
func (a *arranger) reads(key int, text string) bool {
	var fault *source.Fault
	switch key {
	case dotKey:
		_, _, fault = a.Ground.ReadDot(text)
	case lateralKey:
		_, fault = a.Ground.Lateral(text)
	case depthKey:
		_, fault = a.Ground.Depth(text)
	}
	return fault == nil
}

// idle notes the columns that are read by nobody, each name once in all sheets and blocks.
func (a *arranger) idle(pg *page, p *source.Problems) {
	used := append(append(pg.places(), pg.players...), pg.set, pg.movement, pg.counts, pg.hold)
	for i, c := range pg.head {
		if slices.Contains(used, i) {
			p.Used(c.Span)
			continue
		}
		if c.Text == "" || a.unread[fold(c.Text)] {
			continue
		}
		a.unread[fold(c.Text)] = true
		for _, key := range [...]string{"hold", "counts", "movement"} {
			if a.missing(pg, key) && strings.Contains(strings.ToLower(c.Text), key) {
				p.Add(likeColumn(c, key))
			}
		}
		p.Idle(c.Span, fmt.Sprintf("the column %q", fold(c.Text)))
	}
}

// missing reports whether a sheet lacks the column of something that it should say of the sets.
func (a *arranger) missing(pg *page, key string) bool {
	switch {
	case !a.Together || a.layout == perSet: // they are elsewhere, or rows
		return false
	case key == "hold":
		return pg.hold < 0
	case key == "counts":
		return pg.counts < 0
	}
	return pg.movement < 0 && !a.Columns.Movement.All.Set
}

// playerOf is the player of a row: the name in its columns, or of the sheet or block.
func (pg *page) playerOf(cells []table.Cell, p *source.Problems) table.Cell {
	if len(pg.players) == 0 {
		return pg.of.player
	}
	name := at(cells, pg.players[0])
	for _, i := range pg.players[1:] {
		part := at(cells, i)
		if name.Text == "" {
			name = part
		} else if part.Text != "" && part.Sound(p) {
			name.Text += " " + part.Text
		}
	}
	return name
}

// named reports whether the score names a column of a place.
func (c *Columns) named() (t table.Text, ok bool) {
	list := c.places()
	t = first(list[:]...)
	return t, t.Set
}

// or is the name that the score has, or else Backfield's own.
func or(t table.Text, name string) table.Text {
	if t.Set {
		return t
	}
	return table.Text{V: name}
}

// columns finds the sets that a header row has columns for.
func (a *arranger) columns(pg *page, p *source.Problems) bool {
	c := a.Columns
	patterns := c.places()
	ok := true
	for i, cell := range pg.head {
		if slices.Contains(pg.players, i) {
			continue
		}
		key, label, matches := match(patterns, cell.Text)
		if !matches {
			continue
		}
		if fold(patterns[key].V) == setSlot && !a.Known(label) && !a.looksLike(pg, i, key) {
			continue // the name of a column of notes is as good a label as any other
		}
		ok = soundName(cell, p) && ok
		f := pg.dotIndex(label, cell.Span)
		if first := f.places[key]; first >= 0 {
			p.Add(setColumnTwice(cell.Span, placeNames[key], label, pg.head[first].Span))
			ok = false
			continue
		}
		f.places[key] = i
	}
	if len(pg.forms) == 0 {
		t := first(patterns[:]...)
		p.Add(noSetColumns(c.placeOf(t), t.V, pg.head))
		return false
	}
	for i := range pg.forms {
		f := &pg.forms[i]
		for key, t := range patterns {
			if t.Set && f.places[key] < 0 {
				p.Add(setLacksColumn(f.label, t.V))
				ok = false
			}
		}
		f.index = rowIndex(f.places)
	}
	return ok
}

// match finds the pattern that says most of a column's name, and the set's label in it.
func match(patterns [placeKeys]table.Text, name string) (key int, label string, ok bool) {
	for k, t := range patterns {
		if l, matches := labelIn(t.V, name); matches && (!ok || len(t.V) > len(patterns[key].V)) {
			key, label, ok = k, l, true
		}
	}
	return key, label, ok
}

// dotIndex finds or adds the form of a set.
func (pg *page) dotIndex(label string, span source.Span) *dotIndex {
	if i, known := pg.byLabel[label]; known {
		return &pg.forms[i]
	}
	f := dotIndex{label: table.Cell{Text: label, Span: span}}
	for k := range f.places {
		f.places[k] = -1
	}
	pg.byLabel[label] = len(pg.forms)
	pg.forms = append(pg.forms, f)
	return &pg.forms[len(pg.forms)-1]
}

// looksLike reports whether the first thing below a column's name is what its key takes.
func (a *arranger) looksLike(pg *page, column, key int) bool {
	for _, cells := range pg.body.All() {
		text := at(cells, column).Text
		if text == "" || len(pg.players) > 0 && at(cells, pg.players[0]).Text == "" {
			continue
		}
		if a.reads(key, text) {
			return true
		}
	}
	return false
}
