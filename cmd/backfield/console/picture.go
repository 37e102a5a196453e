package console

import (
	"slices"
	"strings"
	"time"

	"backfield/osc/run"
)

const (
	messageStays  = 15 * time.Second // a message, in its line
	problemFreshS = 10.0             // a problem stands out for so long
	oldViewS      = 1.0              // a view that is older is no longer the run
	nearCounts    = 8.0              // counts: the next cue stands out

	maxNameCells = 24 // cells; a longer name is cut
)

// State is what the screen shows apart from the run.
type ScreenState struct {
	Said     string   // what came of the last command; empty when that is long ago
	Wrong    bool     // it was not carried out
	Armed    run.Verb // a second press of its key would do this
	Typing   bool     // a command is being typed
	Typed    string
	Sheet    []string // shown in place of the players: help, a long answer
	Code     []string // below the sheet: a picture in cells, dark on light
	ViewAgeS float64  // age of the view; below 0 before there is one
}

// element is one part of the screen: where it stands in the list elements is where it stands on the screen.
type screenPart struct {
	name string
	// rank says who is given rows first. Where not all elements fit, those of the highest ranks are cut first.
	rank    int
	whole   bool // it is given all its rows or none; others are given one, and more as long as there are some
	gap     bool // a blank row above it, if there is room
	yields  bool // it makes room for a sheet, which is short-lived
	grows   bool // it is given further rows before all others
	spreads bool // rows that no element needs are blank rows below this one
	print   func(painter) partRows
}

// elements are the whole screen, from top to bottom.
var screenParts = []screenPart{
	{name: "alarm", rank: 30, whole: true, print: painter.alarm},
	{name: "head", rank: 40, print: painter.head},
	{name: "timeline", rank: 80, gap: true, yields: true, print: painter.timeline},
	{name: "players", rank: 50, gap: true, spreads: true, print: painter.players},
	{name: "sheet", rank: 50, gap: true, spreads: true, grows: true, print: painter.sheet},
	{name: "automatic", rank: 90, gap: true, yields: true, print: painter.automatic},
	{name: "next", rank: 10, gap: true, print: painter.next},
	{name: "changed", rank: 100, gap: true, yields: true, print: painter.changed},
	{name: "mixers", rank: 60, gap: true, print: painter.mixers},
	{name: "problem", rank: 70, print: painter.problem},
	{name: "message", rank: 20, gap: true, print: painter.message},
	{name: "command", rank: 11, print: painter.command},
	{name: "legend", rank: 110, yields: true, print: painter.legend},
}

// body is what an element prints of one view: at most so many rows, 0 for nothing, drawn in as many as it was given.
type partRows struct {
	most int
	draw func(rows int) []textLine
}

// fixed is a body whose rows do not depend on how many it is given.
func fixedRows(lines ...textLine) partRows {
	return partRows{len(lines), func(int) []textLine { return lines }}
}

// painter is what an element prints from.
type painter struct {
	v     run.View
	s     ScreenState
	width int
	scale int // of the digits
}

// placed is an element that has something to print, and the rows that it was given.
type placedPart struct {
	screenPart
	partRows
	rows int
}

// least is how many rows the element takes if it is there at all.
func (p *placedPart) least() int {
	if p.whole {
		return p.most
	}
	return min(p.most, 1)
}

// Picture draws the screen: height rows of at most width cells, in plain text with bold and reverse.
func Picture(v run.View, s ScreenState, width, height int) string {
	if width <= 0 || height <= 0 {
		return ""
	}
	p := painter{v, s, width, 1}
	if width >= 100 && height >= 34 {
		p.scale = 2
	}
	list := printed(p)
	left := shareRows(list, height)
	list = slices.DeleteFunc(list, func(x *placedPart) bool { return x.rows == 0 })
	return strings.Join(compose(list, left, width), "\n")
}

// printed are the elements that have something to print.
func printed(p painter) (list []*placedPart) {
	for _, e := range screenParts {
		if p.s.Sheet != nil && e.yields {
			continue
		}
		if b := e.print(p); b.most > 0 {
			list = append(list, &placedPart{screenPart: e, partRows: b})
		}
	}
	return list
}

// share gives the rows of the screen to the elements, and returns how many are left.
func shareRows(list []*placedPart, left int) int {
	order := slices.Clone(list)
	slices.SortStableFunc(order, func(a, b *placedPart) int { return a.rank - b.rank })
	for _, x := range order {
		if n := x.least(); n <= left {
			x.rows, left = n, left-n
		}
	}
	growth := func(x *placedPart) int {
		if x.grows {
			return -1
		}
		return x.rank
	}
	slices.SortStableFunc(order, func(a, b *placedPart) int { return growth(a) - growth(b) })
	for _, x := range order {
		if x.rows > 0 {
			n := min(left, x.most-x.rows)
			x.rows, left = x.rows+n, left-n
		}
	}
	return left
}

// compose draws the elements one below the other; left is how many blank rows there are to be spread among them.
func compose(list []*placedPart, left, width int) (rows []string) {
	for i, x := range list {
		if x.gap && left > 0 {
			rows, left = append(rows, ""), left-1
		}
		lines := x.draw(x.rows)
		for j := range x.rows {
			var l textLine
			if j < len(lines) {
				l = lines[j].cut(width)
			}
			rows = append(rows, l.encode())
		}
		if x.spreads {
			for n := left - countGaps(list[i+1:]); n > 0; n-- {
				rows, left = append(rows, ""), left-1
			}
		}
	}
	return rows
}

// gaps counts the blank rows that elements would like above them.
func countGaps(list []*placedPart) (n int) {
	for _, x := range list {
		if x.gap {
			n++
		}
	}
	return n
}
