// Package diff lists what would change at the mixer between two compiled shows, and why: what the tech reads before
// loading the mixer. All of it comes from the snapshots; the package compiles nothing and reads no file.
package diff

import (
	"slices"

	"backfield/cue"
	"backfield/cue/step"
)

// The parameters of a channel that a ParamDiff may name. No message to a mixer says the role or the player.
const (
	ParamOpen   = "open" // 1 open, 0 closed
	ParamPlayer = "player"
	ParamRole   = "role"
	ParamLevel  = cue.ParamLevel
	ParamPan    = cue.ParamPan
	ParamDelay  = cue.ParamDelay
	ParamSend   = cue.ParamSend
	ParamPath   = "path"  // the path after the cue's moment
	ParamPlace  = "place" // along the row of stacks; only of a path
)

// Comparison is what differs. Its JSON has every change; Text leaves out what waits behind closed mics.
type Comparison struct {
	// Unchanged is true if no message to the mixer would differ, and none would come at another time.
	Unchanged bool   `json:"same"`
	Summary   string `json:"summary"` // one line, "" when nothing differs
	// Whole lists what changed for the whole show: air, rig, settings, channels.
	Whole []Cause `json:"whole_show"`
	// Cues are in the order of the new show; a removed cue comes after the one that it followed.
	Cues []CueDiff `json:"cues"`

	// Full makes Text list the changes of closed channels one by one.
	Full bool `json:"-"`
}

// Cause is one difference that holds for the whole show. Tag is the short name that lines use for it, Params are the
// parameters that it can change.
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

// CueDiff is one cue that differs.
type CueDiff struct {
	ID     string `json:"id"`
	Name   string `json:"name"`
	At     string `json:"at"` // movement and count, "2:49"
	Status string `json:"status"`
	// Mixer is false if only names or times differ.
	Mixer    bool          `json:"mixer"`
	Notes    []string      `json:"notes"`    // what differs in the cue itself: its time, order, fade, name
	Channels []ChannelDiff `json:"channels"` // largest first
}

// ChannelDiff is one channel that differs within a cue. Player is who wears it in the new show.
type ChannelDiff struct {
	Channel int         `json:"channel"`
	Player  string      `json:"player"`
	Size    float64     `json:"size"`    // of its largest change
	Changes []ParamDiff `json:"changes"` // largest first
}

// ParamDiff is one parameter that differs. Old and New are in the parameter's unit (dB, pan -1 to 1, ms, open 1 or 0;
// null is a level of minus infinity). For player and role they are 0, and OldName and NewName differ.
type ParamDiff struct {
	Param   string    `json:"param"`
	Zone    int       `json:"zone,omitempty"` // of a send
	Of      string    `json:"of,omitempty"`   // of a path: what Old and New are, where the paths are farthest apart
	Old     cue.Level `json:"old"`
	New     cue.Level `json:"new"`
	OldName string    `json:"old_name,omitempty"`
	NewName string    `json:"new_name,omitempty"`
	Words   string    `json:"words"`
	Why     []string  `json:"why"`
	// Waiting is true if the channel is closed before or after, so that nobody hears the change itself.
	Waiting bool    `json:"waiting"`
	Size    float64 `json:"size"` // 1 is 5 ms, 0.1 of pan or 1 dB
}

// SameAtMixer reports whether no message to the mixer would differ: the same cues in the same order at the same time, with
// the same channels open at the same level, pan, delay, own parameters and fade, and the same extra messages.
func (r *Comparison) SameAtMixer() bool { return r.Unchanged }

// Compare lists what differs between two shows.
func Compare(old, new *cue.Show) *Comparison {
	own := both(old.Params, new.Params)
	pairs := match(old.Cues, new.Cues)
	steps := make([]*step.Step, len(pairs)) // from the old state of a cue to its new one
	for i, p := range pairs {
		if p.old >= 0 && p.new >= 0 {
			steps[i] = step.Versions(own, &old.Cues[p.old], &new.Cues[p.new])
		}
	}
	r := &Comparison{Whole: append(wholeShow(old, new), roleLevels(steps)...), Cues: []CueDiff{}}
	params := ownCauses(old.Params, new.Params)
	r.Whole = append(r.Whole, params...)
	roster, channelsDiffer := rosterCauses(old, new)
	r.Whole = append(r.Whole, roster...)

	c := cueComparer{old: old, new: new, pairs: pairs, steps: steps, whole: r.Whole}
	moved := outOfOrder(pairs)
	for i, p := range pairs {
		switch {
		case p.old < 0:
			r.Cues = append(r.Cues, added(&new.Cues[p.new]))
		case p.new < 0:
			r.Cues = append(r.Cues, describe(&old.Cues[p.old], Removed))
		default:
			c := c.compare(i)
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
	times := movedCues(old, new, pairs)
	r.Unchanged = !channelsDiffer && len(params) == 0 && !cuesDiffer && times == ""
	if !r.Unchanged {
		r.Summary = summary(r, times)
	}
	return r
}

// added is a cue that the old show lacks.
func added(s *cue.Snapshot) CueDiff {
	c := describe(s, Added)
	all := step.Between(nil, nil, s)
	c.Notes = append(c.Notes, opens(all))
	c.Notes = append(c.Notes, extraWords(all)...)
	return c
}

func describe(s *cue.Snapshot, status string) CueDiff {
	return CueDiff{
		ID: s.ID, Name: s.Name, At: moment(s), Status: status, Mixer: true,
		Notes: []string{}, Channels: []ChannelDiff{},
	}
}
