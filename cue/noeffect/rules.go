package noeffect

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"backfield/cue"
	"backfield/cue/rules"
	"backfield/cue/score"
	"backfield/cue/timeline"
	"backfield/layout/rig"
	"backfield/layout/table"
)

// idleRule says why a key changes nothing.
type idleRule struct {
	key string // its file and its name in full; a * is any name, and [] any entry of a list
	why func(x *idleFinder, k *fileKey) string
}

// Ruled lists the keys of which it is known when they change nothing.
func Ruled() (keys []string) {
	for _, r := range list {
		if r.why != nil {
			keys = append(keys, r.key)
		}
	}
	return keys
}

// list is what changes nothing, and when. Of two rules for a key the first holds: one without a reason keeps a key from
// the rule for all names beside it.
var list = []idleRule{
	{"show.toml always.*", emptyList},
	{"show.toml cue[].open.*", emptyList},
	{"show.toml cue[].close", emptyList},
	{"show.toml mix.*", unusedRole},
	{"show.toml mix.*.policy", noPolicy(fromRole)},
	{"show.toml mix.*.box", noBox(fromRole)},
	{"show.toml mix.*.open_early", roleNotEarly},
	{"show.toml mix.*.level", nil},
	{"show.toml mix.*.dynamics", nil},
	{"show.toml mix.*.low_cut", nil},
	{"show.toml mix.*.*", roleParam},
	{"show.toml delay.policy", noPolicy(fromShow)},
	{"show.toml delay.box", noBox(fromShow)},
	{"show.toml delay.lead", noLead},
	{"show.toml delay.window", withoutSeats},
	{"show.toml delay.margin", withoutSeats},
	{"show.toml delay.slew", noSlew},
	{"show.toml pan.angle", noAngle},
	{"show.toml zones.most", inStereo},
	{"show.toml make_up", noMakeUp},
	{"show.toml check.allow[]", nothingAllowed},
	{"show.toml check.loud[]", noSection},
	{"show.toml check.pickup", withoutFieldMics},
	{"show.toml check.uneven", withoutFieldMics},
	{"show.toml check.handover", withoutHandovers},
	{"show.toml check.held", holdsNothing},
	{"show.toml check.fit", withoutSeats},
	{"show.toml check.echo", withoutSeats},
	{"show.toml check.near_db", withoutReadings},
	{"show.toml balance.share", nil},
	{"show.toml balance.over", nil},
	{"show.toml balance.margin", nil},
	{"show.toml balance.day", nil},
	{"show.toml balance.*", unusedRole},
	{"show.toml movement[].tempo[]", sameTempo},
	{"show.toml cue[].allow[]", nothingAllowed},
	{"show.toml cue[].keep", keepsNothing},
	{"show.toml cue[].open_early", opensNothing},
	{"show.toml cue[].policy", noPolicy(fromCue)},
	{"show.toml cue[].box", noBox(fromCue)},
	{"show.toml cue[].nudge.*", closedGroup},
	{"show.toml cue[].param.*.*", closedGroup},
	{"show.toml instruments.*", unplayed},
	{"rig.toml latency.wired", without("mic on a cable", rig.Field, rig.Pit)},
	{"rig.toml latency.line", without("mic of the kind line", rig.LineIn)},
	{"rig.toml reference.weight", noStands},
	{"rig.toml stands[]", weightless},
	{"rig.toml stack[].left", noSides},
	{"rig.toml stack[].right", noSides},
	{"rig.toml stack[].zone", noZone},
	{"rig.toml stack[].trim", ofSub},
	{"rig.toml stack[].delay", ofSub},
	{"rig.toml stack[].cover", ofSub},
	{"rig.toml stack[].mouth", ofSub},
	{"rig.toml stack[].aim", ofSub},
	{"rig.toml stack[].front_back", ofSub},
	{"rig.toml mic[].pattern", ofLine},
	{"rig.toml mic[].facing", ofLine},
	{"rig.toml mic[].meter", ofLine},
	{"rig.toml mic[].gain_cue", ofLine},
	{"mixer.toml send", inStereo},
	{"mixer.toml safety.channel[]", unusedChannel},
}

func emptyList(_ *idleFinder, k *fileKey) string {
	if k.node.Kind == table.Array && len(k.node.Items) == 0 {
		return "it names nobody"
	}
	return ""
}

// unusedRole is about a role, or about the lead that is wanted of it.
func unusedRole(x *idleFinder, k *fileKey) string {
	if x.any(func(m *micInCue) bool { return m.role.Name == k.name }) {
		return ""
	}
	return fmt.Sprintf("no cue opens a mic as %q", k.name)
}

// setBy is what sets a policy or a bound. The first one that has it wins.
type setBy int

