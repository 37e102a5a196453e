package guess

import (
	"slices"

	"backfield/layout/rows"
	"backfield/layout/source"
	"backfield/layout/table"
)

// Sets proposes a layout for the sheet of sets in a file, whose sheets may include those of dots. It is nil where the file
// has Backfield's own layout, or where no sheet or more than one has sets with their counts.
func Sets(f *source.File, p *source.Problems) *rows.SetsColumns {
	sheets := table.ReadSheets(f, p)
	var found *setsView
	for i := range sheets {
		c := setsIn(&sheets[i])
		switch {
		case c == nil:
			continue
		case found != nil:
			return nil
		}
		found = c
		if len(sheets) > 1 {
			found.Sheet = named(sheets[i].Name)
		}
	}
	if found == nil || len(sheets) == 1 && found.own {
		return nil
	}
	return &found.SetsColumns
}

// setsView is what a sheet of sets seems to be; own says that its first row has the names that Backfield has for columns.
type setsView struct {
	rows.SetsColumns
	own bool
}

// setsIn looks for a row that names the sets and their counts, but no player, and has whole numbers below the counts.
func setsIn(s *table.Sheet) *setsView {
	for head := range min(headRows, s.Rows.Len()-1) {
		var list []sheetColumn
		for _, cell := range s.Rows.Row(head) {
			list = append(list, sheetColumn{name: plain(cell.Text), text: cell.Text})
		}
		set, counts := one(list, setNames...), one(list, countNames...)
		if set == nil || counts == nil || one(list, "player", "performer", "name", "symbol") != nil {
			continue
		}
		at := slices.IndexFunc(list, func(c sheetColumn) bool { return c.text == counts.text })
		below := s.Rows.Row(head + 1)
		var p source.Problems
		if at >= len(below) {
			continue
		}
		if _, ok := below[at].Whole(0, 1000, "counts", &p); !ok {
			continue
		}
		c := &setsView{}
		c.Set, c.Counts = named(set.text), named(counts.text)
		if x := one(list, "hold", "holds", "hold counts"); x != nil {
			c.Hold = named(x.text)
		}
		if x := one(list, "movement", "mvt"); x != nil {
			c.Movement.Text = named(x.text)
		} else {
			c.Movement.All = table.Int{V: 1, Set: true}
		}
		c.own = head == 0 && set.text == "set" && counts.text == "counts" && c.Movement.Text.V == "movement"
		return c
	}
	return nil
}
