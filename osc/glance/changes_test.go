package glance

import (
	"fmt"
	"strings"
	"testing"

	"backfield/cue/step"
	"backfield/osc/run"
)

// There are always the same four lines. Names are in shorthand; where they do not fit, a section that is whole is named as
// one, and others are counted.
func TestCueLines(t *testing.T) {
	t.Parallel()
	n := run.NextCue{Summary: step.Summary{
		Opens:  []string{"Bari 3", "Bari 6", "Tuba 4"},
		Closes: []string{"Tpt 1", "Tpt 3", "Mello 2", "Mello 7", "pit far left", "pit left"},
		Levels: []string{"Tpt 1 0 to -3 dB"}, Settings: []string{"presence 5.5 dB: Tpt 1"}, Moves: 4,
		Handovers: []step.Handover{{Text: "channel 1 goes from Tpt 1 to Bari 1"}},
	}}
	mics := []string{"Tpt 1", "Tpt 3", "Mello 2", "Mello 7", "Mello 9", "Bari 3", "Bari 6", "Tuba 4", "pit far left", "pit left"}
	say := func(n *run.NextCue) string {
		var b strings.Builder
		for _, l := range CueLines(n, mics) {
			fmt.Fprintf(&b, "%s %d\n", l.What, l.N)
			for _, who := range l.Who {
				fmt.Fprintf(&b, "  %s\n", who)
			}
		}
		return b.String()
	}
	want := `opens 3
  Bari 3, 6, Tuba 4
  all 2 Bari, Tuba 4
  2 Bari, Tuba 4
  touch to read
closes 6
  Tpt 1, 3, Mello 2, 7, pit far left, pit left
  all 2 Tpt, Mello 2, 7, all 2 pit
  2 Tpt, 2 Mello, 2 pit
  touch to read
levels 2
  Tpt 1 0 to -3 dB; presence 5.5 dB: Tpt 1
  Tpt 1 0 to -3 dB; 1 more
  touch to read
also 2
  channel 1 goes from Tpt 1 to Bari 1; moves 4
  channel 1 goes from Tpt 1 to Bari 1; 1 more
  touch to read
`
	if got := say(&n); got != want {
		t.Errorf("%s\nwant\n%s", got, want)
	}
	if got := say(nil); got != "opens 0\ncloses 0\nlevels 0\nalso 0\n" {
		t.Errorf("at the end of the show: %s", got)
	}
	hushed := run.NextCue{Intent: &step.Summary{Opens: []string{"Bari 3"}, Closes: []string{"Tpt 1"}}}
	if got := say(&hushed); got != "opens 1\n  Bari 3\n  touch to read\ncloses 1\n  Tpt 1\n  touch to read\nlevels 0\nalso 0\n" {
		t.Errorf("hushed, the cue changes %s", got)
	}
	if got := strings.Join(Kinds(&hushed), "; "); got != "after unhush: opens Bari 3; closes Tpt 1" {
		t.Errorf("hushed, in words: %q", got)
	}
}

// Who changes alike is named at once: a whole section as one, as the run sheet does.
func TestCueLevels(t *testing.T) {
	t.Parallel()
	n := run.NextCue{Summary: step.Summary{Settings: []string{"presence 5.5 dB: Tpt 1"}}}
	mics := []string{"Tpt 1", "Tpt 3", "Tpt 6", "Bari 3", "Bari 6", "Tuba 4", "Tuba 5"}
	add := func(player, text, by string) {
		n.Levels = append(n.Levels, player+" "+text)
		n.Steps = append(n.Steps, step.LevelBy{Player: player, By: by})
	}
	for _, name := range mics[3:] {
		add(name, "0 to -9 dB", "down 9 dB")
	}
	add("Tpt 1", "-9 to 0 dB", "up 9 dB")
	add("Tpt 6", "-9 to 0 dB", "up 9 dB")
	got := strings.Join(CueLines(&n, mics)[2].Who, "\n")
	want := `Bari 3 0 to -9 dB; Bari 6 0 to -9 dB; Tuba 4 0 to -9 dB; Tuba 5 0 to -9 dB; Tpt 1 -9 to 0 dB; Tpt 6 -9 to 0 dB; presence 5.5 dB: Tpt 1
all 2 Bari, all 2 Tuba down 9 dB; Tpt 1, 6 up 9 dB; presence 5.5 dB: Tpt 1
2 Bari, 2 Tuba down 9 dB; 2 Tpt up 9 dB; presence 5.5 dB: Tpt 1
2 Bari, 2 Tuba down 9 dB; 2 Tpt up 9 dB; 1 more
2 Bari, 2 Tuba down 9 dB; 2 more
touch to read`
	if got != want {
		t.Errorf("%s\nwant\n%s", got, want)
	}
}
