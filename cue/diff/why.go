package diff

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"backfield/cue"
)

// stepM is the step that drill is written in, 8 to 5 yards, in metres.
const stepM = 0.5715

// leastSteps is the shortest way told as such, in steps: what is shown as 0.0 is no reason to read.
const leastSteps = 0.05

// unknown is said where nothing that both shows hold explains a number.
const unknown = "for a reason the snapshots don't hold (stand, desk limits or steps, a policy of one role, player or cue)"

// feedZones is the feed of a rig whose stacks hang on buses of their own.
const feedZones = "zones"

// Tags of the causes that lines refer to.
const (
	tagAir      = "air"
	tagRig      = "rig"
	tagSettings = "settings"
	tagRole     = "role level"
	tagChannel  = "channel"
	tagDesk     = "desk"
)

// reasons works out why one channel's numbers differ.
type reasons struct {
	old, new *cue.Channel
	whole    []Cause
	waiting  bool
}

// arrival explains a pan or a delay: who stands where, then what holds for the whole show. What a closed
// channel waits for is another cue's place, so its own place explains nothing.
func (r reasons) arrival(param string) []string {
	var why []string
	switch {
	case r.waiting:
		why = append(why, "for its next entry")
	case r.old.Player != r.new.Player:
		why = append(why, r.new.Player+" stands elsewhere than "+r.old.Player)
	default:
		if words := shift(r.old.Place, r.new.Place); words != "" {
			why = append(why, "stands "+words)
		}
		// A path that is only carried along with its start is no reason of its own.
		if far(minus(minus(r.new.End, r.old.End), minus(r.new.Place, r.old.Place))) {
			words := shift(r.old.End, r.new.End)
			if words == "" {
				words = "where it did"
			}
			why = append(why, "walks otherwise before the next cue, ends "+words)
		}
	}
	for _, c := range r.whole {
		if slices.Contains(c.Params, param) && !slices.Contains(why, c.Tag) {
			why = append(why, c.Tag)
		}
	}
	if len(why) == 0 {
		why = []string{unknown}
	}
	return why
}

// level explains a level. A level is the role's, a trim's or a nudge's: no place or air moves it, unless
// distance make-up is on.
func (r reasons) level() []string {
	if r.old.Role != r.new.Role {
		return []string{roleWords(r.old.Role, r.new.Role)}
	}
	for _, c := range r.whole {
		if c.Tag == tagRole && c.Words == roleLevelWords(r.old.Role, float64(r.new.LevelDB-r.old.LevelDB)) {
			return []string{tagRole}
		}
	}
	if far(minus(r.new.Place, r.old.Place)) {
		return []string{"nudge, trim, role level or distance make-up"}
	}
	return []string{"nudge, trim or role level"} // a role that is open once cannot be told from a nudge
}

func minus(a, b cue.Place) cue.Place { return cue.Place{X: a.X - b.X, Y: a.Y - b.Y, Z: a.Z - b.Z} }

// far reports whether a difference of places is large enough to be told.
func far(d cue.Place) bool {
	return math.Abs(d.X) >= leastSteps*stepM || math.Abs(d.Y) >= leastSteps*stepM || math.Abs(d.Z) >= 0.005
}

// shift words the way from one place to another as the field is read: "6.0 steps further back and 2.0
// towards side 1", with the height in metres; "" for no way at all.
func shift(from, to cue.Place) string {
	d := minus(to, from)
	if d == (cue.Place{}) {
		return ""
	}
	var parts []string
	along := func(metres float64, up, down string) {
		if math.Abs(metres) < leastSteps*stepM {
			return
		}
		steps := fmt.Sprintf("%.1f", math.Abs(metres)/stepM)
		if len(parts) == 0 {
			steps += " steps"
		}
		way := up
		if metres < 0 {
			way = down
		}
		parts = append(parts, steps+" "+way)
	}
	along(d.Y, "further back", "further to the front")
	along(d.X, "towards side 2", "towards side 1")
	if math.Abs(d.Z) >= 0.005 {
		way := "higher"
		if d.Z < 0 {
			way = "lower"
		}
		parts = append(parts, fmt.Sprintf("%.2f m %s", math.Abs(d.Z), way))
	}
	if len(parts) == 0 {
		return "less than 0.1 steps away"
	}
	return strings.Join(parts, " and ")
}

