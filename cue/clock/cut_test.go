package clock

import (
	"fmt"
	"math"
	"math/rand"
	"testing"
)

// threeMovements are 48, 16 and 32 counts at 120, 60 and 120 with a pause of 2 s after count 30 of the first, and waits of
// 5 and 3 s.
func threeMovements() *Clock {
	first := NewTempo([]Change{{At: 1, BPM: 120}, {At: 30, PauseS: 2}})
	c := &Clock{Movements: []MovementTime{{Counts: 48, Tempo: first},
		{Counts: 16, StartS: 26 + 5, Tempo: NewTempo([]Change{{At: 1, BPM: 60}})},
		{Counts: 32, StartS: 31 + 16 + 3, Tempo: NewTempo([]Change{{At: 1, BPM: 120}})}}}
	return c
}

// By hand.
func TestCutsByHand(t *testing.T) {
	for _, x := range []struct {
		cuts []TimeCut
		at   map[Moment]float64
		ends Moment
		endS float64
	}{
		{nil, map[Moment]float64{{1, 16}: 8, {1, 30}: 17, {2, 0}: 31, {3, 8}: 54}, Moment{3, 32}, 66},
		// Counts 17 to 24 of the first movement: 4 s.
		{[]TimeCut{{From: Moment{1, 16}, To: Moment{1, 24}}}, map[Moment]float64{{1, 8}: 4, {1, 16}: 8, {1, 20}: 8,
			{1, 24}: 8, {1, 26}: 9, {1, 30}: 13, {2, 0}: 27, {3, 8}: 50}, Moment{3, 32}, 62},
		// With the pause in it: 2 s more. One that is before the joint stays.
		{[]TimeCut{{From: Moment{1, 28}, To: Moment{1, 30}}}, map[Moment]float64{{1, 28}: 14, {1, 30}: 14, {2, 0}: 28},
			Moment{3, 32}, 63},
		{[]TimeCut{{From: Moment{1, 30}, To: Moment{1, 32}}}, map[Moment]float64{{1, 30}: 17, {1, 32}: 17, {2, 0}: 30},
			Moment{3, 32}, 65},
		// The second movement, with the silence before it and without the one after it, or with both.
		{[]TimeCut{{From: Moment{1, 48}, To: Moment{3, 0}, Wait: true}}, map[Moment]float64{{1, 48}: 26, {2, 5}: 26,
			{3, 0}: 29, {3, 2}: 30}, Moment{3, 32}, 45},
		{[]TimeCut{{From: Moment{1, 48}, To: Moment{3, 0}}}, map[Moment]float64{{1, 48}: 26, {3, 0}: 26}, Moment{3, 32}, 42},
		// Over two joints of movements.
		{[]TimeCut{{From: Moment{1, 40}, To: Moment{3, 4}}}, map[Moment]float64{{1, 40}: 22, {2, 3}: 22, {3, 4}: 22, {3, 6}: 23},
			Moment{3, 32}, 36},
		// Everything before a moment: it is the beginning of the show.
		{[]TimeCut{{From: Moment{1, 0}, To: Moment{2, 6}}}, map[Moment]float64{{1, 5}: 0, {2, 6}: 0, {2, 7}: 1, {3, 0}: 13},
			Moment{3, 32}, 29},
		{[]TimeCut{{From: Moment{1, 0}, To: Moment{2, 0}, Wait: true}}, map[Moment]float64{{2, 0}: 0, {3, 0}: 19},
			Moment{3, 32}, 35},
		// And everything after one.
		{[]TimeCut{{From: Moment{2, 6}, To: Moment{3, 32}}}, map[Moment]float64{{2, 6}: 37, {3, 9}: 37}, Moment{2, 6}, 37},
		// Two that overlap, and one apart.
		{[]TimeCut{{From: Moment{1, 20}, To: Moment{1, 28}}, {From: Moment{3, 0}, To: Moment{3, 4}}, {From: Moment{1, 16},
			To: Moment{1, 24}}}, map[Moment]float64{{1, 16}: 8, {1, 28}: 8, {3, 4}: 44}, Moment{3, 32}, 58},
	} {
		c := threeMovements()
		c.Leave(x.cuts)
		for m, want := range x.at {
			if got := c.Seconds(m); math.Abs(got-want) > 1e-9 {
				t.Errorf("%v: %v at %g s, want %g", x.cuts, m, got, want)
			}
		}
		if end := c.End(); end != x.ends || math.Abs(c.Seconds(end)-x.endS) > 1e-9 {
			t.Errorf("%v: ends at %v, %g s, want %v, %g s", x.cuts, end, c.Seconds(end), x.ends, x.endS)
		}
	}
}

