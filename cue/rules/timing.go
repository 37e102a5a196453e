package rules

import (
	"fmt"

	"backfield/cue/timeline"
	"backfield/layout/source"
)

// timingRules are the rules about when cues come, and how long they fade.
var timingRules = []Rule{
	{
		Code: "cues-close", Section: TheOperator, ForDesigner: true,
		Help: "two cues of the score are closer together than `check.press`, default 1 s. Space ignores a\n" +
			"second press within 1 s. Use `after` for closer cues. The warning is at the second cue.",
		Fix:     "two cues are too close to press. Move one, make them one, or accept it.",
		EachCue: cuesClose,
	},
	{
		Code: "fade-long", Section: TheOperator,
		Help:    "a fade is longer than the time to the next cue, and is cut short there. No limit to set.",
		Fix:     "a fade is longer than the time to the next cue. Shorten it.",
		EachCue: fadeLong,
	},
	{
		Code: "early-cut", Section: TheScore, ForDesigner: true,
		Help: "a mic cannot open as early as `open_early` says: the cue before comes later than that, another\n" +
			"player has the channel or the pack, or there is no cue before. It opens as early as it can.",
		Fix: "a mic cannot open as early as `open_early` says. Move the cue before, or\n" +
			"write a smaller `open_early`.",
		EachCue: earlyCut,
	},
}

// gapS is the time from a cue to the next, in seconds; ok is false for the last cue.
func gapS(x *Compiled, i int) (gap float64, ok bool) {
	if i+1 == len(x.Cues) {
		return 0, false
	}
	return x.Clock.Seconds(x.Cues[i+1].At) - x.Clock.Seconds(x.Cues[i].At), true
}

// cuesClose warns about two cues that are too close to press, at the second.
func cuesClose(x *Compiled, i int, say Say) {
	gap, ok := gapS(x, i)
	if !ok || gap >= x.Score.Rules.PressS-1e-9 || x.Cues[i+1].Cue.Auto {
		return
	}
	q, next := x.Cues[i].Cue, x.Cues[i+1].Cue
	say(next, next.At.Span, fmt.Sprintf("cue %q comes %.2f s after cue %q", next.ID.V, gap, q.ID.V),
		"that is hard to press: move one, make them one, or make this one automatic (after)")
}

// fadeLong warns about a fade that is longer than the time to the next cue.
func fadeLong(x *Compiled, i int, say Say) {
	c := &x.Cues[i]
	gap, ok := gapS(x, i)
	counts := c.Cue.FadeCounts
	if out := c.Cue.FadeOut; out != nil {
		counts = max(counts, *out)
	}
	fade := x.Clock.Span(c.At, counts)
	if !ok || fade <= gap+1e-9 {
		return
	}
	const text = "cue %q fades for %.2f s and the next cue comes after %.2f s"
	say(c.Cue, c.Cue.ID.Span, fmt.Sprintf(text, c.Cue.ID.V, fade, gap), "the fade is cut short there; shorten it")
}

// earlyCut warns about mics that cannot open as early before a cue as the score says: once for each reason.
func earlyCut(x *Compiled, i int, say Say) {
	c := &x.Cues[i]
	var whys []string
	names, at := map[string][]string{}, map[string]source.Span{}
	for _, m := range timeline.EarlyMics(x.Files, x.Clock, x.Lines, x.Cues, i) {
		if m.Cut == "" {
			continue
		}
		if o := c.Open[m.Line]; names[m.Cut] == nil {
			whys, at[m.Cut] = append(whys, m.Cut), o.At
		}
		names[m.Cut] = append(names[m.Cut], c.Open[m.Line].Name)
	}
	for _, why := range whys {
		where := at[why]
		if c.Cue.EarlyAt.File != nil {
			where = c.Cue.EarlyAt
		}
		say(c.Cue, where, fmt.Sprintf("cue %q cannot open %s as early as open_early says: %s", c.Cue.ID.V,
			timeline.Few(names[why]), why), "move the cue before, or write a smaller open_early")
	}
}
