package glance

import (
	"testing"

	"backfield/osc/run"
)

// Whoever has ten seconds reads how far it is off, and never a margin that is as great as the one that is wanted.
func TestRingWords(t *testing.T) {
	one := []string{"Tpt 3"}
	for _, c := range []struct {
		ring *run.FeedbackView
		want string
	}{
		{nil, ""},
		{&run.FeedbackView{WantedDB: 6}, ""},
		{&run.FeedbackView{WantedDB: 6, MarginDB: 5.96, TakeDB: 4.2, First: one},
			"NEAR FEEDBACK Tpt 3: 1 dB too close, about 5 dB left, give or take 5"},
		{&run.FeedbackView{WantedDB: 6, MarginDB: 2, TakeDB: 5, First: []string{"Tpt 3", "pit left", "field"}},
			"NEAR FEEDBACK Tpt 3: 4 dB too close, about 2 dB left, give or take 5; then pit left, field"},
		{&run.FeedbackView{WantedDB: 6, MarginDB: 0.4, TakeDB: 5, First: one},
			"NEAR FEEDBACK Tpt 3: 6 dB too close, none left, give or take 5"},
		{&run.FeedbackView{WantedDB: 6, MarginDB: -2.5, TakeDB: 5, First: one},
			"NEAR FEEDBACK Tpt 3: 9 dB too close, none left, give or take 5"},
		{&run.FeedbackView{Unwatched: "rig.toml:3:1: too loud"}, "FEEDBACK NOT WATCHED: rig.toml:3:1: too loud"},
	} {
		if got := RingWords(run.View{Ring: c.ring}); got != c.want {
			t.Errorf("%+v: %q, want %q", c.ring, got, c.want)
		}
	}
}
