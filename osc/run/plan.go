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
