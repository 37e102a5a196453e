package run

import (
	"backfield/cue"
	"backfield/osc/mixer"
)

// ShowSetup is what a run needs: a compiled show, the mixer that it is for, and the show's time.
type ShowSetup struct {
	Show  *cue.Show
	Mixer *mixer.Mixer
	Time  ScoreTime
	Ring  func(showS float64, rows []ChannelRow) *FeedbackView // for View.Ring; nil: it is nil, too
}

// ScoreTime is the show's time as written: seconds since the first downbeat, at the written tempo.
type ScoreTime interface {
	// Find turns a count as written ("2:33", "set 14 + 4") into seconds. The error says what is wrong with it.
	Find(count string) (timeS float64, err error)
	// At returns the moment of the score at a time. Before the first downbeat it is count 1 of movement 1.
	At(timeS float64) ScoreMoment
	// Counts is the number of counts from one time to another, negative when the second comes first.
	Counts(fromS, toS float64) float64
}

// ScoreMoment is a moment of the score. BPM is the written tempo.
type ScoreMoment struct {
	Movement int     `json:"movement"`
	Count    float64 `json:"count"`
	Set      string  `json:"set"`
	BPM      float64 `json:"bpm"`
}

// route is the steps of a run in order. A step is the index of a snapshot, -1 before the first cue.
type route struct {
	cues    []cue.Snapshot
	byClock bool // every cue is automatic
}

// id is the id of a step's snapshot, "" before the first cue.
func (r route) id(step int) string {
	if step < 0 {
		return ""
	}
	return r.cues[step].ID
}

// find is the step with an id, -1 if there is none.
func (r route) find(id string) int {
	for i := range r.cues {
		if r.cues[i].ID == id {
			return i
		}
	}
	return -1
}

// automatic reports whether a step goes without a press.
func (r route) automatic(step int) bool {
	s := &r.cues[step]
	return s.Auto || r.byClock
}

// pressed reports whether a go can start a step.
func (r route) pressed(step int) bool {
	s := &r.cues[step]
	return !s.Auto || r.byClock
}

// upcoming is the step that the next go starts, or the number of steps at the end of the show.
func (r route) upcoming(step int) int {
	for i := step + 1; i < len(r.cues); i++ {
		if r.pressed(i) {
			return i
		}
	}
	return len(r.cues)
}

// upcomingID is the id of the cue that the next go starts, "" at the end of the show.
func (r route) upcomingID(step int) string {
	if i := r.upcoming(step); i < len(r.cues) {
		return r.id(i)
	}
	return ""
}

// nextAutomatic is the step after this one. ok is false if it needs a press or does not exist.
func (r route) nextAutomatic(step int) (next int, ok bool) {
	next = step + 1
	return next, next < len(r.cues) && r.automatic(next)
}

// lastPressed is the latest step up to this one that a go starts, -1 if there is none.
func (r route) lastPressed(step int) int {
	for step >= 0 && !r.pressed(step) {
		step--
	}
	return step
}

// at is the last step at or before a time, -1 before the first cue.
func (r route) at(timeS float64) int {
	at := -1
	for i := range r.cues {
		if r.cues[i].TimeS > timeS+1e-5 { // snapshot times are rounded to the microsecond
			break
		}
		at = i
	}
	return at
}
