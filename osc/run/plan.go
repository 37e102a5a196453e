package run

import (
	"backfield/cue"
	"backfield/osc/desk"
)

// Plan is what a run steps through: a compiled show, the desk that it is for, and its time.
type Plan struct {
	Show *cue.Show
	Desk *desk.Desk
	Time Timeline
}

// Timeline is the show's time as the score has it, in seconds since the first downbeat at the tempo written there.
type Timeline interface {
	// Find turns a position as written ("2:33", "set 14 + 4") into seconds. The error says what is wrong with it.
	Find(position string) (timeS float64, err error)
	// At tells where in the score a time is. Before the first downbeat it is count 1 of movement 1.
	At(timeS float64) Place
	// Counts is the number of counts from one time to another, negative when the second comes first.
	Counts(fromS, toS float64) float64
}

// Place is a moment of the score. BPM is the tempo written there.
type Place struct {
	Movement int     `json:"movement"`
	Count    float64 `json:"count"`
	Set      string  `json:"set"`
	BPM      float64 `json:"bpm"`
}

// byItself reports whether step i goes without a press.
func (e *Engine) byItself(i int) bool {
	s := &e.Show.Cues[i]
	return s.FollowOn || s.Auto || e.o.ByClock
}

// pressed reports whether step i is a cue that a go starts.
func (e *Engine) pressed(i int) bool {
	s := &e.Show.Cues[i]
	return !s.FollowOn && (!s.Auto || e.o.ByClock)
}

// upcoming is the index of the cue that the next go starts, or the number of steps when there is none.
func (e *Engine) upcoming() int {
	for i := e.step + 1; i < len(e.Show.Cues); i++ {
		if e.pressed(i) {
			return i
		}
	}
	return len(e.Show.Cues)
}

// nextID is the id of the cue that the next go starts, "" for none.
func (e *Engine) nextID() string {
	if i := e.upcoming(); i < len(e.Show.Cues) {
		return e.id(i)
	}
	return ""
}

// stepAt is the last step at or before a time, -1 before the first.
func (e *Engine) stepAt(timeS float64) int {
	at := -1
	for i := range e.Show.Cues {
		if e.Show.Cues[i].TimeS > timeS+1e-5 { // snapshots tell their time to the microsecond
			break
		}
		at = i
	}
	return at
}

// find is the index of the step with an id, -1 for none.
func (e *Engine) find(id string) int {
	for i := range e.Show.Cues {
		if e.Show.Cues[i].ID == id {
			return i
		}
	}
	return -1
}
