package drill

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"backfield/layout/source"
	"backfield/layout/table"
)

// Whatever the layout of a sheet, it becomes rows of our own: one per player and set.

// rowIndex are the columns of such rows: set, player, whether it is sound, and those of a place that the sheet has, in
// the order of their keys.
func rowIndex(places [placeKeys]int) map[string]int {
	index := map[string]int{"set": 0, "player": 1, unsound: 2}
	for key, at := range places {
		if at >= 0 {
			index[placeNames[key]] = len(index)
		}
	}
	return index
}

// unsound has something in it where a cell of the dot may not be read as it stands.
const unsound = "unsound"

var setIndex = map[string]int{"set": 0, "movement": 1, "counts": 2, "hold": 3}

// form is the columns of one dot in a sheet: of one set where label is given, else of the set in the row. -1 is none.
type form struct {
	label  table.Cell
	places [placeKeys]int
	index  map[string]int
}

// page is a sheet of dots as its header row tells it.
type page struct {
	head                   []table.Cell
	body                   [][]table.Cell
	set, player            int
	movement, counts, hold int
	forms                  []form
}

// told is what a sheet of dots says of the sets besides: in which order they come, and how long each is.
type told struct {
	labels []table.Cell             // by first appearance
	seen   map[string]bool          // of labels
	cells  map[string][3]table.Cell // movement, counts and hold by label
	last   map[string]string        // the label of each player's last row
	before map[string][]string      // the labels that come right before each, for one player or another
}

// arrange turns a sheet of dots into rows, and what it says of the sets into rows of a sheet of sets.
func (d *Drill) arrange(in Sheets, p *source.Problems) (dots, sets []table.Row, ok bool) {
	c := in.Columns
	if !c.check(p) {
		return nil, nil, false
	}
	all := table.ReadSheets(in.Dots, p)
	whole := !p.Has(in.Dots, "csv-syntax")
	sheets, labels, ok := pick(in.Dots, all, c.Sheet, c.Where.Span, p)
	if !ok {
		return nil, nil, false
	}
	t := told{seen: map[string]bool{}, cells: map[string][3]table.Cell{}, last: map[string]string{}, before: map[string][]string{}}
	idle := map[string]table.Cell{} // players who were named and have no dot yet
	var names []string              // of idle, in order
	active := map[string]bool{}
	for i := range sheets {
		pg, ok := d.page(&sheets[i], labels[i], in, p)
		if !ok {
			whole = false
			continue
		}
		for _, f := range pg.forms {
			if c.Layout() != Rows { // in the order of the sheet, whoever has a dot in them
				t.list(f.label)
			}
		}
		for _, cells := range pg.body {
			if pg.isTold(cells, c, &t, p) {
				continue
			}
			for _, r := range pg.dots(cells, c, &t, p) {
				dots = append(dots, r)
				active[r.Cell("player").Text] = true
			}
			if len(dots) > mostRows {
				p.Add(tooManyRows(cells[0].Span))
				return nil, nil, false
			}
			if name := at(cells, pg.player); c.Layout() != Rows && name.Text != "" && idle[name.Text].Text == "" {
				idle[name.Text] = name
				names = append(names, name.Text)
			}
		}
	}
	for _, name := range names {
		if !active[name] {
			p.Add(noDotAtAll(idle[name]))
		}
	}
	switch {
	case in.Together && whole:
		sets = t.rows(c, p)
	case !in.Together:
		d.agree(&t, c, p)
	}
	return dots, sets, whole
}

// pick finds the sheets that are meant, and for a sheet per set the set that each is of.
func pick(f *source.File, all []table.Sheet, name table.Text, at source.Span, p *source.Problems) (sheets []table.Sheet, labels []table.Cell, ok bool) {
	var names []string
	for _, s := range all {
		names = append(names, s.Name)
	}
	switch {
	case len(all) == 0:
		if !p.Has(f, "csv-syntax") {
			p.Add(emptySheet(f))
		}
		return nil, nil, false
	case name.Set && all[0].Text:
		p.Add(textHasNoSheets(name.Span, f.Name))
		return nil, nil, false
	case !name.Set && len(all) > 1:
		p.Add(whichSheet(at, f.Name, names))
		return nil, nil, false
	case !name.Set:
		return all, make([]table.Cell, 1), true
	}
	for _, s := range all {
		if !strings.Contains(name.V, forEach) {
			if strings.EqualFold(fold(s.Name), fold(name.V)) {
				return []table.Sheet{s}, make([]table.Cell, 1), true
			}
		} else if label, ok := labelIn(name.V, s.Name); ok {
			sheets = append(sheets, s)
			labels = append(labels, table.Cell{Text: label, Span: s.Span})
		}
	}
	if len(sheets) == 0 {
		p.Add(unknownSheet(name, f.Name, names))
	}
	return sheets, labels, len(sheets) > 0
}

