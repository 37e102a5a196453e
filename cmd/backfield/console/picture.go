package console

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
	"unicode"

	"github.com/charmbracelet/x/ansi"

	"backfield/osc/run"
)

const (
	stays  = 15 * time.Second // a message, in its line
	freshS = 10.0             // a problem stands out for so long
	oldS   = 1.0              // a view that is older is no longer the run
	near   = 8.0              // counts: the next cue stands out

	longName = 24 // cells; a longer name is cut
)

// State is what the screen knows beside the run.
type State struct {
	Way    float64  // counts from where the wait for the next cue began to that cue
	Said   string   // what came of the last command; empty when that is long ago
	Wrong  bool     // it was not carried out
	Armed  run.Verb // a second press of its key would do this
	Typing bool     // a command is being typed
	Typed  string
	Sheet  []string // shown in place of the players: help, a long answer
	Code   []string // below the sheet: a picture in cells, dark on light
	OldS   float64  // age of the view; below 0 before there is one
}

// way remembers how far it was to the next cue when the wait for it began.
type way struct {
	id     string
	counts float64
}

func (w *way) follow(v run.View) {
	switch {
	case v.Next == nil:
		*w = way{}
	case v.Next.ID != w.id:
		*w = way{v.Next.ID, v.Next.Counts}
	default:
		w.counts = max(w.counts, v.Next.Counts)
	}
}

// style is how a piece of text stands out.
type style int

const (
	plain style = iota
	bold
	reverse
	loud = bold | reverse

	paper style = 4 // black on white, whatever the terminal's own colours are: only so a camera reads a QR code
)

// span is text in one style; line is a row of the screen.
type (
	span struct {
		text string
		style
	}
	line []span
)

func text(s string) line              { return line{{s, plain}} }
func styled(s string, how style) line { return line{{s, how}} }

func (l line) width() (n int) {
	for _, s := range l {
		n += ansi.StringWidth(s.text)
	}
	return n
}

// cut holds a line to a width; what does not fit ends in an ellipsis.
func (l line) cut(width int) line {
	if l.width() <= width {
		return l
	}
	var out line
	for _, s := range l {
		n := ansi.StringWidth(s.text)
		if n < width {
			out, width = append(out, s), width-n
			continue
		}
		if width > 0 {
			out = append(out, span{ansi.Truncate(s.text+"  ", width, "…"), s.style}) // too long in any case
		}
		break
	}
	return out
}

// fill makes a line as wide as the screen, in the style of its last span.
func (l line) fill(width int, how style) line {
	if n := width - l.width(); n > 0 {
		l = append(slices.Clone(l), span{strings.Repeat(" ", n), how})
	}
	return l
}

// sides puts two texts at the two ends of a line; the right one gives way first.
func sides(left, right line, width int) line {
	gap := width - left.width() - right.width()
	if gap < 2 {
		right = right.cut(max(width-left.width()-2, 0))
		if gap = width - left.width() - right.width(); gap < 2 || right.width() < 4 {
			return left.cut(width)
		}
	}
	return append(append(slices.Clone(left), span{strings.Repeat(" ", gap), plain}), right...)
}

// encode writes a line with the renditions it needs (ECMA-48 SGR: 1 bold, 7 reverse, 30 black, 107 white behind, which is
// common practice beyond it; none to end).
func (l line) encode() string {
	var b strings.Builder
	for _, s := range l {
		switch s.style {
		case plain:
			b.WriteString(s.text)
			continue
		case bold:
			b.WriteString("\x1b[1m")
		case reverse:
			b.WriteString("\x1b[7m")
		case loud:
			b.WriteString("\x1b[1;7m")
		case paper:
			b.WriteString("\x1b[30;107m")
		}
		b.WriteString(s.text + "\x1b[m")
	}
	return b.String()
}

// clean drops what could steer a terminal: names and reasons come from files and from the network.
func clean(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\t' || r == '\n':
			return ' '
		case !unicode.IsGraphic(r) || r == unicode.ReplacementChar:
			return -1
		}
		return r
	}, s)
}

