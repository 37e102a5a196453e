package liverun

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"backfield/cmd/backfield/journalfile"
	"backfield/cmd/backfield/term"
	"backfield/osc/journal"
)

// A journal that another run is writing is not resumed, except on demand; the message names that run.
func TestNoFalseCalm07ResumeInUse(t *testing.T) {
	s, _, at := example(t, "tiny")
	path := filepath.Join(t.TempDir(), "run.jsonl")
	var talk bytes.Buffer
	notices := term.NewNotices(&talk)
	defer notices.Close()
	o := StartOptions{Score: "show.toml", To: []string{at}, Journal: path, Plain: true, Notices: notices}
	first, err := Start(t.Context(), s, o)
	if err != nil {
		t.Fatal(err)
	}
	defer first.Close()
	o.Journal, o.Resume = "", path
	_, err = Start(t.Context(), s, o)
	if unfit := (*WrongJournal)(nil); !errors.As(err, &unfit) ||
		!strings.Contains(err.Error(), fmt.Sprintf("It is process %d on ", os.Getpid())) {
		t.Fatalf("a journal in use: %v", err)
	}
	o.InUse = true
	second, err := Start(t.Context(), s, o)
	if err != nil {
		t.Fatal(err)
	}
	second.Close()
}

// A damaged journal is resumed past the damage, which is said; the run keeps its id, and has a copy.
func TestNoFalseCalm07ResumeDamaged(t *testing.T) {
	s, _, at := example(t, "tiny")
	path, other := filepath.Join(t.TempDir(), "run.jsonl"), t.TempDir()
	o := StartOptions{Score: "show.toml", To: []string{at}, Journal: path, Copy: other}
	play(t, s, o, "go\nnudge \"Tpt 1\" +1.5\nsettle\nquit\n")
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	copied, err := os.ReadFile(filepath.Join(other, "run.jsonl"))
	if err != nil || !bytes.Equal(text, copied) {
		t.Errorf("the copy holds %d bytes, the journal %d: %v", len(copied), len(text), err)
	}
	lines := bytes.SplitAfter(text, []byte("\n"))
	lines[1] = append(lines[1][:20:20], lines[1][30:]...)
	lines = append(lines, []byte(`{"at":"2026-`))
	if err := os.WriteFile(path, bytes.Join(lines, nil), 0o644); err != nil {
		t.Fatal(err)
	}
	var talk bytes.Buffer
	o = StartOptions{Score: "show.toml", To: []string{at}, Resume: path, Confirm: yes, Plain: true, Notices: term.NewNotices(&talk)}
	r, err := Start(t.Context(), s, o)
	if err != nil {
		t.Fatal(err)
	}
	left := r.End("")
	r.Close()
	o.Notices.Close()
	if len(left) != 1 || !strings.Contains(left[0], "Tpt 1 +1.5 dB") {
		t.Errorf("it goes on with %q", left)
	}
	if strings.Count(talk.String(), "skipped line ") != 2 || !strings.Contains(talk.String(), "skipped line 2 (damaged") {
		t.Errorf("it says\n%s", talk.String())
	}
	entries, skipped, err := journalfile.Read(path)
	if err != nil || len(skipped) != 2 {
		t.Fatal(err, skipped)
	}
	ids := map[string]int{}
	for _, e := range entries {
		if e.Kind == "start" {
			ids[e.Run]++
			if e.Format != journal.Format || e.PID != os.Getpid() {
				t.Errorf("it starts with %+v", e)
			}
		}
	}
	if len(ids) != 1 || ids[""] > 0 {
		t.Errorf("two starts of one run have the ids %v", ids)
	}
}
