package diff

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"backfield/cue"
)

// stepM is a drill step, 8 to 5 yards, in meters.
const stepM = 0.5715

// leastSteps is the shortest distance that is given as a reason, in steps: a shorter one would read 0.0.
const leastSteps = 0.05

// unknown is the reason if nothing in the snapshots explains a number.
const unknown = "for a reason that is not in the snapshots " +
	"(stands, mixer limits or steps, a policy of one role, player or cue)"

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
			why = append(why, words)
		}
		// A path that moved as a whole with its start is no second reason.
		if far(minus(minus(r.new.End, r.old.End), minus(r.new.Location, r.old.Location))) {
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
	if len(why) == 0 {
		why = []string{unknown}
	}
	return why
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