const (
	fromCue setBy = iota
	fromRoster
	fromRole
	fromShow
)

// is reports whether a mic is one for which the key may set something.
func (by setBy) is(x *idleFinder, k *fileKey, m *micInCue) bool {
	switch by {
	case fromCue:
		return x.Cues[m.cue].Cue == x.cueOf(k)
	case fromRole:
		return m.role.Name == k.in.name
	}
	return true
}

// policyOf is what sets the policy of a mic.
func (x *idleFinder) policyOf(m *micInCue) setBy {
	worn := m.line.Holder(x.Cues[m.cue].At)
	switch {
	case x.Cues[m.cue].Cue.Policy != "":
		return fromCue
	case worn != nil && worn.Policy != "":
		return fromRoster
	case m.role.Policy != "":
		return fromRole
	}
	return fromShow
}

func noPolicy(by setBy) func(x *idleFinder, k *fileKey) string {
	return func(x *idleFinder, k *fileKey) string {
		if x.any(func(m *micInCue) bool { return by.is(x, k, m) && x.policyOf(m) == by && !m.Delay.Manual }) {
			return ""
		}
		return "no open mic goes by it (a cue's policy comes first, then a player's, then a role's)"
	}
}

func noBox(by setBy) func(x *idleFinder, k *fileKey) string {
	return func(x *idleFinder, k *fileKey) string {
		boxOf := func(m *micInCue) setBy {
			switch {
			case x.Cues[m.cue].Cue.Box != nil:
				return fromCue
			case m.role.Box != nil:
				return fromRole
			}
			return fromShow
		}
		if x.any(func(m *micInCue) bool {
			return by.is(x, k, m) && boxOf(m) == by && x.asksBox(m)
		}) {
			return ""
		}
		return "no open mic goes by it (the policy of none asks for a bound, or a cue's bound or a role's comes first)"
	}
}

// asksBox reports whether a mic's delay, or the warning that it misses the press box, depends on the bound. With a
// policy that wants one delay at each place, the bound matters only where something keeps the delay from that.
func (x *idleFinder) asksBox(m *micInCue) bool {
	if m.Delay.Manual || m.Delay.Policy.FromSeats() {
		return !m.Delay.Manual
	}
	strictest := *m.Derivation
	strictest.Delay.Box = score.BoxBound{MS: [2]float64{math.Inf(1), math.Inf(-1)}}
	return x.Setup.BoxMiss(&strictest).S > 0
}

// opens reports whether a cue opens a mic that was closed in the cue before.
func (x *idleFinder) opens(m *micInCue) bool {
	if m.cue == 0 {
		return true
	}
	was, open := x.Cues[m.cue-1].Open[m.Line]
	return !open || was.Name != m.Name
}

func roleNotEarly(x *idleFinder, k *fileKey) string {
	if x.any(func(m *micInCue) bool {
		return m.role.Name == k.in.name && x.Cues[m.cue].Cue.EarlyCounts == nil && x.opens(m)
	}) {
		return ""
	}
	return "each cue that opens such a mic has an open_early of its own"
}

func opensNothing(x *idleFinder, k *fileKey) string {
	if x.any(func(m *micInCue) bool { return fromCue.is(x, k, m) && x.opens(m) }) {
		return ""
	}
	return "this cue opens no mic that was closed"
}

func roleParam(x *idleFinder, k *fileKey) string {
	for i := range x.mics {
		for _, v := range x.mics[i].Params {
			if v.Name == k.name && v.By == "role "+k.in.name {
				return ""
			}
		}
	}
	return "a cue, the roster or the rig sets it for each open mic of this role"
}

func noLead(x *idleFinder, _ *fileKey) string {
	if x.any(func(m *micInCue) bool {
		return !m.Delay.Manual && (m.Delay.Policy.PlusLead || !m.Delay.Policy.NeedsStands)
	}) {
		return ""
	}
	return "no open mic has the policy reference or least-error"
}

func noAngle(x *idleFinder, _ *fileKey) string {
	if x.any(func(m *micInCue) bool { return m.Delay.Policy.MovesPan }) {
		return ""
	}
	return "no open mic has the policy joint"
}

func withoutSeats(x *idleFinder, _ *fileKey) string {
	if x.Setup.Seats > 0 {
		return ""
	}
	return "the rig has no stands"
}

func noSlew(x *idleFinder, _ *fileKey) string {
	if x.Mixer.Moves == cue.Glides {
		return ""
	}
	return `the delay of this mixer does not glide (moves in mixer.toml)`
}

func inStereo(x *idleFinder, _ *fileKey) string {
	if x.Rig.Zones {
		return ""
	}
	return "the rig feeds its stacks in stereo"
}

