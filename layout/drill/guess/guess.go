// Package guess proposes how a sheet of dots is laid out, from what its cells read as and from the trade's words in
// its header. It decides nothing: whoever asks for a guess shows it and asks back.
package guess

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"backfield/layout/drill"
	"backfield/layout/field"
	"backfield/layout/rows"
	"backfield/layout/source"
	"backfield/layout/table"
)

const (
	headRows = 30 // the header stands in one of the first so many rows
	sample   = 60 // cells of a column that are looked at
	most     = 0.7
)

// Columns proposes a layout for a sheet; missing says what could not be found, "" where nothing is missing.
func Columns(f *source.File, ground field.Field, p *source.Problems) (c rows.Columns, missing string) {
	sheets := table.ReadSheets(f, p)
	var found []view
	var why string
	for i := range sheets {
		v, reason := look(&sheets[i], ground)
		if reason == "" {
			found = append(found, v)
		} else if why == "" {
			why = reason
		}
	}
	switch {
	case len(sheets) == 0:
		return c, "the sheet is empty"
	case len(found) == 0:
		return c, why
	}
	v := found[0]
	c = v.columns
	var titles []string
	for _, other := range found {
		if other.set == "" && !other.perSet {
			titles = append(titles, other.sheet)
		}
	}
	switch {
	case v.set == "" && !v.perSet && len(titles) > 1:
		pattern, _, ok := pattern(titles, false)
		if !ok {
			return c, "several sheets hold dots and their names have nothing in common that sets could be told by"
		}
		c.Sheet = named(pattern)
	case v.set == "" && !v.perSet:
		return c, "no column of sets was found"
	case len(sheets) > 1:
		c.Sheet = named(v.sheet)
	}
	return c, ""
}

// view is what one sheet seems to be.
type view struct {
	sheet   string
	set     string
	perSet  bool
	columns rows.Columns
}

// kind is what the cells of a column read as.
type kind int

const (
	unknown kind = iota
	aDot
	aLateral
	aDepth
	aSide
	aNumber
	aYard
	inOut
	frontBack
	aLine
)

type column struct {
	name string // in small letters, without what is no letter or digit
	text string // as written
	kind kind
	all  int // cells with anything in them
}

// ours are names of columns that tell no place, whatever their cells look like.
var ours = []string{"set", "set number", "player", "performer", "name", "label", "counts", "count", "cts", "hold", "holds", "hold counts", "movement", "mvt"}

// look tries the first rows of a sheet as its header.
func look(s *table.Sheet, ground field.Field) (view, string) {
	first := ""
	for head := range min(headRows, len(s.Rows)-1) {
		v, reason := try(s, head, ground)
		if reason == "" {
			return v, ""
		}
		if first == "" {
			first = reason
		}
		if twoHeads(s, head, ground) {
			first = fmt.Sprintf("rows %d and %d seem to name the columns together; write each name whole in one row, such as \"Set 1 side\"", rowNumber(s, head), rowNumber(s, head+1))
			break
		}
	}
	if first == "" {
		first = "the sheet has a header and no rows"
	}
	return view{}, first
}

// twoHeads reports whether a row names groups of columns, and the one below it the columns of each: names with gaps
// above the same names over and over, and dots below them.
func twoHeads(s *table.Sheet, head int, ground field.Field) bool {
	if head+2 >= len(s.Rows) {
		return false
	}
	groups, seen, twice := map[string]bool{}, map[string]bool{}, 0
	for _, cell := range s.Rows[head] {
		if name := plain(cell.Text); name != "" {
			if groups[name] {
				return false
			}
			groups[name] = true
		}
	}
	for i, cell := range s.Rows[head+1] {
		name := plain(cell.Text)
		if k, _ := read(s.Rows[head+2:], i, ground); seen[name] && name != "" && k != unknown {
			twice++
		}
		seen[name] = true
	}
	return len(groups) > 1 && twice > 0
}

func rowNumber(s *table.Sheet, i int) int {
	n, _ := s.Rows[i][0].Span.Position()
	return n
}

func named(text string) table.Text { return table.Text{V: text, Set: true} }

