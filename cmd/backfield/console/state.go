package console

import (
	"fmt"
	"slices"
	"strings"

	"backfield/osc/glance"
	"backfield/osc/run"
)

// mixers is the state of the mixers, a line each. If not all fit, those with problems come first. A single mixer is in the
// status line, unless that says something else.
func (p painter) mixers() partRows {
	if len(p.v.Mixers) == 1 && (p.v.Mixers[0].Alarm() || len(p.alarms()) == 0) {
		return partRows{}
	}
	return partRows{len(p.v.Mixers), func(rows int) (lines []textLine) {
		if rows < len(p.v.Mixers) {
			return p.mixersInBrief(rows)
		}
		for _, d := range p.v.Mixers {
			lines = append(lines, p.mixer(d))
		}
		return lines
	}}
}

// mixer is the state of one mixer. A single one needs no name.
func (p painter) mixer(d run.MixerView) textLine {
	name := glance.MixerName(d.To) + "  "
	if len(p.v.Mixers) == 1 {
		name = "mixer, "
	}
	d.Reason = glance.Reason(d)
	state, gap := styledText{"UP", bold}, "   "
	var words []string
	switch text := d.String(); {
	case !d.Up:
		state, gap = styledText{"NO LINK", loud}, " "
		words = []string{strings.TrimPrefix(text, "NO LINK: ")}
	case d.NoReply:
		state, gap = styledText{"NO REPLY", loud}, " "
		words = []string{strings.TrimPrefix(text, "NO REPLY: ")}
	case d.Alarm():
		state, gap = styledText{"CHECK", loud}, " "
		words = []string{text}
	case text == "OK":
		state = styledText{"OK", bold}
	default:
		words = []string{text}
	}
	if d.ReplyAgoS >= 0 {
		words = append(words, fmt.Sprintf("last reply %.0f s ago", d.ReplyAgoS))
	}
	return textLine{state, {gap, plain}, {clean(name + strings.Join(words, ", ")), plain}}
}

// mixersInBrief is the state of the mixers in fewer rows than there are mixers. The last row counts the others.
func (p painter) mixersInBrief(rows int) (lines []textLine) {
	mixers := slices.Clone(p.v.Mixers)
	slices.SortStableFunc(mixers, func(a, b run.MixerView) int { return problemsFirst(a) - problemsFirst(b) })
	down, state := 0, "with problems"
	for _, d := range mixers {
		down += 1 - problemsFirst(d)
	}
	switch first := mixers[0]; {
	case !first.Up:
		state = "NO LINK"
	case first.NoReply:
		state = "NO REPLY"
	}
	for _, d := range mixers[:rows-1] {
		lines = append(lines, p.mixer(d))
	}
	if down == 0 && len(lines) == 0 {
		return append(lines, styled(fmt.Sprintf("%d mixers, all up", len(mixers)), bold))
	}
	if down <= len(lines) {
		return append(lines, styled(fmt.Sprintf("%d more mixers, all up", len(mixers)-len(lines)), bold))
	}
	first := mixers[len(lines)] // which has no row of its own
	rest := textLine{{fmt.Sprintf(" %d of %d mixers %s ", down, len(mixers), state), loud}, {" ", plain}}
	return append(lines, append(rest, p.mixer(first)[2:]...))
}

// problemsFirst puts mixers that have a problem before the others.
func problemsFirst(d run.MixerView) int {
	if d.Alarm() {
		return 0
	}
	return 1
}

// problem is the last problem.
func (p painter) problem() partRows {
	how := plain
	if p.v.ProblemAgoS < problemFreshS {
		how = loud
	}
	return p.report(" PROBLEM ", how, glance.Problem(p.v), p.v.ProblemAgoS)
}

// notice is what others did last, such as a device that was refused. It takes no row from a problem.
func (p painter) notice() partRows {
	if p.v.NoticeAgoS > noticeStaysS {
		return partRows{}
	}
	return p.report(" NOTICE ", plain, p.v.Notice, p.v.NoticeAgoS)
}

// report is something that was reported some time ago.
func (p painter) report(name string, how textStyle, what string, agoS float64) partRows {
	if what == "" {
		return partRows{}
	}
	head := name + glance.Ago(agoS) + " ago "
	room := p.width - len(head) - 1
	rows := wrapHint(clean(what), room, 2)
	return partRows{max(len(rows), 1), func(n int) []textLine {
		lines := []textLine{styled(head, how)}
		for i, r := range wrapHint(clean(what), room, n) {
			if i == 0 {
				lines[0] = append(lines[0], styledText{" " + r, plain})
			} else {
				lines = append(lines, text(strings.Repeat(" ", len(head)+1)+r))
			}
		}
		return lines
	}}
}
