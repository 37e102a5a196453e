// Package guess proposes how a sheet of dots is laid out, from what its cells read as and from the trade's words in
// its header. It decides nothing: whoever asks for a guess shows it and asks back.
package guess

import (
	"slices"
	"strings"

	"backfield/layout/field"
	"backfield/layout/rows"
	"backfield/layout/source"
	"backfield/layout/table"
)

const (
	headRows = 30  // the header is in one of the first so many rows
	sample   = 60  // cells of a column that are looked at
	most     = 0.7 // the share of a column that must read as one kind
)

// Columns proposes a layout for a sheet, in which what was given stays; missing says what could not be found, "" where
// nothing is missing.
func Columns(f *source.File, ground field.Field, given rows.Columns, p *source.Problems) (c rows.Columns,
	missing string) {
	sheets := table.ReadSheets(f, p)
	isGiven := func(s table.Sheet) bool { return given.Sheet.Set && s.Name == given.Sheet.V }
	if one := slices.IndexFunc(sheets, isGiven); one >= 0 {
		sheets = sheets[one : one+1]
	}
	found, why := lookAt(sheets, ground, given)
	if len(sheets) == 1 && (given.Transposed.V || len(found) == 0 || found[0].liesAcross(&sheets[0])) {
		if v, ok := turnedView(sheets[0], ground, given); ok {
			return v.columns, ""
		}
	}
	switch {
	case len(sheets) == 0:
		return c, "the sheet is empty"
	case len(found) == 0:
		return c, why
	}
	v := found[0]
	var unnamed, all []string // sheets of dots without a column of sets, and all of them
	for _, other := range found {
		all = append(all, other.sheet)
		if other.set == "" && !other.perSet {
			unnamed = append(unnamed, other.sheet)
		}
	}
	first := slices.IndexFunc(sheets, func(s table.Sheet) bool { return s.Name == v.sheet })
	if v.inTitles(given) || v.apart(&sheets[first], all) || v.ofSets(&sheets[first]) {
		return v.columns, ""
	}
	c = v.columns
	switch {
	case !c.Player.Set:
		return c, "no column of players was found; " + v.nameOne("player") +
			"; where a title above each part names one, write the title: --column \"block=Player: {player}\""
	case v.set == "" && !v.perSet && len(unnamed) > 1:
		pattern, _, ok := pattern(unnamed, false)
		if !ok {
			return c, "several sheets have dots, but their names have no pattern that gives the set"
		}
		c.Sheet, c.Header = named(pattern), rows.HeaderKey{} // it may be in another row of each
	case v.set == "" && !v.perSet:
		return c, "no column of sets was found; " + v.nameOne("set") +
			"; where each set has columns of its own, write {set} in their names; where a title above each part " +
			"names one: --column \"block=Set {set}\""
	case len(sheets) > 1:
		c.Sheet = named(v.sheet)
	}
	return c, ""
}

// lookAt looks at each sheet. Where none has dots it says why the first has none.
func lookAt(sheets []table.Sheet, ground field.Field, given rows.Columns) (found []sheetView, why string) {
	for i := range sheets {
		v, reason := look(&sheets[i], ground, given)
		if reason == "" {
			found = append(found, v)
		} else if why == "" {
			why = reason
		}
	}
	return found, why
}

// sheetView is what one sheet seems to be.
type sheetView struct {
	sheet   string
	set     string
	perSet  bool
	named   bool // the column of players is called so
	signed  bool // x has negative numbers
	columns rows.Columns
	list    []sheetColumn // those of the sheet
}

// sheetColumn is a column under a header.
type sheetColumn struct {
	name string // in small letters, without what is no letter or digit
	text string // as written
	kind columnKind
	all  int // cells with anything in them

	negative bool // a cell is a number below 0
}

// ours are names of columns that never hold a place, whatever their cells look like.
var ours = []string{"set", "set number", "form", "page", "player", "performer", "name", "label", "counts",
	"count", "cts", "ct", "hold", "holds", "hold counts", "movement", "mvt"}

// countNames are those of the column of counts.
var countNames = []string{"counts", "count", "cts", "ct"}

// setNames are those of the column of sets, the likeliest first.
var setNames = []string{"set", "set number", "form", "page"}

// look tries the first rows of a sheet as its header.
func look(s *table.Sheet, ground field.Field, given rows.Columns) (sheetView, string) {
	first := ""
	title, blocks := titles(s)
	title, _, _ = strings.Cut(title, " ")
	for head := range min(headRows, s.Rows.Len()-1) {
		if blocks && strings.HasPrefix(s.Rows.Row(head)[0].Text, title) && title != "{player}" {
			continue // it names no columns, although dots are below it
		}
		v, reason := try(s, head, ground, given)
		if reason == "" {
			return v, ""
		}
		if first == "" {
			first = reason
		}
		if twoHeads(s, head, ground) {
			return twoRows(s, head, ground, given)
		}
	}
	if first == "" {
		first = "the sheet has column names but no rows"
	}
	return sheetView{}, first
}

