package liverun

import (
	"bytes"
	"context"
	"errors"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"backfield/cmd/backfield/journalfile"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/term"
	"backfield/osc/journal"
	"backfield/osc/run"
)

// safeBuffer is a buffer that one goroutine writes while another reads it.
type safeBuffer struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (b *safeBuffer) Write(p []byte) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.text.Write(p)
}

func (b *safeBuffer) String() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.text.String()
}

// startLaptop starts a run that is one of two, and returns what it reports.
func startLaptop(t *testing.T, s *show.Loaded, at, journal string, p PairStart) (*LiveRun, *safeBuffer, error) {
	t.Helper()
	said := &safeBuffer{}
	notices := term.NewNotices(said)
	t.Cleanup(notices.Close)
	r, err := Start(t.Context(), s, StartOptions{
		Score: "show.toml", To: []string{at}, Journal: journal, Pair: p, Plain: true, Notices: notices,
	})
	if err == nil {
		t.Cleanup(r.Close)
	}
	return r, said, err
}

func eventually(t *testing.T, what string, yes func() bool) {
	t.Helper()
	for end := time.Now().Add(20 * time.Second); !yes(); time.Sleep(5 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("never: %s", what)
		}
	}
}

// A second laptop follows the run of the first with the same run id, takes over when that one dies in the middle of a
// fade, and goes on with the journal.
func TestSecondLaptop(t *testing.T) {
	s, holds, at := example(t, "harbor")
	folder := t.TempDir()
	first, said, err := startLaptop(t, s, at, filepath.Join(folder, "1.jsonl"), PairStart{ListenAt: "127.0.0.1:0"})
	if err != nil {
		t.Fatal(err)
	}
	key := regexp.MustCompile(`[A-Z2-9]{4}-[A-Z2-9]{4}-[A-Z2-9]{4}`)
	eventually(t, "the key is printed", func() bool { return key.MatchString(said.String()) })
	where := PairStart{FirstAt: first.link.Addr(), Key: key.FindString(said.String())}

	wrong := where
	wrong.Key = "ABCD-EFGH-JKLM"
	_, _, err = startLaptop(t, s, at, filepath.Join(folder, "wrong.jsonl"), wrong)
	if other := (*WrongPartner)(nil); !errors.As(err, &other) {
		t.Errorf("a wrong key: %v", err)
	}
	second, _, err := startLaptop(t, s, at, filepath.Join(folder, "2.jsonl"), where)
	if err != nil {
		t.Fatal(err)
	}
	for range 3 {
		if _, err := first.Driver.Do(run.Command{Verb: run.Go}); err != nil {
			t.Fatal(err)
		}
		time.Sleep(500 * time.Millisecond)
	}
	v, _ := first.Driver.View()
	eventually(t, "the standby is in the same cue", func() bool {
		w, _ := second.Driver.View()
		return w.Step == v.Step && !w.Pair.Sends
	})
	first.stop() // as if it were killed: it says nothing
	<-first.ended
	first.link.Close()
	start := time.Now()
	over := run.Command{Verb: run.TakeOver}
	if _, err := second.Driver.DoWithin(over, time.Second); err == nil {
		t.Error("others than the operator and an admitted page can take over")
	}
	if answer, err := (commandedRun{second.Driver}).DoWithin(over, time.Second); err != nil { // as the page does
		t.Fatalf("takeover: %v", err)
	} else {
		t.Logf("takeover after %v: %s", time.Since(start).Round(time.Millisecond), answer)
	}
	if w, _ := second.Driver.View(); !w.Pair.Sends || w.Step != v.Step {
		t.Errorf("it is in %q, and laptop 1 was in %q; it sends: %t", w.Step, v.Step, w.Pair.Sends)
	}
	if _, err := second.Driver.Do(run.Command{Verb: run.Stop}); err != nil {
		t.Error(err)
	}
	if !second.settle(context.Background(), 20*time.Second) {
		view, _ := second.Driver.View()
		t.Errorf("the mixer is not settled: %+v", view)
	}
	w, _ := second.Driver.View()
	open := 0
	for _, c := range holds().Channels {
		if c.Open {
			open++
		}
	}
	if open != len(w.Open) || open == 0 {
		t.Errorf("%d channels are open at the mixer, and %d in the run", open, len(w.Open))
	}
	second.End("")
	one, _, err1 := journalfile.Read(filepath.Join(folder, "1.jsonl"))
	two, _, err2 := journalfile.Read(filepath.Join(folder, "2.jsonl"))
	if err1 != nil || err2 != nil {
		t.Fatal(err1, err2)
	}
	if one[0].Run == "" || one[0].Run != two[0].Run {
		t.Errorf("the run is %q on laptop 1 and %q on laptop 2", one[0].Run, two[0].Run)
	}
	linked := func(e journal.Entry) bool { return e.Linked }
	if !slices.ContainsFunc(one, linked) || !slices.ContainsFunc(two, linked) {
		t.Error("a journal does not say that another laptop was connected, so a resume would not ask")
	}
	var steps []string
	for _, e := range two {
		if e.Kind == "step" {
			steps = append(steps, e.Step)
		}
	}
	if !strings.HasPrefix(strings.Join(steps, " "), "1 2 3") {
		t.Errorf("the journal of laptop 2 has the steps %v", steps)
	}
}

// A standby with another show is told so, and does not run.
func TestSecondLaptopWithAnotherShow(t *testing.T) {
	s, _, at := example(t, "tiny")
	other, _, _ := example(t, "foghorn")
	folder := t.TempDir()
	first, said, err := startLaptop(t, s, at, filepath.Join(folder, "1.jsonl"), PairStart{ListenAt: "127.0.0.1:0"})
	if err != nil {
		t.Fatal(err)
	}
	key := regexp.MustCompile(`[A-Z2-9]{4}-[A-Z2-9]{4}-[A-Z2-9]{4}`)
	eventually(t, "the key is printed", func() bool { return key.MatchString(said.String()) })
	_, _, err = startLaptop(t, other, at, filepath.Join(folder, "2.jsonl"), PairStart{
		FirstAt: first.link.Addr(), Key: key.FindString(said.String()),
	})
	if wrong := (*WrongPartner)(nil); !errors.As(err, &wrong) || !strings.Contains(err.Error(), "another show") {
		t.Errorf("another show: %v", err)
	}
}