// fold is a name as people read it: white space of any kind and length is one space.
func fold(s string) string { return strings.Join(strings.Fields(s), " ") }

// labelIn finds the label of a set in the name of a column or sheet, by a pattern such as "Set {set} L".
func labelIn(pattern, name string) (label string, ok bool) {
	before, after, ok := strings.Cut(fold(pattern), forEach)
	name = fold(name)
	if !ok || len(name) <= len(before)+len(after) || !strings.EqualFold(name[:len(before)], before) || !strings.EqualFold(name[len(name)-len(after):], after) {
		return "", false
	}
	label = strings.TrimSpace(name[len(before) : len(name)-len(after)])
	return label, label != "" && utf8.ValidString(label)
}

// at is a cell of a row, blank where the row or the column is not there.
func at(cells []table.Cell, i int) table.Cell {
	switch {
	case i < 0:
		return table.Cell{Span: cells[0].Span}
	case i >= len(cells):
		end := cells[len(cells)-1].Span
		end.Start = end.End
		return table.Cell{Span: end}
	}
	return cells[i]
}

// wanted is one column that a header row must name, by the name that the score or we have for it.
type wanted struct {
	key      string
	name     table.Text
	at       *int
	optional bool
}

// page reads a sheet's header row.
func (d *Drill) page(s *table.Sheet, label table.Cell, in Sheets, p *source.Problems) (*page, bool) {
	c, layout := in.Columns, in.Columns.Layout()
	pg := &page{set: -1, movement: -1, counts: -1, hold: -1}
	f := form{label: label}
	list := []wanted{{"player", or(c.Player, "player"), &pg.player, false}}
	if layout == Rows {
		list = append(list, wanted{"set", or(c.Set, "set"), &pg.set, false})
	}
	for key, t := range c.places() {
		f.places[key] = -1
		if t.V != "" && layout != PerSet {
			list = append(list, wanted{placeNames[key], t, &f.places[key], !t.Set})
		}
	}
	for _, w := range []wanted{{"counts", c.Counts, &pg.counts, false}, {"hold", c.Hold, &pg.hold, !c.Hold.Set}, {"movement", c.Movement.Text, &pg.movement, false}} {
		if layout == PerSet || w.key == "movement" && c.Movement.All.Set || !in.Together && !w.name.Set {
			continue // they are rows, or one number, or told elsewhere
		}
		w.name = or(w.name, w.key)
		list = append(list, w)
	}
	var head int
	var ok bool
	if head, ok = heading(s, c.Header, c.Where.Span, list, p); !ok {
		return nil, false
	}
	pg.head, pg.body = s.Rows[head], until(s, head, c.Last, p)
	if layout == PerSet {
		ok = d.columns(pg, c, p)
		return pg, ok
	}
	words := f.places[lateralKey] >= 0 && f.places[depthKey] >= 0
	plain := f.places[xKey] >= 0 && f.places[yKey] >= 0
	if _, own := c.named(); !own && !words && !plain {
		p.Add(noPlaceColumns(pg.head[0].Span))
		return nil, false
	}
	f.index = rowIndex(f.places)
	pg.forms = []form{f}
	return pg, true
}

// named reports whether the score names a column of a place.
func (c *Columns) named() (t table.Text, ok bool) {
	list := c.places()
	t = first(list[:]...)
	return t, t.Set
}

func or(t table.Text, name string) table.Text {
	if t.Set {
		return t
	}
	return table.Text{V: name}
}

