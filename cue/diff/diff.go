// Package diff tells what differs between two compiled shows, in the trade's words and units: what the tech
// reads before the mixer is loaded. It sets snapshots side by side and works out from them why a number
// moved; it compiles nothing, reads no file and knows no mixer.
package diff

import (
	"slices"

	"backfield/cue"
	"backfield/cue/step"
)

// The parameters of a channel that a Change may name, beside those of package cue. Role and player are no
// messages to a mixer by themselves.
const (
	ParamOpen   = "open" // 1 open, 0 closed
	ParamPlayer = "player"
	ParamRole   = "role"
	ParamLevel  = cue.ParamLevel
	ParamPan    = cue.ParamPan
	ParamDelay  = cue.ParamDelay
	ParamSend   = cue.ParamSend
)

// Report is what differs. Its JSON holds every change; Text leaves out what waits behind closed mics.
type Comparison struct {
	// Unchanged is true when no message to the mixer would differ.
	Unchanged bool   `json:"same"`
	Summary   string `json:"summary"` // one line, "" when nothing differs
	// Whole lists what changed for the show as a whole: air, rig, settings, channels.
	Whole []Cause `json:"whole_show"`
	// Cues in the order of the new show; a removed cue stands where it stood.
	Cues []CueDiff `json:"cues"`

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
type CueDiff struct {
	ID     string `json:"id"`
	Name   string `json:"name"`
	At     string `json:"at"` // movement and count, "2:49"
	Status string `json:"status"`
	// FollowOn is true of a snapshot that the compiler added within a cue.
	Waypoint bool `json:"follow_on"`
	// Mixer is false where only words or times differ.
	Mixer    bool          `json:"desk"`
	Notes    []string      `json:"notes"`    // what differs of the cue itself: its time, place in the order, fade, name
	Channels []ChannelDiff `json:"channels"` // largest first
}

// Channel is one channel that differs within a cue. Player is who wears it in the new show.
type ChannelDiff struct {
	Channel int         `json:"channel"`
	Player  string      `json:"player"`
	Size    float64     `json:"size"`    // of its largest change
	Changes []ParamDiff `json:"changes"` // largest first
}

// Change is one parameter that differs. Old and New are in the parameter's own unit (dB, pan -1 to 1, ms,
// open 1 or 0; null is a level of minus infinity); for player and role they are 0 and the names differ.
type ParamDiff struct {
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

// Same reports whether no message to the mixer would differ: the same cues in the same order, with the same
// channels open at the same level, pan, delay, own parameters and fade, and the same sent besides.
func (r *Comparison) SameAtMixer() bool { return r.Unchanged }

// Compare sets two shows side by side.
func Compare(old, new *cue.Show) *Comparison {
	own := both(old.Params, new.Params)
	pairs := match(old.Cues, new.Cues)
	steps := make([]*step.Step, len(pairs)) // from the old state of a cue to its new one
	for i, p := range pairs {
		if p.old >= 0 && p.new >= 0 {
			steps[i] = step.Between(own, &old.Cues[p.old], &new.Cues[p.new])
		}
	}
	r := &Comparison{Whole: append(wholeShow(old, new), roleLevels(steps)...), Cues: []CueDiff{}}
	params := ownCauses(old.Params, new.Params)
	r.Whole = append(r.Whole, params...)
	roster, channelsDiffer := rosterCauses(old, new)
	r.Whole = append(r.Whole, roster...)

	moved := outOfOrder(pairs)
	for i, p := range pairs {
		switch {
		case p.old < 0:
			r.Cues = append(r.Cues, added(&new.Cues[p.new]))
		case p.new < 0:
			r.Cues = append(r.Cues, describe(&old.Cues[p.old], Removed))
		default:
			c := compareCue(&old.Cues[p.old], &new.Cues[p.new], steps[i], r.Whole)
			if moved[i] {
				c.Notes = append([]string{orderWords(old.Cues, new.Cues, p)}, c.Notes...)
				c.Mixer = true
			}
			if len(c.Notes) > 0 || len(c.Channels) > 0 {
				r.Cues = append(r.Cues, c)
			}
		}
	}
	cuesDiffer := slices.ContainsFunc(r.Cues, func(c CueDiff) bool { return c.Mixer })
	r.Unchanged = !channelsDiffer && len(params) == 0 && !cuesDiffer
	if !r.Unchanged {
		r.Summary = summary(r)
	}
	return r
}

// added is a cue that the old show lacks.
func added(s *cue.Snapshot) CueDiff {
	c := describe(s, Added)
	all := step.Between(nil, nil, s)
	c.Notes = append(c.Notes, opens(all))
	c.Notes = append(c.Notes, rawWords(all)...)
	return c
}

func describe(s *cue.Snapshot, status string) CueDiff {
	return CueDiff{
		ID: s.ID, Name: s.Name, At: moment(s), Status: status, Waypoint: s.Waypoint, Mixer: true,
		Notes: []string{}, Channels: []ChannelDiff{},
	}
}
