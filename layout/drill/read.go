package drill

import (
	"fmt"

	"backfield/layout"
	"backfield/layout/field"
	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/layout/unit"
)

// SetColumns and DotColumns are the sheets' columns. A dot is told by lateral and depth, or by x and y.
var (
	SetColumns = []table.Column{{Name: "set", Required: true}, {Name: "movement", Required: true}, {Name: "counts", Required: true}, {Name: "hold"}}
	DotColumns = []table.Column{{Name: "set", Required: true}, {Name: "player", Required: true}, {Name: "lateral"}, {Name: "depth"}, {Name: "x"}, {Name: "y"}}
)

const (
	mostCounts = 100_000
	mostDots   = 20_000_000 // sets x players held in memory
)

// Read reads both sheets. It is never nil, and as full as it could be made.
func Read(sets, dots *source.File, f field.Field, p *source.Problems) *Drill {
	d := &Drill{Field: f, setsFile: sets, byLabel: map[string]int{}, byPlayer: map[string]int{}}
	d.PartialSets, d.PartialDots, d.UnsureTime = sets == nil, dots == nil, sets == nil
	if sets != nil {
		d.readSets(sets, p)
	}
	if dots != nil {
		d.readDots(dots, p)
	}
	return d
}

func (d *Drill) readSets(f *source.File, p *source.Problems) {
	before := p.Errors()
	defer func() { d.UnsureTime = p.Errors() > before }()
	rows := table.ReadCSV(f, SetColumns, p)
	d.PartialSets = !table.Whole(f, p)
	written := -1    // the movement of the row above, where that was out of order
	skipped := false // whether the row before is one that players walk to and that is not in the list
	for _, row := range rows {
		label, sound := row.Cell("set"), p.Errors()
		if label.Text == "" {
			d.PartialSets, skipped = true, true
			p.Error("missing-cell", label.Span, "this row names no set", "write the set's number in the column \"set\"")
			continue
		}
		if first, twice := d.byLabel[label.Text]; twice {
			p.Error("duplicate-set", label.Span, fmt.Sprintf("set %s stands twice", label.Text), "give one of them another number", source.Note{Span: d.Sets[first].Span, Text: "first here"})
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
		if s.Hold > s.Counts {
			p.Error("bad-hold", row.Cell("hold").Span, fmt.Sprintf("a hold of %s does not fit into the set's %d", source.Count(float64(s.Hold), "count"), s.Counts), "counts includes the hold at its end")
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
			p.Error("set-order", row.Cell("movement").Span, fmt.Sprintf("set %s of movement %d stands after one of movement %d", s.Label, s.Movement, last.Movement), "put the rows in the order they are played")
			s.Movement = last.Movement
		}
		if !s.Moved {
			written = -1
		}
		if s.Movement == last.Movement {
			s.Begin = last.End
			if s.Counts == 0 {
				p.Error("bad-counts", s.CountsAt, fmt.Sprintf("set %s takes 0 counts to move into", s.Label), "only a movement's first set may; give it its counts, hold included")
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
		p.Error("missing-cell", c.Span, fmt.Sprintf("this row's %s is empty", column), "fill it in")
		return -1
	}
	if v, ok := c.Whole(lo, hi, column, p); ok {
		return v
	}
	return -1
}

func (d *Drill) readDots(f *source.File, p *source.Problems) {
	rows := table.ReadCSV(f, DotColumns, p)
	d.PartialDots = !table.Whole(f, p)
	if len(rows) > 0 {
		words := rows[0].Has("lateral") && rows[0].Has("depth")
		plain := rows[0].Has("x") && rows[0].Has("y")
		if !words && !plain {
			p.Error("missing-column", f.Whole(), "the sheet has no columns that tell a place", "name the columns lateral and depth, or x and y")
			d.PartialDots = true
			return
		}
	}
	labels := d.Labels()
	strange := map[string][]source.Span{} // by labels that are not in the list of sets
	defer func() {
		for label, at := range strange {
			more := ""
			if len(at) > 1 {
				more = fmt.Sprintf(" (%d rows name it)", len(at))
			}
			p.Error("unknown-set", at[0], fmt.Sprintf("no set %q in the list of sets%s", label, more), source.DidYouMean(label, labels, "add it to the sheet of sets, or mend its number"))
		}
	}()
	for _, row := range rows {
		label, name := row.Cell("set"), row.Cell("player")
		if label.Text == "" || name.Text == "" {
			p.Error("missing-cell", row.Span, "this row lacks its set or its player", "fill in both")
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
			p.Error("too-large", name.Span, fmt.Sprintf("more than %d dots", mostDots), "split the show")
			return
		}
		dot := &player.Dots[i]
		if dot.Known {
			p.Error("duplicate-dot", name.Span, fmt.Sprintf("%s has two dots in set %s", name.Text, label.Text), "keep one", source.Note{Span: dot.Span, Text: "the other is here"})
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

func (d *Drill) readDot(row table.Row, p *source.Problems) Dot {
	lateral, depth := row.Cell("lateral"), row.Cell("depth")
	if lateral.Text == "" && depth.Text == "" && (row.Cell("x").Text != "" || row.Cell("y").Text != "") {
		x, y := row.Cell("x"), row.Cell("y")
		before := p.Errors()
		at := layout.Point{X: plain(x, unit.StepM, p), Y: plain(y, d.Field.DepthStepM, p)}
		return Dot{At: at, Known: true, Bad: p.Errors() > before, Span: x.Span, Words: fmt.Sprintf("x %s, y %s", stepsIfBare(x.Text), stepsIfBare(y.Text))}
	}
	dot := Dot{Known: true, Span: lateral.Span, Words: lateral.Text + "; " + depth.Text}
	var fault *source.Fault
	if dot.At.X, fault = d.Field.Lateral(lateral.Text); fault != nil {
		p.Error("bad-dot", lateral.Span.Within(fault.Lo, fault.Hi), fault.What, fault.Do)
		dot.Bad = true
	}
	if dot.At.Y, fault = d.Field.Depth(depth.Text); fault != nil {
		p.Error("bad-dot", depth.Span.Within(fault.Lo, fault.Hi), fault.What, fault.Do)
		dot.Bad = true
	}
	return dot
}

// plain reads a coordinate: a bare number is in steps, a string may carry its own unit.
func plain(c table.Cell, stepM float64, p *source.Problems) float64 {
	v, err := unit.LengthIn("steps", stepM).Read(c.Text)
	if err != nil {
		p.Error("bad-dot", c.Span, "this coordinate "+err.Error(), "write steps as a bare number, or a number and its unit such as \"6 yd\"")
	}
	return v
}

func stepsIfBare(text string) string {
	if parts, err := unit.Parse(text); err == nil && len(parts) == 1 && parts[0].Unit == "" {
		return text + " steps"
	}
	return text
}
