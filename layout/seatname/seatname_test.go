package seatname

import (
	"math"
	"strings"
	"testing"

	"backfield/layout"
	"backfield/layout/stands"
)

// oneBlock has 30 rows of 8 seats, twoBlocks a second one with fewer seats in front, and three seats of a sheet, the
// second of them without a weight.
func oneBlock() *Stands {
	return &Stands{Box: layout.Point{Y: -40}, Blocks: []stands.Block{{Name: "lower", Rows: 30, Seats: 8, Weight: 1,
		Front: stands.SeatRow{Y: -10, Z: 1, WidthM: 8}, Back: stands.SeatRow{Y: -39, Z: 30, WidthM: 8}}}}
}

func twoBlocks() *Stands {
	s := oneBlock()
	s.Blocks = append(s.Blocks, stands.Block{Name: "lower east", Rows: 2, SpacingM: 1, Weight: 0,
		Front: stands.SeatRow{X: 20, Y: -10, WidthM: 3}, Back: stands.SeatRow{X: 20, Y: -11, WidthM: 4}})
	s.Surveyed = []stands.Seat{{At: layout.Point{X: 1}, Weight: 1}, {At: layout.Point{X: 2}}, {At: layout.Point{X: 3}, Weight: 2}}
	return s
}

func TestFind(t *testing.T) {
	for _, c := range []struct {
		of         *Stands
		text, name string
		x, y       float64
		index      int
	}{
		{oneBlock(), "12-6", "row 12, seat 6", 1.5, -21, 93},
		{oneBlock(), "row 12, seat 6", "row 12, seat 6", 1.5, -21, 93},
		{oneBlock(), "Row 12 Seat 6", "row 12, seat 6", 1.5, -21, 93},
		{oneBlock(), "7B", "row 2, seat 7", 2.5, -11, 14},
		{oneBlock(), "b7", "row 2, seat 7", 2.5, -11, 14},
		{oneBlock(), "B-7", "row 2, seat 7", 2.5, -11, 14},
		{oneBlock(), "AD-1", "row 30, seat 1", -3.5, -39, 232},
		{oneBlock(), "lower 1-1", "row 1, seat 1", -3.5, -10, 0},
		{oneBlock(), " press  box ", "press box", 0, -40, -1},
		{twoBlocks(), "lower 1-8", "lower, row 1, seat 8", 3.5, -10, 7},
		{twoBlocks(), "LOWER EAST 2-4", "lower east, row 2, seat 4", 21.5, -11, -1},
		{twoBlocks(), "lower east: row 1, seat 1", "lower east, row 1, seat 1", 19, -10, -1},
		{twoBlocks(), "seat 3", "seat 3 of the sheet", 3, 0, 241},
		{twoBlocks(), "seat 2 of the sheet", "seat 2 of the sheet", 2, 0, -1},
	} {
		got, err := c.of.Find(c.text)
		if err != nil || got.Name != c.name || math.Abs(got.At.X-c.x) > 1e-9 || math.Abs(got.At.Y-c.y) > 1e-9 ||
			got.Index != c.index {
			t.Errorf("%q is %+v, %v; want %s at %g, %g, index %d", c.text, got, err, c.name, c.x, c.y, c.index)
			continue
		}
		if again, err := c.of.Find(got.Name); err != nil || again != got {
			t.Errorf("%q, by its own name %q, is %+v, %v", c.text, got.Name, again, err)
		}
		if got.Index >= 0 {
			if again, err := c.of.Index(got.Index); err != nil || again != got {
				t.Errorf("%q, by its index %d, is %+v, %v", c.text, got.Index, again, err)
			}
		}
	}
}

func TestFindRefuses(t *testing.T) {
	none := &Stands{}
	for _, c := range []struct {
		of         *Stands
		text, want string
	}{
		{oneBlock(), "moon", `"moon" is no seat; write 12-66 for row 12, seat 66, or box for the press box; there are rows 1 (A) to 30 (AD), 8 seats in each`},
		{oneBlock(), "31-1", "no row 31; there are rows 1 (A) to 30 (AD), 8 seats in each"},
		{oneBlock(), "0-1", "no row 0; there are rows"},
		{oneBlock(), "3-9", "no seat 9 in row 3; it has seats 1 to 8, from side 1"},
		{oneBlock(), "seat 3", `"seat 3" is no seat`},
		{twoBlocks(), "12-6", `these stands have more than one block: name it, such as "lower 12-6"; "lower" has rows 1 (A) to 30 (AD), 8 seats in each; "lower east" has rows 1 (A) to 2 (B), with 3 to 4 seats; the sheet has seats 1 to 3`},
		{twoBlocks(), "seat 4", "no seat 4 in the sheet of seats; "},
		{none, "1-1", `no row 1; the rig has no stands: there is only the press box ("box")`},
	} {
		if got, err := c.of.Find(c.text); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q: %+v, %v; want %s", c.text, got, err, c.want)
		}
	}
	if _, err := twoBlocks().At("lower wst", 1, 1); err == nil || !strings.Contains(err.Error(), "no block") {
		t.Error(err)
	}
	if got, err := twoBlocks().Index(242); err != nil || !got.Box {
		t.Errorf("the seat after the last is %+v, %v", got, err)
	}
	if _, err := twoBlocks().Index(243); err == nil || !strings.Contains(err.Error(), "from 0 to 241") {
		t.Error(err)
	}
}

// Every name that may be typed ends with a seat or with words.
func FuzzFind(f *testing.F) {
	for _, text := range []string{"12-66", "31B", "box", "lower east 2-4", "seat 3", "ZZ999999", "-", "A", "lower"} {
		f.Add(text)
	}
	one, two := oneBlock(), twoBlocks()
	f.Fuzz(func(t *testing.T, text string) {
		for _, s := range []*Stands{one, two} {
			if got, err := s.Find(text); (err == nil) != (got.Name != "") {
				t.Errorf("%q is %+v, %v", text, got, err)
			}
		}
	})
}
