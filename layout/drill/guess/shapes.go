package guess

import (
	"maps"
	"slices"
	"strings"

	"backfield/layout/field"
	"backfield/layout/rows"
	"backfield/layout/table"
)

// twoRows takes two rows as a header that they share.
func twoRows(s *table.Sheet, head int, ground field.Field, given rows.Columns) (sheetView, string) {
	one := *s
	names := rows.Joined(s.Rows.Row(head), s.Rows.Row(head+1))
	one.Rows = table.RowsOf([][]table.Cell{names}, s.Rows.After(head+1))
	v, reason := try(&one, 0, ground, given)
	v.columns.Header.Int = table.Int{V: rowNumber(s, head), Set: true}
	v.columns.Header.Below = table.Int{V: rowNumber(s, head+1), Set: true}
	return v, reason
}

// filled reports whether a column has blanks below its names, in rows that have something in another.
func filled(body table.SheetRows, at, other int) bool {
	seen, blank := false, 0
	for _, cells := range body.All() {
		switch {
		case at < len(cells) && cells[at].Text != "":
			seen = true
		case seen && other < len(cells) && cells[other].Text != "":
			blank++
		}
	}
	return blank > 1
}

// titles finds what the titles of blocks in a sheet have in common around a name: rows with nothing else in them that
// begin with the same word. ok is false where there are none.
func titles(s *table.Sheet) (text string, ok bool) {
	groups := map[string][]string{}
	best := ""
	for _, cells := range s.Rows.All() {
		var parts []string
		for _, c := range cells {
			if c.Text != "" {
				parts = append(parts, c.Text)
			}
		}
		if len(parts) > 2 && strings.HasSuffix(parts[0], ":") {
			parts = parts[:2] // "Marcher:", "Tpt 1", "Section:", "Tpt"
		}
		words := strings.Fields(strings.Join(parts, " "))
		if len(parts) > 2 || len(words) < 2 {
			continue
		}
		groups[words[0]] = append(groups[words[0]], strings.Join(words, " "))
	}
	for _, word := range slices.Sorted(maps.Keys(groups)) { // footers repeat as well, and say nothing of players
		pattern, list := playerPattern(groups[word]), groups[word]
		differ := len(slices.Compact(slices.Clone(list))) > 1
		if differ && len(list) > max(1, len(groups[best])) && pattern != "{player}" {
			best, text = word, pattern
		}
	}
	return text, best != ""
}

// setTitles finds what the titles of blocks in a sheet have in common around the label of a set: rows whose first cell
// begins with that word. ok is false where there are none.
func setTitles(s *table.Sheet) (text string, ok bool) {
	var list []string
	for _, cells := range s.Rows.All() {
		if words := strings.Fields(cells[0].Text); len(words) == 2 && slices.Contains(setNames, plain(words[0])) {
			list = append(list, strings.Join(words, " "))
		}
	}
	if len(list) < 2 {
		return "", false
	}
	text, _, ok = pattern(list, false)
	return text, ok
}

// titleWords are words beside a name that are no part of it.
var titleWords = []string{"performer", "player", "name", "marcher", "label", "dots", "dot", "drill", "coordinates"}

// playerPattern is the words that titles share before and after a name: up to a colon, or a word of a title.
func playerPattern(titles []string) string {
	share := func(ok func(title string) bool) bool {
		return !slices.ContainsFunc(titles, func(x string) bool { return !ok(x) })
	}
	text := "{player}"
	first := titles[0]
	before, _, colon := strings.Cut(first, ":")
	if colon && share(func(x string) bool { return strings.HasPrefix(x, before+": ") }) {
		text = before + ": " + text
	} else if word, _, _ := strings.Cut(first, " "); slices.Contains(titleWords, plain(word)) &&
		share(func(x string) bool { return strings.HasPrefix(x, word+" ") }) {
		text = word + " " + text
	}
	if i := strings.LastIndexByte(first, ' '); i >= 0 && slices.Contains(titleWords, plain(first[i:])) &&
		share(func(x string) bool { return strings.HasSuffix(x, first[i:]) }) {
		text += first[i:]
	}
	return text
}

