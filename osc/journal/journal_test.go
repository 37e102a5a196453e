package journal

import (
	"bytes"
	"math"
	"strings"
	"testing"
	"time"
)

func TestPlayClock(t *testing.T) {
	at := time.Unix(1_700_000_000, 0)
	c := PlayClock{ShowS: 10, At: at, Rate: 1.25, Running: true}
	if got := c.NowS(at.Add(4 * time.Second)); math.Abs(got-15) > 1e-9 {
		t.Errorf("4 s on it is %g", got)
	}
	if got := c.When(15); got.Sub(at) != 4*time.Second {
		t.Errorf("15 comes after %v", got.Sub(at))
	}
	c.Running = false
	if got := c.NowS(at.Add(time.Hour)); got != 10 {
		t.Errorf("a stopped clock says %g", got)
	}
}

// A command that was refused is listed as refused.
func TestReportOfRefusals(t *testing.T) {
	text := NewReport(
		[]Entry{
			{Kind: "command", Command: "swap A to 1", Text: "channel 1 is B's"},
			{Kind: "command", Command: "hush", Text: "hushed", State: &RunState{}},
		},
		nil,
	).String()
	if !strings.Contains(text, "swap A to 1: REFUSED: channel 1 is B's\n") ||
		!strings.Contains(text, "  hush: hushed") {
		t.Error(text)
	}
}

// A damaged line is described in the words of the journal, without those of the program.
func TestDamagedLine(t *testing.T) {
	for line, want := range map[string]string{
		`{"kind":"step","state":{"presses":[{"planned_s":"2"}]}}`: "state.presses.planned_s cannot be a text",
		`{"kind":"step","state":5}`:                               "state cannot be a number",
		`{"kind":"step","at":"yesterday"}`:                        "yesterday is not a time",
		`{"kind":"step","at":5}`:                                  "one of its values is not as a run writes it",
		`["step"]`:                                                "it is a list",
		`{"kind":`:                                                "unexpected end of JSON input",
		`{"kind":"dance"}`:                                        "no run writes such a line",
	} {
		_, _, err := Read(strings.NewReader(line + "\n"))
		if want = "line 1 is not a journal entry: " + want; err == nil || err.Error() != want {
			t.Errorf("%s: %v, want %s", line, err, want)
		}
	}
}

// FuzzReadJournal: whatever a file holds, reading it ends, and what is read can be reported, resumed from and written
// again.
func FuzzReadJournal(f *testing.F) {
	f.Add(string(Entry{Kind: "step", Step: "1", State: &RunState{Step: "1", Clock: PlayClock{Rate: 1}}}.Line()))
	f.Add("{}\n{")
	f.Add(`{"kind":"step","state":{"in_hand":[{"desk":-1,"channel":3}],"spent":[9]}}` + "\n")
	f.Fuzz(func(t *testing.T, text string) {
		entries, _, err := Read(strings.NewReader(text))
		if err != nil {
			return
		}
		Last(entries)
		_ = NewReport(entries, nil).String()
		var again []byte
		for _, e := range entries {
			again = append(again, e.Line()...)
		}
		back, skipped, err := Read(bytes.NewReader(again))
		if err != nil || len(skipped) > 0 || len(back) != len(entries) {
			t.Fatalf("%d entries are %d once written: %v, %v", len(entries), len(back), skipped, err)
		}
	})
}
