package liverun

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"backfield/cmd/backfield/journalfile"
	"backfield/cmd/backfield/term"
	"backfield/osc/journal"
)

// A journal that may not be the one that is meant is resumed only after a question, which says why, and what opens. The
// show clock has gone on for a short while only.
func TestResumeAsks(t *testing.T) {
	s, _, at := example(t, "tiny")
	folder := t.TempDir()
	o := StartOptions{Score: "show.toml", To: []string{at}, Journal: filepath.Join(folder, "real.jsonl")}
	play(t, s, o, "go\n")
	o.Journal, o.Rehearsal = filepath.Join(folder, "rehearsal.jsonl"), true
	play(t, s, o, "go\n")
	for _, x := range []struct {
		name, from string
		ago        time.Duration
		end        bool
		change     func(e *journal.Entry)
		asks       string // empty for no question
		stands     bool
	}{
		{name: "a crash just now", from: "real", ago: time.Minute},
		{name: "minutes ago", from: "real", ago: 5 * time.Minute, stands: true},
		{name: "an hour ago", from: "real", ago: time.Hour, asks: "its last entry was 1 h ago", stands: true},
		{name: "the clock was set back", from: "real", ago: -20*time.Hour - time.Minute,
			asks: "its last entry was 20 h AHEAD of this computer's clock"},
		{name: "a clock that is a little behind", from: "real", ago: -30 * time.Second},
		{name: "ended", from: "real", ago: time.Minute, end: true, asks: "that run has ended, 1 min ago"},
		{name: "a rehearsal", from: "rehearsal", ago: time.Minute, asks: "it is the journal of a rehearsal"},
		{name: "another score", from: "real", ago: time.Minute, asks: "the show or its mixer.toml has changed since",
			change: func(e *journal.Entry) {
				if e.Kind == "start" {
					e.Show = "0123"
				}
			}},
		{name: "another laptop was connected", from: "real", ago: time.Minute,
			asks:   "another laptop was connected to this run, and may run the show now",
			change: func(e *journal.Entry) { e.Linked = e.Kind == "start" }},
		{name: "an older version's", from: "rehearsal", ago: time.Minute, change: func(e *journal.Entry) {
			e.Show, e.Rehearsal = "", false
		}},
	} {
		t.Run(x.name, func(t *testing.T) {
			entries, _, err := journalfile.Read(filepath.Join(folder, x.from+".jsonl"))
			if err != nil {
				t.Fatal(err)
			}
			if !x.end {
				entries = entries[:len(entries)-1]
			}
			back := time.Until(entries[len(entries)-1].At) - x.ago
			var text []byte
			for _, e := range entries {
				e.At = e.At.Add(back)
				if e.State != nil {
					state := e.State.WithTimes(func(at time.Time) time.Time { return at.Add(back) })
					e.State = &state
				}
				if x.change != nil {
					x.change(&e)
				}
				text = append(text, e.Line()...)
			}
			path := filepath.Join(t.TempDir(), "run.jsonl")
			if err := os.WriteFile(path, text, 0o644); err != nil {
				t.Fatal(err)
			}
			asked := ""
			answer := func(yes bool, err error) (*LiveRun, string, error) {
				var talk bytes.Buffer
				notices := term.NewNotices(&talk)
				asked = ""
				r, err := Start(t.Context(), s, StartOptions{
					Score: "show.toml", To: []string{at}, Resume: path, Plain: true, Notices: notices,
					Confirm: func(question string) (bool, error) { asked = question; return yes, err },
				})
				notices.Close()
				return r, talk.String(), err
			}
			for _, no := range []error{nil, term.ErrNoAnswer} {
				if x.asks == "" {
					break
				}
				_, _, err := answer(false, no)
				if wrong := (*WrongJournal)(nil); !errors.As(err, &wrong) || (no != nil) != strings.Contains(err.Error(), "--yes") {
					t.Fatalf("%v", err)
				}
				if !strings.Contains(asked, x.asks) || strings.Contains(asked, "; ") || !strings.Contains(asked, "MASTER DOWN FIRST: opens 1 mic") {
					t.Errorf("it asks %q", asked)
				}
				if now, _ := os.ReadFile(path); !bytes.Equal(now, text) {
					t.Error("a journal that was not resumed has been written to")
				}
			}
			r, said, err := answer(true, nil)
			if err != nil {
				t.Fatal(err)
			}
			defer r.Close()
			if (asked != "") != (x.asks != "") {
				t.Errorf("it asks %q", asked)
			}
			if !strings.Contains(said, "TAKE THE MASTER DOWN FIRST") {
				t.Errorf("it says %q", said)
			}
			v, _ := r.View()
			if v.Running == (x.stands || x.ago < 0) || // a clock that is behind the journal's says nothing of where it runs
				v.Step != "1" {
				t.Errorf("running: %t, in cue %s", v.Running, v.Step)
			}
			if stood := strings.Contains(said, "show clock stopped at count 1:1, where it was "); stood != x.stands {
				t.Errorf("it says %q", said)
			}
		})
	}
}