// liesAcross reports whether a sheet with a column for each set has the sets in its rows: then the columns are players.
func (v *sheetView) liesAcross(s *table.Sheet) bool {
	if !v.perSet || !v.columns.Player.Set {
		return false
	}
	if slices.Contains([]string{"set", "set number"}, plain(v.columns.Player.V)) {
		return true
	}
	all, sets := 0, 0
	for _, cells := range s.Rows.After(0).All() {
		word, _, _ := strings.Cut(plain(cells[0].Text), " ")
		if len(cells) > 1 && cells[0].Text != "" {
			all++
		}
		if word == "set" {
			sets++
		}
	}
	return sets > 1 && float64(sets) >= most*float64(all)
}

// apart finds where the players are named, if not in a column: in the names of the sheets, or in the titles of blocks.
func (v *sheetView) apart(s *table.Sheet, names []string) bool {
	c := &v.columns
	if v.named || v.set == "" {
		return false
	}
	text, ok := titles(s)
	switch {
	case ok:
		c.Block = named(text)
	case len(names) > 1:
		c.Sheet = named(playerPattern(names))
	default:
		return false
	}
	c.Player, c.Header, c.Fill.Text = rows.NamesKey{}, rows.HeaderKey{}, table.Text{}
	return true
}

// inTitles takes out what the sheets' names or the titles say by what was given: no row is the header of all.
func (v *sheetView) inTitles(given rows.Columns) bool {
	text := given.Block.V + given.Sheet.V
	ofPlayer, ofSet := strings.Contains(text, "{player}"), strings.Contains(text, "{set}")
	if ofPlayer && !given.Player.Set {
		v.columns.Player = rows.NamesKey{}
	}
	if ofSet && !given.Set.Set {
		v.columns.Set = table.Text{}
	}
	if ofPlayer || ofSet {
		v.columns.Header, v.columns.Fill = given.Header, given.Fill
	}
	return ofPlayer && v.set != "" || ofSet && v.columns.Player.Set
}

// ofSets finds where the sets are named, if not in columns: in the titles of blocks.
func (v *sheetView) ofSets(s *table.Sheet) bool {
	c := &v.columns
	if v.set != "" || v.perSet || !c.Player.Set || c.Block.Set || c.Sheet.Set {
		return false
	}
	text, ok := setTitles(s)
	if ok {
		c.Block, c.Header = named(text), rows.HeaderKey{}
	}
	return ok
}

// symbol finds a name in two columns: a letter or word, and a number.
func (v *sheetView) symbol(list []sheetColumn, body table.SheetRows) {
	at := slices.IndexFunc(list, func(c sheetColumn) bool { return c.name == "label" || c.name == "number" })
	symbol := one(list, "symbol", "instrument", "section")
	if at < 0 && symbol == nil { // under a name for both
		at = slices.IndexFunc(list, func(c sheetColumn) bool { return strings.HasSuffix(c.name, " label") })
		if at >= 0 {
			symbol = one(list, strings.TrimSuffix(list[at].name, "label")+"symbol")
		}
	}
	if at < 0 || symbol == nil || one(list, "player", "performer", "name") != nil {
		return
	}
	for _, cells := range body.All() {
		if at < len(cells) && strings.Trim(cells[at].Text, "0123456789") != "" {
			return
		}
	}
	v.columns.Player = rows.NamesKey{Text: named(symbol.text), Rest: []table.Text{named(list[at].text)}}
	v.named = true
}

// turnedView takes the columns of a sheet for its rows.
func turnedView(s table.Sheet, ground field.Field, given rows.Columns) (v sheetView, ok bool) {
	turned := rows.Turned(s)
	if turned.Rows.Len() == 0 {
		return v, false
	}
	v, reason := look(&turned, ground, given)
	v.columns.Transposed, v.columns.Header = table.Flag{V: true, Set: true}, rows.HeaderKey{}
	return v, reason == "" && v.named && (v.set != "" || v.perSet)
}
