package diff_test

import (
	"slices"
	"strings"
	"testing"

	"backfield/cue"
	"backfield/cue/diff"
)

// Within a cue come the channels that open first, then the packs that go to another player, then the rest by size.
func TestOrderWithin(t *testing.T) {
	s := harbor()
	at(s, 0, 3).DelayMS += 6     // 1.2 units
	at(s, 0, 12).Pan += 0.11     // 1.1
	at(s, 0, 13).LevelDB += 1.15 // 1.15
	at(s, 0, 4).Player = "Tpt 9"
	open(at(s, 0, 4), "feature", 0)
	r := diff.Compare(harbor(), s)
	var got []int
	for _, c := range r.Cues[0].Channels {
		got = append(got, c.Channel)
	}
	if want := []int{4, 3, 13, 12}; !slices.Equal(got, want) {
		t.Errorf("channels %v, want %v", got, want)
	}
	first := r.Cues[0].Channels[0].Changes
	if first[0].Param != diff.ParamOpen || first[1].Param != diff.ParamPlayer {
		t.Errorf("changes of a channel: %+v", first)
	}
}

// A cue that moved to another place is one cue in the list, however many it passes.
func TestOutOfOrder(t *testing.T) {
	s := harbor()
	s.Cues = []cue.Snapshot{s.Cues[3], s.Cues[0], s.Cues[1], s.Cues[2]}
	got := text(diff.Compare(harbor(), s))
	if strings.Count(got, "another place") != 1 ||
		!strings.Contains(got, "is in another place: now first, was after cue 2") {
		t.Errorf("got\n%s", got)
	}
}
