package console

import (
	"fmt"
	"math"
	"strings"

	"github.com/charmbracelet/x/ansi"
)

// timeline shows the counts from the last cue that was pressed to the next: solid for those that have passed, then a
// thin line with a mark every eight counts before the cue (more if the wait is long, four if it is short), and a
// diamond for each automatic cue.
func (p painter) timeline() partRows {
	if p.v.Next == nil || !(p.v.WaitCounts > 0 && p.v.WaitCounts < 1e6) || p.width < 20 {
		return partRows{}
	}
	if n := p.v.Next; n.Counts <= -1 && !n.Auto {
		return fixedRows(p.overdueLine())
	}
	from, to := ansi.Truncate(clean(p.v.Step), p.width/6, "…"), ansi.Truncate(clean(p.v.Next.ID), p.width/6, "…")
	left := ansi.StringWidth(from)
	if left > 0 {
		from, left = from+" ", left+1
	}
	t := ruler{counts: p.v.WaitCounts, cells: p.width - left - ansi.StringWidth(to) - 1}
	now := t.cell(p.v.Next.Counts)
	strip := t.strip(now)
	for _, tick := range p.v.Ticks {
		if x := t.cell(p.v.Next.Counts - tick.Counts); x > now {
			strip[x] = '◆'
		}
	}
	row := textLine{
		{from, plain}, {string(strip[:now]), bold}, {"█", bold}, {string(strip[now+1:]) + " ", plain}, {to, bold},
	}
	if left == 0 {
		row = row[1:]
	}
	return fixedRows(row, text(t.numbers(left, p.width)))
}

// overdueLine is the timeline once the cue at its end is overdue.
func (p painter) overdueLine() textLine {
	n := p.v.Next
	from, to := clean(p.v.Step)+" ┃", "┃"+clean(n.ID)
	words := " cue " + clean(n.ID) + " was due at " + clean(n.At) + " "
	room := max(p.width-ansi.StringWidth(from+words+to), 0)
	dashes := strings.Repeat("─", room/2)
	return textLine{{from + dashes, plain}, {words, bold}, {dashes + strings.Repeat("─", room%2), plain}, {to, bold}}
}

// ruler maps the counts before a cue to a row of cells.
type ruler struct {
	counts float64 // of the whole row
	cells  int
}

// cell is the cell at this many counts before the cue.
func (t ruler) cell(counts float64) int {
	x := math.Round((1 - counts/t.counts) * float64(t.cells-1))
	if math.IsNaN(x) {
		return 0
	}
	return int(min(max(x, 0), float64(t.cells-1)))
}

// phrase is the counts between two marks. A number needs six cells.
func (t ruler) phrase() float64 {
	phrase := 8.0
	if t.counts <= phrase {
		phrase = 4
	}
	for phrase*float64(t.cells)/t.counts < 6 {
		phrase *= 2
	}
	return phrase
}

// strip is the row: solid before a cell, with marks after it.
func (t ruler) strip(now int) []rune {
	strip := []rune(strings.Repeat("▄", now) + strings.Repeat("─", t.cells-now))
	phrase := t.phrase()
	for c := phrase; c < t.counts; c += phrase {
		if x := t.cell(c); x > now {
			strip[x] = '┼'
		}
	}
	return strip
}

// numbers is the row below the strip, width cells wide, for a strip that starts at the cell left.
func (t ruler) numbers(left, width int) string {
	row := []rune(strings.Repeat(" ", width))
	phrase := t.phrase()
	for c := phrase; c < t.counts; c += phrase {
		number := fmt.Sprintf("%.0f", c)
		for i, r := range number {
			if spot := left + t.cell(c) - len(number)/2 + i; spot >= 0 && spot < width {
				row[spot] = r
			}
		}
	}
	return strings.TrimRight(string(row), " ")
}
