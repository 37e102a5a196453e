package journalfile

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"backfield/osc/journal"
)

// night is a folder of journals: for each name, when it begins, the zone of its clocks, how it ends.
type night struct {
	name  string
	at    time.Time
	zoneS int
	title string
	ended bool
}

func folderOf(t *testing.T, list []night) (score string) {
	t.Helper()
	score = filepath.Join(t.TempDir(), "show.toml")
	for _, n := range list {
		at := n.at.In(time.FixedZone("", n.zoneS))
		name := n.name
		if name == "" {
			name = at.Format("20060102-150405-000") // as earlier builds named them: by local time
		}
		j, err := New(filepath.Join(folder(score), name+".jsonl"), FileOptions{Report: func(string) {}})
		if err != nil {
			t.Fatal(err)
		}
		j.Write(journal.Entry{At: at, Kind: "start", Format: journal.Format, Title: n.title, ZoneS: n.zoneS})
		j.Write(journal.Entry{At: at.Add(time.Minute), Kind: "step", State: &journal.RunState{Step: "12A"}})
		if n.ended {
			j.Write(journal.Entry{At: at.Add(2 * time.Minute), Kind: "end"})
		}
		j.Close()
	}
	return score
}

// The newest journal is the one whose entries are the latest, whatever its name says: not after a trip to the west, and
// not when clocks go back in the fall.
func TestNoFalseCalm07NewestByContent(t *testing.T) {
	now := time.Date(2026, 11, 1, 9, 30, 0, 0, time.UTC)
	const eastern, pacific, show = -5 * 3600, -8 * 3600, "Harbor"
	for what, c := range map[string]struct {
		list []night
		want string
	}{
		"a trip west": {
			[]night{
				{at: now.Add(-150 * time.Minute), zoneS: eastern, title: show, ended: true},
				{name: "west", at: now.Add(-time.Hour), zoneS: pacific, title: show},
			}, "west",
		},
		"clocks go back": {
			[]night{
				{at: now.Add(-50 * time.Minute), zoneS: -4 * 3600, title: show, ended: true},
				{name: "later", at: now.Add(-5 * time.Minute), zoneS: eastern, title: show},
			}, "later",
		},
		"another show is newer": {
			[]night{
				{name: "ours", at: now.Add(-time.Hour), title: show},
				{name: "other", at: now.Add(-time.Minute), title: "Lanterns"},
			}, "ours",
		},
		"last night did not end": {
			[]night{
				{name: "last", at: now.Add(-24 * time.Hour), title: show},
				{name: "tonight", at: now.Add(-time.Hour), title: show},
			}, "tonight",
		},
		"one that ended is newer": {
			[]night{
				{name: "crashed", at: now.Add(-2 * time.Hour), title: show},
				{name: "check", at: now.Add(-time.Hour), title: show, ended: true},
			}, "",
		},
		"two of one night": {
			[]night{
				{name: "a", at: now.Add(-2 * time.Hour), title: show},
				{name: "b", at: now.Add(-time.Hour), title: show},
			}, "",
		},
		"from the future": {
			[]night{
				{name: "wrong", at: now.Add(40 * time.Hour), title: show, ended: true},
				{name: "right", at: now.Add(-time.Hour), title: show},
			}, "",
		},
	} {
		got, err := Find(folderOf(t, c.list), show, now)
		if several := (*Several)(nil); c.want == "" {
			if !errors.As(err, &several) || strings.Count(err.Error(), "\n  --resume=") != 2 {
				t.Errorf("%s: %s, %v", what, got, err)
			}
			continue
		}
		if err != nil || strings.TrimSuffix(filepath.Base(got), ".jsonl") != c.want {
			t.Errorf("%s: %s, %v", what, got, err)
		}
	}
}

// The list says of each journal how old it is, of which show, in which cue, and whether it ended. One that cannot be read
// is never passed over.
func TestListOfJournals(t *testing.T) {
	now := time.Now()
	score := folderOf(t, []night{{name: "a", at: now.Add(-3*time.Hour - time.Minute), title: "Harbor"},
		{name: "b", at: now.Add(-6 * time.Minute), title: "Harbor"}})
	_, err := Find(score, "Harbor", now)
	for _, want := range []string{"a.jsonl   3 h ago: \"Harbor\", cue 12A, not ended", "b.jsonl   5 min ago: "} {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %s", err, want)
		}
	}
	if err := os.WriteFile(filepath.Join(folder(score), "c.jsonl"), []byte("rubbish\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := Find(score, "Harbor", now); err == nil || !strings.Contains(err.Error(), "cannot be read") {
		t.Error(err)
	}
	if _, err := Find(filepath.Join(t.TempDir(), "show.toml"), "Harbor", now); err == nil ||
		!strings.Contains(err.Error(), "there is no journal of this show in ") {
		t.Error(err)
	}
}

// A journal elsewhere is found while it is announced, and after a crash; announced twice it is still one.
func TestAnnounce(t *testing.T) {
	score := filepath.Join(t.TempDir(), "show.toml")
	path := filepath.Join(t.TempDir(), "run.jsonl")
	now := time.Now()
	j, err := New(path, FileOptions{Report: func(string) {}})
	if err != nil {
		t.Fatal(err)
	}
	j.Write(journal.Entry{At: now, Kind: "start", Format: journal.Format, Title: "Harbor"})
	forget := Announce(score, path, now)
	live := Live(score, "Harbor")
	if len(live) == 0 {
		t.Skip("this system makes no links")
	}
	if len(live) != 1 || !Same(live[0], path) {
		t.Errorf("live: %v", live)
	}
	j.Close()
	forgetAgain := Announce(score, path, now.Add(time.Second))
	if found, err := Find(score, "Harbor", now); err != nil || !Same(found, path) {
		t.Errorf("found %q, %v", found, err)
	}
	forgetAgain()
	forget()
	if _, err := os.Stat(folder(score)); !os.IsNotExist(err) {
		t.Error("it leaves a folder")
	}
	inFolder := NewPath(score, now)
	if j, err = New(inFolder, FileOptions{Report: func(string) {}}); err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	if Announce(score, inFolder, now.Add(time.Second)); len(Live(score, "")) != 0 {
		t.Error("a journal without an entry is announced")
	}
	if list, _ := os.ReadDir(folder(score)); len(list) != 1 {
		t.Errorf("a journal in its place is announced: %v", list)
	}
}

// TestNewPathIsFree starts two journals in the same millisecond.
func TestNewPathIsFree(t *testing.T) {
	score, now := filepath.Join(t.TempDir(), "show.toml"), time.Date(2026, 11, 27, 19, 30, 0, 0, time.UTC)
	first := NewPath(score, now)
	w, err := New(first, FileOptions{})
	if err != nil {
		t.Fatal(err)
	}
	defer w.Close()
	if second := NewPath(score, now); second <= first {
		t.Errorf("%s is taken, and the next is %s", first, second)
	}
}
