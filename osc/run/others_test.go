package run_test

import (
	"strings"
	"testing"

	"backfield/osc/run"
)

// A channel that is held closed and that the cue has open is nowhere else on the screen: the hold says it.
func TestHeldShut(t *testing.T) {
	w := begin(t, echoAndQuery, run.Options{})
	w.do("go", "jump 2", "hold C", "swap A to 20", "hold A")
	for _, x := range []struct{ line, want string }{
		{"jump 3", "C (channel 3) closed (the cue has it open), A (channel 20)"},
		{"jump 2", "C (channel 3), A (channel 20)"},
		{"jump 1", "C (channel 3), A (channel 20)"},
	} {
		w.do(x.line)
		if got := strings.Join(w.Engine.View(w.Now).Holds, ", "); got != x.want {
			t.Errorf("%s: held: %s; want %s", x.line, got, x.want)
		}
	}
}

// A view counts what others did, not what they were refused or what the operator did.
func TestByOthers(t *testing.T) {
	w := begin(t, echoAndQuery, run.Options{})
	w.do("go", "jump 2")
	for _, x := range []struct {
		name string
		want int
	}{{"3", 1}, {"99", 1}, {"1", 2}} {
		w.Engine.Do(run.Command{Verb: run.Jump, Name: x.name, From: "127.0.0.1"}, w.Now)
		if got := w.Engine.View(w.Now).ByOthers; got != x.want {
			t.Errorf("after jump %s of another: %d commands by others, want %d", x.name, got, x.want)
		}
	}
}

// In a wait between movements no count is left, but time is.
func TestAway(t *testing.T) {
	for _, x := range []struct {
		counts, inS float64
		want        string
	}{{0, 7.3, "in 7.3 s"}, {5e-7, 7.3, "in 7.3 s"}, {0, 0, "in 0 counts"}, {0.4, 0.4, "in 0 counts"}, {3, 1, "in 3 counts"},
		{-3, -1, "3 counts overdue"}} {
		if got := (&run.NextCue{Counts: x.counts, InS: x.inS}).Away(); got != x.want {
			t.Errorf("%g counts, %g s: %q, want %q", x.counts, x.inS, got, x.want)
		}
	}
}