// wrap breaks text at its spaces into at most so many rows; what does not fit ends in an ellipsis.
func wrap(s string, width, most int) (rows []string) {
	if width <= 0 || most <= 0 {
		return nil
	}
	row := ""
	words := slices.DeleteFunc(strings.Split(s, " "), func(w string) bool { return w == "" })
	for i, word := range words {
		switch joined := strings.TrimPrefix(row+" "+word, " "); {
		case row == "" || ansi.StringWidth(joined) <= width:
			row = joined
		case len(rows) == most-1:
			return append(rows, ansi.Truncate(row+" "+strings.Join(words[i:], " ")+strings.Repeat(" ", width), width, "…"))
		default:
			rows, row = append(rows, ansi.Truncate(row, width, "…")), word
		}
	}
	if row != "" {
		rows = append(rows, ansi.Truncate(row, width, "…"))
	}
	return rows
}

// wrapList is wrap for what is listed: it breaks after commas and semicolons only, so that no name and no level is torn.
func wrapList(s string, width, most int) []string {
	const hard = "\u00a0"
	s = strings.NewReplacer(", ", ", ", "; ", "; ", " ", hard).Replace(s)
	rows := wrap(s, width, most)
	for i := range rows {
		rows[i] = strings.ReplaceAll(rows[i], hard, " ")
	}
	return rows
}

// part is a section of the screen. It is given least rows or none, in order of rank, then more in the same order as
// long as there are some; draw draws it in what it got.
type part struct {
	rank        int
	least, most int
	gap         bool // a blank row above, if there is room
	draw        func(rows int) []line
}

// Picture draws the screen: height rows of at most width cells, in plain text with bold and reverse.
func Picture(v run.View, s State, width, height int) string {
	if width <= 0 || height <= 0 {
		return ""
	}
	p := painter{v, s, width, 1, inHand(v)}
	if width >= 100 && height >= 34 {
		p.scale = 2
	}
	parts := []part{
		p.alarm(), p.head(), p.ribbon(), p.players(), p.self(), p.next(), p.changed(), p.desks(), p.trouble(), p.message(), p.legend(),
	}
	if s.Sheet != nil { // it is short-lived and wants the room
		parts = slices.DeleteFunc(parts, func(x part) bool { return x.rank > rankTrouble })
	}
	var index []int // of the parts, by rank
	for i := range parts {
		index = append(index, i)
	}
	slices.SortStableFunc(index, func(a, b int) int { return parts[a].rank - parts[b].rank })
	got, left := make([]int, len(parts)), height
	for _, i := range index {
		if parts[i].least <= left {
			got[i] = parts[i].least
			left -= got[i]
		}
	}
	if s.Sheet != nil {
		slices.SortStableFunc(index, func(a, b int) int { return rankSheet(parts[a]) - rankSheet(parts[b]) })
	}
	for _, i := range index {
		if got[i] == 0 && parts[i].least > 0 {
			continue
		}
		n := min(left, max(parts[i].most-got[i], 0))
		got[i] += n
		left -= n
	}
	var rows []string
	for i, part := range parts {
		if got[i] == 0 {
			continue
		}
		if part.gap && left > 0 {
			rows, left = append(rows, ""), left-1
		}
		lines := part.draw(got[i])
		for j := range got[i] {
			var l line
			if j < len(lines) {
				l = lines[j].cut(width)
			}
			rows = append(rows, l.encode())
		}
		if part.rank == rankPlayers { // what is left over is blank space under the players
			for n := left - gapsBelow(parts[i+1:], got[i+1:]); n > 0; n-- {
				rows, left = append(rows, ""), left-1
			}
		}
	}
	return strings.Join(rows, "\n")
}

// rankSheet puts the sheet before all else.
func rankSheet(p part) int {
	if p.rank == rankPlayers {
		return -1
	}
	return p.rank
}

// gapsBelow counts the blank rows that the parts below would like.
func gapsBelow(parts []part, got []int) (n int) {
	for i, p := range parts {
		if p.gap && got[i] > 0 {
			n++
		}
	}
	return n
}

// The ranks: what is left out last, first.
const (
	rankNext = iota
	rankMessage
	rankAlarm
	rankHead
	rankPlayers
	rankDesks
	rankTrouble
	rankRibbon
	rankSelf
	rankChanged
	rankLegend
)

// painter draws the parts of one picture.
type painter struct {
	v      run.View
	s      State
	width  int
	scale  int // of the digits
	inHand []string
}