// wholeShow lists what air, rig and settings explain.
func wholeShow(old, new *cue.Show) []Cause {
	causes := []Cause{}
	delays, both := []string{ParamDelay}, []string{ParamDelay, ParamPan, ParamSend}
	add := func(differs bool, tag string, params []string, format string, args ...any) {
		if differs {
			causes = append(causes, Cause{tag, fmt.Sprintf(format, args...), params})
		}
	}
	a, b := old.Rig, new.Rig
	add(old.Venue != new.Venue, "venue", []string{}, "venue %s -> %s", orNone(old.Venue), orNone(new.Venue))
	add(old.AirC != new.AirC, tagAir, delays, "air %s -> %s C", number(old.AirC, 1), number(new.AirC, 1))
	add(a.LatencyMS != b.LatencyMS, tagRig, delays, "latency %s -> %s ms", number(a.LatencyMS, 1), number(b.LatencyMS, 1))
	add(a.Reference != b.Reference, tagRig, both, "reference seat %s", metres(a.Reference, b.Reference))
	causes = append(causes, stackCauses(a.Stacks, b.Stacks)...)
	add(a.Delay.Policy != b.Delay.Policy, tagSettings, delays, "delay policy %s -> %s", a.Delay.Policy, b.Delay.Policy)
	add(a.Delay.WindowMS != b.Delay.WindowMS, tagSettings, delays, "window %s -> %s ms", number(a.Delay.WindowMS, 1), number(b.Delay.WindowMS, 1))
	add(a.Delay.Seats != b.Delay.Seats, "stand", both, "stand of %d -> %s", a.Delay.Seats, count(b.Delay.Seats, "seat"))
	add(a.Delay.Feed != b.Delay.Feed, tagRig, []string{ParamDelay, ParamPan, ParamSend}, "feed %s -> %s", orNone(a.Delay.Feed), orNone(b.Delay.Feed))
	add(a.Delay.PanBy != b.Delay.PanBy, tagSettings, both, "pan by %s -> %s", orNone(a.Delay.PanBy), orNone(b.Delay.PanBy))
	add(a.Delay.LeadMS != b.Delay.LeadMS, tagSettings, delays, "lead %s -> %s ms", number(a.Delay.LeadMS, 1), number(b.Delay.LeadMS, 1))
	// The pan decides which stacks reach a seat, and so the delay as well.
	add(a.Delay.PanLaw != b.Delay.PanLaw, tagSettings, both, "pan law %s -> %s", a.Delay.PanLaw, b.Delay.PanLaw)
	add(a.Delay.PanWidth != b.Delay.PanWidth, tagSettings, both, "pan width %s -> %s", number(a.Delay.PanWidth, 2), number(b.Delay.PanWidth, 2))
	for i := range causes { // without zones there are no sends to speak of, with them no pans
		none := ParamPan
		if a.Delay.Feed != feedZones && b.Delay.Feed != feedZones {
			none = ParamSend
		} else if a.Delay.Feed != b.Delay.Feed {
			continue
		}
		causes[i].Params = slices.DeleteFunc(slices.Clone(causes[i].Params), func(p string) bool { return p == none })
	}
	return causes
}

// stackCauses matches stacks by name, in the new rig's order, the removed ones last.
func stackCauses(old, new []cue.Stack) []Cause {
	var causes []Cause
	both := []string{ParamDelay, ParamPan, ParamSend}
	find := func(in []cue.Stack, name string) int {
		return slices.IndexFunc(in, func(s cue.Stack) bool { return s.Name == name })
	}
	for _, n := range new {
		i := find(old, n.Name)
		if i < 0 {
			causes = append(causes, Cause{tagRig, fmt.Sprintf("stack %q added", n.Name), both})
			continue
		}
		o := old[i]
		if o.Place != n.Place {
			causes = append(causes, Cause{tagRig, fmt.Sprintf("stack %q %s", n.Name, metres(o.Place, n.Place)), both})
		}
		if o.TrimDB != n.TrimDB {
			causes = append(causes, Cause{tagRig, fmt.Sprintf("stack %q trim %s -> %s dB", n.Name, number(o.TrimDB, 1), number(n.TrimDB, 1)), both})
		}
		if o.Left != n.Left || o.Right != n.Right {
			causes = append(causes, Cause{tagRig, fmt.Sprintf("stack %q left and right %s, %s -> %s, %s", n.Name, number(o.Left, 1), number(o.Right, 1), number(n.Left, 1), number(n.Right, 1)), both})
		}
		if o.DelayMS != n.DelayMS {
			causes = append(causes, Cause{tagRig, fmt.Sprintf("stack %q delay %s -> %s ms", n.Name, number(o.DelayMS, 1), number(n.DelayMS, 1)), []string{ParamDelay}})
		}
	}
	for _, o := range old {
		if find(new, o.Name) < 0 {
			causes = append(causes, Cause{tagRig, fmt.Sprintf("stack %q removed", o.Name), both})
		}
	}
	return causes
}

