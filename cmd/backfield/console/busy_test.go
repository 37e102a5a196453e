package console

import (
	"fmt"
	"strings"
	"testing"

	"github.com/charmbracelet/x/ansi"

	"backfield/osc/run"
)

// TestNoFalseCalm11 draws the busiest moment at 80x24 and larger, with a message and while a command is typed: a dead mixer
// is the first thing on the screen, everything that is held, swapped, nudged or manual is there in full, and each of these
// channels has its number.
func TestNoFalseCalm11(t *testing.T) {
	t.Parallel()
	v := demoViews()["full"]
	v.Mixers[0].NoReply, v.Mixers[0].ReplyAgoS = true, 12
	for _, s := range []ScreenState{{}, {Wrong: true, Said: strings.Repeat("refused ", 15)}, {Typing: true}, {Armed: run.Unhush}} {
		for _, size := range [][2]int{{80, 24}, {80, 25}, {100, 30}, {120, 36}} {
			got := ansi.Strip(Picture(v, s, size[0], size[1]))
			rows := strings.Split(got, "\n")
			if !strings.Contains(rows[0], "NO REPLY FROM MIXER") {
				t.Errorf("%v: the first row is %q", size, rows[0])
			}
			for _, want := range []string{
				"Tpt 9 (channel 4)", "Tpt 17 (channel 7) to channel 21", "Tpt 1 +1.5 dB", "Mello 2 -2.0 dB",
				"ch 2   Tpt 3      -31.0 dB  MANUAL (show -1.5)", "MUTED AT MIXER (show -9.0)", "STILL OPEN (show closed)",
				"HUSHED", "OVERDUE", "3 MANUAL",
			} {
				if !strings.Contains(got, want) {
					t.Errorf("%v, %+v: %q is missing:\n%s", size, s, want, got)
				}
			}
			for _, r := range v.Rows[:8] {
				if want := fmt.Sprintf("%2d %s", r.Channel, r.Player); !strings.Contains(got, want) {
					t.Errorf("%v: %q is missing:\n%s", size, want, got)
				}
			}
		}
	}
}
