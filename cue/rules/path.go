package rules

import (
	"fmt"

	"backfield/cue"
	"backfield/cue/timeline"
	"backfield/cue/work"
	"backfield/layout/source"
)

// What is worth a warning.
const (
	leastOutS  = 0.5 // out of the press box's bound for longer
	leastSlewS = 2.0 // as fast as it may for longer
)

// pathRules are the rules about the paths of open mics: what they cost, and what holds them.
var pathRules = []Rule{
	{
		Code: "box-missed", Section: TheSound,
		Help: "the loudspeakers arrive at the press box before or after `delay.box` allows, by more than\n" +
			"`delay.knot`, for over 0.5 s in all. The player walks so fast that the delay cannot follow\n" +
			"(`delay.slew`), or the mixer's delay may not move while the mic is open (`moves`). Close the mic\n" +
			"during the walk, or allow more in that cue with a `box` of its own. If the mixer's delay clicks,\n" +
			"also allow dips (`delay.dip`), or try whether it glides (`backfield help clicks`). Without stands too:\n" +
			"where `delay.lead` or the policy wants a gap beyond the box, the box reaches to that gap.",
		Fix: "the press box hears a mic earlier or later than `delay.box` allows. Close\n" +
			"the mic during the walk, or give the cue a `box` of its own.",
		EachCue: boxMissed,
	},
	{
		Code: "echo-heard", Section: TheSound,
		Help: "in some cues more seats than `check.echo`, default 25 percent, hear a mic twice: another stack\n" +
			"arrives over 50 ms after the first sound, and nearly as loud. There is one warning for each such\n" +
			"stack. Turn it down, delay it less, or feed each mic to fewer stacks (`backfield help zones`);\n" +
			"`backfield tune` tries settings. Only with stands.",
		Fix: "many seats hear a mic twice, the second time from the stack named. Turn that\n" +
			"stack down, delay it less, or use zones.",
		OnceAShow: echoHeard,
	},
	{
		Code: "delay-held", Section: TheMixer,
		Help: "a mixer whose delay clicks keeps one delay while a mic is open (`moves` in mixer.toml). Over that\n" +
			"time, fewer seats are in time than if the delay could glide, by more than `check.held`, default 10\n" +
			"percent of the seats. Close the mic for a moment where the player walks, allow dips (`delay.dip`),\n" +
			"or try whether the mixer glides, and set `[delay] moves` in mixer.toml (`backfield help clicks`). Only\n" +
			"with stands.",
		Fix: "a delay that may not move costs many seats. Close the mic where the player\n" +
			"walks, or try whether the mixer's delay glides.",
		OnceAShow: delayHeld,
	},
	{
		Code: "slew-bound", Section: TheMixer,
		Help: "a delay moves as fast as `delay.slew` allows for over 2 s, and cannot keep up with what the walk\n" +
			"needs. Close the mic during the walk, or allow a faster slew: at 8 ms a second the\n" +
			"pitch is off by 14 cents.",
		Fix: "a player walks faster than the delay may follow. Close the mic during the\n" +
			"walk, or allow a faster `delay.slew`.",
		EachCue: slewBound,
	},
	{
		Code: "dip-unused", Section: TheMixer,
		Help: "the score allows dips (`delay.dip`), and the mixer's delay glides (`moves` in mixer.toml). There\n" +
			"are no dips then: the delay follows a walk without one. Take `delay.dip` out, or correct `moves`\n" +
			"if the mixer's delay clicks.",
		Fix: "dips are allowed, and the mixer's delay glides, so there are none. Take\n" +
			"`delay.dip` out, or correct `moves` in mixer.toml.",
		OnceAShow: dipUnused,
	},
}

// mostOf collects the mics of a cue whose size is over 0. The worst has the largest.
func mostOf(x *Compiled, i int, size func(w *work.Derivation) float64) (g micGroup) {
	most := 0.0
	for _, w := range x.Derivations[i] {
		v := size(w)
		if v <= 0 {
			continue
		}
		if g.names = append(g.names, w.Name); v > most {
			g.worst, most = w, v
		}
	}
	return g
}

// boxMissed warns about mics that the press box hears out of its bound.
func boxMissed(x *Compiled, i int, say Say) {
	g := mostOf(x, i, func(w *work.Derivation) float64 {
		if m := x.BoxMiss(w); m.S > leastOutS {
			return m.S
		}
		return 0
	})
	if g.worst == nil {
		return
	}
	c, m := &x.Cues[i], x.BoxMiss(g.worst)
	gap, do := fmt.Sprintf("%.1f ms after", m.GapMS), "close the mic during the walk, or give the cue a box of its own"
	if m.GapMS < 0 {
		gap = fmt.Sprintf("%.1f ms before", -m.GapMS)
	}
	if x.Mixer.Moves != cue.Glides {
		do = "close the mic during the walk, give the cue a box of its own, or " + tryMoves
	}
	const text = "cue %q: the press box hears %s outside %.4g to %.4g ms after the player; worst: %s, for %.1f s, %s " +
		"at %d:%.4g"
	say(c.Cue, c.Open[g.worst.Line].At, fmt.Sprintf(text, c.Cue.ID.V, timeline.Few(g.names), m.MS[0], m.MS[1],
		g.worst.Name, m.S, gap, m.At.Movement, m.At.Count()), do)
}

