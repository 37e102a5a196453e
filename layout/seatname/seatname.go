// Package seatname finds one seat of the stands by the name that a person gives it: "12-66" is seat 66 of row 12, "12B"
// and "B12" are seat 12 of row B, the second one, and "upper 3-20" names the block too. "box" is the press box.
package seatname

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"backfield/layout"
	"backfield/layout/rig"
	"backfield/layout/source"
	"backfield/layout/stands"
)

// Stands is where people sit.
type Stands struct {
	Blocks   []stands.Block
	Surveyed []stands.Seat
	Box      layout.Point
}

// Of is where people sit in a rig.
func Of(r *rig.Rig) *Stands { return &Stands{Blocks: r.Blocks, Surveyed: r.Surveyed, Box: r.Reference} }

// NamedSeat is one seat, or the press box.
type NamedSeat struct {
	At     layout.Point
	Name   string // "row 12, seat 66", "upper, row 3, seat 20", "seat 17 of the sheet", "press box"
	Block  string // its name; "" where the stands have one block, or none
	Row    int    // from 1, the front; 0 where it is in no block
	Number int    // from 1, at side 1, or the number in the sheet; 0 for the press box
	Index  int    // among all seats with a weight, in the order of the rig; -1 for one without, and for the press box
	Box    bool
}

var (
	rowAndSeat = regexp.MustCompile(`^(?i:row\s*)?(\d{1,6}|[A-Za-z]{1,2})\s*(?:[-,/ ]\s*)(?i:seat\s*)?(\d{1,6})$`)
	letterLast = regexp.MustCompile(`^(\d{1,6})\s*([A-Za-z]{1,2})$`)
	letterLead = regexp.MustCompile(`^([A-Za-z]{1,2})\s*(\d{1,6})$`)
	inSheet    = regexp.MustCompile(`^(?i:seat|surveyed)\s*(\d{1,6})(?i:\s*of the sheet)?$`)
)

// Find finds a seat by its name. The error says which seats there are.
func (s *Stands) Find(text string) (NamedSeat, error) {
	text = strings.Join(strings.Fields(text), " ")
	switch strings.ToLower(text) {
	case "box", "press box":
		return s.PressBox(), nil
	}
	if m := inSheet.FindStringSubmatch(text); m != nil && len(s.Surveyed) > 0 {
		return s.surveyed(number(m[1]))
	}
	block, rest := s.cutBlock(text)
	row, seat, ok := parse(rest)
	if !ok {
		return NamedSeat{}, fmt.Errorf("%q is no seat; write 12-66 for row 12, seat 66, or box for the press box; %s",
			text, s.Rows())
	}
	return s.At(block, row, seat)
}

// parse reads a row and a seat: "12-66", "row 12, seat 66", "31B", "B31", "B-31". A letter is always the row.
func parse(text string) (row, seat int, ok bool) {
	m := rowAndSeat.FindStringSubmatch(text)
	if m == nil {
		m = letterLead.FindStringSubmatch(text)
	}
	if m == nil {
		if m = letterLast.FindStringSubmatch(text); m != nil {
			m[1], m[2] = m[2], m[1]
		}
	}
	if m == nil {
		return 0, 0, false
	}
	return rowNumber(m[1]), number(m[2]), true
}

// rowNumber is the number of a row: of A it is 1, of Z 26, of AA 27.
func rowNumber(text string) int {
	if text[0] <= '9' {
		return number(text)
	}
	n := 0
	for _, c := range strings.ToUpper(text) {
		n = 26*n + int(c-'A') + 1
	}
	return n
}

func number(text string) int {
	n, _ := strconv.Atoi(text) // at most six digits
	return n
}

// cutBlock takes the name of a block off the front, the longest that fits.
func (s *Stands) cutBlock(text string) (block, rest string) {
	rest = text
	for _, b := range s.Blocks {
		n := len(b.Name)
		if n > len(block) && len(text) > n && strings.EqualFold(text[:n], b.Name) {
			if after := strings.TrimLeft(text[n:], " ,:"); after != text[n:] {
				block, rest = b.Name, after
			}
		}
	}
	return block, rest
}