// until are the rows below the header, up to the last that is to be read.
func until(s *table.Sheet, head int, last table.Int, p *source.Problems) [][]table.Cell {
	end := len(s.Rows)
	for last.Set && end > head+1 && rowNumber(s.Rows[end-1]) > last.V {
		end--
	}
	s.Extra(head, end-1, p)
	return s.Rows[head+1 : end]
}

// rowNumber is a row's number as the spreadsheet shows it; in a text file, its line.
func rowNumber(cells []table.Cell) int {
	n, _ := cells[0].Span.Position()
	return n
}

// heading finds the row that names the columns: the one that the score says, or the first that holds anything.
func heading(s *table.Sheet, header table.Int, at source.Span, list []wanted, p *source.Problems) (head int, ok bool) {
	if header.Set {
		head = slices.IndexFunc(s.Rows, func(cells []table.Cell) bool { return rowNumber(cells) == header.V })
		if head < 0 {
			p.Add(emptyHeader(header.Span, header.V))
			return 0, false
		}
	}
	if named(s.Rows[head], list) {
		return head, assign(s.Rows[head], list, p)
	}
	if !header.Set {
		for i := 1; i < min(len(s.Rows), 30); i++ {
			if named(s.Rows[i], list) {
				p.Add(headerElsewhere(s.Rows[head], s.Rows[i]))
				return 0, false
			}
		}
	}
	var have []string
	for _, c := range s.Rows[head] {
		if c.Text != "" {
			have = append(have, c.Text)
		}
	}
	for _, w := range list {
		switch {
		case w.optional || find(s.Rows[head], w.name.V) >= 0:
		case w.name.Set:
			p.Add(noSuchColumn(w.name, s, s.Rows[head], have))
		default:
			p.Add(unnamedColumn(s.Rows[head][0].Span, w.name.V, w.key))
		}
	}
	return 0, false
}

// place is how a message calls a sheet.
func place(s *table.Sheet) string {
	if s.Text {
		return s.Span.File.Name
	}
	return fmt.Sprintf("the sheet %q", s.Name)
}

func find(cells []table.Cell, name string) int {
	return slices.IndexFunc(cells, func(c table.Cell) bool { return strings.EqualFold(fold(c.Text), fold(name)) })
}

func named(cells []table.Cell, list []wanted) bool {
	for _, w := range list {
		if !w.optional && find(cells, w.name.V) < 0 {
			return false
		}
	}
	return true
}

// assign notes where each column stands, and refuses a name that stands twice.
func assign(cells []table.Cell, list []wanted, p *source.Problems) bool {
	ok := true
	for _, w := range list {
		i := find(cells, w.name.V)
		if *w.at = i; i < 0 {
			continue
		}
		ok = cells[i].Sound(p) && ok
		if j := find(cells[i+1:], w.name.V); j >= 0 {
			p.Add(columnTwice(cells[i], cells[i+1+j]))
			ok = false
		}
	}
	return ok
}

// columns finds the sets that a header row has columns for.
func (d *Drill) columns(pg *page, c *Columns, p *source.Problems) bool {
	list := c.places()
	by := map[string]int{} // index of a label's form
	ok := true
	for i, cell := range pg.head {
		key, label := -1, ""
		for k, t := range list { // the pattern that says most of the name
			if l, matches := labelIn(t.V, cell.Text); matches && i != pg.player && (key < 0 || len(t.V) > len(list[key].V)) {
				key, label = k, l
			}
		}
		if key < 0 {
			continue
		}
		if _, known := d.byLabel[label]; !known && fold(list[key].V) == forEach && !d.looksLike(pg, i, key) {
			continue // the name of a column of notes is as good a label as any other
		}
		ok = cell.Sound(p) && ok
		n, seen := by[label]
		if !seen {
			n = len(pg.forms)
			by[label] = n
			f := form{label: table.Cell{Text: label, Span: cell.Span}}
			for k := range f.places {
				f.places[k] = -1
			}
			pg.forms = append(pg.forms, f)
		}
		if first := pg.forms[n].places[key]; first >= 0 {
			p.Add(setColumnTwice(cell.Span, placeNames[key], label, pg.head[first].Span))
			ok = false
			continue
		}
		pg.forms[n].places[key] = i
	}
	if len(pg.forms) == 0 {
		t := first(list[:]...)
		p.Add(noSetColumns(c.placeOf(t), t.V, pg.head))
		return false
	}
	for i := range pg.forms {
		f := &pg.forms[i]
		for key, t := range list {
			if t.Set && f.places[key] < 0 {
				p.Add(setLacksColumn(f.label, t.V))
				ok = false
			}
		}
		f.index = rowIndex(f.places)
	}
	return ok
}

