package diff

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"backfield/cue"
	"backfield/cue/step"
	"backfield/layout/unit"
)

// causes collects what differs for the whole show.
type causes []Cause

func (c *causes) add(differs bool, tag string, params []string, format string, args ...any) {
	if differs {
		*c = append(*c, Cause{tag, fmt.Sprintf(format, args...), params})
	}
}

// number adds one that differs: "lead 10.0 -> 12.5 ms".
func (c *causes) number(old, new float64, least int, tag string, params []string, what, unit string) {
	c.add(old != new, tag, params, "%s %s -> %s%s", what, number(old, least), number(new, least), unit)
}

// word adds one that differs: "pan law linear -> constant-power".
func (c *causes) word(old, new string, tag string, params []string, what string) {
	c.add(old != new, tag, params, "%s %s -> %s", what, orNone(old), orNone(new))
}

// What a cause can change.
var (
	noParams   = []string{}
	delayOnly  = []string{ParamDelay}
	allArrival = []string{ParamDelay, ParamPan, ParamSend}
)

// wholeShow lists what air, rig and settings explain.
func wholeShow(old, new *cue.Show) []Cause {
	list := causes{}
	a, b := old.Rig, new.Rig
	list.word(old.Venue, new.Venue, tagVenue, noParams, "venue")
	list.add(old.AirC != new.AirC, tagAir, delayOnly, "air %s -> %s",
		unit.AirText(old.AirC), unit.AirText(new.AirC))
	list.number(a.LatencyMS, b.LatencyMS, 1, tagRig, delayOnly, "latency", " ms")
	latency := func(r cue.UsedRig, own *float64) float64 {
		if own != nil {
			return *own
		}
		return r.LatencyMS
	}
	if a.WiredMS != nil || b.WiredMS != nil {
		list.number(latency(a, a.WiredMS), latency(b, b.WiredMS), 1, tagRig, delayOnly, "latency of wired mics", " ms")
	}
	if a.LineMS != nil || b.LineMS != nil {
		list.number(latency(a, a.LineMS), latency(b, b.LineMS), 1, tagRig, delayOnly, "latency of lines", " ms")
	}
	list.add(a.Reference != b.Reference, tagRig, allArrival, "reference seat %s", movedBy(a.Reference, b.Reference))
	list = append(list, stackCauses(a.Stacks, b.Stacks)...)
	was, is := a.Delay, b.Delay
	list.word(was.Policy, is.Policy, tagSettings, delayOnly, "delay policy")
	list.number(was.WindowMS, is.WindowMS, 1, tagSettings, delayOnly, "window", " ms")
	if was.Moves != cue.Stepped && is.Moves != cue.Stepped { // format 1 had no paths
		list.number(was.MarginMS, is.MarginMS, 1, tagSettings, delayOnly, "margin", " ms")
		list.word(boxWords(was), boxWords(is), tagSettings, delayOnly, "press box")
		list.number(was.SlewMSPS, is.SlewMSPS, 0, tagSettings, delayOnly, "slew", " ms/s")
	}
	byMoves := delayOnly
	if (was.Moves == cue.Glides) != (is.Moves == cue.Glides) { // a delay that glides shares its knots with the pan
		byMoves = allArrival
	}
	list.word(movesWords(was.Moves), movesWords(is.Moves), tagMixer, byMoves, "delay moves")
	list.add(was.Seats != is.Seats, tagStands, allArrival, "stands of %d -> %s", was.Seats, count(is.Seats, "seat"))
	list.word(was.Feed, is.Feed, tagRig, allArrival, "feed")
	list.word(was.PanBy, is.PanBy, tagSettings, allArrival, "pan by")
	list.number(was.LeadMS, is.LeadMS, 1, tagSettings, delayOnly, "lead", " ms")
	// The pan decides which stacks reach a seat, and with that the delay too.
	list.word(was.PanLaw, is.PanLaw, tagSettings, allArrival, "pan law")
	list.number(was.PanWidth, is.PanWidth, 2, tagSettings, allArrival, "pan width", "")
	if was.Feed == is.Feed || was.Feed != feedZones && is.Feed != feedZones {
		list.without(unused(is.Feed))
	}
	return list
}

// boxWords is the press box's bound in words.
func boxWords(s cue.Settings) string {
	if s.BoxMS == nil {
		return "free"
	}
	return fmt.Sprintf("%s to %s ms", number(s.BoxMS[0], 0), number(s.BoxMS[1], 0))
}

// movesWords says when a mixer's delay moves.
func movesWords(m cue.Moves) string {
	switch m {
	case cue.Glides:
		return "all the time"
	case cue.AtCues:
		return "at cues"
	case cue.Closed:
		return "while closed"
	}
	return "at waypoints"
}

// hundredths rounds to two decimals.
func hundredths(v float64) float64 { return math.Round(v*100) / 100 }

// unused is the parameter that a feed does not use: sends without zones, pans with them.
func unused(feed string) string {
	if feed == feedZones {
		return ParamPan
	}
	return ParamSend
}

// without removes a parameter from what each cause can change.
func (c causes) without(param string) {
	for i := range c {
		c[i].Params = slices.DeleteFunc(slices.Clone(c[i].Params), func(p string) bool { return p == param })
	}
}

