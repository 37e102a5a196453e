package cue

import (
	"math"
	"reflect"
	"strings"
	"testing"
)

// TestGlideAt follows a channel by hand: from 80 ms at 10 s to 70 ms at 14 s, then over a movement break.
func TestGlideAt(t *testing.T) {
	level := Level(-4)
	s := &Snapshot{TimeS: 10, Movement: 1}
	c := &Channel{Open: true, DelayMS: 80, Pan: -0.5, LevelDB: -6, Glide: []Knot{
		{Movement: 1, TimeS: 14, DelayMS: 70, Pan: 0.5, LevelDB: &level},
		{Movement: 2, TimeS: 18, DelayMS: 72, Pan: 0.5},
	}}
	slowing := func(fromS, toS float64) float64 { return toS*toS - fromS*fromS } // the counts come ever faster
	for _, x := range []struct {
		timeS  float64
		moves  Moves
		counts CountsBetween
		want   Gliding
	}{
		{9, Glides, nil, Gliding{80, -0.5, 0, -6}},
		{10, Glides, nil, Gliding{80, -0.5, 0, -6}},
		{11, Glides, nil, Gliding{77.5, -0.25, 0, -5.5}},
		{11, Glides, slowing, Gliding{80 - 10*21/96., -0.5 + 21/96., 0, -6 + 2*21/96.}},
		{14, Glides, slowing, Gliding{70, 0.5, 0, -4}},
		{16, Glides, slowing, Gliding{71, 0.5, 0, -4}}, // over the break: in seconds
		{99, Glides, nil, Gliding{72, 0.5, 0, -4}},
		{11, Closed, nil, Gliding{80, -0.25, 0, -5.5}},
		{15, AtCues, nil, Gliding{70, 0.5, 0, -4}},
		{11, Stepped, nil, Gliding{80, -0.5, 0, -6}},
	} {
		got := s.GlideAt(c, x.timeS, x.moves, x.counts)
		far := math.Abs(got.DelayMS-x.want.DelayMS) + math.Abs(got.Pan-x.want.Pan) +
			math.Abs(float64(got.LevelDB-x.want.LevelDB))
		if far > 1e-9 {
			t.Errorf("at %g s of a mixer that moves %q: %+v, want %+v", x.timeS, x.moves, got, x.want)
		}
	}
}

// TestPlaceSends holds the sends to their powers, and to the pairs that they may use.
func TestPlaceSends(t *testing.T) {
	for place := -0.5; place < 3.5; place += 0.0625 {
		sum, on := 0.0, 0
		for i, v := range PlaceSends(place, 3) {
			sum += v * v
			if v > 1e-9 {
				on++
				if math.Abs(float64(i)-min(max(place, 0), 2)) >= 1 {
					t.Errorf("place %g reaches stack %d", place, i)
				}
			}
		}
		if math.Abs(sum-1) > 1e-12 || on > 2 {
			t.Errorf("place %g: powers add up to %g, %d stacks on", place, sum, on)
		}
	}
	if got := PlaceSends(1.5, 3); math.Abs(got[1]-math.Sqrt2/2) > 1e-12 || math.Abs(got[2]-math.Sqrt2/2) > 1e-12 {
		t.Errorf("halfway: %v", got)
	}
}

// A knot in the cue's own movement does not say which, and has a pan or a place: as in help snapshots.
func TestKnotsInFile(t *testing.T) {
	place := 1.5
	s := &Show{Format: Format, Cues: []Snapshot{{ID: "1", Movement: 1, Channels: []Channel{
		{Channel: 1, Notes: []string{}, Glide: []Knot{
			{Movement: 1, Count: 9, TimeS: 4, DelayMS: 78.7, Pan: 0}, {Movement: 2, Count: 1, TimeS: 6, DelayMS: 80, Pan: -0.5},
		}},
		{Channel: 2, Notes: []string{}, Glide: []Knot{{Movement: 1, Count: 9, TimeS: 4, DelayMS: 78.7, Place: &place}}},
	}}}}
	data, err := s.Encode()
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		`"glide":[{"count":9,"time_s":4,"delay_ms":78.7,"pan":0},{"movement":2,"count":1,"time_s":6,"delay_ms":80,"pan":-0.5}]`,
		`"glide":[{"count":9,"time_s":4,"delay_ms":78.7,"place":1.5}]`,
	} {
		if !strings.Contains(string(data), want) {
			t.Errorf("%s is not in\n%s", want, data)
		}
	}
	if back, err := Decode(data); err != nil || !reflect.DeepEqual(back, s) {
		t.Errorf("%v\n%+v\n%+v", err, back, s)
	}
}
