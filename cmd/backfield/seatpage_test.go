package main

import (
	"math"
	"math/rand"
	"testing"

	"backfield/cue/clock"
	"backfield/cue/seat"
	"backfield/layout/seatname"
	"backfield/layout/source"
)

// TestSeatIsThatOfTheMap compares what single seats hear with the map of all seats, at random counts of the demo: the same
// gap, the same verdict, and the same share of seats.
func TestSeatIsThatOfTheMap(t *testing.T) {
	t.Parallel()
	const seed = 11
	rng := rand.New(rand.NewSource(seed))
	s := compiledOnce()
	a, stands := seat.New(s.Result, s.Loudness(new(source.Problems))), seatname.Of(s.Rig)
	tried, open, far := 0, 0, 0
	for range 400 {
		m := clock.Moment{Movement: 1 + rng.Intn(len(s.Clock.Movements))}
		m.Elapsed = math.Floor(4*rng.Float64()*s.Clock.Movements[m.Movement-1].Counts) / 4
		snapshot := &s.Show.Cues[a.CueAt(m)]
		c := &snapshot.Channels[rng.Intn(len(snapshot.Channels))]
		if c.Player == "" {
			continue
		}
		n := rng.Intn(s.Setup.Seats)
		place, err := stands.Index(n)
		if err != nil {
			t.Fatal(err)
		}
		h, err := a.Hear(seat.Question{Seat: place, Mic: c.Player, At: m, Way: seat.Compiled})
		if err != nil || h.GapMS == nil {
			continue // a line, or somebody without a dot
		}
		w, _, closed, err := s.Explain(snapshot.ID, c.Player)
		if err != nil {
			t.Fatal(err)
		}
		at, _ := s.Where(w.Name, m)
		at.Z = w.Place.Start.Z
		if closed {
			m = w.From
		}
		all, ok := s.HeardAt(w, m, at)
		if !ok {
			t.Fatalf("%s in cue %s: one seat hears it, and all do not", c.Player, snapshot.ID)
		}
		tried++
		if !closed {
			open++
		}
		if diff := math.Abs(all.GapsMS[n] - *h.GapMS); diff > 0.06 {
			far++
			t.Logf("%s in cue %s at %d:%g, %s: gap %.3f, the map has %.3f", c.Player, snapshot.ID, m.Movement, m.Count(), h.Seat,
				*h.GapMS, all.GapsMS[n])
		}
	}
	t.Logf("%d tried, %d open, %d far", tried, open, far)
	if tried < 300 || open < 50 || far > 3 {
		t.Errorf("seed %d: %d tried, %d open, %d far", seed, tried, open, far)
	}
}
