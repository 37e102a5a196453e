package journal

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"
	"time"
)

// written is a journal of n entries with states.
func written(n int) (entries []Entry, lines []string) {
	at := time.Date(2026, 11, 1, 5, 0, 0, 0, time.UTC)
	for i := range n {
		e := Entry{At: at.Add(time.Duration(i) * time.Second), Kind: "step", Step: fmt.Sprint(i),
			State: &RunState{Step: fmt.Sprint(i), Clock: PlayClock{ShowS: float64(i), At: at, Rate: 1},
				Past: []Past{{Step: "0", Clock: PlayClock{At: at}}}}}
		if i == 0 {
			e = Entry{At: at, Kind: "start", Format: Format, Run: "abc", Title: `a {"at":" title`}
		}
		entries = append(entries, e)
		lines = append(lines, string(e.Line()))
	}
	return entries, lines
}

// A line that was cut off, as on a full disk, costs that line alone: also where the next entry is on the same line.
func TestNoFalseCalm07TornLines(t *testing.T) {
	entries, lines := written(6)
	for cut := range len(lines[2]) - 1 {
		for _, between := range []string{"", "\n"} {
			text := lines[0] + lines[1] + lines[2][:cut] + between + lines[3] + lines[4] + lines[5]
			got, skipped, err := Read(strings.NewReader(text))
			want := append(append([]Entry{}, entries[:2]...), entries[3:]...)
			if cut == len(lines[2])-1 {
				want = entries
			}
			if err != nil || !reflect.DeepEqual(got, want) {
				t.Fatalf("cut after %d bytes, %q between: %d entries, %v, %v", cut, between, len(got), skipped, err)
			}
			if cut > 0 && (len(skipped) != 1 || skipped[0].Line != 3 || skipped[0].Lines != 1) {
				t.Fatalf("cut after %d bytes: it says %v", cut, skipped)
			}
		}
	}
}

// A part of a line on a disk that was full, and the whole line once there was room: nothing is lost, and nothing is said.
// Another line after it is a loss, also if both begin alike.
func TestLineWrittenAgain(t *testing.T) {
	entries, lines := written(5)
	for cut := 1; cut < len(lines[2])-1; cut++ {
		torn := lines[2][:cut] + AfterTorn
		text := lines[0] + lines[1] + torn + lines[2][:cut/2+1] + AfterTorn + " " + torn + lines[2] + lines[3] + lines[4]
		got, skipped, err := Read(strings.NewReader(text))
		if err != nil || len(skipped) > 0 || !reflect.DeepEqual(got, entries) {
			t.Fatalf("cut after %d bytes: %d entries, %v, %v", cut, len(got), skipped, err)
		}
		got, skipped, err = Read(strings.NewReader(lines[0] + torn + lines[1] + torn))
		lost := strings.TrimSpace(lines[2][:cut]) != lines[1][:len(strings.TrimSpace(lines[2][:cut]))]
		if err != nil || len(got) != 2 || lost && len(skipped) != 2 {
			t.Fatalf("cut after %d bytes, and another line: %d entries, %v, %v", cut, len(got), skipped, err)
		}
	}
	text := lines[0] + strings.Repeat("{"+AfterTorn, 3*mostTorn) + lines[1]
	if got, skipped, err := Read(strings.NewReader(text)); err != nil || len(got) != 2 || len(skipped) > 1 {
		t.Errorf("%d entries, %v, %v", len(got), skipped, err)
	}
}

// A byte that has changed on the disk costs its line alone, and it is said. No other value is ever read.
func TestNoFalseCalm07DamagedBytes(t *testing.T) {
	entries, lines := written(8)
	whole := strings.Join(lines, "")
	r := rand.New(rand.NewPCG(7, 7))
	for range 1000 {
		text := []byte(whole)
		at := r.IntN(len(text))
		text[at] ^= byte(1 + r.IntN(255))
		got, skipped, err := Read(strings.NewReader(string(text)))
		if err != nil {
			t.Fatalf("byte %d: %v", at, err)
		}
		next := 0
		for _, e := range got {
			for next < len(entries) && !reflect.DeepEqual(e, entries[next]) {
				next++
			}
			if next == len(entries) {
				t.Fatalf("byte %d: read an entry that nobody wrote: %+v", at, e)
			}
		}
		if len(got) < len(entries)-2 || len(got) < len(entries) && len(skipped) == 0 {
			t.Fatalf("byte %d: %d entries, %v", at, len(got), skipped)
		}
	}
}

// A line without its newline at the end of the file counts if its checksum is there.
func TestLastLineWithoutNewline(t *testing.T) {
	_, lines := written(3)
	got, skipped, err := Read(strings.NewReader(strings.TrimSuffix(strings.Join(lines, ""), "\n")))
	if err != nil || len(got) != 3 || len(skipped) != 0 {
		t.Errorf("%d entries, %v, %v", len(got), skipped, err)
	}
	got, skipped, err = Read(strings.NewReader(lines[0] + lines[1][:40]))
	if err != nil || len(got) != 1 || len(skipped) != 1 || skipped[0].String() != "skipped line 2 (damaged, 40 bytes)" {
		t.Errorf("%d entries, %v, %v", len(got), skipped, err)
	}
}