// inHand lists the channels that somebody moved at a desk.
func inHand(v run.View) (list []string) {
	for _, d := range v.Desks {
		for _, h := range d.InHand {
			if len(v.Desks) > 1 {
				h += " at " + d.To
			}
			list = append(list, h)
		}
	}
	return list
}

// alarm is there when what the screen shows is not what is heard.
func (p painter) alarm() part {
	var lines []line
	add := func(s string) {
		lines = append(lines, styled(" "+s, loud).cut(p.width).fill(p.width, loud))
	}
	if p.s.OldS > oldS {
		add(fmt.Sprintf("THE RUN HAS NOT ANSWERED FOR %.0f s: what stands here is old", p.s.OldS))
	}
	if p.v.Hush {
		add("HUSHED: every worn mic is closed.   h h restores")
	}
	return part{rankAlarm, len(lines), len(lines), false, func(int) []line { return lines }}
}

// head is the cue that is on, and the show's time.
func (p painter) head() part {
	left := styled("BEFORE THE FIRST CUE", bold)
	if p.s.OldS < 0 {
		left = styled("WAITING FOR THE RUN", bold)
	} else if p.v.Step != "" {
		left = styled(clean(p.v.Step), bold)
		if p.v.Name != "" {
			left = append(left, span{"  " + clean(p.v.Name), plain})
		}
	}
	place := fmt.Sprintf("%d:%.0f", p.v.Now.Movement, math.Floor(p.v.Now.Count+1e-6))
	if p.v.Now.Set != "" {
		place += "  set " + clean(p.v.Now.Set)
	}
	clock := line{{place + "  ", bold}}
	switch {
	case p.s.OldS < 0:
		clock = nil
	case p.v.Running:
		clock = append(clock, span{fmt.Sprintf("%.0f bpm, %.0f %% of written", p.v.BPM, 100*p.v.Rate), plain})
	default:
		clock = append(clock, span{" CLOCK STANDS ", reverse})
	}
	lines := []line{sides(left, clock, p.width)}
	if left.width()+2+clock.width() > p.width {
		lines = []line{left, sides(clock, nil, p.width)}
	}
	return part{rankHead, 1, len(lines), false, func(int) []line { return lines }}
}

// ribbon is the way from the last cue to the next: solid where it has been walked, a thin line with marks at every
// phrase of eight counts before the cue: of more where it is long, of four where it is short.
func (p painter) ribbon() part {
	n := p.v.Next
	if n == nil || !(p.s.Way > 0 && p.s.Way < 1e6) || p.width < 20 {
		return part{rank: rankRibbon}
	}
	from, to := clean(p.v.Step), clean(n.ID)
	from, to = ansi.Truncate(from, p.width/6, "…"), ansi.Truncate(to, p.width/6, "…")
	left := ansi.StringWidth(from)
	if left > 0 {
		left++
	}
	cells := p.width - left - ansi.StringWidth(to) - 1
	at := func(counts float64) int { // to the cue
		x := math.Round((1 - counts/p.s.Way) * float64(cells-1))
		if math.IsNaN(x) {
			return 0
		}
		return int(min(max(x, 0), float64(cells-1)))
	}
	walker := at(n.Counts)
	strip, marks := make([]rune, cells), make([]rune, p.width)
	for i := range strip {
		strip[i] = '─'
		if i < walker {
			strip[i] = '▄'
		}
	}
	for i := range marks {
		marks[i] = ' '
	}
	phrase := 8.0
	if p.s.Way <= phrase {
		phrase = 4
	}
	for phrase*float64(cells)/p.s.Way < 6 {
		phrase *= 2
	}
	for c := phrase; c < p.s.Way; c += phrase {
		x := at(c)
		if x > walker {
			strip[x] = '┼'
		}
		number := fmt.Sprintf("%.0f", c)
		for i, r := range number {
			if spot := left + x - len(number)/2 + i; spot >= 0 && spot < len(marks) {
				marks[spot] = r
			}
		}
	}
	if self := p.v.Self; self != nil {
		if x := at(n.Counts - self.Counts); x > walker {
			strip[x] = '◆'
		}
	}
	var row line
	if left > 0 {
		row = append(row, span{from + " ", plain})
	}
	row = append(row, span{string(strip[:walker]), bold}, span{"█", bold}, span{string(strip[walker+1:]) + " ", plain}, span{to, bold})
	lines := []line{row, text(strings.TrimRight(string(marks), " "))}
	return part{rankRibbon, 1, 2, true, func(int) []line { return lines }}
}

