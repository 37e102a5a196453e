package rules

import (
	"fmt"
	"math"

	"backfield/cue"
	"backfield/cue/clock"
	"backfield/cue/score"
	"backfield/cue/timeline"
	"backfield/cue/work"
	"backfield/layout"
)

// safetyRules are the rules about feedback and ears.
var safetyRules = []Rule{
	{
		Code: "near-stack", Section: Safety,
		Help: "a player whose mic is open comes closer to a stack or sub than `check.near_stack`, default 3 m: the\n" +
			"ears are close to a loudspeaker. The walk is checked every quarter count while the mic is open. How\n" +
			"close mics are to feedback is `ring-margin`.",
		Fix:     "a player with an open mic is near a loudspeaker. Keep the player away.",
		EachCue: earlyNearStack, EachOpen: nearStack,
	},
	{
		Code: "many-open", Section: Safety,
		Help: "more mics are open at once, fixed ones included, than `check.most_open`, default 24. Each doubling\n" +
			"of the open mics costs 3 dB of gain before feedback, 10 log10 N in all (common practice;\n" +
			"incoherent sum). The message says how much. A line input cannot feed back, and does not count.",
		Fix:     "many mics are open at once. Open fewer, or accept it.",
		EachCue: manyOpen,
	},
}

// manyOpen warns about many open mics, and says what they cost.
func manyOpen(x *Compiled, i int, say Say) {
	c := &x.Cues[i]
	n := 0
	count := func(line int) {
		if mic := x.Lines.List[line].Fixed; mic == nil || mic.HasPlayer() { // a line input cannot feed back
			n++
		}
	}
	for l := range c.Open {
		count(l)
	}
	if i+1 < len(x.Cues) { // what the next cue opens early is open at the end of this one
		for _, m := range timeline.EarlyMics(x.Files, x.Clock, x.Lines, x.Cues, i+1) {
			if _, open := c.Open[m.Line]; !open && m.TimeS < x.Clock.Seconds(x.Cues[i+1].At)-1e-9 {
				count(m.Line)
			}
		}
	}
	if n <= x.Score.Rules.MostOpen {
		return
	}
	const text = "cue %q has %d mics open, which costs %.1f dB of gain before feedback"
	say(c.Cue, c.Cue.ID.Span, fmt.Sprintf(text, c.Cue.ID.V, n, cue.OpenCostDB(n)),
		fmt.Sprintf("open fewer, bring their levels down, or accept it; the limit is %d", x.Score.Rules.MostOpen))
}

// nearStack warns about a player with an open mic near a loudspeaker, whose ears are there.
func nearStack(x *Compiled, i int, t *work.Track, say Say) {
	if x.Lines.List[t.Line].Fixed != nil {
		return
	}
	o := x.Cues[i].Open[t.Line]
	nearestStack(x, x.Cues[i].Cue, &o, t.At, x.Spans[i].Samples, say)
}

// earlyNearStack does the same for the time before a cue's count in which its mics are open already.
func earlyNearStack(x *Compiled, i int, say Say) {
	for _, m := range timeline.EarlyMics(x.Files, x.Clock, x.Lines, x.Cues, i) {
		l := &x.Lines.List[m.Line]
		if l.Fixed != nil || !m.From.Before(x.Cues[i].At) {
			continue
		}
		samples := x.Clock.Samples(m.From, x.Cues[i].At, quarterCount)
		samples = samples[:len(samples)-1] // the last is the cue's own
		var path []layout.Point
		for _, at := range samples {
			place, _ := x.Lines.Where(l, at)
			path = append(path, place)
		}
		o := x.Cues[i].Open[m.Line]
		nearestStack(x, x.Cues[i].Cue, &o, path, samples, say)
	}
}

// quarterCount is how often a walk is looked at, in counts.
const quarterCount = 0.25

// nearestStack reports where a path comes too near to a loudspeaker.
func nearestStack(
	x *Compiled, q *score.Cue, o *timeline.Opening, path []layout.Point, samples []clock.Moment, say Say,
) {
	near, at, stack := math.Inf(1), 0, ""
	for n, place := range path {
		if n > 0 && place == path[n-1] {
			continue
		}
		for _, k := range x.Rig.Stacks {
			if d := place.Distance(k.At); d < near {
				near, at, stack = d, n, k.Name
			}
		}
	}
	if near >= x.Score.Rules.NearStackM {
		return
	}
	const text = "cue %q, %s: the open mic is %.1f m from %s at %d:%.4g"
	say(q, o.At, fmt.Sprintf(text, q.ID.V, o.Name, near, stack, samples[at].Movement, samples[at].Count()),
		"the player's ears are close to a loudspeaker: keep them away from it")
}
