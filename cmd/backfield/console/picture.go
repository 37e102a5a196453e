package console

import (
	"slices"
	"strings"
	"time"

	"backfield/osc/glance"
	"backfield/osc/run"
)

const (
	messageStays  = 15 * time.Second // how long a message stays
	problemFreshS = 10.0             // how long a problem stands out
	noticeStaysS  = 60.0             // how long a notice stays
	oldViewS      = 1.0              // an older view no longer shows the run
	nearCounts    = 8.0              // counts to the next cue, from which on it stands out

	maxNameCells = 24 // cells; longer names are cut
)

// ScreenState is what the screen shows other than the run.
type ScreenState struct {
	Said     string   // the answer to the last command; empty once it is old
	Wrong    bool     // the command was refused
	Armed    run.Verb // a second press of its key would do this
	Typing   bool     // a command is being typed
	Typed    string
	Sheet    []string // shown instead of the players: help, a long answer
	Code     []string // a QR code below it, in cells, dark on light
	ViewAgeS float64  // age of the view; below 0 before the first
}

// screenPart is one part of the screen.
type screenPart struct {
	name string
	// rank is the order in which parts get rows, the lowest first. If not all parts fit, the highest ranks are cut
	// first.
	rank    int
	whole   bool // it gets all its rows or none; other parts get one, and more if there are more
	keeps   int  // it gets this many rows, if it needs them, before parts of a higher rank get any; 0 for one
	gap     bool // it gets a blank row above it, if there is room
	yields  bool // it makes room for an overlay
	grows   bool // it gets further rows before all other parts
	spreads bool // rows that no part needs are blank rows below this one
	spare   bool // it gets only rows that no other part needs
	print   func(painter) partRows
}

// screenParts are the whole screen, from top to bottom.
var screenParts = []screenPart{
	{name: "status", rank: 1, print: painter.status},
	{name: "head", rank: 40, print: painter.head},
	{name: "ring", rank: 79, yields: true, print: painter.ring},
	{name: "timeline", rank: 80, gap: true, yields: true, print: painter.timeline},
	{name: "next", rank: 10, gap: true, print: painter.next},
	{name: "automatic", rank: 90, yields: true, print: painter.automatic},
	{name: "channels", rank: 12, keeps: 6, gap: true, spreads: true, print: painter.channels},
	{name: "sheet", rank: 50, gap: true, spreads: true, grows: true, print: painter.sheet},
	{name: "differences", rank: 13, keeps: 3, gap: true, yields: true, spreads: true, print: painter.differences},
	{name: "changed", rank: 14, keeps: 2, yields: true, print: painter.changed},
	{name: "mixers", rank: 60, print: painter.mixers},
	{name: "problem", rank: 70, print: painter.problem},
	{name: "notice", rank: 104, spare: true, print: painter.notice},
	{name: "pairstate", rank: 105, spare: true, print: painter.pairState},
	{name: "message", rank: 8, gap: true, print: painter.message},
	{name: "command", rank: 9, print: painter.command},
	{name: "legend", rank: 110, yields: true, print: painter.legend},
}

// partRows is what a part prints of one view: at most this many rows, 0 for nothing, drawn in as many as it gets.
type partRows struct {
	most int
	draw func(rows int) []textLine
}

// fixedRows are rows that do not depend on how many the part gets.
func fixedRows(lines ...textLine) partRows {
	return partRows{len(lines), func(int) []textLine { return lines }}
}

// painter is what the parts are printed from.
type painter struct {
	v     run.View
	s     ScreenState
	width int
	scale int // of the large digits
}

// placedPart is a part that has something to print, with the rows that it got.
type placedPart struct {
	screenPart
	partRows
	rows int
}

// least is how many rows the part takes if it is shown at all.
func (p *placedPart) least() int {
	if p.whole {
		return p.most
	}
	return min(p.most, max(p.keeps, 1))
}

// Picture draws the screen: height rows of at most width cells, in plain text with bold and reverse.
func Picture(v run.View, s ScreenState, width, height int) string {
	if width <= 0 || height <= 0 {
		return ""
	}
	p := painter{glance.Heard(v), s, width, 1}
	if width >= 100 && height >= 34 {
		p.scale = 2
	}
	list := printed(p)
	left := shareRows(list, height)
	list = slices.DeleteFunc(list, func(x *placedPart) bool { return x.rows == 0 })
	return strings.Join(compose(list, left, width), "\n")
}

// printed lists the parts that have something to print.
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

// shareRows gives the rows of the screen to the parts, and returns how many are left.
func shareRows(list []*placedPart, left int) int {
	order := slices.DeleteFunc(slices.Clone(list), func(x *placedPart) bool { return x.spare })
	slices.SortStableFunc(order, func(a, b *placedPart) int { return a.rank - b.rank })
	for _, x := range order {
		if n := x.least(); n <= left {
			x.rows, left = n, left-n
		} else if !x.whole {
			x.rows, left = left, 0
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
	for _, x := range list {
		if x.spare {
			x.rows = min(left, x.most)
			left -= x.rows
		}
	}
	return left
}

// compose draws the parts one below the other, and spreads the blank rows that are left among them.
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

// countGaps counts the blank rows that the parts want above them.
func countGaps(list []*placedPart) (n int) {
	for _, x := range list {
		if x.gap {
			n++
		}
	}
	return n
}
