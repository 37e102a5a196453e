// Package diff tells what differs between two compiled shows, in the trade's words and units: what the tech
// reads before the desk is loaded. It sets snapshots side by side and works out from them why a number
// moved; it compiles nothing, reads no file and knows no desk.
package diff

import (
	"cmp"
	"maps"
	"math"
	"slices"

	"backfield/cue"
)

// The parameters of a channel that a Change may name, beside those of package cue. Role and player are no
// messages to a desk by themselves.
const (
	ParamOpen   = "open" // 1 open, 0 closed
	ParamPlayer = "player"
	ParamRole   = "role"
	ParamLevel  = cue.ParamLevel
	ParamPan    = cue.ParamPan
	ParamDelay  = cue.ParamDelay
	ParamSend   = cue.ParamSend
)

// One unit of size is what the show's own tolerances call as much as may pass unheard: 5 ms of delay, 0.1 of
// pan (the default limits for a walking player), 1 dB of level. A mic that opens, closes or changes hands
// is larger than any number.
const (
	unitDelayMS = 5
	unitPan     = 0.1
	unitLevelDB = 1
	sizeOpen    = 1e6
	sizePlayer  = 1e5
	ownSize     = 1 // nobody knows what a unit of a desk's own parameter is worth
)

// Report is what differs. Its JSON holds every change; Text leaves out what waits behind closed mics.
type Report struct {
	// Unchanged is true when no message to the desk would differ.
	Unchanged bool   `json:"same"`
	Summary   string `json:"summary"` // one line, "" when nothing differs
	// Whole lists what changed for the show as a whole: air, rig, settings, channels.
	Whole []Cause `json:"whole_show"`
	// Cues in the order of the new show; a removed cue stands where it stood.
	Cues []Cue `json:"cues"`

	// Full makes Text list the moves of closed channels one by one.
	Full bool `json:"-"`
}

// Cause is one difference that holds for the whole show. Tag is the short word that lines refer to it by,
// Params are the parameters it can move.
type Cause struct {
	Tag    string   `json:"tag"`
	Words  string   `json:"words"`
	Params []string `json:"params"`
}

// What can happen to a cue.
const (
	Changed = "changed"
	Added   = "added"
	Removed = "removed"
)

// Cue is one cue that differs.
type Cue struct {
	ID     string `json:"id"`
	Name   string `json:"name"`
	At     string `json:"at"` // movement and count, "2:49"
	Status string `json:"status"`
	// FollowOn is true of a snapshot that the compiler added within a cue.
	FollowOn bool `json:"follow_on"`
	// Desk is false where only words or times differ.
	Desk     bool      `json:"desk"`
	Notes    []string  `json:"notes"`    // what differs of the cue itself: its time, place in the order, fade, name
	Channels []Channel `json:"channels"` // largest first
}

// Channel is one channel that differs within a cue. Player is who wears it in the new show.
type Channel struct {
	Channel int      `json:"channel"`
	Player  string   `json:"player"`
	Size    float64  `json:"size"`    // of its largest change
	Changes []Change `json:"changes"` // largest first
}

// Change is one parameter that differs. Old and New are in the parameter's own unit (dB, pan -1 to 1, ms,
// open 1 or 0; null is a level of minus infinity); for player and role they are 0 and the names differ.
type Change struct {
	Param   string    `json:"param"`
	Zone    int       `json:"zone,omitempty"` // of a send
	Old     cue.Level `json:"old"`
	New     cue.Level `json:"new"`
	OldName string    `json:"old_name,omitempty"`
	NewName string    `json:"new_name,omitempty"`
	Words   string    `json:"words"`
	Why     []string  `json:"why"`
	// Waiting is true where the channel is closed before or after: nobody hears the move itself.
	Waiting bool    `json:"waiting"`
	Size    float64 `json:"size"` // 1 is 5 ms, 0.1 of pan or 1 dB
}

// Same reports whether no message to the desk would differ: the same cues in the same order, with the same
// channels open at the same level, pan, delay, own parameters and fade, and the same sent besides.
func (r *Report) Same() bool { return r.Unchanged }

