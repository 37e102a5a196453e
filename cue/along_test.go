package cue

import (
	"math"
	"slices"
	"testing"
)

// along is a show of three cues, at 0, 10 and 20 s. One channel is open in the first two: from 80 ms to 60 at 4 s, where
// it rests until 10 s, then to 70 at 20 s.
func along(moves Moves) *Show {
	s := &Show{Cues: []Snapshot{
		{TimeS: 0, Movement: 1, Channels: []Channel{{Channel: 1, Player: "A", Open: true, DelayMS: 80, LevelDB: -6, Glide: []Knot{
			{Movement: 1, TimeS: 4, DelayMS: 60, Pan: 0.4}, {Movement: 1, TimeS: 10, DelayMS: 60, Pan: 0.4},
		}}}},
		{TimeS: 10, Movement: 1, Channels: []Channel{{
			Channel: 1, Player: "A", Open: true, DelayMS: 60, Pan: 0.4, LevelDB: -9,
			Glide: []Knot{{Movement: 1, TimeS: 20, DelayMS: 70, Pan: 0.4}},
		}}},
		{TimeS: 20, Movement: 1, Channels: []Channel{{Channel: 1, Player: "A", DelayMS: 30, LevelDB: Silent}}},
	}}
	s.Rig.Delay.Moves = moves
	return s
}

// TestPathAt holds the place on a path, and until when it stays there, to numbers that are computed by hand.
func TestPathAt(t *testing.T) {
	never := math.Inf(1)
	for _, x := range []struct {
		moves         Moves
		step          int
		timeS         float64
		delayMS, pan  float64
		level, untilS float64
	}{
		{Glides, 0, 2, 70, 0.2, -6, 2},
		{Glides, 0, 4, 60, 0.4, -6, 10},
		{Glides, 0, 7, 60, 0.4, -6, 10},
		{Glides, 0, 12, 62, 0.4, -6, 12}, // late: along the next cue's path, at this cue's level
		{Glides, 0, 25, 70, 0.4, -6, never},
		{Glides, 1, 12, 62, 0.4, -9, 12},
		{Glides, 1, 5, 60, 0.4, -9, 10}, // before its moment, as after a jump back
		{AtCues, 0, 2, 80, 0.2, -6, 2},
		{AtCues, 0, 5, 60, 0.4, -6, 10},
		{AtCues, 0, 25, 60, 0.4, -6, never}, // the delay waits for the press
		{AtCues, 1, 12, 60, 0.4, -9, 20},
		{Stepped, 0, 2, 80, 0, -6, 4},
		{Stepped, 0, 12, 60, 0.4, -6, never}, // all of it waits
	} {
		at, untilS := along(x.moves).PathAt(x.step, 0, x.timeS, nil)
		want := Gliding{DelayMS: x.delayMS, Pan: x.pan, LevelDB: Level(x.level)}
		if math.Abs(at.DelayMS-want.DelayMS)+math.Abs(at.Pan-want.Pan)+math.Abs(float64(at.LevelDB-want.LevelDB)) > 1e-9 ||
			untilS != x.untilS {
			t.Errorf("%q, cue %d at %g s: %+v until %g, want %+v until %g", x.moves, x.step+1, x.timeS, at, untilS, want, x.untilS)
		}
	}
	// Another wearer ends the stretch: nothing goes on under the old cue.
	s := along(Glides)
	s.Cues[1].Channels[0].Player = "B"
	if at, untilS := s.PathAt(0, 0, 15, nil); at.DelayMS != 60 || !math.IsInf(untilS, 1) {
		t.Errorf("with another wearer in the next cue: %+v until %g", at, untilS)
	}
}

// The row of a place goes from left to right as the press box sees it, whatever the order of the stacks.
func TestRowOfStacks(t *testing.T) {
	r := UsedRig{Reference: Location{X: 5, Y: -40}, Stacks: []UsedStack{
		{Zone: 1, Location: Location{X: 20}}, {Zone: 2, Location: Location{X: -20}}, {Zone: 3, Location: Location{X: 5, Y: 10}},
	}}
	if got := r.RowOfStacks(); !slices.Equal(got, []int{2, 3, 1}) {
		t.Errorf("the row is %v", got)
	}
	levels := PlaceLevels(0.5, []int{2, 3, 1})
	for i, want := range []Send{{2, Level(20 * math.Log10(math.Sqrt2/2))}, {3, Level(20 * math.Log10(math.Sqrt2/2))}, {1, Silent}} {
		if levels[i].Zone != want.Zone || math.Abs(math.Pow(10, float64(levels[i].LevelDB)/20)-math.Pow(10, float64(want.LevelDB)/20)) > 1e-12 {
			t.Errorf("zone %d is at %g dB, want %d at %g", levels[i].Zone, levels[i].LevelDB, want.Zone, want.LevelDB)
		}
	}
}
