package journal

import (
	"math"
	"slices"
	"time"

	"backfield/cue"
)

// RunState is what a run needs to continue after it was interrupted.
type RunState struct {
	Step      string          `json:"step"` // the id of the current snapshot; empty before the first cue
	Clock     PlayClock       `json:"clock"`
	Presses   []Press         `json:"presses,omitempty"` // in this movement
	Hush      bool            `json:"hush,omitempty"`
	Only      int             `json:"only,omitempty"`    // the only channel that is open, 0 for what the cues have
	Outside   []HushedChannel `json:"outside,omitempty"` // what hush closed in addition to the show's channels
	Holds     []cue.Channel   `json:"holds,omitempty"`   // frozen as they were
	Manual    []ManualChannel `json:"manual,omitempty"`
	Swaps     []Swap          `json:"swaps,omitempty"`
	OldSpares []int           `json:"old_spares,omitempty"` // former spares, which stay closed
	Nudges    []RunNudge      `json:"nudges,omitempty"`
	Past      []Past          `json:"past,omitempty"` // for back, oldest first
}

// WithTimes is the state with every time of it put through a function. It shares no list that has times with s.
func (s RunState) WithTimes(to func(time.Time) time.Time) RunState {
	presses := func(list []Press) []Press {
		list = slices.Clone(list)
		for i := range list {
			list[i].At = to(list[i].At)
		}
		return list
	}
	s.Clock.At = to(s.Clock.At)
	s.Presses = presses(s.Presses)
	s.Past = slices.Clone(s.Past)
	for i := range s.Past {
		s.Past[i].Clock.At = to(s.Past[i].Clock.At)
		s.Past[i].Presses = presses(s.Past[i].Presses)
	}
	return s
}

// ManualChannel is a parameter of a channel that someone moved at a mixer. Earlier versions wrote no parameter: then it is
// the whole channel.
type ManualChannel struct {
	Mixer   int    `json:"mixer"` // from 0, in the order of the run's mixers
	Channel int    `json:"channel"`
	Param   string `json:"param,omitempty"`
	Zone    int    `json:"zone,omitempty"`  // of a send
	Muted   bool   `json:"muted,omitempty"` // of a mute: the mixer has the channel muted
	What    string `json:"what"`

	// What the fader at the mixer adds to the show's level, in dB, for the report. Player is empty and OffsetDB 0 where
	// that is not known.
	Player   string  `json:"player,omitempty"`
	OffsetDB float64 `json:"offset_db,omitempty"`
}

// HushedChannel is a channel outside the show that hush has closed at a mixer, for unhush.
type HushedChannel struct {
	Mixer   int `json:"mixer"` // from 0, in the order of the run's mixers
	Channel int `json:"channel"`
}

// ClosedByHush are the channels outside the show that hush had closed at a mixer, by its number.
func (s RunState) ClosedByHush(mixer int) (closed []int) {
	for _, c := range s.Outside {
		if c.Mixer == mixer {
			closed = append(closed, c.Channel)
		}
	}
	return closed
}

// Swap is a dead pack's channel and the spare's.
type Swap struct {
	Channel int `json:"channel"`
	Spare   int `json:"spare"`
}

// RunNudge is a change of a player's level for this run, and the step in which it was made.
type RunNudge struct {
	Name string  `json:"name"`
	DB   float64 `json:"db"`
	Step string  `json:"step"`
}

// Press is a go of the operator: the cue's planned time, and when go was pressed.
type Press struct {
	PlannedS float64   `json:"planned_s"`
	At       time.Time `json:"at"`
}

// Past is where the run was before a go or a jump.
type Past struct {
	Step    string    `json:"step"`
	Clock   PlayClock `json:"clock"`
	Presses []Press   `json:"presses,omitempty"`
	Went    string    `json:"went,omitempty"` // the step that the go or jump entered
	Sent    []string  `json:"sent,omitempty"` // cues that have sent extra messages since
}

// PlayClock is the show's time as played: planned seconds that pass at a rate, starting from an anchor.
type PlayClock struct {
	ShowS   float64   `json:"show_s"` // planned seconds at the anchor
	At      time.Time `json:"at"`     // the anchor
	Rate    float64   `json:"rate"`   // planned seconds in one second: 1.05 is 5 % faster than written
	Running bool      `json:"running"`

	Why StopReason `json:"why,omitempty"` // it is stopped
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

// Stopped is the clock stopped at an instant. One that is stopped already keeps its reason.
func (c PlayClock) Stopped(now time.Time, why StopReason) PlayClock {
	if !c.Running {
		why = c.Why
	}
	return PlayClock{ShowS: c.NowS(now), At: now, Rate: c.Rate, Why: why}
}

// Seconds is a duration of s seconds, limited to 1e9 seconds so that it cannot overflow.
func Seconds(s float64) time.Duration {
	return time.Duration(math.Round(min(max(s, -1e9), 1e9) * float64(time.Second)))
}
