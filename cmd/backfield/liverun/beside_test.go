package liverun

import (
	"bytes"
	"errors"
	"fmt"
	"net/netip"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"backfield/cmd/backfield/term"
)

// A run beside another run of the same show does not start, new or resumed: its mixer would have two writers. What it says
// names the other run, and where that can be reached without its terminal. A rehearsal has a mixer of its own.
func TestRunBesideAnother(t *testing.T) {
	s, _, at := example(t, "tiny")
	score := filepath.Join(t.TempDir(), "show.toml")
	notices := term.NewNotices(&bytes.Buffer{})
	defer notices.Close()
	o := StartOptions{Score: score, To: []string{at}, Plain: true, Notices: notices}
	play(t, s, o, "go\n")
	older, err := filepath.Glob(filepath.Join(filepath.Dir(score), "journals", "*"))
	if err != nil || len(older) != 1 {
		t.Fatal(older, err)
	}
	first, err := Start(t.Context(), s, o)
	if err != nil {
		t.Fatalf("a run whose journal is closed is not going on: %v", err)
	}
	ended := false
	defer func() {
		if !ended {
			first.Close()
		}
	}()
	where, err := first.Listen("127.0.0.1:0", []netip.Addr{netip.MustParseAddr("127.0.0.1")})
	if err != nil {
		t.Fatal(err)
	}
	resumed, beside, rehearsal := o, o, o
	resumed.Resume, resumed.Confirm, beside.Beside, rehearsal.Rehearsal = older[0], yes, true, true
	before, _ := os.ReadFile(older[0])
	for _, x := range []StartOptions{o, resumed} {
		_, err := Start(t.Context(), s, x)
		if wrong := (*WrongJournal)(nil); !errors.As(err, &wrong) {
			t.Fatalf("beside a run: %v", err)
		}
		for _, want := range []string{
			"ANOTHER RUN OF THIS SHOW IS GOING ON", fmt.Sprintf("process %d on ", os.Getpid()), "by OSC at " + where,
			first.JournalPath(), fmt.Sprintf("kill %d", os.Getpid()), "--resume=" + first.JournalPath(), "--beside",
		} {
			if !strings.Contains(err.Error(), want) {
				t.Errorf("it does not say %q:\n%v", want, err)
			}
		}
	}
	if after, _ := os.ReadFile(older[0]); !bytes.Equal(before, after) {
		t.Error("a journal that was not resumed has been written to")
	}
	for _, x := range []StartOptions{beside, rehearsal} {
		r, err := Start(t.Context(), s, x)
		if err != nil {
			t.Fatalf("%+v: %v", x, err)
		}
		r.Close()
	}
	ended = true
	first.Close()

	// One whose journal is elsewhere is found, too, and leaves nothing behind.
	elsewhere := o
	elsewhere.Journal = filepath.Join(t.TempDir(), "run.jsonl")
	far, err := Start(t.Context(), s, elsewhere)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := Start(t.Context(), s, o); err == nil || !strings.Contains(err.Error(), "--resume="+elsewhere.Journal) {
		t.Errorf("beside a run whose journal is elsewhere: %v", err)
	}
	far.Close()
	if list, _ := filepath.Glob(filepath.Join(filepath.Dir(score), "journals", "*")); len(list) != 4 {
		t.Errorf("it leaves %v", list)
	}
	elsewhere.Resume, elsewhere.Journal, elsewhere.Confirm = elsewhere.Journal, "", yes
	if far, err = Start(t.Context(), s, elsewhere); err != nil {
		t.Fatal(err)
	}
	far.Close()

	r, err := Start(t.Context(), s, rehearsal)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	time.Sleep(2 * time.Millisecond) // the journal's name is the time
	if again, err := Start(t.Context(), s, o); err != nil {
		t.Errorf("beside a rehearsal: %v", err)
	} else {
		again.Close()
	}
}