// Compare sets two shows side by side.
func Compare(old, new *cue.Show) *Report {
	r := &Report{Whole: append(wholeShow(old, new), roleLevels(old, new)...), Cues: []Cue{}}
	r.Whole = append(r.Whole, ownCauses(old.Params, new.Params)...)
	roster, channelsDiffer := rosterCauses(old, new)
	r.Whole = append(r.Whole, roster...)

	pairs := match(old.Cues, new.Cues)
	moved := outOfOrder(pairs)
	for i, p := range pairs {
		switch {
		case p.old < 0:
			c := describe(&new.Cues[p.new], Added)
			c.Notes = append(c.Notes, opens(&new.Cues[p.new]))
			c.Notes = append(c.Notes, rawWords(nil, new.Cues[p.new].Also)...)
			r.Cues = append(r.Cues, c)
		case p.new < 0:
			r.Cues = append(r.Cues, describe(&old.Cues[p.old], Removed))
		default:
			c := compareCue(&old.Cues[p.old], &new.Cues[p.new], r.Whole, both(old.Params, new.Params))
			if moved[i] {
				c.Notes = append([]string{orderWords(old.Cues, new.Cues, p)}, c.Notes...)
				c.Desk = true
			}
			if len(c.Notes) > 0 || len(c.Channels) > 0 {
				r.Cues = append(r.Cues, c)
			}
		}
	}
	r.Unchanged = !channelsDiffer && len(ownCauses(old.Params, new.Params)) == 0 && !slices.ContainsFunc(r.Cues, func(c Cue) bool { return c.Desk })
	if !r.Unchanged {
		r.Summary = summary(r)
	}
	return r
}

// pair is a cue's index in both shows, -1 where it is not in one.
type pair struct{ old, new int }

// match pairs cues by id, the nth of a name with the nth. The result is in the new show's order, with each
// removed cue after the one it followed.
func match(old, new []cue.Snapshot) []pair {
	type name struct {
		id  string
		nth int
	}
	count := map[string]int{}
	at := map[name]int{}
	for j := range new {
		at[name{new[j].ID, count[new[j].ID]}] = j
		count[new[j].ID]++
	}
	clear(count)
	partner := slices.Repeat([]int{-1}, len(new))
	removedAfter := map[int][]pair{} // by the new index of the last matched cue before, -1 for none
	last := -1
	for i := range old {
		j, ok := at[name{old[i].ID, count[old[i].ID]}]
		count[old[i].ID]++
		if ok {
			partner[j], last = i, j
		} else {
			removedAfter[last] = append(removedAfter[last], pair{i, -1})
		}
	}
	pairs := slices.Clone(removedAfter[-1])
	for j := range new {
		pairs = append(pairs, pair{partner[j], j})
		pairs = append(pairs, removedAfter[j]...)
	}
	return pairs
}

// outOfOrder marks the fewest matched cues that must have been moved for the others to have kept their
// order: those outside a longest rising run of old indices.
func outOfOrder(pairs []pair) []bool {
	moved := make([]bool, len(pairs))
	before := make([]int, len(pairs)) // the pair before this one in its run, -1 for none
	var ends []int                    // per length, the pair with the lowest old index that ends such a run
	for i, p := range pairs {
		if p.old < 0 || p.new < 0 {
			continue
		}
		n, _ := slices.BinarySearchFunc(ends, p.old, func(e, x int) int { return cmp.Compare(pairs[e].old, x) })
		before[i] = -1
		if n > 0 {
			before[i] = ends[n-1]
		}
		if n == len(ends) {
			ends = append(ends, i)
		} else {
			ends[n] = i
		}
		moved[i] = true
	}
	if len(ends) > 0 {
		for i := ends[len(ends)-1]; i >= 0; i = before[i] {
			moved[i] = false
		}
	}
	return moved
}

func describe(s *cue.Snapshot, status string) Cue {
	return Cue{ID: s.ID, Name: s.Name, At: moment(s), Status: status, FollowOn: s.FollowOn, Desk: true, Notes: []string{}, Channels: []Channel{}}
}

func compareCue(old, new *cue.Snapshot, whole []Cause, own []cue.Own) Cue {
	c := describe(new, Changed)
	raw := rawWords(old.Also, new.Also)
	c.Desk = old.FadeS != new.FadeS || raw != nil
	for _, note := range []string{timeWords(old, new), fadeWords(old, new), nameWords(old, new)} {
		if note != "" {
			c.Notes = append(c.Notes, note)
		}
	}
	c.Notes = append(c.Notes, raw...)
	a, b := byNumber(old), byNumber(new)
	for _, n := range slices.Sorted(maps.Keys(union(a, b))) {
		changes, desk := compareChannel(a[n], b[n], whole, own)
		c.Desk = c.Desk || desk
		if len(changes) > 0 {
			c.Channels = append(c.Channels, Channel{n, playerOf(a[n], b[n]), changes[0].Size, changes})
		}
	}
	slices.SortStableFunc(c.Channels, func(x, y Channel) int {
		return cmp.Or(-cmp.Compare(x.Size, y.Size), cmp.Compare(x.Channel, y.Channel))
	})
	return c
}

func byNumber(s *cue.Snapshot) map[int]*cue.Channel {
	m := make(map[int]*cue.Channel, len(s.Channels))
	for i := range s.Channels {
		m[s.Channels[i].Channel] = &s.Channels[i]
	}
	return m
}

