package liverun

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/simulated"
	"backfield/cmd/backfield/term"
	"backfield/layout/source"
	"backfield/osc/virtual"
)

// example loads an example that compiles, and starts a simulated mixer for it.
func example(t *testing.T, name string) (s *show.Loaded, holds func() virtual.DeviceState, at string) {
	t.Helper()
	var p source.Problems
	s, err := show.Load(show.Disk{}, "../../../examples/"+name+"/show.toml", show.LoadOptions{}, &p)
	if err != nil || s.Show == nil {
		t.Fatal(err, p.All())
	}
	ctx, stop := context.WithCancel(context.Background())
	t.Cleanup(stop)
	if holds, at, err = simulated.Start(ctx, s.Mixer); err != nil {
		t.Fatal(err)
	}
	return s, holds, at
}

// yes answers a question about a journal.
func yes(string) (bool, error) { return true, nil }

// play runs commands that are typed and returns what was answered, what was reported, and what is left to know.
func play(t *testing.T, s *show.Loaded, o StartOptions, typed string) (said, errs string, left []string) {
	t.Helper()
	var out, talk bytes.Buffer
	o.Plain, o.Notices = true, term.NewNotices(&talk)
	defer o.Notices.Close()
	r, err := Start(t.Context(), s, o)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	var wrong bytes.Buffer
	r.Operate(context.Background(), strings.NewReader(typed), &out, &wrong, nil)
	return out.String(), wrong.String(), r.End("")
}

// Commands that are typed step the show; what is changed by hand is said at the end; a journal goes on where it ended,
// and one of another show is refused and left as it is.
func TestRun(t *testing.T) {
	s, holds, at := example(t, "tiny")
	journal := filepath.Join(t.TempDir(), "run.jsonl")
	o := StartOptions{Score: "show.toml", To: []string{at}, Journal: journal}
	said, errs, left := play(t, s, o, "# a comment\n\ngo\nwait 1ms\nwait 1 fortnight\nnudge \"Tpt 1\" "+
		"+1.5\njump\nsettle\nquit\ngo\n")
	if !strings.HasPrefix(said, "cue 1") || !strings.Contains(said, "\nsettled\n") ||
		strings.Count(said, "cue 1") != 1 {
		t.Errorf("it answers\n%s", said)
	}
	if !strings.Contains(errs, `cannot wait "1 fortnight"`) || strings.Count(errs, "backfield: ") != 2 {
		t.Errorf("it reports\n%s", errs)
	}
	if len(left) != 1 || !strings.Contains(left[0], "Tpt 1") {
		t.Errorf("at the end it says %q", left)
	}
	open := 0
	for _, c := range holds().Channels {
		if c.Open {
			open++
		}
	}
	if open == 0 {
		t.Error("no channel is open in the mixer")
	}

	if _, err := Start(t.Context(), s, o); err == nil || !strings.Contains(err.Error(), "it exists already") {
		t.Errorf("a journal that is there: %v", err)
	}
	o.Journal, o.Resume, o.Confirm = "", journal, yes
	said, _, left = play(t, s, o, "status\nquit\n")
	if !strings.Contains(said, "cue 1 \"") || len(left) != 1 {
		t.Errorf("resumed, it answers %q, and at the end %q", said, left)
	}

	other, _, _ := example(t, "foghorn")
	before, _ := os.ReadFile(journal)
	_, err := Start(t.Context(), other, o)
	if unfit := (*WrongJournal)(nil); !errors.As(err, &unfit) || !strings.Contains(err.Error(), "Two Lanterns") {
		t.Errorf("the journal of another show: %v", err)
	}
	if after, _ := os.ReadFile(journal); !bytes.Equal(before, after) {
		t.Error("a journal that was refused has been written to")
	}
	o.Resume, o.Score = Newest, filepath.Join(t.TempDir(), "show.toml")
	if _, err := Start(t.Context(), s, o); err == nil || !strings.Contains(err.Error(), "there is no journal of this show in") {
		t.Errorf("no journal: %v", err)
	}
}
