package diff

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"backfield/cue"
	"backfield/cue/step"
)

// stepM is a drill step, 8 to 5 yards, in meters.
const stepM = 0.5715

// leastSteps is the shortest distance that is given as a reason, in steps: a shorter one would read 0.0.
const leastSteps = 0.05

// unknown is the reason if nothing in the snapshots explains a number.
const unknown = "for a reason that is not in the snapshots " +
	"(stands, mixer limits or steps, a policy or box of one role, player or cue)"

// feedZones is the feed of a rig with zones.
const feedZones = "zones"

// The short names that lines use for the causes.
const (
	tagVenue    = "venue"
	tagAir      = "air"
	tagStands   = "stands"
	tagRig      = "rig"
	tagSettings = "settings"
	tagRole     = "role level"
	tagChannel  = "channel"
	tagMixer    = "mixer"
)

// reasons finds out why one channel's numbers differ.
type reasons struct {
	old, new *cue.Channel
	whole    []Cause
	waiting  bool

	// moved and nextMoved are true if the cue, or the one after it, comes at another count. Then the player is elsewhere,
	// whether or not a dot has changed.
	moved, nextMoved bool

	// elsewhere says where else in the stretch the player's way differs: the path is found for all of it.
	elsewhere func() string
}

// arrival explains a pan or a delay: by who is where, then by what holds for the whole show. A closed channel has the
// numbers of another cue, so its own place explains nothing.
func (r reasons) arrival(param string) []string {
	var why []string
	switch {
	case r.waiting:
		why = append(why, "for its next entry")
	case r.old.Player != r.new.Player && r.old.Player != "" && r.new.Player != "":
		why = append(why, r.new.Player+" is elsewhere than "+r.old.Player)
	default:
		if words := stepsMoved(r.old.Location, r.new.Location); words != "" {
			if r.moved {
				words = "the cue's count (" + words + " at the new one)"
			}
			why = append(why, words)
		}
		// A path that moved as a whole with its start is no second reason.
		switch {
		case !far(minus(minus(r.new.End, r.old.End), minus(r.new.Location, r.old.Location))):
		case r.nextMoved:
			why = append(why, "the next cue's count")
		default:
			words := stepsMoved(r.old.End, r.new.End)
			if words == "" {
				words = "at the same place"
			}
			why = append(why, "walks differently before the next cue, ends "+words)
		}
	}
	for _, c := range r.whole {
		if slices.Contains(c.Params, param) && !slices.Contains(why, c.Tag) {
			why = append(why, c.Tag)
		}
	}
	if words := ""; len(why) == 0 && r.elsewhere != nil {
		if words = r.elsewhere(); words != "" {
			why = append(why, words)
		}
	}
	if len(why) == 0 {
		why = []string{unknown}
	}
	return why
}

// path explains a path that differs after the cue's moment.
func (r reasons) path(list []pathChange) []string {
	var why []string
	for _, x := range list {
		param := x.param
		if param == ParamPlace {
			param = ParamSend
		}
		words := r.level()
		if param != ParamLevel {
			words = r.arrival(param)
		}
		for _, w := range words {
			if !slices.Contains(why, w) {
				why = append(why, w)
			}
		}
	}
	return why
}

// elsewhere says in which cue nearby the stretch of an open channel differs: the path is found for all of it.
func (x *cueComparer) elsewhere(pair int, c *step.ChannelStep) (words string) {
	if x.new.Rig.Delay.Moves == cue.Stepped { // format 1 had no paths
		return ""
	}
	nearest := len(x.pairs)
	for _, way := range []int{-1, 1} {
		for far := 1; far < nearest; far++ {
			i := pair + far*way
			if i < 0 || i >= len(x.pairs) {
				break
			}
			text, on := x.stretchAt(i, c)
			if text != "" {
				nearest, words = far, text
			}
			if !on {
				break
			}
		}
	}
	return words
}

