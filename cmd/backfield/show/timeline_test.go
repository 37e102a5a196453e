package show_test

import (
	"testing"

	"backfield/cmd/backfield/show"
	"backfield/layout/source"
	"backfield/osc/run"
)

// A missed cue is overdue by counts of the whole show, also when it belongs to the movement before.
func TestNoFalseCalm05(t *testing.T) {
	var p source.Problems
	s, err := show.Load(show.Disk{}, "../../../examples/harbor/show.toml", show.LoadOptions{}, &p)
	if err != nil || s.Show == nil {
		t.Fatal(err, p.All())
	}
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

// A count that does not exist is answered with those that do: during a show no file can be fixed.
func TestNoSuchCount(t *testing.T) {
	var p source.Problems
	s, err := show.Load(show.Disk{}, "../../../examples/harbor/show.toml", show.LoadOptions{}, &p)
	if err != nil || s.Show == nil {
		t.Fatal(err, p.All())
	}
	line := show.Timeline{Clock: s.Clock}
	_, err = line.Find("2:999")
	if err == nil || err.Error() != "movement 2 has only 132 counts; type a count from 2:1 to 2:132" {
		t.Errorf("%v", err)
	}
	for _, count := range []string{"2:1", "2:132"} {
		if _, err := line.Find(count); err != nil {
			t.Errorf("%s, which is offered: %v", count, err)
		}
	}
}
