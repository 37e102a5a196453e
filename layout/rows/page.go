package rows

import (
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
	head                   []table.Cell
	body                   [][]table.Cell
	set, player            int
	movement, counts, hold int
	forms                  []dotIndex
	byLabel                map[string]int // index of a set's form
}

// page reads a sheet's header row; label is the set that the sheet is of, if it is of one.
func (a *arranger) page(s *table.Sheet, label table.Cell, p *source.Problems) (*page, bool) {
	c := a.Columns
	pg := &page{set: -1, movement: -1, counts: -1, hold: -1, byLabel: map[string]int{}}
	f := dotIndex{label: label}
	list := []wanted{{"player", or(c.Player, "player"), &pg.player, false}}
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
	head, ok := heading(s, c.Header, list, p)
	if !ok {
		return nil, false
	}
	pg.head, pg.body = s.Rows[head], until(s, head, c.Last, p)
	if a.layout == perSet {
		return pg, a.columns(pg, p)
	}
	words := f.places[lateralKey] >= 0 && f.places[depthKey] >= 0
	plain := f.places[xKey] >= 0 && f.places[yKey] >= 0
	if _, own := c.named(); !own && !words && !plain {
		p.Add(noPlaceColumns(pg.head[0].Span))
		return nil, false
	}
	f.index = rowIndex(f.places)
	pg.forms = []dotIndex{f}
	return pg, true
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
		if i == pg.player {
			continue
		}
		key, label, matches := match(patterns, cell.Text)
		if !matches {
			continue
		}
		if fold(patterns[key].V) == setSlot && !a.Known(label) && !a.looksLike(pg, i, key) {
			continue // the name of a column of notes is as good a label as any other
		}
		ok = cell.Sound(p) && ok
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
	for _, cells := range pg.body {
		text := at(cells, column).Text
		if text == "" || pg.player >= 0 && at(cells, pg.player).Text == "" {
			continue
		}
		var fault *source.Fault
		switch key {
		case dotKey:
			_, _, fault = a.Ground.ReadDot(text)
		case lateralKey:
			_, fault = a.Ground.Lateral(text)
		case depthKey:
			_, fault = a.Ground.Depth(text)
		}
		if fault == nil {
			return true
		}
	}
	return false
}
