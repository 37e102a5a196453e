package console

import (
	"strings"
	"testing"

	"github.com/charmbracelet/x/ansi"

	"backfield/osc/run"
)

// What is near feedback is said in a row of its own, and when it comes and goes no other row moves. Without readings there
// is no such row.
func TestRingRow(t *testing.T) {
	v := showView()
	without := strings.Split(Picture(v, ScreenState{}, 80, 24), "\n")
	v.Ring = &run.FeedbackView{WantedDB: 6}
	calm := strings.Split(Picture(v, ScreenState{}, 80, 24), "\n")
	v.Ring = &run.FeedbackView{WantedDB: 6, MarginDB: 2.7, TakeDB: 5, First: []string{"pit far right", "pit far left"}}
	near := strings.Split(Picture(v, ScreenState{}, 80, 24), "\n")
	const words = "NEAR FEEDBACK pit far right: 4 dB too close, about 2 dB left, give or take 5; t"
	changed := 0
	for i := range near {
		if near[i] != calm[i] {
			changed++
			if !strings.Contains(near[i], words) || strings.TrimSpace(ansi.Strip(calm[i])) != "" {
				t.Errorf("row %d: %q, was %q", i, near[i], calm[i])
			}
		}
	}
	if changed != 1 {
		t.Errorf("%d rows change", changed)
	}
	if text := strings.Join(without, "\n"); strings.Contains(text, "FEEDBACK") {
		t.Errorf("nothing was measured:\n%s", text)
	}
}
