package rules

import (
	"fmt"

	"backfield/cue/timeline"
)

// handoverRules are the rules about packs that go to another player.
var handoverRules = []Rule{
	{
		Code: "handover-fast", Section: TheOperator,
		Help: "a pack has less time between closing on one player and opening on the next than `check.handover`,\n" +
			"default 30 s. In that time two people have to meet, unplug, clip on and check (common practice).",
		Fix:       "there is too little time for a handover. Give one of the two another pack.",
		OnceAShow: handoverFast,
	},
	{
		Code: "handover-open", Section: TheOperator,
		Help: "a pack goes to another player during a cue that has its channel open. The channel stays open with\n" +
			"the first player's numbers until the next cue. Close the channel in a cue before the\n" +
			"handover.",
		Fix: "a pack goes to another player while its channel is open. Add a cue before\n" +
			"that closes it.",
		OnceAShow: handoverOpen,
	},
}

// handoverOpen warns about a pack that goes to another player while its channel is open, with no cue there.
func handoverOpen(x *Compiled, say Say) {
	for i, s := range x.Spans {
		c := &x.Cues[i]
		for _, t := range s.Tracks {
			if len(t.At) == len(s.Samples) {
				continue
			}
			at, l := s.Samples[len(t.At)], &x.Lines.List[t.Line]
			if len(t.At) == len(s.Samples)-1 && l.Holder(at) != nil {
				continue // the swap is at the next cue
			}
			o := c.Open[t.Line]
			const text = "cue %q: the pack of %s (channel %d) goes to another player at %d:%.4g while it is open"
			say(c.Cue, o.At, fmt.Sprintf(text, c.Cue.ID.V, o.Name, l.Channel, at.Movement, at.Count()),
				fmt.Sprintf("close %s in a cue before %d:%.4g; else the channel stays open with the numbers of %s "+
					"until the next cue", o.Name, at.Movement, at.Count(), o.Name))
		}
	}
}

// handoverFast warns about a handover with too little time between the last cue that opens one wearer and the first
// that opens the next.
func handoverFast(x *Compiled, say Say) {
	type last struct {
		name    string
		closedS float64 // when it is silent: the cue after the last one that has them open closes it, and fades it out
	}
	open := map[int]last{}
	for i := range x.Cues {
		c := &x.Cues[i]
		for _, l := range timeline.Sorted(c.Open) {
			if x.Lines.List[l].Fixed != nil {
				continue
			}
			o := c.Open[l]
			before, ok := open[l]
			gap := opensS(x, i, l) - before.closedS
			if ok && before.name != o.Name && gap < x.Score.Rules.HandoverS {
				const text = "cue %q: %s needs the pack of %s (channel %d) %.0f s after it closes"
				say(c.Cue, o.At, fmt.Sprintf(text, c.Cue.ID.V, o.Name, before.name, x.Lines.List[l].Channel, gap),
					fmt.Sprintf("a handover takes %.4g s: give one of them another pack", x.Score.Rules.HandoverS))
			}
			closedS := x.Clock.Seconds(x.Clock.End())
			if i+1 < len(x.Cues) {
				closedS = x.Clock.Seconds(x.Cues[i+1].At)
				if _, stays := x.Cues[i+1].Open[l]; !stays {
					closedS += x.Show.Cues[i+1].Closing().S
				}
			}
			open[l] = last{o.Name, closedS}
		}
	}
}

// opensS is when a line opens that a cue opens: at the cue, or before it.
func opensS(x *Compiled, i, line int) float64 {
	for _, m := range timeline.EarlyMics(x.Files, x.Clock, x.Lines, x.Cues, i) {
		if m.Line == line {
			return m.TimeS
		}
	}
	return x.Clock.Seconds(x.Cues[i].At)
}
