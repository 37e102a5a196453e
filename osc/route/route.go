// Package route is the order in which a run goes through the cues, those that somebody presses and those that go on their
// own.
package route

import "backfield/cue"

// Route is the steps of a run in order. A step is the index of a snapshot, -1 before the first cue.
type Route struct {
	Cues    []cue.Snapshot
	ByClock bool // every cue is automatic
}

// ID is the id of a step's snapshot, "" before the first cue.
func (r Route) ID(step int) string {
	if step < 0 {
		return ""
	}
	return r.Cues[step].ID
}

// Find is the step with an id, -1 if there is none.
func (r Route) Find(id string) int {
	for i := range r.Cues {
		if r.Cues[i].ID == id {
			return i
		}
	}
	return -1
}

// Automatic reports whether a step goes without a press.
func (r Route) Automatic(step int) bool {
	s := &r.Cues[step]
	return s.Auto || r.ByClock
}

// Pressed reports whether a go can start a step.
func (r Route) Pressed(step int) bool {
	s := &r.Cues[step]
	return !s.Auto || r.ByClock
}

// Upcoming is the step that the next go starts, or the number of steps at the end of the show.
func (r Route) Upcoming(step int) int {
	for i := step + 1; i < len(r.Cues); i++ {
		if r.Pressed(i) {
			return i
		}
	}
	return len(r.Cues)
}

// UpcomingID is the id of the cue that the next go starts, "" at the end of the show.
func (r Route) UpcomingID(step int) string {
	if i := r.Upcoming(step); i < len(r.Cues) {
		return r.ID(i)
	}
	return ""
}

// NextAutomatic is the step after this one. ok is false if it needs a press or does not exist.
func (r Route) NextAutomatic(step int) (next int, ok bool) {
	next = step + 1
	return next, next < len(r.Cues) && r.Automatic(next)
}

// LastPressed is the latest step up to this one that a go starts, -1 if there is none.
func (r Route) LastPressed(step int) int {
	for step >= 0 && !r.Pressed(step) {
		step--
	}
	return step
}

// At is the last step at or before a time, -1 before the first cue.
func (r Route) At(timeS float64) int {
	at := -1
	for i := range r.Cues {
		if r.Cues[i].TimeS > timeS+1e-5 { // snapshot times are rounded to the microsecond
			break
		}
		at = i
	}
	return at
}