// Fades and counts go over a joint as if nothing were between.
func TestCountsOverJoints(t *testing.T) {
	c := threeMovements()
	c.Leave([]TimeCut{{From: Moment{1, 16}, To: Moment{1, 24}}, {From: Moment{1, 44}, To: Moment{3, 4}}})
	for _, x := range []struct {
		from   Moment
		counts float64
		s      float64
	}{{Moment{1, 12}, 4, 2}, {Moment{1, 12}, 8, 4}, {Moment{1, 24}, 4, 2}, {Moment{1, 12}, 10, 5 + 2},
		{Moment{1, 40}, 8, 4}} {
		if got := c.Span(x.from, x.counts); math.Abs(got-x.s) > 1e-9 {
			t.Errorf("%g counts from %v take %g s, want %g", x.counts, x.from, got, x.s)
		}
	}
	for _, x := range []struct {
		from, to Moment
		counts   float64
	}{{Moment{1, 0}, Moment{1, 30}, 22}, {Moment{1, 16}, Moment{1, 24}, 0}, {Moment{1, 40}, Moment{3, 6}, 6},
		{Moment{3, 6}, Moment{1, 40}, -6}} {
		if got := c.Counts(x.from, x.to); math.Abs(got-x.counts) > 1e-9 {
			t.Errorf("%v to %v: %g counts, want %g", x.from, x.to, got, x.counts)
		}
	}
	for _, x := range []struct {
		from   Moment
		counts float64
		at     Moment
		left   float64
	}{{Moment{1, 30}, 4, Moment{1, 26}, 0}, {Moment{1, 26}, 4, Moment{1, 14}, 0}, {Moment{1, 26}, 20, Moment{1, 0}, 2},
		{Moment{3, 6}, 4, Moment{3, 4}, 2}} {
		if at, left := c.Earlier(x.from, x.counts); at != x.at || left != x.left {
			t.Errorf("%g counts before %v: %v and %g, want %v and %g", x.counts, x.from, at, left, x.at, x.left)
		}
	}
	got := fmt.Sprint(c.Samples(Moment{1, 15}, Moment{1, 25}, 1), c.Samples(Moment{1, 15}, Moment{1, 24}, 1),
		c.Samples(Moment{1, 43}, Moment{3, 5}, 1))
	if want := "[{1 15} {1 16} {1 24} {1 25}] [{1 15} {1 16}] [{1 43} {1 44} {3 4} {3 5}]"; got != want {
		t.Errorf("samples %s, want %s", got, want)
	}
}

// With random cuts, the clock takes as long as the counts that are left, each at its own tempo, and At is the inverse of
// Seconds for what is played.
func TestRandomCuts(t *testing.T) {
	rng := rand.New(rand.NewSource(3))
	for range 300 {
		c, full := threeMovements(), threeMovements()
		moment := func() Moment {
			m := 1 + rng.Intn(3)
			return Moment{m, float64(rng.Intn(int(c.Movements[m-1].Counts)))}
		}
		var cuts []TimeCut
		for range 1 + rng.Intn(3) {
			if a, b := moment(), moment(); a.Before(b) {
				cuts = append(cuts, TimeCut{From: a, To: b})
			}
		}
		c.Leave(cuts)
		last, lastS := Moment{}, 0.0
		playedS := 0.0
		for m, v := range full.Movements {
			for e := 0.0; e < v.Counts; e += 0.5 {
				at := Moment{m + 1, e}
				if _, cut := c.CutAt(at); cut {
					continue
				}
				s := c.Seconds(at)
				if last.Movement > 0 && s < lastS-1e-9 {
					t.Fatalf("%v: %v at %g s, after %v at %g s", cuts, at, s, last, lastS)
				}
				if got := c.At(s + 1e-7); got.Movement != at.Movement || math.Abs(got.Elapsed-at.Elapsed) > 1e-3 {
					t.Fatalf("%v: %v at %g s comes back as %v", cuts, at, s, got)
				}
				last, lastS = at, s
				playedS += full.Seconds(Moment{m + 1, e + 0.5}) - full.Seconds(at)
			}
		}
		waits := c.Seconds(c.End()) - playedS
		if !(waits > -1e-9 && waits < 5+3+2+1e-9) {
			t.Fatalf("%v: %g s in addition to what is played", cuts, waits)
		}
		n := 0.0
		for _, p := range c.Parts(c.played(Moment{1, 0}), c.End()) {
			if math.Abs(p.Before+p.Lo-n) > 1e-9 {
				t.Fatalf("%v: %+v begins after %g counts", cuts, p, n)
			}
			n += p.Hi - p.Lo
		}
		if got := c.Counts(Moment{1, 0}, c.End()); math.Abs(got-n) > 1e-9 {
			t.Fatalf("%v: %g counts, in parts %g", cuts, got, n)
		}
	}
}
