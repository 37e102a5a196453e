package run_test

import (
	"strings"
	"testing"

	"backfield/cue"
	"backfield/osc/run"
)

// nudgeGiven is the plain meaning of a nudge for the models of the random tests: it goes up to the ceiling where the player
// is open now, else where the player opens next, else where the player was open last.
func nudgeGiven(s *cue.Show, step int, player string, nudged, dB float64, ceiling func(channel int) float64) (
	given float64, taken bool,
) {
	if dB <= 0 {
		return dB, true
	}
	var order []int
	for i := max(step, 0); i < len(s.Cues); i++ {
		order = append(order, i)
	}
	for i := step - 1; i >= 0; i-- {
		order = append(order, i)
	}
	for _, i := range order {
		for _, c := range s.Cues[i].Channels {
			if c.Open && c.Player == player {
				given = min(dB, ceiling(c.Channel)-float64(c.LevelDB)-nudged)
				return max(given, 0), given > 0
			}
		}
	}
	return dB, true
}

// Nudges stop at the ceiling and say so. From there the first nudge down is heard.
func TestNudgesStopAtTheCeiling(t *testing.T) {
	w := begin(t, "[safety]\nceiling = \"4 dB\"\n", run.Options{})
	say := func(line, want string) {
		t.Helper()
		said, err := w.Do(line)
		if err != nil {
			said = err.Error()
		}
		if said != want {
			t.Errorf("%s: %q, wanted %q", line, said, want)
		}
		w.settle()
	}
	w.do("jump 3")
	say("nudge C +0.5", "C: +0.5 dB, +0.5 dB in total for this run")
	say("nudge C +1.5", "C: +0.5 dB, +1 dB in total for this run; that is the ceiling of 4 dB")
	w.holds(0, "/l/3 4")
	for range 3 {
		say("nudge C +1", "C is at the ceiling of 4 dB already, no higher")
	}
	say("nudge C -1", "C: -1 dB, +0 dB in total for this run")
	w.holds(0, "/l/3 3")
}

// Before the first cue a nudge has the ceiling of the cue in which the player opens.
func TestANudgeBeforeTheFirstCueHasTheCeilingToo(t *testing.T) {
	w := begin(t, "[safety]\nceiling = \"4 dB\"\n", run.Options{})
	said, err := w.Do("nudge C +12")
	if err != nil || !strings.HasSuffix(said, "that is the ceiling of 4 dB") {
		t.Error(said, err)
	}
	if _, err := w.Do("nudge C +12"); err == nil {
		t.Error("a second one goes higher")
	}
	w.do("jump 3")
	w.settle()
	w.holds(0, "/l/3 4")
}
