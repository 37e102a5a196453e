package console

import (
	"fmt"
	"strings"

	"github.com/charmbracelet/x/ansi"

	"backfield/osc/glance"
	"backfield/osc/run"
)

// head is the current cue, and where in the show the ensemble is. If both do not fit, the place is shortened, and then the
// cue's name is cut, unless there is another row.
func (p painter) head() partRows {
	left, long, short := p.current(), p.clock("movement %d count %.0f"), p.clock("count %d:%.0f")
	if left.width()+2+long.width() <= p.width {
		return fixedRows(sides(left, long, p.width))
	}
	if left.width()+2+short.width() <= p.width {
		return fixedRows(sides(left, short, p.width))
	}
	return partRows{2, func(rows int) []textLine {
		if rows > 1 && long.width() <= p.width {
			return []textLine{left, long}
		}
		if rows > 1 {
			return []textLine{left, sides(short, nil, p.width)}
		}
		return []textLine{sides(left.cut(max(p.width-2-short.width(), 0)), short, p.width)}
	}}
}

// current is the current cue.
func (p painter) current() textLine {
	switch {
	case p.s.ViewAgeS < 0:
		return styled("WAITING FOR THE RUN", bold)
	case p.v.Step == "":
		return styled("BEFORE THE FIRST CUE", bold)
	}
	l := styled(clean(p.v.Step), bold)
	if p.v.Name != "" {
		l = append(l, styledText{"  " + quoted(p.v.Name), plain})
	}
	return l
}

// clock is where in the show the ensemble is, in a format for movement and count; nothing before the first view. It says
// that the clock is stopped where the status line does not.
func (p painter) clock(format string) textLine {
	if p.s.ViewAgeS < 0 {
		return nil
	}
	place := fmt.Sprintf(format, p.v.Now.Movement, p.v.Now.WholeCount())
	if p.v.Now.Set != "" {
		place += "  set " + clean(p.v.Now.Set)
	}
	l := styled(place, bold)
	if !p.v.Running && (len(p.alarms()) > 0 || p.calm().most == 0) {
		l = append(l, styledText{"  ", plain})
		l = append(l, p.tempo(p.width-l.width())...)
	}
	return l
}

// ring says which mics are close to feedback, in a row that stays where that can be said, so that nothing else moves.
func (p painter) ring() partRows {
	if p.v.Ring == nil {
		return partRows{}
	}
	return fixedRows(styled(clean(glance.RingWords(p.v)), bold).cut(p.width))
}

// tempo is the tempo as played, or that the clock is stopped; why, if there are so many cells for it.
func (p painter) tempo(room int) textLine {
	if !p.v.Running {
		start := map[bool]string{true: " ", false: ": ss starts it "}[p.v.Follows()]
		if l := styled(strings.TrimRight(" CLOCK STOPPED "+p.v.Stopped, " ")+start, reverse); l.width() <= room {
			return l
		}
		return styled(" CLOCK STOPPED"+start, reverse)
	}
	return styled(p.v.Tempo(), plain)
}

// automatic is the automatic cue that comes before the next cue.
func (p painter) automatic() partRows {
	n := p.v.NextAuto
	if n == nil {
		return partRows{}
	}
	when := ""
	if !p.v.Running {
		when = " (when the clock runs)"
	}
	what := n.Away()
	if glance.Orphan(p.v) {
		what = nobodySends
	}
	if all := inOneLine(n); all != "" {
		what += ": " + all
	}
	return fixedRows(textLine{{"AUTO" + when + "  ", plain}, {clean(n.ID), bold}, {"  " + clean(what), plain}})
}

// next is the cue that go starts, with the counts to it in large digits.
func (p painter) next() partRows {
	n := p.v.Next
	switch {
	case n == nil && p.s.ViewAgeS < 0:
		return fixedRows(nil)
	case n == nil:
		return fixedRows(styled("END OF SHOW", bold))
	}
	how := bold
	if n.Counts <= nearCounts {
		how = loud
	}
	full := digitRows * p.scale
	return partRows{full, func(rows int) []textLine {
		if rows < full {
			return p.nextInWords(n, how, rows)
		}
		return p.nextInDigits(n, how, rows)
	}}
}

// titled is a cue's id, and its name if it has one.
func titled(n *run.NextCue) string {
	if n.Name == "" {
		return clean(n.ID)
	}
	return clean(n.ID) + "  " + quoted(n.Name)
}

// quoted is a cue's name as it is told apart from the id before it.
func quoted(name string) string { return `"` + clean(name) + `"` }

// nobodySends replaces the time to a cue that no laptop may send.
const nobodySends = "nobody is known to send it"

// nextInWords is the next cue without the large digits, where there is no room for them.
func (p painter) nextInWords(n *run.NextCue, how textStyle, rows int) []textLine {
	title := titled(n)
	if n.Auto {
		title = "AUTO " + title
	}
	lines := []textLine{{{" NEXT " + title + " ", how}, {" " + clean(n.At) + ", " + n.Away(), bold}}}
	for _, s := range wrapList(clean(inOneLine(n)), p.width, rows-1) {
		lines = append(lines, text(s))
	}
	return lines
}

// nextInDigits is the next cue with the counts to it in large digits, and to their right what it is and what it
// changes.
func (p painter) nextInDigits(n *run.NextCue, how textStyle, rows int) (lines []textLine) {
	digits := bigCounts(n, p.scale)
	room := max(p.width-ansi.StringWidth(digits[0])-3, 0)
	right := []textLine{styled(" NEXT "+titled(n)+" ", how), {{p.away(n), bold}}}
	for _, s := range changes(n, room, rows-len(right)) {
		right = append(right, text(" "+s))
	}
	for r := range rows {
		l := textLine{{digits[r] + "   ", plain}}
		if r < len(right) {
			l = append(l, right[r].cut(room)...)
		}
		lines = append(lines, l)
	}
	return lines
}

// inOneLine is all that a cue changes; empty for nothing.
func inOneLine(n *run.NextCue) string { return strings.Join(glance.Kinds(n), "; ") }

// changes lists what a cue changes: each kind in its own row if there is room, else all in one.
func changes(n *run.NextCue, width, most int) (rows []string) {
	for _, kind := range glance.Kinds(n) {
		rows = append(rows, wrapList(clean(kind), width-1, most+1)...)
	}
	if len(rows) > most {
		rows = wrapList(clean(inOneLine(n)), width-1, most)
	}
	return rows
}

// away says where the next cue is and when it comes.
func (p painter) away(n *run.NextCue) string {
	switch at := " at " + clean(n.At); {
	case glance.Orphan(p.v):
		return at + ": " + nobodySends
	case n.Auto && p.v.Running:
		return fmt.Sprintf("%s, AUTO in %.1f s", at, n.InS)
	case n.Auto:
		return at + ", AUTO when the clock runs"
	case n.Counts < 0:
		return at + ", OVERDUE"
	case !p.v.Running:
		return at
	default:
		return fmt.Sprintf("%s, in %.1f s", at, n.InS)
	}
}