// looksLike reports whether the first thing below a column's name is what its key takes.
func (d *Drill) looksLike(pg *page, column, key int) bool {
	for _, cells := range pg.body {
		text := at(cells, column).Text
		if text == "" || pg.player >= 0 && at(cells, pg.player).Text == "" {
			continue
		}
		var fault *source.Fault
		switch key {
		case dotKey:
			_, _, fault = d.Field.ReadDot(text)
		case lateralKey:
			_, fault = d.Field.Lateral(text)
		case depthKey:
			_, fault = d.Field.Depth(text)
		}
		if fault == nil {
			return true
		}
	}
	return false
}

// isTold takes a row of a sheet with a column per set that tells movement, counts or hold of each set.
func (pg *page) isTold(cells []table.Cell, c *Columns, t *told, p *source.Problems) bool {
	if c.Layout() != PerSet {
		return false
	}
	name := fold(at(cells, pg.player).Text)
	for i, key := range []table.Text{or(c.Movement.Text, "movement"), or(c.Counts, "counts"), or(c.Hold, "hold")} {
		if !strings.EqualFold(name, fold(key.V)) {
			continue
		}
		for _, f := range pg.forms {
			for _, column := range f.places {
				if cell := at(cells, column); column >= 0 && cell.Text != "" && cell.Sound(p) {
					t.tell(f.label, i, cell, p)
					break
				}
			}
		}
		return true
	}
	return false
}

// toldKeys are what a sheet of dots may say of a set.
var toldKeys = [3]string{"movement", "counts", "hold"}

// tell notes what a sheet says of a set, and refuses two sayings.
func (t *told) tell(label table.Cell, i int, cell table.Cell, p *source.Problems) {
	is := t.cells[label.Text]
	if is[i].Text != "" && is[i].Text != cell.Text {
		p.Add(toldTwice(toldKeys[i], label.Text, is[i], cell))
		return
	}
	if is[i].Text == "" {
		is[i] = cell
		t.cells[label.Text] = is
	}
}

// dots are the rows of our own that a row tells: one, or with a column per set one for each in which there is anything.
func (pg *page) dots(cells []table.Cell, c *Columns, t *told, p *source.Problems) []table.Row {
	player := at(cells, pg.player)
	var rows []table.Row
	for _, f := range pg.forms {
		label := f.label
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
		switch {
		case !anything && (pg.set < 0 || player.Text == "" && label.Text == ""):
			continue // nobody there, or nothing but what is not read
		case !anything && (player.Text == "" || label.Text == ""):
			alone := player
			if player.Text == "" {
				alone = label
			}
			p.Add(aloneInRow(alone))
			continue
		}
		if player.Text == "" && player.Sound(p) {
			p.Add(dotWithoutPlayer(player.Span))
		}
		if player.Text == "" || !player.Sound(p) || !label.Sound(p) {
			continue
		}
		for _, cell := range own[3:] {
			if !cell.Sound(p) {
				own[2] = table.Cell{Text: unsound, Span: cell.Span}
			}
		}
		rows = append(rows, table.NewRow(player.Span, own, f.index))
		if label.Text != "" {
			t.meet(player.Text, label)
			for i, column := range []int{pg.movement, pg.counts, pg.hold} {
				if cell := at(cells, column); column >= 0 && cell.Text != "" && cell.Sound(p) {
					t.tell(label, i, cell, p)
				}
			}
		}
	}
	return rows
}

func flawed(c table.Cell) bool { var p source.Problems; return !c.Sound(&p) }

func (t *told) list(label table.Cell) {
	if !t.seen[label.Text] {
		t.seen[label.Text] = true
		t.labels = append(t.labels, label)
	}
}