func union[V any](a, b map[int]V) map[int]bool {
	all := make(map[int]bool, len(a))
	for n := range a {
		all[n] = true
	}
	for n := range b {
		all[n] = true
	}
	return all
}

func playerOf(old, new *cue.Channel) string {
	if new != nil {
		return new.Player
	}
	return old.Player
}

// compareChannel lists what differs of a channel, largest first, and whether the desk would be told of any.
// A channel that one show lacks counts as closed there; that it came or went is said once for the show.
func compareChannel(old, new *cue.Channel, whole []Cause, own []cue.Own) (changes []Change, desk bool) {
	wasOpen, isOpen := old != nil && old.Open, new != nil && new.Open
	add := func(c Change) {
		if c.Why == nil {
			c.Why = []string{}
		}
		changes = append(changes, c)
	}
	if wasOpen != isOpen {
		desk = true
		add(openChange(old, new, isOpen, own))
	}
	if old == nil || new == nil {
		return changes, desk
	}
	waiting := !wasOpen || !isOpen
	why := reasons{old, new, whole, waiting}
	if old.Player != new.Player {
		add(Change{Param: ParamPlayer, OldName: old.Player, NewName: new.Player, Words: playerWords(old.Player, new.Player), Waiting: !wasOpen && !isOpen, Size: sizePlayer})
	}
	if wasOpen && isOpen && old.Role != new.Role {
		add(Change{Param: ParamRole, OldName: old.Role, NewName: new.Role, Words: roleWords(old.Role, new.Role)})
	}
	if wasOpen && isOpen && old.LevelDB != new.LevelDB {
		desk = true
		size := math.Abs(float64(new.LevelDB-old.LevelDB)) / unitLevelDB
		add(Change{Param: ParamLevel, Old: old.LevelDB, New: new.LevelDB, Words: levelWords(old.LevelDB, new.LevelDB), Why: why.level(), Size: min(size, sizeOpen)})
	}
	if old.Pan != new.Pan {
		desk = true
		add(Change{Param: ParamPan, Old: cue.Level(old.Pan), New: cue.Level(new.Pan), Words: panWords(old.Pan, new.Pan), Why: why.arrival(ParamPan), Waiting: waiting, Size: math.Abs(new.Pan-old.Pan) / unitPan})
	}
	if old.DelayMS != new.DelayMS {
		desk = true
		add(Change{Param: ParamDelay, Old: cue.Level(old.DelayMS), New: cue.Level(new.DelayMS), Words: delayWords(old.DelayMS, new.DelayMS), Why: why.arrival(ParamDelay), Waiting: waiting, Size: math.Abs(new.DelayMS-old.DelayMS) / unitDelayMS})
	}
	for _, zone := range zones(old, new) {
		was, is := sendOf(old, zone), sendOf(new, zone)
		if was == is {
			continue
		}
		desk = true
		add(Change{Param: ParamSend, Zone: zone, Old: was, New: is, Words: sendWords(zone, was, is), Why: why.arrival(ParamSend), Waiting: waiting, Size: math.Abs(audible(is)-audible(was)) / unitLevelDB})
	}
	for _, x := range own {
		was, had := old.Value(x.Name)
		is, has := new.Value(x.Name)
		if !had || !has || was == is { // a parameter that came or went is said once for the show
			continue
		}
		desk = true
		add(Change{Param: x.Name, Old: cue.Level(was), New: cue.Level(is), Words: ownWords(x, was, is), Why: why.own(), Waiting: waiting, Size: ownSize})
	}
	slices.SortStableFunc(changes, func(x, y Change) int {
		if x.Waiting != y.Waiting {
			if x.Waiting {
				return 1
			}
			return -1
		}
		return -cmp.Compare(x.Size, y.Size)
	})
	return changes, desk
}

// zones lists the zones that either state has a send to, ascending.
func zones(old, new *cue.Channel) []int {
	all := map[int]bool{}
	for _, s := range append(slices.Clone(old.Sends), new.Sends...) {
		all[s.Zone] = true
	}
	return slices.Sorted(maps.Keys(all))
}

func sendOf(c *cue.Channel, zone int) cue.Level {
	for _, s := range c.Sends {
		if s.Zone == zone {
			return s.LevelDB
		}
	}
	return cue.Silent
}

// audible is a send's level for its size: off counts as 40 dB down, where it is as good as.
func audible(l cue.Level) float64 { return math.Max(float64(l), -40) }

func openChange(old, new *cue.Channel, opened bool, own []cue.Own) Change {
	c := Change{Param: ParamOpen, Old: 1, Words: "closed", Size: sizeOpen}
	if opened {
		c.Old, c.New, c.Words = 0, 1, openedWords(new, own)
	} else if new == nil {
		c.Words = "closed: the channel is gone"
	}
	if opened && old == nil {
		c.Words += ", on a new channel"
	}
	return c
}
