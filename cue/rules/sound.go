package rules

import (
	"fmt"
	"math"
	"slices"

	"backfield/cue"
	"backfield/cue/clock"
	"backfield/cue/timeline"
	"backfield/layout/rig"
)

// soundRules are the rules about what is heard.
var soundRules = []Rule{
	{
		Code: "few-in-time", Section: TheSound,
		Help: "over the whole show, a smaller share of the seats is in time than `check.fit`, default 50 percent.\n" +
			"The cause is usually a mistake in the rig, such as a wrong plus or minus sign, or the latency. If not,\n" +
			"see `backfield help stands`, `tune` and `zones`. A mixer whose delay may not move costs seats too: see\n" +
			"`backfield help clicks`. Only with stands.",
		Fix:       "few seats are in time over the whole show. Check the rig, then the policy.",
		OnceAShow: fewInTime,
	},
	{
		Code: "loud-near-mic", Section: TheSound,
		Help: "a player of a section in `check.loud` comes closer to an open field mic than `check.pickup`,\n" +
			"default 5 m. The mic picks up that player instead of the ensemble.",
		Fix:          "a loud section is near an open field mic. Close the mic, or move one of the two.",
		EachFieldMic: loudNearMic,
	},
	{
		Code: "uneven-pickup", Section: TheSound,
		Help: "one player is louder at an open field mic, by more than `check.uneven`, default 6 dB, than all\n" +
			"others within 15 m together: a hot spot as that player passes. If there are no others within 15 m,\n" +
			"all others on the field count. It goes by inverse distance, as if everyone played equally loud.\n" +
			"The sections in `check.loud` are left out.",
		Fix: "one player is much louder at a field mic than all others. Close the mic,\n" +
			"turn it down, or move it.",
		EachFieldMic: unevenPickup,
	},
}

// reachM is how far from a field mic a player counts as near.
const reachM = 15

// micHearing is what an open field mic hears over a cue. Levels go by inverse distance, as if everyone played equally
// loud.
type micHearing struct {
	open  timeline.Opening
	near  []string // players of the loud sections that come within the pickup's reach
	worst hotSpot  // where one player is louder than all others by more than the score allows; overDB 0 for nowhere
}

// hotSpot is a moment at which one player is louder at a mic than others together.
type hotSpot struct {
	overDB float64
	who    string
	others string // in words
	at     clock.Moment
}

// hearings lists what the field mics that are open in a cue hear.
func hearings(x *Compiled, i int) []micHearing {
	var list []micHearing
	for _, t := range x.Spans[i].Tracks {
		mic := x.Lines.List[t.Line].Fixed
		if mic == nil || mic.Kind != rig.Field {
			continue
		}
		h := micHearing{open: x.Cues[i].Open[t.Line]}
		for n := 0; n < len(x.Spans[i].Samples); n += 4 { // every count
			h.listen(x, mic, x.Spans[i].Samples[n])
		}
		list = append(list, h)
	}
	return list
}

// listen adds what the mic hears at one moment.
func (h *micHearing) listen(x *Compiled, mic *rig.Mic, at clock.Moment) {
	most, near, all, who := 0.0, 0.0, 0.0, "" // energies of the loudest player, of those near, and of all
	for j := range x.Drill.Players {
		d := &x.Drill.Players[j]
		place, ok := d.At(x.Drill, at.Movement, at.Elapsed)
		if !ok {
			continue
		}
		place.Z = mic.At.Z
		dist := max(place.Distance(mic.At), 0.3)
		player, _ := x.Roster.Player(d.Name)
		if slices.Contains(x.Score.Rules.Loud, player.Section) {
			if dist < x.Score.Rules.PickupM && !slices.Contains(h.near, d.Name) {
				h.near = append(h.near, d.Name)
			}
			continue
		}
		v := 1 / (dist * dist)
		if all += v; dist > reachM {
			continue
		}
		if near += v; v > most {
			most, who = v, d.Name
		}
	}
	others, which := near-most, fmt.Sprintf("all others within %d m", reachM)
	if near == most {
		others, which = all-most, "all others" // nobody else is near
	}
	over := 10 * math.Log10(most/others)
	if others > 0 && over > max(h.worst.overDB, x.Score.Rules.UnevenDB) {
		h.worst = hotSpot{over, who, which, at}
	}
}

// loudNearMic warns about loud sections near an open field mic, which hears them more than what it is for.
func loudNearMic(x *Compiled, i int, h micHearing, say Say) {
	if len(h.near) == 0 {
		return
	}
	q := x.Cues[i].Cue
	const text = "cue %q, %s: %s within %.4g m of the open mic"
	say(q, h.open.At, fmt.Sprintf(text, q.ID.V, h.open.Name, timeline.Few(h.near), x.Score.Rules.PickupM),
		"close the mic in this cue, or move one of the two")
}

// unevenPickup warns about a hot spot at an open field mic as a player passes.
func unevenPickup(x *Compiled, i int, h micHearing, say Say) {
	w := h.worst
	if w.overDB <= 0 {
		return
	}
	q := x.Cues[i].Cue
	const text = "cue %q, %s: %s is %.1f dB louder at this mic than %s together, at %d:%.4g"
	say(q, h.open.At,
		fmt.Sprintf(text, q.ID.V, h.open.Name, w.who, w.overDB, w.others, w.at.Movement, w.at.Count()),
		"a hot spot as they pass: close the mic, turn it down, or move it")
}

// fewInTime warns about a show with few seats in time.
func fewInTime(x *Compiled, say Say) {
	fit, ok := x.Show.MeanFit()
	if !ok || fit.InTime >= x.Score.Rules.Fit {
		return
	}
	at := x.Score.File.Whole()
	if x.Score.Policy.Set {
		at = x.Score.Policy.Span
	}
	const text = "only %.0f %% of seats are in time, on average over the open worn mics"
	do := "check the stands, the stacks and the latency in the rig; then try another policy, backfield tune, or zones"
	if x.Mixer.Moves != cue.Glides {
		do += "; or " + tryMoves
	}
	say(nil, at, fmt.Sprintf(text, 100*fit.InTime), do)
}