// stackCauses lists the changes of the stacks, matched by name, in the new rig's order, the removed ones last.
func stackCauses(old, new []cue.UsedStack) []Cause {
	var list causes
	find := func(in []cue.UsedStack, name string) int {
		return slices.IndexFunc(in, func(s cue.UsedStack) bool { return s.Name == name })
	}
	for _, n := range new {
		stack := fmt.Sprintf("stack %q", n.Name)
		i := find(old, n.Name)
		if i < 0 {
			list.add(true, tagRig, allArrival, "%s added", stack)
			continue
		}
		o := old[i]
		list.add(o.Location != n.Location, tagRig, allArrival, "%s %s", stack, movedBy(o.Location, n.Location))
		list.number(o.TrimDB, n.TrimDB, 1, tagRig, allArrival, stack+" trim", " dB")
		list.add(o.Left != n.Left || o.Right != n.Right, tagRig, allArrival, "%s left and right %s, %s -> %s, %s",
			stack,
			number(o.Left, 1), number(o.Right, 1), number(n.Left, 1), number(n.Right, 1))
		list.number(o.DelayMS, n.DelayMS, 1, tagRig, delayOnly, stack+" delay", " ms")
	}
	for _, o := range old {
		list.add(find(new, o.Name) < 0, tagRig, allArrival, "stack %q removed", o.Name)
	}
	return list
}

// movedBy says in meters how something in the rig moved, since a rig is measured and not marched.
func movedBy(from, to cue.Location) string {
	d := minus(to, from)
	var parts []string
	along := func(v float64, up, down string) {
		way := up
		if v < 0 {
			way = down
		}
		if v != 0 {
			parts = append(parts, fmt.Sprintf("%.2f m %s", math.Abs(v), way))
		}
	}
	along(d.Y, "farther back", "farther to the front")
	along(d.X, "toward side 2", "toward side 1")
	along(d.Z, "higher", "lower")
	return "moved " + strings.Join(parts, ", ")
}

// roleLevels finds the roles whose level changed by the same amount wherever they are open in both shows. That is a
// change of the role, which would otherwise read as a nudge on every line. The steps go from a cue's old state to its
// new one, and are nil for a cue that one show lacks.
func roleLevels(steps []*step.Step) []Cause {
	type move struct {
		by     float64
		times  int
		uneven bool
	}
	moves := map[string]*move{}
	var roles []string // in the order in which they are found
	add := func(role string, by float64) {
		m := moves[role]
		if m == nil {
			m = &move{by: by}
			moves[role], roles = m, append(roles, role)
		}
		m.times++
		m.uneven = m.uneven || !(math.Abs(by-m.by) < 1e-9)
	}
	for _, s := range steps {
		if s == nil {
			continue
		}
		for i := range s.Channels {
			if c := &s.Channels[i]; (c.Kind == step.StaysOpen || c.Kind == step.HandsOver) && !c.Role {
				add(c.Is.Role, c.ByDB())
			}
		}
	}
	var list []Cause
	for _, role := range roles {
		// Two equal changes may be chance; three are the role.
		if m := moves[role]; m.times >= 3 && !m.uneven && m.by != 0 {
			list = append(list, Cause{tagRole, roleLevelWords(role, m.by), []string{ParamLevel}})
		}
	}
	return list
}

func roleLevelWords(role string, by float64) string {
	return fmt.Sprintf("role %s %s dB wherever it is open", role, signed(by, 1))
}

// rosterCauses lists the channels that came, went or have another player, by number. differ is true if any came or went.
func rosterCauses(old, new *cue.Show) (list []Cause, differ bool) {
	a, b := players(old), players(new)
	all := maps.Clone(a)
	maps.Copy(all, b)
	for _, n := range slices.Sorted(maps.Keys(all)) {
		was, had := a[n]
		is, has := b[n]
		words := ""
		switch {
		case !had:
			words, differ = fmt.Sprintf("channel %d is new: %s", n, is), true
		case !has:
			words, differ = fmt.Sprintf("channel %d is gone (%s)", n, was), true
		case was != is:
			words = fmt.Sprintf("channel %d: %s", n, playerWords(was, is))
		default:
			continue
		}
		list = append(list, Cause{tagChannel, words, []string{}})
	}
	return list, differ
}

// players is who wears each channel in the first cue that has it.
func players(s *cue.Show) map[int]string {
	m := map[int]string{}
	for _, c := range s.Cues {
		for _, ch := range c.Channels {
			if _, ok := m[ch.Channel]; !ok {
				m[ch.Channel] = ch.Player
			}
		}
	}
	return m
}

// both lists the mixer's own parameters that either show has, from the new show where both have one.
func both(old, new []cue.MixerParam) []cue.MixerParam {
	list := slices.Clone(new)
	for _, x := range old {
		if !slices.ContainsFunc(list, func(y cue.MixerParam) bool { return y.Name == x.Name }) {
			list = append(list, x)
		}
	}
	return list
}

// ownCauses lists the mixer's own parameters that are new, gone or changed.
func ownCauses(old, new []cue.MixerParam) []Cause {
	var list []Cause
	find := func(in []cue.MixerParam, name string) (cue.MixerParam, bool) {
		i := slices.IndexFunc(in, func(x cue.MixerParam) bool { return x.Name == name })
		if i < 0 {
			return cue.MixerParam{}, false
		}
		return in[i], true
	}
	add := func(name, what string) {
		list = append(list, Cause{tagMixer, "the mixer's " + name + what, []string{}})
	}
	for _, x := range both(old, new) {
		was, had := find(old, x.Name)
		is, has := find(new, x.Name)
		switch {
		case !had:
			add(x.Name, " is new")
		case !has:
			add(x.Name, " is gone")
		case was.Fade != is.Fade && is.Fade:
			add(x.Name, " now fades")
		case was.Fade != is.Fade:
			add(x.Name, " now steps instead of fading")
		case was != is:
			add(x.Name, " is now another kind of value")
		}
	}
	return list
}
