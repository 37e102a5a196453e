package rows

import (
	"fmt"
	"slices"
	"strings"

	"backfield/layout/setlist"
	"backfield/layout/source"
	"backfield/layout/table"
)

// setIndex are the columns of a row of Backfield's own sheet of sets.
var setIndex = map[string]int{"set": 0, "movement": 1, "counts": 2, "hold": 3, "facing": 4}

// idleSets notes the columns of a sheet of sets that are read by nobody, and warns of one that seems to be the hold.
func idleSets(names []table.Cell, columns []int, mayHold bool, p *source.Problems) {
	for i, c := range names {
		if slices.Contains(columns, i) {
			p.Used(c.Span)
			continue
		}
		if c.Text == "" {
			continue
		}
		if mayHold && columns[3] < 0 && strings.Contains(strings.ToLower(c.Text), "hold") {
			p.Add(likeColumn(c, "hold"))
		}
		p.Idle(c.Span, fmt.Sprintf("the column %q", fold(c.Text)))
	}
}

// Sets turns a sheet of sets into rows of Backfield's own layout: set, movement, counts, hold and facing. Whole is
// false where it could not be read to its end.
func Sets(f *source.File, c *SetsColumns, p *source.Problems) (rows []table.Row, whole bool) {
	c.CountsAre.check(p)
	all := table.ReadSheets(f, p)
	whole = !p.Has(f, "csv-syntax")
	if strings.Contains(c.Sheet.V, setSlot) {
		p.Add(setsInOneSheet(c.Sheet.Span))
		return nil, false
	}
	sheets, ok := pick(f, all, c.Sheet, c.Where.Span, c.Transposed.V, p)
	if !ok {
		return nil, false
	}
	columns := []int{-1, -1, -1, -1, -1} // in the order of setIndex
	list := []wanted{
		{"set", or(c.Set, "set"), &columns[0], false},
		{"counts", or(c.Counts, "counts"), &columns[2], false},
		{"hold", or(c.Hold, "hold"), &columns[3], !c.Hold.Set},
		{"facing", or(c.Facing, "facing"), &columns[4], !c.Facing.Set}}
	if !c.Movement.All.Set {
		list = append(list, wanted{"movement", or(c.Movement.Text, "movement"), &columns[1], false})
	}
	names, head, ok := sheets[0].heading(c.Header, list, p)
	if !ok {
		return nil, false
	}
	idleSets(names, columns, !c.Hold.Set, p)
	isNote := func(cells []table.Cell) bool {
		return at(cells, columns[0]).Text == "" || at(cells, columns[2]).Text == ""
	}
	for _, cells := range sheets[0].until(head, c.Last, isNote, p).All() {
		own := make([]table.Cell, len(columns))
		anything := false
		for i, column := range columns {
			own[i] = at(cells, column)
			anything = anything || column >= 0 && (own[i].Text != "" || flawed(own[i]))
		}
		if !anything {
			continue
		}
		for _, cell := range own {
			whole = cell.Sound(p) && whole
		}
		if c.Movement.All.Set {
			own[1] = c.Movement.cell()
		}
		rows = append(rows, table.NewRow(own[0].Span, own, setIndex))
	}
	return rows, whole
}

// SetRows are the rows of a sheet of sets. Where the sets are in rows, no player need have a dot in each of them: the
// order
// is the one that agrees with every player's rows, if there is one and only one.
func (c *Columns) SetRows(t *setlist.Listing, p *source.Problems) []table.Row {
	if c.layout() == perDot && !t.Sort(p) {
		return nil
	}
	var rows []table.Row
	for _, label := range t.Labels {
		is := t.Of(label.Text)
		own := []table.Cell{label, is[0], is[1], is[2]}
		for i := range own {
			if own[i].Span.File == nil {
				own[i].Span = label.Span
			}
		}
		if c.Movement.All.Set {
			own[1] = c.Movement.cell()
		}
		for i, key := range []string{"movement", "counts"} {
			if own[1+i].Text == "" {
				p.Add(unlisted(label, key))
				own[1+i].Span.End = own[1+i].Span.Start
				p.Close(own[1+i].Span)
			}
		}
		rows = append(rows, table.NewRow(label.Span, own, setIndex))
	}
	return rows
}