// meet notes that a player comes to a set next.
func (t *told) meet(player string, label table.Cell) {
	t.list(label)
	if last, ok := t.last[player]; ok && last != label.Text && !slices.Contains(t.before[label.Text], last) {
		t.before[label.Text] = append(t.before[label.Text], last)
	}
	t.last[player] = label.Text
}

// rows are those of a sheet of sets. Where the sets stand in rows, no player need have a dot in each of them: the order
// is the one that agrees with every player's rows, if there is one and only one.
func (t *told) rows(c *Columns, p *source.Problems) []table.Row {
	if c.Layout() == Rows && !t.sort(p) {
		return nil
	}
	var rows []table.Row
	for _, label := range t.labels {
		is := t.cells[label.Text]
		own := []table.Cell{label, is[0], is[1], is[2]}
		for i := range own {
			if own[i].Span.File == nil {
				own[i].Span = label.Span
			}
		}
		if c.Movement.All.Set {
			own[1] = table.Cell{Text: fmt.Sprint(c.Movement.All.V), Span: c.Movement.All.Span}
		}
		for i, key := range []string{"movement", "counts"} {
			if own[1+i].Text == "" {
				p.Add(untold(label, key))
				own[1+i].Span.End = own[1+i].Span.Start
				p.Close(own[1+i].Span)
			}
		}
		rows = append(rows, table.NewRow(label.Span, own, setIndex))
	}
	return rows
}

// agree holds what a sheet of dots says of the sets besides to the list of sets.
func (d *Drill) agree(t *told, c *Columns, p *source.Problems) {
	for _, label := range t.labels {
		i, ok := d.byLabel[label.Text]
		if !ok || d.Sets[i].Unsure {
			continue
		}
		s := d.Sets[i]
		counts := s.Counts
		if c.HoldAfter.V {
			counts -= s.Hold
		}
		is := t.cells[label.Text]
		for j, want := range []int{s.Movement, counts, s.Hold} {
			if v, ok := is[j].Whole(0, mostCounts, toldKeys[j], p); ok && v != want {
				p.Add(toldOtherwise(is[j].Span, toldKeys[j], v, s, want))
			}
		}
	}
}

// sort puts the labels into the one order in which every player meets them.
func (t *told) sort(p *source.Problems) bool {
	var order []table.Cell
	left := slices.Clone(t.labels)
	done := map[string]bool{}
	for len(left) > 0 {
		var next []int
		for i, label := range left {
			if !slices.ContainsFunc(t.before[label.Text], func(b string) bool { return !done[b] }) {
				next = append(next, i)
			}
		}
		switch {
		case len(next) == 0:
			p.Add(ordersDisagree(left[0]))
			return false
		case len(next) > 1:
			p.Add(orderUnknown(left[next[0]], left[next[1]]))
			return false
		}
		done[left[next[0]].Text] = true
		order = append(order, left[next[0]])
		left = slices.Delete(left, next[0], next[0]+1)
	}
	t.labels = order
	return true
}

// arrangeSets turns a sheet of sets into rows of our own.
func arrangeSets(f *source.File, c *SetsColumns, p *source.Problems) (rows []table.Row, whole bool) {
	all := table.ReadSheets(f, p)
	whole = !p.Has(f, "csv-syntax")
	if strings.Contains(c.Sheet.V, forEach) {
		p.Add(setsInOneSheet(c.Sheet.Span))
		return nil, false
	}
	sheets, _, ok := pick(f, all, c.Sheet, c.Where.Span, p)
	if !ok {
		return nil, false
	}
	var columns [4]int
	list := []wanted{{"set", or(c.Set, "set"), &columns[0], false}, {"counts", or(c.Counts, "counts"), &columns[2], false}, {"hold", or(c.Hold, "hold"), &columns[3], !c.Hold.Set}}
	if !c.Movement.All.Set {
		list = append(list, wanted{"movement", or(c.Movement.Text, "movement"), &columns[1], false})
	}
	head, ok := heading(&sheets[0], c.Header, c.Where.Span, list, p)
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
			own[1] = table.Cell{Text: fmt.Sprint(c.Movement.All.V), Span: c.Movement.All.Span}
		}
		rows = append(rows, table.NewRow(own[0].Span, own, setIndex))
	}
	return rows, whole
}
