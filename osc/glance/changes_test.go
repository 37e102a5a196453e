package glance

import (
	"fmt"
	"strings"
	"testing"

	"backfield/cue/step"
	"backfield/osc/run"
)

// Names are in shorthand; those that have no room are counted.
func TestChanges(t *testing.T) {
	t.Parallel()
	n := run.NextCue{Summary: step.Summary{
		Opens: []string{"Bari 3", "Bari 6", "Tuba 4"}, Levels: []string{"Tpt 1 0 to -3 dB"}, Moves: 4,
		Handovers: []step.Handover{{Text: "channel 1 goes from Tpt 1 to Bari 1"}},
	}}
	for i := range mostNames + 5 {
		n.Closes = append(n.Closes, fmt.Sprintf("Tpt %d", i+1))
	}
	var got []string
	for _, c := range Changes(&n) {
		got = append(got, c.What+" "+c.Who)
	}
	want := `○ opens Bari 3, 6, Tuba 4
✕ closes Tpt 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, and 5 more
⇄ handover channel 1 goes from Tpt 1 to Bari 1
↕ levels Tpt 1 0 to -3 dB
↔ moves 4`
	if strings.Join(got, "\n") != want || Changes(nil) != nil {
		t.Errorf("%s\nwant\n%s", strings.Join(got, "\n"), want)
	}
	hushed := run.NextCue{Intent: &step.Summary{Opens: []string{"Bari 3"}, Closes: []string{"Tpt 1"}}}
	if list := Changes(&hushed); len(list) != 2 || list[0] != (CueChange{"after unhush: ○ opens", "Bari 3"}) {
		t.Errorf("hushed, the cue changes %+v", list)
	}
	if got := strings.Join(Kinds(&hushed), "; "); got != "after unhush: opens Bari 3; closes Tpt 1" {
		t.Errorf("hushed, in words: %q", got)
	}
}