func noMakeUp(x *idleFinder, _ *fileKey) string {
	if x.any(func(m *micInCue) bool {
		return slices.ContainsFunc(m.Stretch.MakeUpDB, func(db float64) bool { return db != 0 })
	}) {
		return ""
	}
	return "it lifts no open mic"
}

// nothingAllowed is about an accepted warning. What was accepted has been marked as used.
func nothingAllowed(x *idleFinder, k *fileKey) string {
	for _, r := range rules.List {
		if r.Code == k.node.Text && r.Heard && !x.Heard {
			return ""
		}
	}
	if k.entry() >= 0 {
		return "this cue has no such warning"
	}
	return "the show has no such warning"
}

func noSection(x *idleFinder, k *fileKey) string {
	if slices.Contains(x.Roster.Sections(), k.node.Text) {
		return ""
	}
	return "the roster has no such section"
}

func withoutFieldMics(x *idleFinder, _ *fileKey) string {
	if x.any(func(m *micInCue) bool { return m.line.Fixed != nil && m.line.Fixed.Kind == rig.Field }) {
		return ""
	}
	return "no cue opens a field mic"
}

func withoutHandovers(x *idleFinder, _ *fileKey) string {
	if slices.ContainsFunc(x.Lines.List, func(l timeline.Line) bool { return len(l.Wears) > 1 }) {
		return ""
	}
	return "no pack changes hands"
}

func holdsNothing(x *idleFinder, _ *fileKey) string {
	if x.Mixer.Moves != cue.Glides {
		return ""
	}
	return "the delay of this mixer glides, and is never held"
}

func withoutReadings(x *idleFinder, _ *fileKey) string {
	if x.Heard {
		return ""
	}
	return "it is compared once noise and brass were read on site ([levels] of the rig)"
}

// sameTempo is about a change of tempo to the tempo that there is.
func sameTempo(x *idleFinder, k *fileKey) string {
	changes := x.Score.Movements[k.in.entry()].Changes
	if k.n == 0 || k.n >= len(changes) || changes[k.n].PauseS > 0 {
		return ""
	}
	bpm := 0.0
	for _, c := range changes[:k.n] {
		if c.BPM > 0 {
			bpm = c.BPM
		}
	}
	if now := changes[k.n].BPM; now != 0 && now != bpm {
		return ""
	}
	return fmt.Sprintf("the tempo is %g already", bpm)
}

// keepsNothing is about a cue that would have the same open without keep.
func keepsNothing(x *idleFinder, k *fileKey) string {
	i := slices.IndexFunc(x.Cues, func(c timeline.TimedCue) bool { return c.Cue == x.cueOf(k) })
	if i < 1 || !x.Score.Cues[k.in.n].Keep {
		return ""
	}
	always := map[int]timeline.Opening{}
	for n, o := range x.Cues[i-1].Open {
		if x.opened(x.Score.Always, o) {
			always[n] = o
		}
	}
	for n := range x.Lines.List {
		if _, kept := always[n]; !kept && x.isAlways(n) {
			return "" // keep leaves it closed
		}
	}
	for _, o := range x.Cues[i].Open {
		if !x.opened(x.Cues[i].Cue.Open, o) && !x.opened(x.Score.Always, o) {
			return ""
		}
	}
	return "nothing is open before this cue that it would close"
}

// opened reports whether a list of the score opened a mic.
func (x *idleFinder) opened(list []score.RoleOpen, o timeline.Opening) bool {
	return slices.ContainsFunc(list, func(r score.RoleOpen) bool {
		return slices.ContainsFunc(r.Names, func(name table.Text) bool { return name.Span == o.At })
	})
}

// isAlways reports whether a line is that of a mic which is open unless a cue closes it.
func (x *idleFinder) isAlways(n int) bool {
	mic := x.Lines.List[n].Fixed
	return mic != nil && slices.ContainsFunc(x.Score.Always, func(r score.RoleOpen) bool {
		return slices.ContainsFunc(r.Names, func(name table.Text) bool {
			return name.V == mic.Name || name.V == "@"+mic.Kind
		})
	})
}

// closedGroup is about a group of which a cue has nobody open. Of a single name there is a warning.
func closedGroup(x *idleFinder, k *fileKey) string {
	group, ok := strings.CutPrefix(k.name, "@")
	if !ok || x.any(func(m *micInCue) bool {
		return fromCue.is(x, k, m) && (m.line.Fixed == nil && m.Section == group ||
			m.line.Fixed != nil && m.line.Fixed.Kind == group)
	}) {
		return ""
	}
	return "this cue has none of them open"
}

// cueOf is the cue that a key is in.
func (x *idleFinder) cueOf(k *fileKey) *score.Cue { return &x.Score.Cues[k.entry()] }
