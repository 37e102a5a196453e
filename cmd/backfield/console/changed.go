package console

import (
	"fmt"
	"strings"

	"backfield/osc/run"
)

// overrideKinds are the ways in which the operator takes a channel from the cues, in the order of the screen.
var overrideKinds = []struct {
	name string
	list func(run.View) []string
}{
	{"HELD", func(v run.View) []string { return v.Holds }},
	{"SWAPPED", func(v run.View) []string { return v.Swaps }},
	{"NUDGED", func(v run.View) []string { return v.Nudges }},
}

const mostChangedRows = 6

// changed lists what the operator took from the cues: each kind in its own row if there is room, else all in fewer rows.
func (p painter) changed() partRows {
	var kinds []string
	for _, o := range overrideKinds {
		if list := o.list(p.v); len(list) > 0 {
			kinds = append(kinds, o.name+" "+clean(strings.Join(list, ", ")))
		}
	}
	if len(kinds) == 0 {
		return partRows{}
	}
	var apart []string
	for _, kind := range kinds {
		apart = append(apart, wrapList(kind, p.width, mostChangedRows)...)
	}
	return partRows{min(len(apart), mostChangedRows), func(rows int) (lines []textLine) {
		texts := apart
		if len(apart) > rows {
			texts = wrapList(strings.Join(kinds, "; "), p.width, rows)
		}
		if total := p.changedCount(); strings.HasSuffix(texts[len(texts)-1], "…") { // too many for their rows
			head := fmt.Sprintf("%d CHANGED: ", total)
			texts = wrapList(head+strings.Join(kinds, "; "), p.width, rows)
		}
		for _, t := range texts {
			lines = append(lines, styled(t, bold))
		}
		return lines
	}}
}

func (p painter) changedCount() (n int) {
	for _, o := range overrideKinds {
		n += len(o.list(p.v))
	}
	return n
}