func try(s *table.Sheet, head int, ground field.Field) (view, string) {
	var list []column
	for i, cell := range s.Rows[head] {
		if own := kinds(cell.Text, ground); slices.ContainsFunc(own, func(k kind) bool { return k == aDot || k == aLateral || k == aDepth && !slices.Contains(own, aLine) }) {
			return view{}, "the first rows hold dots, and no names of columns"
		}
		c := column{name: plain(cell.Text), text: strings.Join(strings.Fields(cell.Text), " ")}
		if c.text != "" && !slices.Contains(ours, c.name) {
			c.kind, c.all = read(s.Rows[head+1:], i, ground)
		}
		list = append(list, c)
	}
	v := view{sheet: s.Name}
	if head > 0 {
		v.columns.Header = table.Int{V: rowNumber(s, head), Set: true}
	}
	if reason := v.place(list); reason != "" {
		if reason == noPlace {
			reason += almost(s, head, ground)
		}
		return v, reason
	}
	if c := one(list, "player", "performer", "name", "label"); c != nil {
		v.columns.Player = named(c.text)
	} else if c := firstText(list); c != nil {
		v.columns.Player = named(c.text)
	} else {
		return v, "no column of players was found"
	}
	if c := one(list, "set", "set number"); c != nil && !v.perSet {
		v.set = c.text
		v.columns.Set = named(c.text)
	}
	told := list
	if v.perSet { // they stand in rows, told by the column of players
		told = nil
		at := slices.IndexFunc(list, func(c column) bool { return c.text == v.columns.Player.V })
		for _, cells := range s.Rows[head+1:] {
			if at < len(cells) && cells[at].Text != "" {
				told = append(told, column{name: plain(cells[at].Text), text: cells[at].Text})
			}
		}
	}
	if c := one(told, "counts", "count", "cts"); c != nil {
		v.columns.Counts = named(c.text)
		if c := one(told, "hold", "holds", "hold counts"); c != nil {
			v.columns.Hold = named(c.text)
		}
		if c := one(told, "movement", "mvt"); c != nil {
			v.columns.Movement.Text = named(c.text)
		}
	}
	return v, ""
}

const noPlace = "no columns were found that tell where a player stands"

// likeAcross and likeAlong are words of the halves of a dot, also where it cannot be read.
var (
	likeAcross = regexp.MustCompile(`(?i)\b(in|inside|out|outside|on)\b.*\d`)
	likeAlong  = regexp.MustCompile(`(?i)\b(hash|side ?line|[fhbv]h|[fhbv]sl)\b`)
)

// almost tells what is wrong with the first cell that cannot be read, in a column most of whose cells have the words of
// a dot; "" where there is none.
func almost(s *table.Sheet, head int, ground field.Field) string {
	width := 0 // a title above is narrower than the table
	for _, cells := range s.Rows[head+1:] {
		width = max(width, len(cells))
	}
	for i := range width {
		wrong, like, all := "", 0, 0
		for _, cells := range s.Rows[head+1:] {
			if i >= len(cells) || cells[i].Text == "" {
				continue
			}
			all++
			text := cells[i].Text
			read := ground.Lateral
			switch {
			case likeAlong.MatchString(text) && likeAcross.MatchString(text):
				read = func(text string) (float64, *source.Fault) { x, _, fault := ground.ReadDot(text); return x, fault }
			case likeAlong.MatchString(text):
				read = ground.Depth
			case !likeAcross.MatchString(text):
				continue
			}
			like++
			if _, fault := read(text); fault != nil && wrong == "" {
				line, _ := cells[i].Span.Position()
				wrong = fmt.Sprintf("; row %d has %q, which is almost a dot: %s; %s", line, text, fault.What, fault.Do)
			}
		}
		if wrong != "" && float64(like) >= most*float64(all) {
			return wrong
		}
	}
	return ""
}