// players are those who are open, with their levels; or the sheet.
func (p painter) players() part {
	if p.s.Sheet != nil {
		return p.sheet()
	}
	if p.s.OldS < 0 {
		return part{rank: rankPlayers}
	}
	var cells []line
	widest := 0
	for _, o := range p.v.Open {
		name := clean(o.Player)
		if name == "" {
			name = fmt.Sprintf("channel %d", o.Channel)
		}
		level := fmt.Sprintf(" %.1f", o.LevelDB)
		if o.Moving {
			level += "~"
		}
		cells = append(cells, line{{ansi.Truncate(name, longName, "…"), bold}, {level, plain}})
		widest = max(widest, cells[len(cells)-1].width())
	}
	if len(cells) == 0 {
		return part{rankPlayers, 1, 1, true, func(int) []line { return []line{{{"OPEN  ", plain}, {"nobody", bold}}} }}
	}
	const margin = 9
	room := max(p.width-margin, 1)
	column := min(widest+3, room)
	columns := max(room/column, 1)
	most := (len(cells) + columns - 1) / columns
	return part{rankPlayers, 1, most, true, func(rows int) (lines []line) {
		if rows < most { // no room for columns
			return packed(cells, p.width, rows)
		}
		for r := range rows {
			head := ""
			if r == 0 {
				head = fmt.Sprintf("OPEN %d", len(cells))
			}
			row := text(fmt.Sprintf("%-*s", margin, head))
			for _, cell := range cells[min(r*columns, len(cells)):min((r+1)*columns, len(cells))] {
				row = append(row, cell.fill(column, plain)...)
			}
			lines = append(lines, row)
		}
		return lines
	}}
}

// packed sets players one after the other, and counts those for whom there is no room.
func packed(cells []line, width, rows int) (lines []line) {
	row := text(fmt.Sprintf("OPEN %d", len(cells)))
	for i, cell := range cells {
		more := styled(fmt.Sprintf("  and %d more", len(cells)-i), bold)
		room := width - row.width() - 2
		if len(lines) == rows-1 && i < len(cells)-1 {
			room -= more.width() // it must fit behind this one
		}
		if cell.width() > room {
			if len(lines) == rows-1 {
				return append(lines, append(row, more...))
			}
			lines, row = append(lines, row), text("      ")
		}
		row = append(append(row, span{"  ", plain}), cell...)
	}
	return append(lines, row)
}

// sheet is a long text in place of the players.
func (p painter) sheet() part {
	var all []string
	for _, s := range p.s.Sheet {
		if s = clean(s); ansi.StringWidth(s) <= p.width { // its columns stay
			all = append(all, s)
		} else {
			all = append(all, wrap(s, p.width, 4)...)
		}
	}
	code := p.s.Code
	if len(code) > 0 && ansi.StringWidth(code[0]) > p.width {
		code = nil
	}
	return part{rankPlayers, 1, len(all) + len(code) + 1, true, func(rows int) (lines []line) {
		if len(code) > rows-2 { // half a code is none
			code = nil
		}
		for _, s := range all[:max(min(rows-1-len(code), len(all)), 0)] {
			lines = append(lines, text(s))
		}
		hidden := len(all) - len(lines)
		for _, s := range code {
			lines = append(lines, styled(s, paper))
		}
		end := "Esc closes this"
		if code == nil && p.s.Code != nil {
			end += "; a larger window shows the QR code"
		}
		if hidden > 0 {
			end += fmt.Sprintf("; %d more lines do not fit", hidden)
		}
		return append(lines, styled(end, bold))
	}}
}

// self is what goes by itself before the next cue.
func (p painter) self() part {
	if p.v.Self == nil {
		return part{rank: rankSelf}
	}
	when := ""
	if !p.v.Running {
		when = " (once the clock runs)"
	}
	l := line{{"BY ITSELF" + when + "  ", plain}, {clean(p.v.Self.ID), bold}, {"  " + clean(p.v.Self.Away()+"; "+p.v.Self.Changes()), plain}}
	return part{rankSelf, 1, 1, true, func(int) []line { return []line{l} }}
}

