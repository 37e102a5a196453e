package page

import (
	"slices"
	"strings"

	"backfield/cue/score"
	"backfield/cue/timeline"
	"backfield/layout/drill"
	"backfield/layout/rig"
	"backfield/layout/source"
)

// problems places problems. Those that are also remarks about a cue go to that cue.
func (l *viewBuilder) problems(list []source.Problem, remarks []timeline.Remark) []ProblemView {
	about := map[string]string{}
	for _, r := range remarks {
		about[r.Code+" "+r.Text] = r.Cue
	}
	out := []ProblemView{}
	for _, p := range list {
		text := p.What
		if p.Do != "" {
			text += "; " + p.Do
		}
		o := ProblemView{
			Severity: p.Severity.String(), Code: p.Code, Place: p.Span.Where(), Line: p.Span.Line(), Text: text, At: -1,
		}
		l.place(p.Span, &o)
		if cue, ok := about[p.Code+" "+p.What]; ok {
			l.toCue(&o, func(c *score.Cue) bool { return c.ID.V == cue })
		}
		out = append(out, o)
	}
	return out
}

// place finds where on the timeline and the field a problem belongs: the cue that it is in, or the set or the player of
// its row.
func (l *viewBuilder) place(at source.Span, o *ProblemView) {
	switch at.File {
	case nil:
	case l.s.Score.File:
		l.inScore(at, o)
	default:
		l.inRow(at, o)
	}
}

func (l *viewBuilder) inScore(at source.Span, o *ProblemView) {
	var in *score.Cue // even a cue without a moment, or its problems would go to the cue before it
	for i := range l.s.Score.Cues {
		if c := &l.s.Score.Cues[i]; c.Span.File == at.File && c.Span.Start <= at.Start {
			in = c
		}
	}
	if in != nil {
		l.toCue(o, func(c *score.Cue) bool { return c.Span == in.Span })
	}
	name := strings.Trim(at.File.Text[at.Start:min(at.End, len(at.File.Text))], `"'`)
	_, marches := l.s.Drill.Player(name)
	if marches || slices.ContainsFunc(l.s.Rig.Mics, func(m rig.Mic) bool { return m.Name == name }) {
		o.Player = name
	}
}

// toCue places a problem at the cue that is meant, if that has a moment.
func (l *viewBuilder) toCue(o *ProblemView, is func(*score.Cue) bool) {
	for _, m := range l.s.Cues {
		if is(m.Cue) {
			o.Cue, o.At = m.Cue.ID.V, l.count(m.At)
		}
	}
}

func (l *viewBuilder) inRow(at source.Span, o *ProblemView) {
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

// inDots places a problem that is in the row of a player's dots. If the row has a column for each set, the problem
// belongs to the last dot that begins before it.
func (l *viewBuilder) inDots(p *drill.Marcher, at source.Span, o *ProblemView) {
	var row []int // the sets whose dots are in that row
	for n := range p.Dots {
		if n < len(l.s.Drill.Sets) && l.s.Drill.Sets[n].Movement <= len(l.start) && sameRow(p.Where(n), at) {
			row = append(row, n)
		}
	}
	if len(row) > 0 {
		o.Player = p.Name
	}
	last := -1
	for _, n := range row {
		start := p.Where(n).Start
		if (len(row) == 1 || start <= at.Start) && start > last {
			last, o.At = start, l.arrives(l.s.Drill.Sets[n])
		}
	}
}

// arrives is the count through the whole show at which a set is reached.
func (l *viewBuilder) arrives(s drill.Set) float64 { return l.start[s.Movement-1] + float64(s.Arrive) }

// sameRow reports whether two places are on the same line of the same file, and on the same sheet of a workbook.
func sameRow(a, b source.Span) bool {
	if a.File != b.File || a.File.SheetAt(a.Start) != b.File.SheetAt(b.Start) {
		return false
	}
	n, _ := a.Position()
	line, _ := b.Position()
	return n == line
}
