package page

import (
	"strings"

	"backfield/cue/score"
	"backfield/layout/drill"
	"backfield/layout/source"
)

func (l *viewer) problems(list []source.Problem) []Trouble {
	out := []Trouble{}
	for _, p := range list {
		text := p.What
		if p.Do != "" {
			text += "; " + p.Do
		}
		o := Trouble{
			Severity: p.Severity.String(), Code: p.Code, Place: p.Span.Where(), Line: p.Span.Line(), Text: text, At: -1,
		}
		l.place(p.Span, &o)
		out = append(out, o)
	}
	return out
}

// place finds where on ribbon and field a problem of the files belongs: the cue that it stands in, the set or the
// player of its row.
func (l *viewer) place(at source.Span, o *Trouble) {
	switch at.File {
	case nil:
	case l.s.Score.File:
		l.inScore(at, o)
	default:
		l.inRow(at, o)
	}
}

func (l *viewer) inScore(at source.Span, o *Trouble) {
	var in *score.Cue // also one that has no moment: its problems are not those of the cue before
	for i := range l.s.Score.Cues {
		if c := &l.s.Score.Cues[i]; c.Span.File == at.File && c.Span.Start <= at.Start {
			in = c
		}
	}
	for _, m := range l.s.Cues {
		if in != nil && m.Cue.Span == in.Span {
			o.Cue, o.At = in.ID.V, l.count(m.At)
		}
	}
	name := strings.Trim(at.File.Text[at.Start:min(at.End, len(at.File.Text))], `"'`)
	if _, ok := l.s.Drill.Player(name); ok {
		o.Player = name
	}
}

func (l *viewer) inRow(at source.Span, o *Trouble) {
	for _, s := range l.s.Drill.Sets {
		if sameRow(s.Span, at) && s.Movement <= len(l.start) {
			o.At = l.arrives(s)
		}
	}
	for i := range l.s.Drill.Players {
		l.inDots(&l.s.Drill.Players[i], at, o)
	}
	for _, p := range l.s.Roster.Players {
		if sameRow(p.Span, at) {
			o.Player = p.Name
		}
	}
}

// inDots places a problem that stands in the row of some of a player's dots: that of one set, or of all of them in a
// file that has a column for each set. There the last dot before the problem is its set's.
func (l *viewer) inDots(p *drill.Player, at source.Span, o *Trouble) {
	var row []int // the sets whose dots stand in that row
	for n, dot := range p.Dots {
		if n < len(l.s.Drill.Sets) && l.s.Drill.Sets[n].Movement <= len(l.start) && sameRow(dot.Span, at) {
			row = append(row, n)
		}
	}
	if len(row) > 0 {
		o.Player = p.Name
	}
	last := -1
	for _, n := range row {
		start := p.Dots[n].Span.Start
		if (len(row) == 1 || start <= at.Start) && start > last {
			last, o.At = start, l.arrives(l.s.Drill.Sets[n])
		}
	}
}

// arrives is the count of the whole show at which a set is reached.
func (l *viewer) arrives(s drill.Set) float64 { return l.start[s.Movement-1] + float64(s.Arrive) }

// sameRow reports whether two places are in one line of one file, and in one sheet of a workbook.
func sameRow(a, b source.Span) bool {
	if a.File != b.File || a.File.SheetAt(a.Start) != b.File.SheetAt(b.Start) {
		return false
	}
	n, _ := a.Position()
	line, _ := b.Position()
	return n == line
}
