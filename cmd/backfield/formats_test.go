package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"backfield/cmd/backfield/journalfile"
	"backfield/cmd/backfield/verb"
	"backfield/cue"
	"backfield/osc/journal"
)

const formats = "../../testdata/formats/"

// Snapshots of the first build are read, and are those of today: diff finds nothing.
func TestOldSnapshotsAreRead(t *testing.T) {
	t.Parallel()
	code, out, talk := runIn(t, "diff", formats+"snapshots-1-first.json", "../../examples/tiny")
	if code != 0 || out != "" {
		t.Errorf("%d\n%s%s", code, out, talk)
	}
	if _, err := cue.Decode([]byte(`{"format":99,"cues":[]}`)); err == nil ||
		!strings.Contains(err.Error(), "format 99 by a newer Backfield") {
		t.Error(err)
	}
}

// A journal of each format is reported, and a run can resume from it.
func TestOldJournalsAreRead(t *testing.T) {
	t.Parallel()
	for name, step := range map[string]string{"journal-1-first.jsonl": "1", "journal-2-first.jsonl": "2"} {
		oldJournal(t, formats+name, step)
	}
}

func oldJournal(t *testing.T, name, step string) {
	t.Helper()
	old, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	code, out, talk := runIn(t, "report", name, "--show", "../../examples/tiny")
	if code != 0 || !strings.Contains(out, "Bari 1") {
		t.Errorf("%d\n%s%s", code, out, talk)
	}
	path := filepath.Join(t.TempDir(), "journal.jsonl")
	if err := os.WriteFile(path, old, 0o644); err != nil {
		t.Fatal(err)
	}
	if code, out, talk := runIn(t, "run", "../../examples/tiny", "--rehearse", "--text", "--resume="+path, "--yes"); code != 0 {
		t.Errorf("%d\n%s%s", code, out, talk)
	}
	entries, skipped, err := journalfile.Read(path)
	if err != nil || len(skipped) > 0 {
		t.Fatal(err, skipped)
	}
	state, ok := journal.Last(entries)
	if !ok || state.Step != step || len(entries) <= strings.Count(string(old), "\n") {
		t.Errorf("%v %+v, %d entries", ok, state, len(entries))
	}
	// A journal of another show is refused, also where the cue's id is known, and is left as it was.
	before, _ := os.ReadFile(path)
	if code, _, talk := runIn(t, "run", "../../examples/foghorn", "--rehearse", "--text",
		"--resume="+path); code != verb.ExitUsage || !strings.Contains(talk, `is from "Two Lanterns"`) {
		t.Errorf("%d\n%s", code, talk)
	}
	if code, _, talk := runIn(t, "report", path, "--show", "../../examples/foghorn"); code != 0 ||
		!strings.Contains(talk, `is of "Two Lanterns"`) {
		t.Errorf("%d\n%s", code, talk)
	}
	if after, _ := os.ReadFile(path); !bytes.Equal(after, before) {
		t.Error("a journal that was refused has been written to")
	}
	if err := os.WriteFile(path, []byte(`{"at":"2026-11-25T19:20:36Z","kind":"start","format":99}`+"\n"),
		0o644); err != nil {
		t.Fatal(err)
	}
	if code, _, talk := runIn(t, "report", path); code != verb.ExitWorld ||
		!strings.Contains(talk, "format 99, from a newer Backfield") {
		t.Errorf("%d %s", code, talk)
	}
}
