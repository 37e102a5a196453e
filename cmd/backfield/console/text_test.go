package console

import (
	"slices"
	"strings"
	"testing"

	"github.com/charmbracelet/x/ansi"
)

// Where a text does not fit, its beginning and what to do at its end stay; its middle goes.
func TestWrapHint(t *testing.T) {
	t.Parallel()
	for text, hint := range map[string]string{
		"channel 3 at the mixer is MANUAL and changed while the link was down: level -31.0 dB (show -1.5); release 3": "release 3",
		"the mixer MISSED /room/b/quiet i 1, which is not sent again: set it at the mixer, or jump to the cue":        "set it at the mixer, or jump to the cue",
		"ANOTHER PROGRAM IS SENDING TO THIS MIXER 10.0.0.2:9000: end it, then type resend":                            "end it, then type resend",
	} {
		for width := 62; width < 140; width += 3 {
			for most := 1; most < 4; most++ {
				rows := wrapHint(text, width, most)
				for _, r := range rows {
					if ansi.StringWidth(r) > width {
						t.Errorf("%d cells: %q", width, r)
					}
				}
				all := strings.Join(rows, " ")
				if len(rows) > most || !strings.HasPrefix(all, text[:9]) || !strings.HasSuffix(all, hint) {
					t.Errorf("%d cells, %d rows: %q", width, most, rows)
				}
			}
		}
	}
	if got := wrapHint("no hint at all in this one", 12, 1); !slices.Equal(got, []string{"no hint at …"}) {
		t.Errorf("%q", got)
	}
	if got := wrapHint("short: do it", 40, 1); !slices.Equal(got, []string{"short: do it"}) {
		t.Errorf("%q", got)
	}
}

// A stopped clock says how to start it, and why it is stopped where there is room.
func TestStoppedWhy(t *testing.T) {
	for width := 60; width <= 120; width += 20 {
		v := showView()
		v.Running, v.Stopped = false, "before the first cue"
		want := " CLOCK STOPPED before the first cue: ss starts it "
		if width == 60 {
			want = " CLOCK STOPPED: ss starts it "
		}
		if got := ansi.Strip(Picture(v, ScreenState{}, width, 24)); !strings.Contains(got, want) {
			t.Errorf("%d cells:\n%s", width, got)
		}
	}
}
