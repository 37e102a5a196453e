package rules

import (
	"fmt"

	"backfield/cue/timeline"
)

// gapS is the time from a cue to the next, in seconds; false for the last.
func gapS(x *Compiled, i int) (gap float64, ok bool) {
	if i+1 == len(x.Cues) {
		return 0, false
	}
	return x.Clock.Seconds(x.Cues[i+1].At) - x.Clock.Seconds(x.Cues[i].At), true
}

// cuesClose: two cues closer than an operator can press. It is said of the second.
func cuesClose(x *Compiled, i int, say Say) {
	gap, ok := gapS(x, i)
	if !ok || gap >= x.Score.Rules.PressS-1e-9 || x.Cues[i+1].Cue.Auto {
		return
	}
	q, next := x.Cues[i].Cue, x.Cues[i+1].Cue
	say(next, next.At.Span, fmt.Sprintf("cue %q comes %.2f s after cue %q", next.ID.V, gap, q.ID.V),
		"nobody presses that surely by hand; move it, or make them one")
}

// fadeLong: a fade that is longer than its cue.
func fadeLong(x *Compiled, i int, say Say) {
	c := &x.Cues[i]
	gap, ok := gapS(x, i)
	fade := x.Clock.Span(c.At, c.Cue.FadeCounts)
	if !ok || fade <= gap+1e-9 {
		return
	}
	const text = "cue %q fades for %.2f s and the next cue comes after %.2f s"
	say(c.Cue, c.Cue.ID.Span, fmt.Sprintf(text, c.Cue.ID.V, fade, gap), "the fade is cut short there; shorten it")
}

// handoverOpen: a pack that changes hands while its channel is open, with no cue there.
func handoverOpen(x *Compiled, say Say) {
	for i, s := range x.Spans {
		c := &x.Cues[i]
		for _, t := range s.Tracks {
			if len(t.At) == len(s.Samples) {
				continue
			}
			at, l := s.Samples[len(t.At)], &x.Lines.List[t.Line]
			if len(t.At) == len(s.Samples)-1 && l.Holder(at) != nil {
				continue // it changes hands with the next cue
			}
			o := c.Open[t.Line]
			const text = "cue %q: the pack of %s (channel %d) changes hands at %d:%.4g while it is open"
			say(c.Cue, o.At, fmt.Sprintf(text, c.Cue.ID.V, o.Name, l.Channel, at.Movement, at.Count()),
				"add a cue before that closes it; until the next cue it stays open with his numbers")
		}
	}
}

// handoverFast: a pack that changes hands between the last cue that opens one wearer and the first that opens the
// next.
func handoverFast(x *Compiled, say Say) {
	type last struct {
		name    string
		closedS float64 // when the cue after the last that opened them begins
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
			gap := x.Clock.Seconds(c.At) - before.closedS
			if ok && before.name != o.Name && gap < x.Score.Rules.HandoverS {
				const text = "cue %q: %s needs the pack of %s (channel %d) %.0f s after that closed"
				say(c.Cue, o.At, fmt.Sprintf(text, c.Cue.ID.V, o.Name, before.name, x.Lines.List[l].Channel, gap),
					fmt.Sprintf("a handover wants %.4g s: give one of them another pack", x.Score.Rules.HandoverS))
			}
			end := x.Clock.End()
			if i+1 < len(x.Cues) {
				end = x.Cues[i+1].At
			}
			open[l] = last{o.Name, x.Clock.Seconds(end)}
		}
	}
}
