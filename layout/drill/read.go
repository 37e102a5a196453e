package drill

import (
	"fmt"

	"backfield/layout/field"
	"backfield/layout/rows"
	"backfield/layout/source"
	"backfield/layout/table"
)

// SetColumns and DotColumns are the sheets' columns. A dot is told by lateral and depth, or by x and y.
var (
	SetColumns = []table.Column{{Name: "set", Required: true}, {Name: "movement", Required: true},
		{Name: "counts", Required: true}, {Name: "hold"}}
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
	Columns    *rows.Columns // nil where the sheets are laid out as ours
	Together   bool          // the sheet of dots tells the sets too
}

// Read reads two sheets that are laid out as ours.
func Read(sets, dots *source.File, f field.Field, p *source.Problems) *Drill {
	return ReadSheets(Sheets{Sets: sets, Dots: dots}, f, p)
}

// ReadSheets reads the sheets. It is never nil, and as full as it could be made.
func ReadSheets(in Sheets, f field.Field, p *source.Problems) *Drill {
	d := &Drill{Field: f, setsFile: in.Sets, byLabel: map[string]int{}, byPlayer: map[string]int{}, bare: "steps"}
	if in.Together {
		d.setsFile = in.Dots
	}
	d.PartialSets, d.PartialDots, d.UnsureTime = d.setsFile == nil, in.Dots == nil, d.setsFile == nil
	if in.Sets != nil {
		d.readSetsSheet(in, p)
	}
	switch {
	case in.Dots == nil:
	case in.Columns == nil:
		rows := table.ReadCSV(in.Dots, DotColumns, p)
		d.PartialDots = !table.Whole(in.Dots, p)
		if len(rows) > 0 {
			words := rows[0].Has("lateral") && rows[0].Has("depth")
			plain := rows[0].Has("x") && rows[0].Has("y")
			if !words && !plain {
				p.Add(noPlaceInSheet(in.Dots))
				d.PartialDots = true
				return d
			}
		}
		d.readDots(rows, p)
	default:
		d.bare = in.Columns.Unit.Or("steps")
		sheet := rows.Sheet{File: in.Dots, Columns: in.Columns, Together: in.Together, Ground: d.Field,
			Known: func(label string) bool { _, known := d.byLabel[label]; return known }}
		dots, told, whole := sheet.Read(p)
		d.PartialDots = !whole
		switch {
		case in.Together && whole:
			sets := told.Sets(in.Columns, p)
			d.PartialSets = sets == nil
			d.readSets(sets, in.Columns.HoldAfter.V, p)
		case in.Together:
			d.PartialSets = true
		case told != nil:
			d.agree(told, in.Columns, p)
		}
		d.readDots(dots, p)
	}
	return d
}

func (d *Drill) readSetsSheet(in Sheets, p *source.Problems) {
	before := p.Errors()
	defer func() { d.UnsureTime = p.Errors() > before }()
	if in.Columns == nil || in.Columns.Sets == nil {
		rows := table.ReadCSV(in.Sets, SetColumns, p)
		d.PartialSets = !table.Whole(in.Sets, p)
		d.readSets(rows, false, p)
		return
	}
	rows, whole := rows.Sets(in.Sets, in.Columns.Sets, p)
	d.PartialSets = !whole
	d.readSets(rows, in.Columns.Sets.HoldAfter.V, p)
}

