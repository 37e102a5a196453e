package diff

import (
	"fmt"
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
const unknown = "for a reason the snapshots don't hold " +
	"(stand, mixer limits or steps, a policy of one role, player or cue)"

// feedZones is the feed of a rig whose stacks hang on buses of their own.
const feedZones = "zones"

// Tags of the causes that lines refer to.
const (
	tagVenue    = "venue"
	tagAir      = "air"
	tagStands   = "stand"
	tagRig      = "rig"
	tagSettings = "settings"
	tagRole     = "role level"
	tagChannel  = "channel"
	tagMixer    = "mixer"
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
		if words := stepsMoved(r.old.Location, r.new.Location); words != "" {
			why = append(why, "stands "+words)
		}
		// A path that is only carried along with its start is no reason of its own.
		if far(minus(minus(r.new.End, r.old.End), minus(r.new.Location, r.old.Location))) {
			words := stepsMoved(r.old.End, r.new.End)
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
	if far(minus(r.new.Location, r.old.Location)) {
		return []string{"nudge, trim, role level or distance make-up"}
	}
	return []string{"nudge, trim or role level"} // a role that is open once cannot be told from a nudge
}

// own explains one of the mixer's own parameters: like a level it is set, not computed.
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

// far reports whether a difference of places is large enough to be told.
func far(d cue.Location) bool {
	return math.Abs(d.X) >= leastSteps*stepM || math.Abs(d.Y) >= leastSteps*stepM || math.Abs(d.Z) >= 0.005
}

// shift words the way from one place to another as the field is read: "6.0 steps further back and 2.0
// towards side 1", with the height in metres; "" for no way at all.
func stepsMoved(from, to cue.Location) string {
	d := minus(to, from)
	if d == (cue.Location{}) {
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
