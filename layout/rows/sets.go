package rows

import (
	"strings"

	"backfield/layout/source"
	"backfield/layout/table"
)

// setIndex are the columns of a row of Backfield's own sheet of sets.
var setIndex = map[string]int{"set": 0, "movement": 1, "counts": 2, "hold": 3}

// Sets turns a sheet of sets into rows of Backfield's own layout: set, movement, counts and hold. Whole is false where
// it could not be read to its end.
func Sets(f *source.File, c *SetsColumns, p *source.Problems) (rows []table.Row, whole bool) {
	all := table.ReadSheets(f, p)
	whole = !p.Has(f, "csv-syntax")
	if strings.Contains(c.Sheet.V, setSlot) {
		p.Add(setsInOneSheet(c.Sheet.Span))
		return nil, false
	}
	sheets, _, ok := pick(f, all, c.Sheet, c.Where.Span, p)
	if !ok {
		return nil, false
	}
	var columns [4]int // in the order of setIndex
	list := []wanted{
		{"set", or(c.Set, "set"), &columns[0], false},
		{"counts", or(c.Counts, "counts"), &columns[2], false},
		{"hold", or(c.Hold, "hold"), &columns[3], !c.Hold.Set}}
	if !c.Movement.All.Set {
		list = append(list, wanted{"movement", or(c.Movement.Text, "movement"), &columns[1], false})
	}
	head, ok := heading(&sheets[0], c.Header, list, p)
	if !ok {
		return nil, false
	}
	for _, cells := range until(&sheets[0], head, c.Last, p) {
		own := make([]table.Cell, 4)
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