// place finds the columns that tell where a player stands.
func (v *view) place(list []column) string {
	c := &v.columns
	dots, laterals, depths := of(list, aDot), of(list, aLateral), of(list, aDepth)
	switch {
	case len(dots) == 1 && len(laterals) == 0:
		c.Dot = named(dots[0])
		return ""
	case len(dots) > 1:
		text, _, ok := pattern(dots, false)
		if !ok {
			return "several columns hold dots and their names have nothing in common that sets could be told by"
		}
		c.Dot, v.perSet = named(text), true
		return ""
	case len(laterals) == 1 && len(depths) == 1:
		c.Lateral, c.Depth = named(laterals[0]), named(depths[0])
		return ""
	case len(laterals) > 1 && len(laterals) == len(depths):
		for _, tight := range []bool{false, true} {
			across, sets1, ok1 := pattern(laterals, tight)
			along, sets2, ok2 := pattern(depths, tight)
			if ok1 && ok2 && slices.Equal(sets1, sets2) {
				c.Lateral, c.Depth, v.perSet = named(across), named(along), true
				return ""
			}
		}
		return "the columns of both halves of the dots do not tell the same sets by their names"
	}
	if x, y := one(list, "x"), one(list, "y"); x != nil && y != nil {
		c.X, c.Y = named(x.text), named(y.text)
		return ""
	}
	yard, line := one(list, "yard line", "yard", "yards", "yardline", "yd ln", "yd line"), pickKind(list, aLine)
	if yard == nil {
		yard = pickKind(list, aYard)
	}
	if yard == nil || line == nil {
		return noPlace
	}
	c.Yard, c.Line = named(yard.text), named(line.text)
	if x := pickKind(list, aSide); x != nil {
		c.Side = named(x.text)
	}
	if x := pickKind(list, inOut); x != nil {
		c.Inside = named(x.text)
	}
	if x := pickKind(list, frontBack); x != nil {
		c.Behind = named(x.text)
	}
	var numbers []string // steps come before the line that they are told from, as the words of a dot do
	for _, x := range list {
		if x.kind == aNumber && x.text != yard.text && strings.Contains(x.name, "step") {
			numbers = append(numbers, x.text)
		}
	}
	if len(numbers) != 2 {
		return "two columns of steps, across and in depth, were not found"
	}
	c.Steps, c.DepthSteps = named(numbers[0]), named(numbers[1])
	if name := plain(numbers[0]); strings.Contains(name, "depth") || strings.Contains(name, "front") || strings.Contains(name, "back") {
		c.Steps, c.DepthSteps = c.DepthSteps, c.Steps
	}
	return ""
}

func of(list []column, k kind) []string {
	var names []string
	for _, c := range list {
		if c.kind == k {
			names = append(names, c.text)
		}
	}
	return names
}

func pickKind(list []column, k kind) *column {
	for i := range list {
		if list[i].kind == k {
			return &list[i]
		}
	}
	return nil
}

// one finds the first column that is called by one of the words, the earlier words first.
func one(list []column, words ...string) *column {
	for _, w := range words {
		for i := range list {
			if list[i].name == w {
				return &list[i]
			}
		}
	}
	return nil
}

func firstText(list []column) *column {
	for i := range list {
		if list[i].kind == unknown && list[i].all > 0 && !slices.Contains(ours, list[i].name) {
			return &list[i]
		}
	}
	return nil
}

// plain is a name in small letters, its words parted by one space.
func plain(name string) string {
	return strings.Join(strings.FieldsFunc(strings.ToLower(name), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }), " ")
}

var letters = regexp.MustCompile(`[A-Za-z]`)

// read says what most cells of a column read as.
func read(rows [][]table.Cell, at int, ground field.Field) (kind, int) {
	counts := map[kind]int{}
	all, total := 0, 0
	for _, cells := range rows {
		if at >= len(cells) || cells[at].Text == "" {
			continue
		}
		if total++; all == sample {
			continue
		}
		all++
		for _, k := range kinds(cells[at].Text, ground) {
			counts[k]++
		}
	}
	for _, k := range []kind{aDot, aSide, inOut, frontBack, aLine, aLateral, aDepth, aYard, aNumber} {
		among := all
		if k == aDot || k == aLateral || k == aDepth {
			among -= counts[aNumber] // counts above the dots of each set
		}
		if counts[k] > 0 && float64(counts[k]) >= most*float64(among) {
			return k, total
		}
	}
	return unknown, total
}