// next is the cue of the next go, its counts large.
func (p painter) next() part {
	n := p.v.Next
	if n == nil {
		l := styled("NO FURTHER CUE", bold)
		if p.s.OldS < 0 {
			l = nil
		}
		return part{rankNext, 1, 1, true, func(int) []line { return []line{l} }}
	}
	name := clean(n.ID)
	if n.Name != "" {
		name += "  " + clean(n.Name)
	}
	short := name // of where there is no room for more
	if n.ByItself {
		short = "BY ITSELF " + name
	}
	how := bold
	if n.Counts <= near {
		how = loud
	}
	return part{rankNext, 1, digitRows * p.scale, true, func(rows int) []line {
		if rows < digitRows*p.scale {
			lines := []line{{{" NEXT " + short + " ", how}, {" " + clean(n.At) + ", " + n.Away(), bold}}}
			for _, s := range wrapList(clean(n.Changes()), p.width, rows-1) {
				lines = append(lines, text(s))
			}
			return lines
		}
		big := bigCounts(n.Counts, p.scale)
		side := ansi.StringWidth(big[0]) + 3
		room := max(p.width-side, 0)
		beside := []line{styled(" NEXT "+name+" ", how), {{p.away(n), bold}}}
		for _, s := range changes(n, room, rows-len(beside)) {
			beside = append(beside, text(" "+s))
		}
		var lines []line
		for r := range rows {
			l := line{{big[r] + "   ", plain}}
			if r < len(beside) {
				l = append(l, beside[r].cut(room)...)
			}
			lines = append(lines, l)
		}
		return lines
	}}
}

// changes are what a cue changes: its kinds in rows of their own where there is room, else all in a row.
func changes(n *run.NextCue, width, most int) (rows []string) {
	for _, kind := range []run.NextCue{{Opens: n.Opens}, {Closes: n.Closes}, {Levels: n.Levels, Moves: n.Moves}, {Besides: n.Besides}} {
		rows = append(rows, wrapList(clean(kind.Changes()), width-1, most+1)...)
	}
	if len(rows) > most {
		rows = wrapList(clean(n.Changes()), width-1, most)
	}
	return rows
}

// away words where the next cue is and when it comes.
func (p painter) away(n *run.NextCue) string {
	switch at := " at " + clean(n.At); {
	case n.ByItself && p.v.Running:
		return fmt.Sprintf("%s, BY ITSELF in %.1f s", at, n.InS)
	case n.ByItself:
		return at + ", BY ITSELF once the clock runs"
	case n.Counts < 0:
		return at + ", OVERDUE"
	case !p.v.Running:
		return at
	default:
		return fmt.Sprintf("%s, in %.1f s", at, n.InS)
	}
}

// changed is what the operator, or somebody at a desk, has taken from the cues.
func (p painter) changed() part {
	var lines []line
	for _, list := range []struct {
		name string
		what []string
	}{{"IN HAND", p.inHand}, {"HELD", p.v.Holds}, {"SWAPPED", p.v.Swaps}, {"NUDGED", p.v.Nudges}} {
		if len(list.what) > 0 {
			lines = append(lines, line{{fmt.Sprintf("%-9s", list.name), bold}, {clean(strings.Join(list.what, ", ")), plain}})
		}
	}
	return part{rankChanged, min(len(lines), 1), len(lines), true, func(rows int) []line {
		if rows < len(lines) {
			var all line
			for i, l := range lines[rows-1:] {
				if i > 0 {
					all = append(all, span{"; ", plain})
				}
				all = append(all, span{strings.TrimSpace(l[0].text) + " ", bold}, l[1])
			}
			return append(lines[:rows-1:rows-1], all)
		}
		return lines
	}}
}