// stretchAt says how the stretch of a channel differs in a cue nearby, and whether it goes on there.
func (x *cueComparer) stretchAt(pair int, c *step.ChannelStep) (words string, on bool) {
	if x.steps[pair] == nil {
		return "", true // a cue of one show alone
	}
	id := x.new.Cues[x.pairs[pair].new].ID
	moved, nextMoved := x.otherCount(pair), x.otherCount(pair+1)
	for i := range x.steps[pair].Channels {
		o := &x.steps[pair].Channels[i]
		if o.Channel != c.Channel {
			continue
		}
		was, is := o.Was.Open && o.Was.Player == c.Was.Player, o.Is.Open && o.Is.Player == c.Is.Player
		switch steps := stepsMoved(o.Was.Location, o.Is.Location); {
		case was && !is:
			return fmt.Sprintf("its stretch no longer goes on in cue %s", id), false
		case is && !was:
			return fmt.Sprintf("its stretch now goes on in cue %s", id), false
		case !is:
			return "", false
		case steps != "" && moved:
			return fmt.Sprintf("in the same stretch, cue %s: it comes at another count", id), true
		case steps != "":
			return fmt.Sprintf("in the same stretch, cue %s: %s", id, steps), true
		case far(minus(o.Is.End, o.Was.End)) && nextMoved:
			return fmt.Sprintf("in the same stretch, the cue after %s: it comes at another count", id), true
		case far(minus(o.Is.End, o.Was.End)):
			return fmt.Sprintf("in the same stretch, cue %s: walks differently", id), true
		}
		return "", true
	}
	return "", false
}

// otherCount reports whether a pair's cue comes at another count. One that only one show has counts as such: it ends the
// cue before it elsewhere.
func (x *cueComparer) otherCount(pair int) bool {
	if pair >= len(x.pairs) {
		return false
	}
	p := x.pairs[pair]
	if p.old < 0 || p.new < 0 {
		return true
	}
	a, b := &x.old.Cues[p.old], &x.new.Cues[p.new]
	return a.Movement != b.Movement || a.Count != b.Count
}

// level explains a level. It comes from a role, a trim or a nudge, and never from the air. A place changes it only with
// distance make-up.
func (r reasons) level() []string {
	if r.old.Role != r.new.Role {
		return []string{roleWords(r.old.Role, r.new.Role)}
	}
	for _, c := range r.whole {
		if c.Tag == tagRole && c.Words == roleLevelWords(r.old.Role, float64(r.new.LevelDB-r.old.LevelDB)) {
			return []string{tagRole}
		}
	}
	if far(minus(r.new.Location, r.old.Location)) {
		return []string{"nudge, trim, role level or distance make-up"}
	}
	return []string{"nudge, trim or role level"} // for a role that is open once it could be either
}

// own explains one of the mixer's own parameters, which is set like a level and not computed.
func (r reasons) own() []string {
	switch {
	case r.waiting:
		return []string{"for its next entry"}
	case r.old.Role != r.new.Role:
		return []string{roleWords(r.old.Role, r.new.Role)}
	}
	return []string{"set by role, player or cue, or the mixer's default"}
}

func minus(a, b cue.Location) cue.Location {
	return cue.Location{X: a.X - b.X, Y: a.Y - b.Y, Z: a.Z - b.Z}
}

// far reports whether two places are far enough apart to say so.
func far(d cue.Location) bool {
	return math.Abs(d.X) >= leastSteps*stepM || math.Abs(d.Y) >= leastSteps*stepM || math.Abs(d.Z) >= 0.005
}

// stepsMoved is the way from one place to another in the words of the drill, "6.0 steps farther back and 2.0 toward side
// 1", with the height in meters; "" if they are the same.
func stepsMoved(from, to cue.Location) string {
	d := minus(to, from)
	if d == (cue.Location{}) {
		return ""
	}
	var parts []string
	along := func(distM float64, up, down string) {
		if math.Abs(distM) < leastSteps*stepM {
			return
		}
		steps := fmt.Sprintf("%.1f", math.Abs(distM)/stepM)
		if len(parts) == 0 {
			steps += " steps"
		}
		way := up
		if distM < 0 {
			way = down
		}
		parts = append(parts, steps+" "+way)
	}
	along(d.Y, "farther back", "farther to the front")
	along(d.X, "toward side 2", "toward side 1")
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
