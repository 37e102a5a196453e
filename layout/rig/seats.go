package rig

import (
	"slices"

	"backfield/layout/source"
	"backfield/layout/stands"
	"backfield/layout/table"
	"backfield/layout/unit"
)

// referenceTable is the reference seat.
type referenceTable struct {
	placeTable
	Weight table.Num `key:"weight"`
}

// readReference reads the seat for which a show is set where there are no stands.
func (r *Rig) readReference(t *referenceTable, file *source.File, p *source.Problems) {
	if t == nil {
		p.Add(noReference(file))
		return
	}
	r.Reference = r.point(t.placeTable, p)
	r.ReferenceWeight = seatWeight(t.Weight, 0, p)
}

// standsTable is a block of seats in straight rows.
type standsTable struct {
	table.Where
	Name    table.Text     `key:"name"`
	Front   rowTable       `key:"front,required"`
	Back    rowTable       `key:"back,required"`
	Rows    table.Int      `key:"rows,required"`
	Seats   table.Int      `key:"seats"`
	Spacing table.Quantity `key:"spacing"`
	Weight  table.Num      `key:"weight"`
}

// rowTable is the front or the back row of a block: its middle, and how wide it is.
type rowTable struct {
	X     table.Quantity `key:"x"`
	Y     table.Quantity `key:"y,required"`
	Z     table.Quantity `key:"z,required"`
	Width table.Quantity `key:"width,required"`
}

// closestSeatM is the smallest spacing of seats.
const closestSeatM = 0.2

func (r *Rig) block(t standsTable, p *source.Problems) stands.Block {
	b := stands.Block{Name: t.Name.V, Front: r.row(t.Front, p), Back: r.row(t.Back, p), Rows: t.Rows.V,
		Seats:  t.Seats.V,
		Weight: seatWeight(t.Weight, 1, p)}
	b.SpacingM = t.Spacing.Within(unit.Length, 0, closestSeatM, 100, "the spacing of seats", p)
	switch {
	case t.Seats.Set == t.Spacing.Set:
		p.Add(seatsAndSpacing(t.Span))
	case t.Rows.Set && (b.Rows < 1 || b.Rows > stands.Limit):
		p.Add(badRows(t.Rows.Span, b.Rows))
	case t.Seats.Set && (b.Seats < 1 || b.Seats > stands.Limit):
		p.Add(badSeats(t.Seats.Span, b.Seats))
	case t.Spacing.Set && b.SpacingM == 0: // reported
	default:
		return b
	}
	b.Rows = 0
	return b
}

// seatWeight is how often a seat counts.
func seatWeight(n table.Num, def float64, p *source.Problems) float64 {
	if n.Set && !(n.V >= 0 && n.V <= 1e6) {
		p.Add(badSeatWeight(n.Span, n.V))
		return def
	}
	return n.Or(def)
}

func (r *Rig) row(t rowTable, p *source.Problems) stands.SeatRow {
	at := r.point(placeTable{X: t.X, Y: t.Y, Z: t.Z}, p)
	return stands.SeatRow{X: at.X, Y: at.Y, Z: at.Z,
		WidthM: t.Width.Within(unit.Length, 0, leastWidthM, farthestM, "width", p)}
}

// checkSize limits the number of seats.
func (r *Rig) checkSize(file *source.File, p *source.Problems) {
	n := 0
	for _, b := range r.Blocks {
		n += b.Size()
	}
	if n > stands.Limit {
		p.Add(tooManySeats(file, n))
		r.Blocks = nil
	}
}

// Seats lists the stands, every seat that has a weight: the blocks', the surveyed ones, and the reference seat
// if it counts.
func (r *Rig) Seats() []stands.Seat {
	var seats []stands.Seat
	for _, b := range r.Blocks {
		seats = append(seats, b.List()...)
	}
	seats = append(seats, r.Surveyed...)
	if len(seats) > 0 && r.ReferenceWeight > 0 {
		seats = append(seats, stands.Seat{At: r.Reference, Weight: r.ReferenceWeight})
	}
	return slices.DeleteFunc(seats, func(s stands.Seat) bool { return s.Weight <= 0 })
}
