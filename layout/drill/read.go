package drill

import (
	"fmt"
	"iter"
	"slices"
	"strings"

	"backfield/layout/field"
	"backfield/layout/rows"
	"backfield/layout/source"
	"backfield/layout/table"
)

// SetColumns and DotColumns are the sheets' columns. A dot is given by lateral and depth, or by x and y.
var (
	SetColumns = []table.Column{{Name: "set", Required: true}, {Name: "movement", Required: true},
		{Name: "counts", Required: true}, {Name: "hold"}, {Name: "facing"}}
	DotColumns = []table.Column{{Name: "set", Required: true}, {Name: "player", Required: true}, {Name: "lateral"},
		{Name: "depth"}, {Name: "x"}, {Name: "y"}}
)

const (
	mostCounts = 100_000
	mostDots   = 20_000_000 // sets x players held in memory
)

// Sheets are what a drill is read from. A file that could not be read is nil.
type Sheets struct {
	Sets, Dots *source.File
	Columns    *rows.Columns // nil where the sheets have Backfield's own layout
	Together   bool          // the sheet of dots has the sets too
	Guessed    bool          // the columns are a guess: what may be meant in two ways is an error

	Words table.Map[table.Text] // of the staff in the dots, and what they stand for
}

// Read reads the sheets. It is never nil, and as full as it could be made.
func Read(in Sheets, f field.Field, p *source.Problems) *Drill {
	d := &Drill{Field: f.Saying(ownWords(in.Words, p)), setsFile: in.Sets, byLabel: map[string]int{},
		byPlayer: map[string]int{},
		unlisted: map[string]bool{}, spare: newSpareDots()}
	if in.Dots != nil {
		d.Field = d.Field.Saying(legend(in.Dots, d.Field, p))
	}
	d.written = newDotText(in.Dots, d.Field)
	if in.Together {
		d.setsFile = in.Dots
	}
	d.PartialSets, d.PartialDots, d.UnsureTime = d.setsFile == nil, in.Dots == nil, d.setsFile == nil
	if in.Sets != nil {
		d.readSetsSheet(in, p)
	}
	switch {
	case in.Dots == nil:
		return d
	case in.Columns == nil:
		d.readOurs(in.Dots, p)
	default:
		d.readOthers(in, p)
	}
	noteIdleWords(in.Words, in.Dots, p)
	return d
}

// noteIdleWords notes a staff's own words that the sheet of dots does not have.
func noteIdleWords(m table.Map[table.Text], dots *source.File, p *source.Problems) {
	if len(m.Entries) == 0 {
		return
	}
	text := strings.ToLower(dots.Text)
	for _, e := range m.Entries {
		if !strings.Contains(text, strings.ToLower(e.Name.V)) {
			p.Idle(e.Name.Span, fmt.Sprintf("the word %q: no dot has it", e.Name.V))
		}
	}
}

// ownWords are a staff's own words for dots, without those that mean something else already.
func ownWords(m table.Map[table.Text], p *source.Problems) (words []field.Word) {
	for _, e := range m.Entries {
		word := field.Word{From: e.Name.V, To: e.Value.V}
		if means, clash := word.Clash(); clash {
			p.Add(knownWord(e.Name.Span, "this line says that", word, means))
		} else {
			words = append(words, word)
		}
	}
	return words
}

// readOurs reads a sheet of dots in Backfield's own layout.
func (d *Drill) readOurs(f *source.File, p *source.Problems) {
	rows := table.ReadCSV(f, DotColumns, p)
	d.PartialDots = !table.Whole(f, p)
	if rows.Len() > 0 {
		words := rows.Has("lateral") && rows.Has("depth")
		plain := rows.Has("x") && rows.Has("y")
		if !words && !plain {
			p.Add(noPlaceInSheet(f))
			d.PartialDots = true
			return
		}
	}
	d.readDots(rows.All(), p)
}

// readOthers reads a sheet of dots of another layout, which may list the sets as well.
func (d *Drill) readOthers(in Sheets, p *source.Problems) {
	d.written.bare = in.Columns.Unit.Or("steps")
	d.alone = newNumbersAlone(in.Columns, d.Field, p)
	sheet := rows.DotSheet{File: in.Dots, Columns: in.Columns, Together: in.Together, Ground: d.Field,
		Known: func(label string) bool { _, known := d.byLabel[label]; return known }}
	if in.Columns.Sets != nil && in.Sets != nil && in.Sets.Name == in.Dots.Name {
		sheet.Sets = in.Columns.Sets.Sheet.V
	}
	dots, list, whole := sheet.Read(p)
	d.PartialDots = !whole
	switch {
	case in.Together && whole:
		sets := in.Columns.SetRows(list, p)
		d.PartialSets = sets == nil
		c := in.Columns
		d.readSets(slices.Values(sets), setReader{holdAfter: c.HoldAfter.V, total: c.CountsAre.Total(),
			asks: !c.CountsAre.Set, guessed: in.Guessed}, p)
	case in.Together:
		d.PartialSets = true
	case list != nil:
		d.agree(list, in.Columns, p)
	}
	d.readDots(dots, p)
}

// readDots reads the rows of a sheet of dots.
func (d *Drill) readDots(rows iter.Seq[table.Row], p *source.Problems) {
	strange := map[string][]source.Span{} // by labels that are not in the list of sets
	list := newFlood(p)
	for row := range rows {
		label, name := row.Cell("set"), row.Cell("player")
		i, ok := d.byLabel[label.Text]
		if label.Text == "" || name.Text == "" {
			list.add(noSetOrPlayer(row.Span))
			d.spare.add(i, ok, name.Text)
			continue
		}
		if !ok {
			d.spare.add(0, false, name.Text)
			if !d.MayHold(label.Text) {
				strange[label.Text] = append(strange[label.Text], label.Span)
			}
			continue
		}
		player := d.player(name, p)
		if player == nil {
			p.Add(tooManyDots(name.Span))
			break
		}
		dot := &player.Dots[i]
		if dot.Known {
			list.add(dotTwice(name, label.Text, player.Where(i)))
			d.spare.add(i, true, name.Text)
			dot.Bad = true // which of the two it is, nobody knows
			continue
		}
		var own source.Problems
		*dot = d.readDot(row, &own)
		for _, x := range own.All() {
			list.add(x)
		}
	}
	list.end()
	d.written.known = nil
	d.reportStrangers(p)
	d.reportUnlisted(strange, p)
}

// player finds or adds a player; nil when there would be too many dots.
func (d *Drill) player(name table.Cell, p *source.Problems) *Marcher {
	i, ok := d.byPlayer[name.Text]
	if !ok {
		if (len(d.Players)+1)*len(d.Sets) > mostDots {
			return nil
		}
		p.CheckName(name.Span, name.Text)
		i = len(d.Players)
		d.byPlayer[name.Text] = i
		d.Players = append(d.Players, Marcher{Name: name.Text, Span: name.Span, Dots: make([]Dot, len(d.Sets))})
	}
	return &d.Players[i]
}
