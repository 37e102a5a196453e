package journal

import (
	"math"
	"time"

	"backfield/cue"
)

// State is all that a run must know to go on after it was cut off.
type RunState struct {
	Step      string          `json:"step"` // the id of the snapshot that is meant; empty before the first
	Clock     PlayClock       `json:"clock"`
	Presses   []Press         `json:"presses,omitempty"` // of this movement
	Hush      bool            `json:"hush,omitempty"`
	Holds     []cue.Channel   `json:"holds,omitempty"` // as they were when they were held
	Manual    []ManualChannel `json:"in_hand,omitempty"`
	Swaps     []Swap          `json:"swaps,omitempty"`
	OldSpares []int           `json:"spent,omitempty"` // channels that were spares and are none now: they are kept closed
	Nudges    []RunNudge      `json:"nudges,omitempty"`
	Past      []Past          `json:"past,omitempty"` // for back, oldest first
}

// Manual is a channel that somebody moved at a mixer, and what they moved.
type ManualChannel struct {
	Mixer   int    `json:"desk"` // from 0, in the order of the run's mixers
	Channel int    `json:"channel"`
	What    string `json:"what"`
}

// Swap is a dead pack's channel, and the spare's.
type Swap struct {
	Channel int `json:"channel"`
	Spare   int `json:"spare"`
}

// Nudge is a level that was changed for this run, and the step in which that began.
type RunNudge struct {
	Name string  `json:"name"`
	DB   float64 `json:"db"`
	Step string  `json:"step"`
}

// Press is a cue that the operator started: when it was planned, and when it was pressed.
type Press struct {
	PlannedS float64   `json:"planned_s"`
	At       time.Time `json:"at"`
}

// Past is where a go or a jump came from.
type Past struct {
	Step    string    `json:"step"`
	Clock   PlayClock `json:"clock"`
	Presses []Press   `json:"presses,omitempty"`
	Went    string    `json:"went,omitempty"` // the step that it led to
	Sent    []string  `json:"sent,omitempty"` // the cues that have sent extra messages since
}

// Clock is the show's time as it is played: planned seconds that pass at a rate, from an anchor on.
type PlayClock struct {
	ShowS   float64   `json:"show_s"` // planned seconds at the anchor
	At      time.Time `json:"at"`     // the anchor
	Rate    float64   `json:"rate"`   // planned seconds in one second: 1.05 is 5 % faster than written
	Running bool      `json:"running"`
}

// NowS is the planned time at an instant, in seconds.
func (c PlayClock) NowS(now time.Time) float64 {
	if !c.Running {
		return c.ShowS
	}
	return c.ShowS + now.Sub(c.At).Seconds()*c.Rate
}

// When is the instant of a planned time in seconds.
func (c PlayClock) When(showS float64) time.Time {
	return c.At.Add(Seconds((showS - c.ShowS) / c.Rate))
}

// Stopped is the clock stopped where it is at an instant.
func (c PlayClock) Stopped(now time.Time) PlayClock {
	return PlayClock{ShowS: c.NowS(now), At: now, Rate: c.Rate}
}

// Seconds is a duration of s seconds, limited to what one can be.
func Seconds(s float64) time.Duration {
	return time.Duration(math.Round(min(max(s, -1e9), 1e9) * float64(time.Second)))
}