// echoHeard warns about stacks that many seats hear as an echo of a mic, once for each of them: it is a matter of the
// rig, not of a cue.
func echoHeard(x *Compiled, say Say) {
	stacks := x.Rig.MainStacks()
	type heard struct {
		cues  []string
		id    string // of the cue of the worst
		worst *work.Derivation
	}
	list, needs := make([]heard, len(stacks)), x.Listeners.SeatNeeds()
	for i := range x.Cues {
		id := x.Cues[i].Cue.ID.V
		for _, w := range x.Derivations[i] {
			if w.Fit == nil || w.Kind != cue.Worn || w.Fit.Echo <= x.Score.Rules.Echo {
				continue
			}
			n := x.EchoStack(needs, w, 1000*work.LaterS(x.Rig, &x.Lines.List[w.Line]))
			if n < 0 {
				continue // not reached: some seat hears one
			}
			h := &list[n]
			if n := len(h.cues); n == 0 || h.cues[n-1] != id {
				h.cues = append(h.cues, id)
			}
			if h.worst == nil || w.Fit.Echo > h.worst.Fit.Echo {
				h.id, h.worst = id, w
			}
		}
	}
	for n, h := range list {
		if h.worst == nil {
			continue
		}
		const text = "many seats hear %s as an echo in %s: %s; worst: cue %q, %s, where %.0f %% of the seats " +
			"hear an echo"
		say(nil, stacks[n].Span, fmt.Sprintf(text, stacks[n].Name, source.Count(float64(len(h.cues)), "cue"),
			timeline.Few(h.cues), h.id, h.worst.Name, 100*h.worst.Fit.Echo),
			"turn that stack down, delay it less, or feed each mic to fewer stacks (zones)")
	}
}

// tryMoves is what to do if a mixer that is said to click perhaps does not.
const tryMoves = "try whether the mixer glides, and set [delay] moves in mixer.toml (backfield help clicks)"

// delayHeld warns about stretches in which a mixer that clicks has far fewer seats in time than one that glides.
func delayHeld(x *Compiled, say Say) {
	for i := range x.Cues {
		g := mostOf(x, i, func(w *work.Derivation) float64 {
			if w.Stretch.Cues[0] != i || w.Stretch.HeldShare <= x.Score.Rules.Held {
				return 0
			}
			return w.Stretch.HeldShare
		})
		if g.worst == nil {
			continue
		}
		c, s := &x.Cues[i], g.worst.Stretch
		const text = "cue %q: the delay of %s may not glide; worst: %s, whose delay has " +
			"%.0f %% fewer of the seats in time%s"
		until := ""
		if s.Cues[1] > s.Cues[0] {
			until = fmt.Sprintf(" until cue %q ends", x.Cues[s.Cues[1]].Cue.ID.V)
		}
		say(c.Cue, c.Open[g.worst.Line].At,
			fmt.Sprintf(text, c.Cue.ID.V, timeline.Few(g.names), g.worst.Name, 100*s.HeldShare, until),
			"close the mic where the player walks, allow delay.dip, or "+tryMoves)
	}
}

// dipUnused warns about dips that a mixer which glides never makes.
func dipUnused(x *Compiled, say Say) {
	if x.Score.DipS > 0 && x.Mixer.Moves == cue.Glides {
		say(nil, x.Score.DipAt, "delay.dip changes nothing: this mixer's delay glides, and needs no dips",
			"take delay.dip out, or correct moves in mixer.toml if the delay clicks")
	}
}

// slewBound warns about delays that move as fast as they may for long.
func slewBound(x *Compiled, i int, say Say) {
	g := mostOf(x, i, func(w *work.Derivation) float64 {
		if forS, _ := x.AtSlew(w); forS > leastSlewS {
			return forS
		}
		return 0
	})
	if g.worst == nil {
		return
	}
	c := &x.Cues[i]
	forS, from := x.AtSlew(g.worst)
	const text = "cue %q: the delay of %s moves as fast as it may; worst: %s, for %.1f s from %d:%.4g"
	say(c.Cue, c.Open[g.worst.Line].At,
		fmt.Sprintf(text, c.Cue.ID.V, timeline.Few(g.names), g.worst.Name, forS, from.Movement, from.Count()),
		"close the mic during the walk, or allow a faster delay.slew")
}
