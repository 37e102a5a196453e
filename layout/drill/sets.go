package drill

import (
	"iter"
	"slices"

	"backfield/layout/levelkeys"
	"backfield/layout/rows"
	"backfield/layout/setlist"
	"backfield/layout/source"
	"backfield/layout/table"
)

// readSetsSheet reads the sheet of sets, in Backfield's own layout or as the score says.
func (d *Drill) readSetsSheet(in Sheets, p *source.Problems) {
	before := p.Errors()
	defer func() { d.UnsureTime = p.Errors() > before }()
	if in.Columns == nil || in.Columns.Sets == nil {
		rows := table.ReadCSV(in.Sets, SetColumns, p)
		d.PartialSets = !table.Whole(in.Sets, p)
		d.readSets(rows.All(), setReader{}, p)
		return
	}
	rows, whole := rows.Sets(in.Sets, in.Columns.Sets, p)
	d.PartialSets = !whole
	c := in.Columns.Sets
	d.readSets(slices.Values(rows), setReader{holdAfter: c.HoldAfter.V, total: c.CountsAre.Total(),
		asks: !c.CountsAre.Set, guessed: in.Guessed}, p)
}

// setReader reads the rows of a sheet of sets, each of which begins where the one above ends.
type setReader struct {
	drill     *Drill
	holdAfter bool // the counts are those of the walk alone
	written   int  // the movement of the row above, where that was out of order, else -1
	skipped   bool // whether the row before is one that players walk to and that is not in the list

	total   bool // the counts are those since the movement's first set
	asks    bool // that they are not was not said
	guessed bool // nobody has looked at the columns yet
	begun   int  // the counts of the row above
}

// readSets reads the rows of a sheet of sets, as r says.
func (d *Drill) readSets(rows iter.Seq[table.Row], r setReader, p *source.Problems) {
	before := p.Errors()
	r.drill, r.written = d, -1
	for row := range rows {
		r.read(row, p)
	}
	if r.asks && p.Errors() == before && d.countsGrow() {
		p.Add(growingCounts(d.Sets, r.guessed))
	}
	d.UnsureTime = d.UnsureTime || p.Errors() > before
}

// read adds the set of a row.
func (r *setReader) read(row table.Row, p *source.Problems) {
	d, label, before := r.drill, row.Cell("set"), p.Errors()
	if label.Text == "" {
		d.PartialSets, r.skipped = true, true
		p.Add(noSetNamed(label.Span))
		return
	}
	if first, twice := d.byLabel[label.Text]; twice {
		r.skipped = true
		d.twice++
		p.Add(setTwice(label, d.Sets[first].Span))
		return
	}
	p.CheckName(label.Span, label.Text)
	s := Set{Label: label.Text, Span: label.Span, CountsAt: row.Cell("counts").Span}
	s.Movement = whole(row, "movement", 1, 1000, p)
	r.counts(&s, row, p)
	s.Facing = levelkeys.ReadPointing(row.Cell("facing"), p)
	last := Set{}
	if n := len(d.Sets); n > 0 {
		last = d.Sets[n-1]
	}
	r.order(&s, last.Movement, row.Cell("movement").Span, p)
	if s.Movement == last.Movement {
		s.Begin = last.End
		if s.Counts == 0 {
			p.Add(noCounts(s.CountsAt, s.Label))
		}
	}
	s.Unsure = p.Errors() > before || r.skipped
	r.skipped = false
	s.End = s.Begin + s.Counts
	s.Arrive = s.End - s.Hold
	d.byLabel[s.Label] = len(d.Sets)
	d.Sets = append(d.Sets, s)
}

// fewGrowing is how many sets may have more counts than the one before without looking like a total.
const fewGrowing = 4

// countsGrow reports whether every set of each movement has more counts than the one before, as a running total does.
func (d *Drill) countsGrow() bool {
	long := 0
	for i, s := range d.Sets {
		if i == 0 || s.Movement != d.Sets[i-1].Movement {
			long = max(long, 1)
			continue
		}
		if s.Counts <= d.Sets[i-1].Counts {
			return false
		}
		long++
	}
	return long-(d.Movements()-1) >= fewGrowing
}

// counts reads how long a set is, and how much of that is a hold.
func (r *setReader) counts(s *Set, row table.Row, p *source.Problems) {
	s.Counts = whole(row, "counts", 0, mostCounts, p)
	wrong := s.Counts < 0
	if wrong {
		s.Counts = 1 // reported: any number but 0 keeps the rest readable
	}
	if r.total && !wrong {
		s.Counts = r.since(s, row.Cell("counts").Span, p)
	}
	s.Hold, _ = row.Cell("hold").Whole(0, mostCounts, "hold", p)
	if r.holdAfter {
		s.Counts += s.Hold
	}
	if s.Hold > s.Counts {
		if !wrong {
			p.Add(holdTooLong(row.Cell("hold").Span, s.Hold, s.Counts))
		}
		s.Hold = s.Counts
	}
}

// since is the counts into a set whose counts are a total, which may begin again with a movement.
func (r *setReader) since(s *Set, at source.Span, p *source.Problems) int {
	total, before := s.Counts, r.begun
	r.begun = total
	n := len(r.drill.Sets)
	switch first := n > 0 && s.Movement > r.drill.Sets[n-1].Movement; {
	case total >= before:
		return total - before
	case first:
		return total
	}
	p.Add(totalFalls(at, s.Label, total, before))
	return 1
}

// order checks that movements do not go back, and counts a set that does to the movement before.
func (r *setReader) order(s *Set, before int, at source.Span, p *source.Problems) {
	switch {
	case s.Movement < 0: // already reported
		s.Movement = max(before, 1)
	case s.Movement >= before:
	case r.written >= 0 && s.Movement >= r.written: // the row above, which is out of order, is the one that is wrong
		s.Movement, s.Moved = before, true
		return
	default:
		p.Add(movementOrder(at, s.Label, s.Movement, before))
		r.written, s.Movement, s.Moved = s.Movement, before, true
		return
	}
	r.written = -1
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

// agree compares what a sheet of dots says about the sets with the list of sets.
func (d *Drill) agree(t *setlist.Listing, c *rows.Columns, p *source.Problems) {
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
			if j == 1 && c.CountsAre.Total() {
				continue
			}
			if v, ok := is[j].Whole(0, mostCounts, setlist.SetKeys[j], p); ok && v != want {
				p.Add(listedDifferently(is[j].Span, setlist.SetKeys[j], v, s, want))
			}
		}
	}
}