// At finds a seat by its block, row and number. The name of the block may be left out where there is only one.
func (s *Stands) At(block string, row, seat int) (NamedSeat, error) {
	if len(s.Blocks) == 0 {
		return NamedSeat{}, fmt.Errorf("no row %d; %s", row, s.Rows())
	}
	if block == "" && len(s.Blocks) > 1 {
		return NamedSeat{}, fmt.Errorf("these stands have more than one block: name it, such as %q; %s",
			fmt.Sprintf("%s %d-%d", s.Blocks[0].Name, row, seat), s.Rows())
	}
	from := 0
	for i := range s.Blocks {
		b := &s.Blocks[i]
		if block != "" && !strings.EqualFold(block, b.Name) {
			from += weighted(b.List())
			continue
		}
		if row < 1 || row > b.Rows {
			return NamedSeat{}, fmt.Errorf("no row %d; %s", row, s.Rows())
		}
		for _, x := range s.block(i, from) {
			if x.Row == row && x.Number == seat {
				return x, nil
			}
		}
		return NamedSeat{}, fmt.Errorf("no seat %d in row %d; it has seats 1 to %d, from side 1", seat, row,
			b.SeatsInRow(row))
	}
	var names []string
	for _, b := range s.Blocks {
		names = append(names, b.Name)
	}
	return NamedSeat{}, fmt.Errorf("no block %q; %s", block, source.DidYouMean(block, names, s.Rows()))
}

func weighted(seats []stands.Seat) (n int) {
	for _, x := range seats {
		if x.Weight > 0 {
			n++
		}
	}
	return n
}

// block lists the seats of a block. from is the index of its first one with a weight.
func (s *Stands) block(i, from int) (list []NamedSeat) {
	b := &s.Blocks[i]
	row, number := 1, 0
	for _, x := range b.List() {
		if number++; number > b.SeatsInRow(row) {
			row, number = row+1, 1
		}
		seat := NamedSeat{At: x.At, Row: row, Number: number, Index: -1}
		seat.Name = fmt.Sprintf("row %d, seat %d", row, number)
		if len(s.Blocks) > 1 {
			seat.Block, seat.Name = b.Name, b.Name+", "+seat.Name
		}
		if x.Weight > 0 {
			seat.Index = from
			from++
		}
		list = append(list, seat)
	}
	return list
}

func (s *Stands) surveyed(n int) (NamedSeat, error) {
	if n < 1 || n > len(s.Surveyed) {
		return NamedSeat{}, fmt.Errorf("no seat %d in the sheet of seats; %s", n, s.Rows())
	}
	return s.list(true)[n-1], nil
}

// list is the surveyed seats, or all blocks' seats.
func (s *Stands) list(surveyed bool) (list []NamedSeat) {
	from := 0
	for i := range s.Blocks {
		seats := s.block(i, from)
		if !surveyed {
			list = append(list, seats...)
		}
		from += weighted(s.Blocks[i].List())
	}
	if !surveyed {
		return list
	}
	for i, x := range s.Surveyed {
		seat := NamedSeat{At: x.At, Number: i + 1, Index: -1, Name: fmt.Sprintf("seat %d of the sheet", i+1)}
		if x.Weight > 0 {
			seat.Index = from
			from++
		}
		list = append(list, seat)
	}
	return list
}

// Index finds a seat by its number among all seats with a weight, from 0. The one after the last is the press box, which
// is there if it counts as seats too.
func (s *Stands) Index(n int) (NamedSeat, error) {
	seats := append(s.list(false), s.list(true)...)
	count := 0
	for _, x := range seats {
		if x.Index == n {
			return x, nil
		}
		count = max(count, x.Index+1)
	}
	if n == count {
		return s.PressBox(), nil
	}
	return NamedSeat{}, fmt.Errorf("no seat has the index %d; they go from 0 to %d", n, count-1)
}

// PressBox is the seat at the press box.
func (s *Stands) PressBox() NamedSeat {
	return NamedSeat{At: s.Box, Name: "press box", Index: -1, Box: true}
}

// Rows says which seats there are.
func (s *Stands) Rows() string {
	var parts []string
	for _, b := range s.Blocks {
		text := fmt.Sprintf("rows 1 (A) to %d (%s)", b.Rows, letters(b.Rows))
		if len(s.Blocks) > 1 {
			text = fmt.Sprintf("%s has %s", strconv.Quote(b.Name), text)
		}
		if first, last := b.SeatsInRow(1), b.SeatsInRow(b.Rows); first == last {
			text += fmt.Sprintf(", %d seats in each", first)
		} else {
			text += fmt.Sprintf(", with %d to %d seats", min(first, last), max(first, last))
		}
		parts = append(parts, text)
	}
	if n := len(s.Surveyed); n > 0 {
		parts = append(parts, fmt.Sprintf("the sheet has seats 1 to %d (\"seat 1\")", n))
	}
	switch {
	case len(parts) == 0:
		return "the rig has no stands: there is only the press box (\"box\")"
	case len(s.Blocks) == 1:
		parts[0] = "there are " + parts[0]
	}
	return strings.Join(parts, "; ")
}

// letters is a row's number as letters.
func letters(row int) (text string) {
	for ; row > 0; row = (row - 1) / 26 {
		text = string(rune('A'+(row-1)%26)) + text
	}
	return text
}
