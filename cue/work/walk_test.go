package work

import (
	"math"
	"math/rand"
	"slices"
	"testing"

	"backfield/cue/clock"
	"backfield/cue/score"
	"backfield/cue/timeline"
	"backfield/layout"
	"backfield/layout/rig"
)

// TestFewestPieces holds the greedy cutting to all ways there are of cutting a short span: none needs fewer
// snapshots. A piece may be had where all that walk in it keep within the tolerance, or where it is but one count
// and cannot be cut.
func TestFewestPieces(t *testing.T) {
	const seed = 7
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewSource(seed))
	tried, cutOften := 0, 0
	for range 20_000 {
		f, cues, s := randomSpan(rng)
		pieces := Divide(f, cues, []CueSpan{s})
		last := len(s.Samples) - 1
		inner := s.Cuts[:len(s.Cuts)-1] // the last is the span's end
		if len(s.Cuts) == 0 || len(inner) > 12 {
			t.Fatalf("a span of %d samples has %d cuts", len(s.Samples), len(s.Cuts))
		}
		may := func(lo, hi int) bool {
			single := !slices.ContainsFunc(inner, func(c Cut) bool { return c.Next > lo && c.End < hi })
			return single || allowed(f, &s, s.reaches(lo), hi)
		}

		// The pieces join up, cut where it is allowed, and may be had.
		for i, p := range pieces {
			switch {
			case i == 0 && p.Lo != 0, i == len(pieces)-1 && p.Hi != last, p.N != i:
				t.Fatalf("pieces %v of %d samples", pieces, last+1)
			case i > 0 && !slices.Contains(inner, Cut{pieces[i-1].Hi, p.Lo}):
				t.Fatalf("pieces %v are not parted at one of %v", pieces, inner)
			case !may(p.Lo, p.Hi):
				t.Fatalf("pieces %v: %v may not be had; cuts %v", pieces, p, inner)
			}
		}

		fewest := len(inner) + 2
		for ways := range 1 << len(inner) { // each bit is a cut that is made
			n, lo, fine := 1, 0, true
			for k, c := range inner {
				if ways>>k&1 == 1 {
					fine = fine && may(lo, c.End)
					lo = c.Next
					n++
				}
			}
			if fine && may(lo, last) {
				fewest = min(fewest, n)
			}
		}
		if len(pieces) != fewest {
			t.Fatalf("%d pieces %v where %d would do; cuts %v, tracks %+v", len(pieces), pieces, fewest, inner,
				s.Tracks)
		}
		tried++
		if fewest > 2 && fewest <= len(inner) {
			cutOften++
		}
	}
	if cutOften < tried/10 {
		t.Errorf("only %d of %d spans had a choice", cutOften, tried)
	}
}

// randomSpan is a short span with one to three mics that walk at random: by fits and starts, elsewhere after a
// downbeat, and some of them only until the mic goes to another player.
func randomSpan(rng *rand.Rand) (*timeline.Files, []timeline.TimedCue, CueSpan) {
	var c clock.Clock
	for range 1 + rng.Intn(3) {
		c.Movements = append(c.Movements, clock.MovementTime{Counts: float64(1 + rng.Intn(4))})
	}
	from := clock.Moment{Movement: 1, Elapsed: float64(rng.Intn(2*int(c.Movements[0].Counts)+1)) / 2}
	to := clock.Moment{Movement: len(c.Movements), Elapsed: c.Movements[len(c.Movements)-1].Counts}
	if to.Movement == 1 && from.Elapsed > to.Elapsed-0.5 {
		from.Elapsed = 0
	} else if rng.Float64() < 0.3 && to.Elapsed > from.Elapsed+0.5 {
		to.Elapsed -= 0.25
	}
	s := CueSpan{Samples: c.Samples(from, to, sampleCounts)}
	s.Cuts = cuts(s.Samples)
	f := &timeline.Files{
		Score: &score.Score{Waypoints: score.Waypoints{On: true, DriftMS: 5, Pan: 0.1, AngleDeg: 3}},
		Rig:   &rig.Rig{Zones: rng.Float64() < 0.3},
	}
	cues := []timeline.TimedCue{{Placed: timeline.Placed{Cue: &score.Cue{Waypoints: true}}}}
	swing := 0.1
	if f.Rig.Zones {
		swing = 3 * math.Pi / 180
	}
	for l := range 1 + rng.Intn(3) {
		t := Track{Line: l}
		fast := []float64{0.1, 0.3, 0.6}[rng.Intn(3)] // of the tolerance, a sample
		n := len(s.Samples)
		if rng.Float64() < 0.2 {
			n = 1 + rng.Intn(n)
		}
		path, want := 0.1, 0.0
		pathStep, wantStep := rng.NormFloat64(), rng.NormFloat64()
		for i := range n {
			if rng.Float64() < 0.2 { // turns
				pathStep, wantStep = rng.NormFloat64(), rng.NormFloat64()
			}
			if i > 0 && s.Samples[i].Movement != s.Samples[i-1].Movement {
				path += rng.NormFloat64() * 0.01
				want += rng.NormFloat64() * swing
			}
			path += pathStep * fast * 0.005
			want += wantStep * fast * swing
			t.At, t.PathS, t.Want = append(t.At, layout.Point{}), append(t.PathS, path), append(t.Want, want)
		}
		s.Tracks = append(s.Tracks, t)
	}
	return f, cues, s
}