// kinds are all that a text may read as.
func kinds(text string, ground field.Field) (list []kind) {
	add := func(k kind, ok bool) {
		if ok {
			list = append(list, k)
		}
	}
	word := plain(text)
	v, err := strconv.ParseFloat(text, 64)
	_, _, noDot := ground.ReadDot(text)
	_, noLateral := ground.Lateral(text)
	_, noDepth := ground.Depth(text)
	hasLetters := letters.MatchString(text)
	add(aDot, noDot == nil)
	add(aSide, slices.Contains([]string{"1", "2", "a", "b", "s1", "s2", "side 1", "side 2", "side1", "side2", "side a", "side b"}, word))
	add(inOut, slices.Contains([]string{"in", "out", "inside", "outside", "on", "i", "o"}, word))
	add(frontBack, slices.Contains([]string{"front", "back", "behind", "in front of", "in front", "front of", "back of", "beh", "ifo", "on", "f", "b"}, word))
	bare := false
	if noDepth == nil {
		bare = !strings.ContainsFunc(text, unicode.IsDigit) && !strings.HasPrefix(word, "on")
	}
	add(aLine, bare)
	add(aLateral, noLateral == nil && hasLetters)
	add(aDepth, noDepth == nil)
	add(aYard, err == nil && v >= 0 && v == float64(int(v)/5*5) || noLateral == nil && strings.HasPrefix(word, "g"))
	add(aNumber, err == nil)
	return list
}

// pattern finds what names have in common around the labels of sets: "Set {set}". Loose, the label ends at a space or
// another mark; tight, also where digits meet letters.
func pattern(names []string, tight bool) (text string, labels []string, ok bool) {
	before, after := names[0], names[0]
	for _, n := range names[1:] {
		i := 0
		for i < min(len(before), len(n)) && before[i] == n[i] {
			i++
		}
		before = before[:i]
		i = 0
		for i < min(len(after), len(n)) && after[len(after)-1-i] == n[len(n)-1-i] {
			i++
		}
		after = after[len(after)-i:]
	}
	shortest := len(names[0])
	for _, n := range names {
		shortest = min(shortest, len(n))
	}
	for len(before) > 0 && !ends(before[len(before)-1]) && !wordEnd(before, names) {
		before = before[:len(before)-1]
	}
	for len(after) > 0 && !ends(after[0]) && !(tight && unicode.IsLetter(rune(after[0]))) {
		after = after[1:]
	}
	if len(before)+len(after) >= shortest {
		return "", nil, false
	}
	seen := map[string]bool{}
	for _, n := range names {
		label := strings.TrimSpace(n[len(before) : len(n)-len(after)])
		if label == "" || seen[strings.ToLower(label)] {
			return "", nil, false
		}
		seen[strings.ToLower(label)] = true
		labels = append(labels, label)
	}
	return before + "{set}" + after, labels, true
}

func ends(b byte) bool { return b < 0x80 && !unicode.IsLetter(rune(b)) && !unicode.IsDigit(rune(b)) }

// wordEnd reports whether letters end where digits begin in every name: "S" in "S1" and "S2".
func wordEnd(before string, names []string) bool {
	if last := before[len(before)-1]; !unicode.IsLetter(rune(last)) {
		return false
	}
	return !slices.ContainsFunc(names, func(n string) bool { return len(n) == len(before) || !unicode.IsDigit(rune(n[len(before)])) })
}

// Sample picks up to n dots of a drill, spread over its sets and players.
func Sample(d *drill.Drill, n int) []Shown {
	const golden = 0.6180339887 // turns of it come nowhere near one another
	var list []Shown
	for i := range d.Sets {
		for j, x := range d.Players {
			if x.Dots[i].Known && !x.Dots[i].Bad && len(list) <= n {
				list = append(list, Shown{i, j})
			}
		}
	}
	if len(list) <= n {
		return list
	}
	list = nil
	for k := range n {
		set := 0
		if n > 1 {
			set = k * (len(d.Sets) - 1) / (n - 1)
		}
		_, turn := math.Modf(float64(k) * golden)
		for i := range d.Players {
			s := Shown{set, (int(turn*float64(len(d.Players))) + i) % len(d.Players)}
			if dot := d.Players[s.Player].Dots[s.Set]; dot.Known && !dot.Bad && !slices.Contains(list, s) {
				list = append(list, s)
				break
			}
		}
	}
	return list
}

// Shown is one dot, by the indices of its set and player.
type Shown struct{ Set, Player int }