// metres words how a thing of the rig moved: rigs are measured, not marched.
func metres(from, to cue.Place) string {
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
	along(d.Y, "further back", "further to the front")
	along(d.X, "towards side 2", "towards side 1")
	along(d.Z, "higher", "lower")
	return "moved " + strings.Join(parts, ", ")
}

// roleLevels finds the roles whose level moved by the same amount wherever they are open in both shows: a
// change of the role, which would otherwise read as a nudge on every line.
func roleLevels(old, new *cue.Show) []Cause {
	type move struct {
		by      float64
		times   int
		uneven  bool
		ordinal int
	}
	moves := map[string]*move{}
	for _, p := range match(old.Cues, new.Cues) {
		if p.old < 0 || p.new < 0 {
			continue
		}
		before := byNumber(&old.Cues[p.old])
		for _, n := range new.Cues[p.new].Channels {
			o := before[n.Channel]
			if o == nil || !o.Open || !n.Open || o.Role != n.Role {
				continue
			}
			by := float64(n.LevelDB - o.LevelDB)
			m := moves[n.Role]
			if m == nil {
				m = &move{by: by, ordinal: len(moves)}
				moves[n.Role] = m
			}
			m.times++
			m.uneven = m.uneven || !(math.Abs(by-m.by) < 1e-9)
		}
	}
	roles := slices.SortedFunc(maps.Keys(moves), func(a, b string) int { return moves[a].ordinal - moves[b].ordinal })
	var causes []Cause
	for _, role := range roles {
		// Two alike may be chance; three are the role.
		if m := moves[role]; m.times >= 3 && !m.uneven && m.by != 0 {
			causes = append(causes, Cause{tagRole, roleLevelWords(role, m.by), []string{ParamLevel}})
		}
	}
	return causes
}

func roleLevelWords(role string, by float64) string {
	return fmt.Sprintf("role %s %s dB wherever it was and is open", role, signed(by, 1))
}

// rosterCauses tells what became of channels, by number, and whether any came or went.
func rosterCauses(old, new *cue.Show) (causes []Cause, differ bool) {
	a, b := players(old), players(new)
	for _, n := range slices.Sorted(maps.Keys(union(a, b))) {
		was, had := a[n]
		is, has := b[n]
		words := ""
		switch {
		case !had:
			words, differ = fmt.Sprintf("channel %d is new: %s", n, is), true
		case !has:
			words, differ = fmt.Sprintf("channel %d is gone: it was %s", n, was), true
		case was != is:
			words = fmt.Sprintf("channel %d: %s", n, playerWords(was, is))
		default:
			continue
		}
		causes = append(causes, Cause{tagChannel, words, []string{}})
	}
	return causes, differ
}

// players tells who wears each channel, from the first cue that has it.
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

// own explains one of the desk's own parameters: like a level it is set, not computed.
func (r reasons) own() []string {
	switch {
	case r.waiting:
		return []string{"for its next entry"}
	case r.old.Role != r.new.Role:
		return []string{roleWords(r.old.Role, r.new.Role)}
	}
	return []string{"set by role, player or cue, or the desk's default"}
}

// both lists the parameters of a desk's own that either show has, as the newer tells of them.
func both(old, new []cue.Own) []cue.Own {
	list := slices.Clone(new)
	for _, x := range old {
		if !slices.ContainsFunc(list, func(y cue.Own) bool { return y.Name == x.Name }) {
			list = append(list, x)
		}
	}
	return list
}

// ownCauses tells which parameters of its own the desk has gained, lost, or tells otherwise of.
func ownCauses(old, new []cue.Own) []Cause {
	var causes []Cause
	find := func(in []cue.Own, name string) (cue.Own, bool) {
		i := slices.IndexFunc(in, func(x cue.Own) bool { return x.Name == name })
		if i < 0 {
			return cue.Own{}, false
		}
		return in[i], true
	}
	add := func(name, what string) {
		causes = append(causes, Cause{tagDesk, "the desk's " + name + what, []string{}})
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
			add(x.Name, " fades now")
		case was.Fade != is.Fade:
			add(x.Name, " steps now, and faded")
		case was != is:
			add(x.Name, " is another kind of value now")
		}
	}
	return causes
}