// twoHeads reports whether a row names groups of columns, and the one below it the columns of each: names with gaps
// above the same names over and over, and dots below them.
func twoHeads(s *table.Sheet, head int, ground field.Field) bool {
	if head+2 >= s.Rows.Len() {
		return false
	}
	groups, seen, twice := map[string]bool{}, map[string]bool{}, 0
	for _, cell := range s.Rows.Row(head) {
		if name := plain(cell.Text); name != "" {
			if groups[name] {
				return false
			}
			groups[name] = true
		}
	}
	for i, cell := range s.Rows.Row(head + 1) {
		name := plain(cell.Text)
		if k, _ := read(s.Rows.After(head+1), i, ground); seen[name] && name != "" && k != unknown {
			twice++
		}
		seen[name] = true
	}
	return len(groups) > 1 && twice > 0
}

func rowNumber(s *table.Sheet, i int) int {
	n, _ := s.Rows.Row(i)[0].Span.Position()
	return n
}

func named(text string) table.Text { return table.Text{V: text, Set: true} }

// try takes a row as the header. It says what is missing, "" where nothing is.
func try(s *table.Sheet, head int, ground field.Field, given rows.Columns) (sheetView, string) {
	list, ok := readHeader(s, head, ground)
	if !ok {
		return sheetView{}, "the first rows have dots, but no column names"
	}
	v := sheetView{sheet: s.Name, columns: given, list: list}
	if head > 0 {
		v.columns.Header.Int = table.Int{V: rowNumber(s, head), Set: true}
	}
	if reason := v.place(list); reason != "" {
		if reason == noPlace {
			if why := almost(s, head, ground); why != "" {
				reason += why
			} else {
				reason += v.halfFound()
			}
		}
		return v, reason
	}
	player := one(list, "player", "performer", "name", "label")
	if player == nil && v.perSet {
		player = one(list, setNames...) // it lies across
	}
	v.named = player != nil
	if player == nil {
		player = firstText(list)
	}
	switch {
	case given.Player.Set:
		v.named = true
	case player != nil:
		v.columns.Player.Text = named(player.text)
	}
	if !given.Player.Set {
		v.symbol(list, s.Rows.After(head))
	}
	v.sets(list, s.Rows.After(head))
	if v.perSet { // the facts about the sets are in rows, under the column of players
		at := slices.IndexFunc(list, func(c sheetColumn) bool { return c.text == v.columns.Player.V })
		list = firstCells(s.Rows.After(head), at)
	}
	v.counts(list)
	return v, ""
}

// sets finds the column of sets, and whether it or the players' has its names only in the first row of each.
func (v *sheetView) sets(list []sheetColumn, body table.SheetRows) {
	c := one(list, setNames...)
	if v.columns.Set.Set {
		c = &sheetColumn{text: v.columns.Set.V}
	}
	if c == nil || v.perSet {
		return
	}
	v.set = c.text
	v.columns.Set = named(c.text)
	at := func(name string) int {
		return slices.IndexFunc(list, func(c sheetColumn) bool { return strings.EqualFold(c.text, name) })
	}
	player, set := at(v.columns.Player.V), at(c.text)
	if v.named && player >= 0 && set >= 0 && (filled(body, player, set) || filled(body, set, player)) {
		v.columns.Fill.Text = named("down")
	}
}

// readHeader reads the columns under a header; ok is false where the row holds dots itself.
func readHeader(s *table.Sheet, head int, ground field.Field) (list []sheetColumn, ok bool) {
	for i, cell := range s.Rows.Row(head) {
		own := kinds(cell.Text, ground)
		isDot := func(k columnKind) bool {
			return k == aDot || k == aLateral || k == aDepth && !slices.Contains(own, aLine)
		}
		if slices.ContainsFunc(own, isDot) || likeAcross.MatchString(cell.Text) && likeAlong.MatchString(cell.Text) {
			return nil, false
		}
		c := sheetColumn{name: plain(cell.Text), text: strings.Join(strings.Fields(cell.Text), " ")}
		if c.text != "" && !slices.Contains(ours, c.name) {
			c.kind, c.all = read(s.Rows.After(head), i, ground)
			c.negative = c.isX() && negative(s.Rows.After(head), i)
		}
		list = append(list, c)
	}
	return list, true
}

// firstCells are the names of rows, as if they were columns; none where the column of names was not found, at -1.
func firstCells(rows table.SheetRows, at int) []sheetColumn {
	var list []sheetColumn
	for _, cells := range rows.All() {
		if at >= 0 && at < len(cells) && cells[at].Text != "" {
			list = append(list, sheetColumn{name: plain(cells[at].Text), text: cells[at].Text})
		}
	}
	return list
}

// counts finds the columns that say how long the sets are.
func (v *sheetView) counts(list []sheetColumn) {
	c := one(list, countNames...)
	if c == nil {
		return
	}
	if !v.columns.Counts.Set {
		v.columns.Counts = named(c.text)
	}
	if c := one(list, "hold", "holds", "hold counts"); c != nil {
		v.columns.Hold = named(c.text)
	}
	if c := one(list, "movement", "mvt"); c != nil {
		v.columns.Movement.Text = named(c.text)
	}
}