// readSets reads the rows of a sheet of sets; holdAfter tells that the counts are those of the walk alone.
func (d *Drill) readSets(rows []table.Row, holdAfter bool, p *source.Problems) {
	before := p.Errors()
	defer func() { d.UnsureTime = d.UnsureTime || p.Errors() > before }()
	written := -1    // the movement of the row above, where that was out of order
	skipped := false // whether the row before is one that players walk to and that is not in the list
	for _, row := range rows {
		label, sound := row.Cell("set"), p.Errors()
		if label.Text == "" {
			d.PartialSets, skipped = true, true
			p.Add(noSetNamed(label.Span))
			continue
		}
		if first, twice := d.byLabel[label.Text]; twice {
			p.Add(setTwice(label, d.Sets[first].Span))
			skipped = true
			continue
		}
		s := Set{Label: label.Text, Span: label.Span, CountsAt: row.Cell("counts").Span}
		s.Movement = whole(row, "movement", 1, 1000, p)
		s.Counts = whole(row, "counts", 0, mostCounts, p)
		if s.Counts < 0 {
			s.Counts = 1 // reported: any number but 0 keeps the rest readable
		}
		s.Hold, _ = row.Cell("hold").Whole(0, mostCounts, "hold", p)
		if holdAfter {
			s.Counts += s.Hold
		}
		if s.Hold > s.Counts {
			p.Add(holdTooLong(row.Cell("hold").Span, s.Hold, s.Counts))
			s.Hold = s.Counts
		}
		last := Set{}
		if n := len(d.Sets); n > 0 {
			last = d.Sets[n-1]
		}
		switch {
		case s.Movement < 0: // already reported
			s.Movement = max(last.Movement, 1)
		case s.Movement < last.Movement:
			if written >= 0 && s.Movement >= written { // it is the row that stands out above that is wrong
				s.Movement, s.Moved = last.Movement, true
				break
			}
			written, s.Moved = s.Movement, true
			p.Add(movementOrder(row.Cell("movement").Span, s.Label, s.Movement, last.Movement))
			s.Movement = last.Movement
		}
		if !s.Moved {
			written = -1
		}
		if s.Movement == last.Movement {
			s.Begin = last.End
			if s.Counts == 0 {
				p.Add(noCounts(s.CountsAt, s.Label))
			}
		}
		s.Unsure = p.Errors() > sound || skipped
		skipped = false
		s.End = s.Begin + s.Counts
		s.Arrive = s.End - s.Hold
		d.byLabel[s.Label] = len(d.Sets)
		d.Sets = append(d.Sets, s)
	}
}

// whole reads a cell that must hold a whole number; -1 after a mistake.
func whole(row table.Row, column string, lo, hi int, p *source.Problems) int {
	c := row.Cell(column)
	if c.Text == "" {
		p.Add(emptyCell(c.Span, column))
		return -1
	}
	if v, ok := c.Whole(lo, hi, column, p); ok {
		return v
	}
	return -1
}

func (d *Drill) readDots(rows []table.Row, p *source.Problems) {
	labels := d.Labels()
	strange := map[string][]source.Span{} // by labels that are not in the list of sets
	defer func() {
		for label, at := range strange {
			more := ""
			if len(at) > 1 {
				more = fmt.Sprintf(" (%d rows name it)", len(at))
			}
			p.Add(unknownSet(at[0], label, more, labels))
		}
	}()
	for _, row := range rows {
		label, name := row.Cell("set"), row.Cell("player")
		if label.Text == "" || name.Text == "" {
			p.Add(noSetOrPlayer(row.Span))
			continue
		}
		i, ok := d.byLabel[label.Text]
		if !ok {
			if !d.MayHold(label.Text) {
				strange[label.Text] = append(strange[label.Text], label.Span)
			}
			continue
		}
		player := d.player(name)
		if player == nil {
			p.Add(tooManyDots(name.Span))
			return
		}
		dot := &player.Dots[i]
		if dot.Known {
			p.Add(dotTwice(name, label.Text, dot.Span))
			continue
		}
		*dot = d.readDot(row, p)
	}
}

// player finds or adds a player; nil when the table would grow past all measure.
func (d *Drill) player(name table.Cell) *Player {
	i, ok := d.byPlayer[name.Text]
	if !ok {
		if (len(d.Players)+1)*len(d.Sets) > mostDots {
			return nil
		}
		i = len(d.Players)
		d.byPlayer[name.Text] = i
		d.Players = append(d.Players, Player{Name: name.Text, Span: name.Span, Dots: make([]Dot, len(d.Sets))})
	}
	return &d.Players[i]
}

// agree holds what a sheet of dots says of the sets as well to the list of sets.
func (d *Drill) agree(t *rows.Told, c *rows.Columns, p *source.Problems) {
	for _, label := range t.Labels {
		i, ok := d.byLabel[label.Text]
		if !ok || d.Sets[i].Unsure {
			continue
		}
		s := d.Sets[i]
		counts := s.Counts
		if c.HoldAfter.V {
			counts -= s.Hold
		}
		is := t.Of(label.Text)
		for j, want := range []int{s.Movement, counts, s.Hold} {
			if v, ok := is[j].Whole(0, mostCounts, rows.SetKeys[j], p); ok && v != want {
				p.Add(toldOtherwise(is[j].Span, rows.SetKeys[j], v, s, want))
			}
		}
	}
}
