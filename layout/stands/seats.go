// Package stands knows the audience: where the seats are, what each hears of a mic through the stacks, and
// which pan and delay serve most of them. It knows no cue, no count and no mixer.
package stands

import (
	"fmt"
	"math"

	"backfield/layout"
	"backfield/layout/source"
	"backfield/layout/table"
)

// Seat is one listener, or as many as its weight says.
type Seat struct {
	At     layout.Point
	Weight float64
}

// Limit is the most seats that stands may have.
const Limit = 100_000

// SeatRow is one row of seats, centered on X; places in meters.
type SeatRow struct{ X, Y, Z, WidthM float64 }

// Block is a block of rows that rise evenly from the first to the last. A row has Seats seats, or as many as
// fit at SpacingM where Seats is 0; they are in the middle of equal parts of its width.
type Block struct {
	Name        string
	Front, Back SeatRow
	Rows, Seats int
	SpacingM    float64
	Weight      float64 // of each seat
}

// Size is the number of seats in the block.
func (b Block) Size() int {
	n := 0
	for r := range b.Rows {
		n += b.inRow(b.row(r))
		if n > Limit {
			break
		}
	}
	return n
}

func (b Block) row(r int) SeatRow {
	t := 0.0
	if b.Rows > 1 {
		t = float64(r) / float64(b.Rows-1)
	}
	mix := func(a, z float64) float64 { return a + (z-a)*t }
	return SeatRow{mix(b.Front.X, b.Back.X), mix(b.Front.Y, b.Back.Y), mix(b.Front.Z, b.Back.Z),
		mix(b.Front.WidthM, b.Back.WidthM)}
}

func (b Block) inRow(r SeatRow) int {
	if b.Seats > 0 {
		return b.Seats
	}
	return max(1, int(math.Min(r.WidthM/b.SpacingM+1e-9, Limit+1)))
}

// SeatsInRow is how many seats a row has, counted from 1 at the front.
func (b Block) SeatsInRow(row int) int { return b.inRow(b.row(row - 1)) }

// List returns the block's seats, row by row from the front, each from side 1 to side 2.
func (b Block) List() []Seat {
	var seats []Seat
	for i := range b.Rows {
		r := b.row(i)
		n := b.inRow(r)
		for s := range n {
			x := r.X + r.WidthM*((float64(s)+0.5)/float64(n)-0.5)
			seats = append(seats, Seat{layout.Point{X: x, Y: r.Y, Z: r.Z}, b.Weight})
		}
	}
	return seats
}

// Columns are those of a sheet of surveyed seats: meters, and a weight that is 1 where it is empty.
var Columns = []table.Column{{Name: "x", Required: true}, {Name: "y", Required: true}, {Name: "z", Required: true},
	{Name: "weight"}}

// ReadSeats reads surveyed seats, one in each row.
func ReadSeats(f *source.File, p *source.Problems) []Seat {
	var seats []Seat
	rows := table.ReadCSV(f, Columns, p)
	if rows.Len() == 0 && table.Whole(f, p) {
		p.Error("empty-file", f.Whole(), "this sheet has no seat", "add a row for each seat: x, y and z in meters")
	}
	for row := range rows.All() {
		at := func(column string) float64 {
			c := row.Cell(column)
			if c.Text == "" {
				p.Error("missing-cell", c.Span, fmt.Sprintf("this seat's %s is empty", column), "fill it in, in meters")
				return 0
			}
			v := c.Number(0, column, p)
			if math.Abs(v) > 1000 {
				p.Error("out-of-range", c.Span, fmt.Sprintf("a seat at %s = %g m", column, v),
					"give places in meters from the 50 and the front sideline")
				return 0
			}
			return v
		}
		s := Seat{layout.Point{X: at("x"), Y: at("y"), Z: at("z")}, row.Cell("weight").Number(1, "weight", p)}
		if s.Weight < 0 || s.Weight > 1e6 {
			p.Error("out-of-range", row.Cell("weight").Span, fmt.Sprintf("a weight of %g", s.Weight),
				"a seat's weight is 0 or more, usually 1")
			s.Weight = 1
		}
		if len(seats) == Limit {
			p.Error("too-large", row.Span, fmt.Sprintf("more than %d seats", Limit),
				"leave out every other seat and double the weights")
			break
		}
		seats = append(seats, s)
	}
	return seats
}