// Format 1 had no checksums, and says desk, in_hand and spent. Once a line has a checksum, all must.
func TestFirstFormat(t *testing.T) {
	const old = `{"at":"2026-11-25T19:20:36.1Z","kind":"sent","desk":"udp://a","sent":["/x i 1"]}
{"at":"2026-11-25T19:20:36.2Z","kind":"problem","text":"moved","state":{"step":"1","clock":{"rate":1,"at":"2026-11-25T19:20:36Z"},"in_hand":[{"desk":1,"channel":3,"what":"level"}],"spent":[21]}}
`
	_, lines := written(2)
	got, skipped, err := Read(strings.NewReader(old + lines[0] + old + lines[1]))
	if err != nil || len(got) != 4 || len(skipped) != 1 || skipped[0].Line != 4 || skipped[0].Lines != 2 {
		t.Fatalf("%d entries, %v, %v", len(got), skipped, err)
	}
	s := got[1].State
	if got[0].Mixer != "udp://a" || len(s.Manual) != 1 || s.Manual[0].Mixer != 1 || s.Manual[0].Channel != 3 ||
		s.Manual[0].What != "level" || len(s.OldSpares) != 1 || s.OldSpares[0] != 21 || s.Step != "1" {
		t.Errorf("%+v, %+v", got[0], s)
	}
}

// Times are in UTC in the file. A reader has them as the clocks said where the run was.
func TestTimesAreUTC(t *testing.T) {
	here := time.FixedZone("", -5*3600)
	at := time.Date(2026, 11, 1, 20, 0, 0, 0, here)
	line := Entry{At: at, Kind: "start", Format: Format, ZoneS: -5 * 3600,
		State: &RunState{Clock: PlayClock{At: at}, Past: []Past{{Presses: []Press{{At: at}}}}}}.Line()
	if strings.Count(string(line), `"2026-11-02T01:00:00Z"`) != 3 {
		t.Error(string(line))
	}
	got, _, err := Read(strings.NewReader(string(line)))
	if err != nil || got[0].At.Format("15:04") != "20:00" || !got[0].At.Equal(at) {
		t.Errorf("%v, %v", got, err)
	}
}

// forever is a journal without end.
type forever string

func (f forever) Read(b []byte) (int, error) {
	for n := 0; ; {
		if n+len(f) > len(b) {
			return n, nil
		}
		n += copy(b[n:], f)
	}
}

// A file that is no journal is refused within bounds, however long it is and whatever its lines are.
func TestNoFalseCalm07HostileFiles(t *testing.T) {
	end := string(Entry{Kind: "end"}.Line())
	for name, text := range map[string]string{
		"zeros": "\x00", "braces": "[", "newlines": "\n", "objects": "{}\n", "entries": end, "text": "rubbish\n",
		"holds": `{"kind":"step","state":{"holds":[{},{},{},{}]}}` + "\n",
	} {
		entries, _, err := Read(forever(text))
		if err == nil {
			t.Errorf("%s without end: %d entries", name, len(entries))
		}
	}
	if _, _, err := Read(strings.NewReader("rubbish\n")); err == nil {
		t.Error("rubbish is taken for a journal")
	}
}

// Earlier builds ran waypoints, such as 12.1 in cue 12. A run resumes at their cue; the report has when each went.
func TestWaypointsInJournal(t *testing.T) {
	state := RunState{
		Step: "12.1", Past: []Past{{Step: "7A.2", Went: "12", Sent: []string{"7A"}}, {Step: "", Went: "7A"}},
		Nudges: []RunNudge{{Name: "Tpt 3", DB: 1.5, Step: "12.1"}},
	}
	line := Entry{At: time.Unix(1_700_000_000, 0), Kind: "step", Step: "12.1", PlannedS: 62.5, State: &state}.Line()
	entries, skipped, err := Read(strings.NewReader(string(line)))
	if err != nil || len(skipped) > 0 || len(entries) != 1 {
		t.Fatal(entries, skipped, err)
	}
	want := RunState{
		Step: "12", Past: []Past{{Step: "7A", Went: "12", Sent: []string{"7A"}}, {Step: "", Went: "7A"}},
		Nudges: []RunNudge{{Name: "Tpt 3", DB: 1.5, Step: "12"}},
	}
	got, _ := Last(entries)
	for i := range got.Past {
		got.Past[i].Clock.At, want.Past[i].Clock.At = time.Time{}, time.Time{}
	}
	if got.Clock = want.Clock; !reflect.DeepEqual(got, want) || entries[0].Step != "12.1" {
		t.Errorf("%+v, want %+v, in step %q", got, want, entries[0].Step)
	}
	open := func(string) []string { return []string{"7A", "12"} }
	if got := words(lastingChanges(entries, open)); got != "Tpt 3 trim +1.5" {
		t.Errorf("lasting changes: %q", got)
	}
}
