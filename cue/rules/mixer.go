package rules

import (
	"fmt"
	"slices"

	"backfield/cue"
	"backfield/cue/timeline"
	"backfield/cue/work"
)

// mixerRules are the rules about what the mixer can do, and when its values move. Those without a function are found
// where the number is computed.
var mixerRules = []Rule{
	{
		Code: "delay-negative", Section: Safety,
		Help: "a worn mic would need a delay below 0, and gets 0. The player is so close to the audience that the\n" +
			"loudspeakers come too late. Move the player back, or turn the mic down. No limit to set. With\n" +
			"`most-seats` and `joint` you get it only if the press box hears the loudspeakers later than\n" +
			"`delay.box` allows even at 0.",
		Fix: "a delay below 0 is needed, and 0 is sent. Move the player back, or turn the\n" +
			"mic down.",
		OnceAShow: delayNegative,
	},
	{
		Code: "delay-max", Section: TheMixer,
		Help: "a delay longer than the mixer can make is needed. The longest is sent, and the loudspeakers come\n" +
			"too early by the difference. The limit is the mixer's own `max`.",
		Fix: "a delay longer than the mixer's longest is needed; the longest is sent, and\n" +
			"the loudspeakers are too early. Keep that mic closed there, or add delay elsewhere in the system.",
		OnceAShow: delayMax,
	},
	{
		Code: "level-range", Section: TheMixer, ForDesigner: true,
		Help: "a level outside the mixer's range or over a ceiling is asked for. The nearest end is sent. The\n" +
			"limits are the mixer's range and its `[safety]`.",
		Fix: "a level is outside the mixer's range or over a ceiling; the nearest end is\n" +
			"sent. Fix role, trim or nudge.",
	},
	{
		Code: "param-range", Section: TheMixer,
		Help: "one of the mixer's own parameters is set to a value outside its range\n" +
			"(`backfield help parameters`). The nearest end is sent.",
		Fix: "a parameter of the mixer is outside its range; the nearest end is sent.",
	},
	{
		Code: "opens-moving", Section: TheMixer,
		Help: "a channel opens less than `check.settle`, default 0.5 s, after its pan or delay moved. Many\n" +
			"mixers glide a delay, which is heard as a change of pitch (common practice). Open the channel\n" +
			"later, or close it in an earlier cue.",
		Fix: "a channel opens just after its pan or delay moved. Open it later, or close\n" +
			"it in an earlier cue.",
		OnceAShow: opensMoving,
	},
	{
		Code: "changes-nothing", Section: TheScore, ForDesigner: true,
		Help:      "a cue changes nothing at the mixer.",
		Fix:       "a cue changes nothing at the mixer. Take it out, or accept it.",
		OnceAShow: changesNothing,
	},
}

// micGroup is the open mics of a cue that a rule is about, and the worst of them.
type micGroup struct {
	names []string
	worst *work.Derivation // nil if there are none
}

// byCue collects, for each cue, the mics whose size is over 0.
func byCue(x *Compiled, size func(w *work.Derivation) float64) []micGroup {
	groups := make([]micGroup, len(x.Cues))
	for i := range groups {
		groups[i] = mostOf(x, i, size)
	}
	return groups
}

// delayNegative warns about delays that would have to be below 0.
func delayNegative(x *Compiled, say Say) {
	groups := byCue(x, func(w *work.Derivation) float64 { return w.Delay.BelowMS })
	for i, g := range groups {
		if g.worst == nil {
			continue
		}
		c := &x.Cues[i]
		const text = "cue %q: the delay of %s would have to be below 0; worst: %s, %.1f ms"
		say(c.Cue, c.Open[g.worst.Line].At,
			fmt.Sprintf(text, c.Cue.ID.V, timeline.Few(g.names), g.worst.Name, -g.worst.Delay.BelowMS),
			"0 is sent, and the loudspeakers come too late for a player that close to the audience: "+
				"move the player back, or turn the mic down")
	}
}

// delayMax warns about delays that are longer than the mixer's longest.
func delayMax(x *Compiled, say Say) {
	most := x.Mixer.Delay.Max
	groups := byCue(x, func(w *work.Derivation) float64 {
		return max(w.Delay.OverMS-most, 0)
	})
	for i, g := range groups {
		if g.worst == nil {
			continue
		}
		c, raw := &x.Cues[i], g.worst.Delay.OverMS
		const text = "cue %q: the mixer's longest delay of %g ms is too short for %s; worst: %s, %.1f ms"
		const do = "the longest is sent, and the loudspeakers are up to %.1f ms too early: " +
			"move the player closer, or fix max in mixer.toml"
		say(c.Cue, c.Open[g.worst.Line].At,
			fmt.Sprintf(text, c.Cue.ID.V, most, timeline.Few(g.names), g.worst.Name, raw), fmt.Sprintf(do, raw-most))
	}
}

// opensMoving warns about a channel that opens just after its delay, pan or sends moved.
func opensMoving(x *Compiled, say Say) {
	movedS := map[int]float64{} // by channel: when its pan or delay last moved
	for i := 1; i < len(x.Show.Cues); i++ {
		s, before := &x.Show.Cues[i], &x.Show.Cues[i-1]
		q := x.Cues[i].Cue
		for j := range s.Channels {
			now, was := &s.Channels[j], &before.Channels[j]
			at, moved := movedS[now.Channel]
			opensS := s.TimeS
			if was.Early != nil {
				opensS = was.Early.TimeS
			}
			if now.Open && !was.Open && moved && opensS-at < x.Score.Rules.SettleS {
				const text = "cue %q, %s: channel %d opens %.2f s after its delay or pan moved"
				say(q, q.ID.Span, fmt.Sprintf(text, s.ID, now.Player, now.Channel, opensS-at),
					"many mixers glide a delay, which is heard as a change of pitch; open the channel later, or close "+
						"it in an earlier cue")
			}
			if now.Pan != was.Pan || now.DelayMS != was.DelayMS || !slices.Equal(now.Sends, was.Sends) {
				movedS[now.Channel] = s.TimeS
			}
		}
	}
}

// changesNothing warns about a cue of the score that leaves every channel as it was.
func changesNothing(x *Compiled, say Say) {
	for i := 1; i < len(x.Show.Cues) && !x.Night; i++ {
		s, before := &x.Show.Cues[i], &x.Show.Cues[i-1]
		if len(s.Also) > 0 {
			continue
		}
		same := true
		for j := range s.Channels {
			same = same && equal(&s.Channels[j], &before.Channels[j])
		}
		if q := x.Cues[i].Cue; same {
			say(q, q.ID.Span, fmt.Sprintf("cue %q changes nothing at the mixer", s.ID),
				"take it out, or check that it says what you want")
		}
	}
}

// equal reports whether a cue changes nothing of a channel. What glides while the same mic stays open is no change.
func equal(a, b *cue.Channel) bool {
	same := a.Open == b.Open && a.LevelDB == b.LevelDB && slices.Equal(a.Params, b.Params)
	if a.Open && b.Open && a.Player == b.Player {
		return same
	}
	return same && a.Pan == b.Pan && a.DelayMS == b.DelayMS && slices.Equal(a.Sends, b.Sends)
}
