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
	var second float64 // when the second movement begins
	for _, c := range s.Show.Cues {
		if c.Movement == 2 {
			second = c.TimeS
			break
		}
	}
	if second == 0 {
		t.Fatal("harbor has one movement")
	}
	missed, now := second-4, second+30
	counts := line.Counts(now, missed)
	if counts >= 0 || counts != -line.Counts(missed, now) {
		t.Errorf("34 s after it, the missed cue is %g counts away", counts)
	}
	next := run.NextCue{Counts: counts}
	if got := next.Away(); got[len(got)-8:] != " overdue" {
		t.Errorf("a missed cue is %q", got)
	}
}
