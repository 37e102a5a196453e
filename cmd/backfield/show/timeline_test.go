package show_test

import (
	"math"
	"sync"
	"testing"

	"backfield/cmd/backfield/show"
	"backfield/cue/clock"
	"backfield/layout/source"
	"backfield/osc/run"
)

// demo is the demo, compiled once for all tests.
var demo = sync.OnceValue(func() *show.Loaded {
	var p source.Problems
	s, err := show.Load(show.Disk{}, "../../../examples/harbor/show.toml", show.LoadOptions{}, &p)
	if err != nil || s.Show == nil {
		panic("the demo does not compile")
	}
	return s
})

// A missed cue is overdue by counts of the whole show, also when it belongs to the movement before.
func TestNoFalseCalm05(t *testing.T) {
	s := demo()
	line := show.Timeline{Clock: s.Clock}
	var missed, now float64 // the last cue of the first movement, and a while into the second
	for _, c := range s.Show.Cues {
		if c.Movement == 1 {
			missed = c.TimeS
		} else if now == 0 {
			now = c.TimeS + 10
		}
	}
	if line.At(missed).Movement != 1 || line.At(now).Movement != 2 {
		t.Fatal("harbor has not got two movements")
	}
	counts := line.Counts(now, missed)
	if counts >= 0 || counts != -line.Counts(missed, now) {
		t.Errorf("%g s after it, the missed cue is %g counts away", now-missed, counts)
	}
	next := run.NextCue{Counts: counts}
	if got := next.Away(); got[len(got)-8:] != " overdue" {
		t.Errorf("a missed cue is %q", got)
	}
}

// At a cue's time, which is rounded, the screens show the count and the set where the score has the cue.
func TestRoundedTime(t *testing.T) {
	s := demo()
	line, below := show.Timeline{Clock: s.Clock}, 0
	for _, c := range s.Show.Cues {
		pos, fault := clock.ParseShowCount(c.At)
		if fault != nil {
			t.Fatal(c.At, fault)
		}
		exact, fault := s.Clock.Resolve(pos)
		if fault != nil {
			t.Fatal(c.At, fault)
		}
		if c.TimeS < s.Clock.Seconds(exact) {
			below++
		}
		got := line.At(c.TimeS)
		if math.Floor(got.Count+1e-9) != math.Floor(exact.Count()+1e-9) || got.Set != s.Clock.Set(exact) ||
			got.Movement != exact.Movement {
			t.Errorf("cue %s at %s: %+v, want count %d:%g set %s", c.ID, c.At, got, exact.Movement, exact.Count(),
				s.Clock.Set(exact))
		}
	}
	if below == 0 {
		t.Error("no cue's time was rounded down")
	}
}

// A count that does not exist is answered with those that do: during a show no file can be fixed.
func TestNoSuchCount(t *testing.T) {
	s := demo()
	line := show.Timeline{Clock: s.Clock}
	_, err := line.Find("2:999")
	if err == nil || err.Error() != "movement 2 has only 132 counts; type a count from 2:1 to 2:132" {
		t.Errorf("%v", err)
	}
	for _, count := range []string{"2:1", "2:132"} {
		if _, err := line.Find(count); err != nil {
			t.Errorf("%s, which is offered: %v", count, err)
		}
	}
}
