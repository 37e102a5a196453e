package console

import (
	"fmt"
	"slices"
	"strings"

	"backfield/osc/run"
)

// alarm warns when what the screen shows is not what is heard.
func (p painter) alarm() partRows {
	var lines []textLine
	add := func(s string) {
		lines = append(lines, styled(" "+s, loud).cut(p.width).fill(p.width, loud))
	}
	if p.s.ViewAgeS > oldViewS {
		add(fmt.Sprintf("NO ANSWER FROM THE RUN FOR %.0f s: this screen is old", p.s.ViewAgeS))
	}
	if p.v.Hush {
		add("HUSHED: every worn mic is closed.   h h to unhush")
	}
	return fixedRows(lines...)
}

// overrideKind is one way to take a channel from the cues: by the operator, or by someone at a mixer.
type overrideKind struct {
	name string
	list func(run.View) []string
}

// overrideKinds are all kinds, in the order of the screen.
var overrideKinds = []overrideKind{
	{"MANUAL", manual},
	{"HELD", func(v run.View) []string { return v.Holds }},
	{"SWAPPED", func(v run.View) []string { return v.Swaps }},
	{"NUDGED", func(v run.View) []string { return v.Nudges }},
}

// manual lists the channels that someone moved at a mixer.
func manual(v run.View) (list []string) {
	for _, d := range v.Mixers {
		for _, h := range d.Manual {
			if len(v.Mixers) > 1 {
				h += " at " + d.To
			}
			list = append(list, h)
		}
	}
	return list
}

// changed lists what is taken from the cues: a row for each kind, or the last kinds in one row if there are fewer.
func (p painter) changed() partRows {
	var lines []textLine
	for _, o := range overrideKinds {
		if list := o.list(p.v); len(list) > 0 {
			what := clean(strings.Join(list, ", "))
			lines = append(lines, textLine{{fmt.Sprintf("%-9s", o.name), bold}, {what, plain}})
		}
	}
	return partRows{len(lines), func(rows int) []textLine {
		if rows >= len(lines) {
			return lines
		}
		var all textLine
		for i, l := range lines[rows-1:] {
			if i > 0 {
				all = append(all, styledText{"; ", plain})
			}
			all = append(all, styledText{strings.TrimSpace(l[0].text) + " ", bold}, l[1])
		}
		return append(lines[:rows-1:rows-1], all)
	}}
}

// mixers is the state of the mixers, a line each. If not all fit, those with problems come first.
func (p painter) mixers() partRows {
	return partRows{len(p.v.Mixers), func(rows int) (lines []textLine) {
		if rows < len(p.v.Mixers) {
			return mixersInBrief(p.v.Mixers, rows)
		}
		for _, d := range p.v.Mixers {
			lines = append(lines, mixer(d))
		}
		return lines
	}}
}

// mixer is the state of one mixer.
func mixer(d run.MixerView) textLine {
	state, gap := styledText{"UP", bold}, "   "
	var words []string
	switch text := d.String(); {
	case !d.Up:
		state, gap = styledText{"DOWN", loud}, " "
		words = []string{strings.TrimPrefix(text, "DOWN: ")}
	case d.NoReply:
		state, gap = styledText{"NO REPLY", loud}, " "
		words = []string{strings.TrimPrefix(text, "NO REPLY: ")}
	case text == "OK":
		state = styledText{"OK", bold}
	default:
		words = []string{text}
	}
	if d.ReplyAgoS >= 0 {
		words = append(words, fmt.Sprintf("last reply %.0f s ago", d.ReplyAgoS))
	}
	return textLine{state, {gap, plain}, {clean(d.To + "  " + strings.Join(words, ", ")), plain}}
}

// mixersInBrief is the state of the mixers in fewer rows than there are mixers. The last row counts the others.
func mixersInBrief(all []run.MixerView, rows int) (lines []textLine) {
	mixers := slices.Clone(all)
	slices.SortStableFunc(mixers, func(a, b run.MixerView) int { return problemsFirst(a) - problemsFirst(b) })
	down, state := 0, "NO REPLY"
	for _, d := range mixers {
		if down += 1 - problemsFirst(d); !d.Up {
			state = "DOWN"
		}
	}
	for _, d := range mixers[:rows-1] {
		lines = append(lines, mixer(d))
	}
	if down <= len(lines) {
		return append(lines, styled(fmt.Sprintf("%d more mixers, all up", len(mixers)-len(lines)), bold))
	}
	first := mixers[len(lines)] // which has no row of its own
	rest := textLine{{fmt.Sprintf(" %d of %d mixers %s ", down, len(mixers), state), loud}, {" ", plain}}
	return append(lines, append(rest, mixer(first)[2:]...))
}

// problemsFirst puts mixers that are down or do not reply before the others.
func problemsFirst(d run.MixerView) int {
	if d.Up && !d.NoReply {
		return 1
	}
	return 0
}

// problem is the last problem.
func (p painter) problem() partRows {
	if p.v.Problem == "" {
		return partRows{}
	}
	how := plain
	if p.v.ProblemAgoS < problemFreshS {
		how = loud
	}
	head := " PROBLEM " + ago(p.v.ProblemAgoS) + " ago "
	room := p.width - len(head) - 1
	rows := wrap(clean(p.v.Problem), room, 2)
	return partRows{max(len(rows), 1), func(n int) []textLine {
		lines := []textLine{styled(head, how)}
		for i, r := range wrap(clean(p.v.Problem), room, n) {
			if i == 0 {
				lines[0] = append(lines[0], styledText{" " + r, plain})
			} else {
				lines = append(lines, text(strings.Repeat(" ", len(head)+1)+r))
			}
		}
		return lines
	}}
}

// ago says how long ago something was.
func ago(s float64) string {
	if s >= 100 {
		return fmt.Sprintf("%.0f min", s/60)
	}
	return fmt.Sprintf("%.0f s", s)
}