// desks are how the desks are, a line each; those that are down first where there is no room for all.
func (p painter) desks() part {
	desks := slices.Clone(p.v.Desks)
	row := func(d run.DeskView) line {
		state, gap := span{"UP", bold}, "   "
		if !d.Up {
			state, gap = span{"DOWN", loud}, " "
		} else if d.Silent {
			state, gap = span{"SILENT", loud}, " "
		}
		word := clean(strings.TrimPrefix(strings.TrimPrefix(d.String(), "DOWN: "), "SILENT: "))
		if d.HeardAgoS >= 0 {
			word += fmt.Sprintf("; heard %.0f s ago", d.HeardAgoS)
		}
		return line{state, {gap, plain}, {clean(d.To) + "  " + word, plain}}
	}
	return part{rankDesks, min(len(desks), 1), len(desks), true, func(rows int) (lines []line) {
		if rows < len(desks) {
			slices.SortStableFunc(desks, func(a, b run.DeskView) int { return rankUp(a) - rankUp(b) })
			down, state := 0, "SILENT"
			for _, d := range desks {
				if down += 1 - rankUp(d); !d.Up {
					state = "DOWN"
				}
			}
			for _, d := range desks[:rows-1] {
				lines = append(lines, row(d))
			}
			rest := styled(fmt.Sprintf("%d desks more, all UP", len(desks)-len(lines)), bold)
			if down > len(lines) { // the first that stands in no line of its own
				rest = append(styled(fmt.Sprintf(" %d of %d desks %s ", down, len(desks), state), loud), span{" ", plain})
				rest = append(rest, row(desks[len(lines)])[2:]...)
			}
			return append(lines, rest)
		}
		for _, d := range desks {
			lines = append(lines, row(d))
		}
		return lines
	}}
}

func rankUp(d run.DeskView) int {
	if d.Up && !d.Silent {
		return 1
	}
	return 0
}

// trouble is the last problem.
func (p painter) trouble() part {
	if p.v.Trouble == "" {
		return part{rank: rankTrouble}
	}
	how := plain
	if p.v.AgoS < freshS {
		how = loud
	}
	head := " PROBLEM " + ago(p.v.AgoS) + " ago "
	room := p.width - len(head) - 1
	rows := wrap(clean(p.v.Trouble), room, 2)
	return part{rankTrouble, 1, max(len(rows), 1), false, func(n int) (lines []line) {
		rows := wrap(clean(p.v.Trouble), room, n)
		for i, r := range rows {
			if i == 0 {
				lines = append(lines, line{{head, how}, {" " + r, plain}})
			} else {
				lines = append(lines, text(strings.Repeat(" ", len(head)+1)+r))
			}
		}
		if lines == nil {
			lines = []line{styled(head, how)}
		}
		return lines
	}}
}

// ago words how long ago something was.
func ago(s float64) string {
	if s >= 100 {
		return fmt.Sprintf("%.0f min", s/60)
	}
	return fmt.Sprintf("%.0f s", s)
}

// message is what came of the last command, or what a second press would do.
func (p painter) message() part {
	var l line
	most := 1
	switch {
	case p.s.Armed != "":
		l = styled(fmt.Sprintf(" The same key again: %s ", meaning[p.s.Armed]), loud)
	case p.s.Said == "":
	case p.s.Wrong:
		rows := wrap(clean(p.s.Said), max(p.width-2, 1), 2)
		most = max(len(rows), 1)
		return part{rankMessage, 1, most, true, func(n int) (lines []line) {
			for _, r := range wrap(clean(p.s.Said), max(p.width-2, 1), n) {
				lines = append(lines, styled(" "+r+" ", reverse))
			}
			return lines
		}}
	default:
		l = styled(clean(p.s.Said), bold)
	}
	return part{rankMessage, 1, most, true, func(int) []line { return []line{l} }}
}

// legend names the keys in a line; while a command is typed the line is there instead, and ranks with what must be
// seen.
func (p painter) legend() part {
	if p.s.Typing {
		head, tail := " COMMAND, Esc leaves ", clean(p.s.Typed)
		if room := p.width - len(head) - 3; room > 0 {
			tail = ansi.TruncateLeft(tail, max(ansi.StringWidth(tail)-room, 0), "")
		}
		l := line{{head, loud}, {" " + tail, bold}, {" ", reverse}}
		return part{rankNext, 1, 1, false, func(int) []line { return []line{l} }}
	}
	clock, hush, command := "start", "hush", "command"
	if p.v.Running {
		clock = "stop"
	}
	if p.v.Hush {
		hush = "restore"
	}
	gap := "   "
	if p.width < 78 {
		gap, command = " ", "more"
	}
	var l line
	for _, k := range []struct{ key, what string }{{"SPACE", "go"}, {"bb", "back"}, {"hh", hush}, {"ss", clock}, {":", command}, {"?", "help"}, {"qq", "quit"}} {
		l = append(l, span{k.key, bold}, span{" " + k.what + gap, plain})
	}
	return part{rankLegend, 1, 1, false, func(int) []line { return []line{l} }}
}
