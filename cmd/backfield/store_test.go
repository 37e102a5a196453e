package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"backfield/cue"
	"backfield/layout/source"
	"backfield/osc"
	"backfield/osc/desk"
	"backfield/osc/virtual"
	"backfield/osc/wire"
)

// far is a virtual mixer on a port of its own, behind a road that loses some packets each way.
type far struct {
	mu    sync.Mutex
	mixer *virtual.Mixer
	at    string
}

func (f *far) listen(t *testing.T, lost float64) {
	t.Helper()
	l, err := wire.Listen("127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	f.at = l.Addr().String()
	rnd := rand.New(rand.NewPCG(1, 7))
	var running sync.WaitGroup
	running.Go(func() {
		for {
			packet, from, err := l.Receive()
			if err != nil {
				return
			}
			if rnd.Float64() < lost {
				continue
			}
			f.mu.Lock()
			replies := f.mixer.Handle(time.Now(), from.String(), packet)
			f.mu.Unlock()
			for _, r := range replies {
				if rnd.Float64() >= lost {
					from.Reply(r.Packet)
				}
			}
		}
	})
	t.Cleanup(func() { l.Close(); running.Wait() })
}

func demoCues() []cue.Snapshot { return compiledOnce().Show.Cues }

// demoDesk is the demo's desk, which keeps scenes, and more.
func demoDesk(t *testing.T, more string) *desk.Desk {
	t.Helper()
	text, err := os.ReadFile("../../examples/harbor/desk.toml")
	if err != nil {
		t.Fatal(err)
	}
	plain, _, _ := strings.Cut(string(text), "[echo]")
	var p source.Problems
	d := desk.Read(&source.File{Name: "desk.toml", Text: plain + "\n[store]\naddress = \"/scene/{slot}/store\"\nargs = [\"{name}\"]\nsettle = \"1 ms\"\nfirst = 3\nslots = 500\n[recall]\naddress = \"/scene/{slot}/recall\"\n" + more}, &p)
	if p.Errors() > 0 {
		source.Print(os.Stderr, p.All())
		t.Fatal("the desk has errors")
	}
	return d
}

// lacks lists where a mixer has something else than a snapshot wants, be it told or as it woke up.
func lacks(d *desk.Desk, s *cue.Snapshot, m *virtual.Mixer) (list []string) {
	channels := m.State().Channels
	for _, x := range d.Settings(s) {
		if got := channels[x.Channel-1].Wire[x.Param]; got != x.Message.Args[0] {
			list = append(list, fmt.Sprintf("%s is %v, wanted %v", x.Message.Address, got, x.Message.Args[0]))
		}
	}
	return list
}

// TestStoreHoldsEveryCue stores the demo over a road that loses packets, and then asks the mixer itself: each slot must
// hold the compiled snapshot, whatever was lost; and all must be closed.
func TestStoreHoldsEveryCue(t *testing.T) {
	for _, x := range []struct {
		name, tables string
		lost         float64
	}{
		{"echo", "[echo]\n", 0.1},
		{"query", "[query]\naddress = \"{address}\"\n", 0.1},
		{"both", "[echo]\n[query]\naddress = \"{address}\"\n", 0.1},
		{"neither", "", 0},
	} {
		t.Run(x.name, func(t *testing.T) {
			t.Parallel() // it waits, mostly
			d := demoDesk(t, x.tables)
			cues := demoCues()[20:50]
			if x.lost > 0 {
				cues = cues[16:24] // a value that is lost costs a fifth of a second
			}
			f := &far{mixer: virtual.New(d)}
			f.listen(t, x.lost)
			w := newStoring(d, cues, f.at, newProgress(&bytes.Buffer{}))
			if err := w.open(f.at); err != nil {
				t.Fatal(err)
			}
			defer w.close()
			began := time.Now()
			if err := w.all(context.Background(), 0, false); err != nil {
				t.Fatal(err)
			}
			t.Logf("%d cues in %v", len(w.cues), time.Since(began))
			f.mu.Lock()
			defer f.mu.Unlock()
			for _, c := range f.mixer.State().Channels {
				if c.Open {
					t.Errorf("channel %d is open", c.Channel)
				}
			}
			names := map[int]string{}
			for _, slot := range f.mixer.Slots() {
				names[slot.Slot] = slot.Name
			}
			for i := range w.cues {
				if names[w.slot(i)] == "" && x.lost > 0 {
					continue // the store itself was lost, which nobody can know without --verify
				}
				if got, want := names[w.slot(i)], w.title(i); got != want {
					t.Errorf("slot %d is named %q, want %q", w.slot(i), got, want)
				}
				f.mixer.Handle(time.Now(), "test", wire.Encode(d.Recall.Message(w.slot(i), "")))
				if list := lacks(d, &w.cues[i], f.mixer); len(list) > 0 {
					t.Errorf("cue %s:\n%s", w.cues[i].ID, strings.Join(list, "\n"))
				}
			}
			if len(names) < len(w.cues)/2 {
				t.Errorf("only %d of %d slots are full", len(names), len(w.cues))
			}
		})
	}
}

// A store that is lost is found by verify, and that cue alone is told; so is a value that was moved in a scene.
func TestVerifyFindsWhatWasLost(t *testing.T) {
	for _, tables := range []string{"[echo]\n", "[query]\naddress = \"{address}\"\n"} {
		d := demoDesk(t, tables)
		cues := demoCues()[:4]
		f := &far{mixer: virtual.New(d)}
		f.listen(t, 0)
		w := newStoring(d, cues, f.at, newProgress(&bytes.Buffer{}))
		if err := w.open(f.at); err != nil {
			t.Fatal(err)
		}
		defer w.close()
		if err := w.store(context.Background(), 0); err != nil {
			t.Fatal(err)
		}
		if err := w.verify(context.Background(), 0); err != nil {
			t.Errorf("nothing was lost: %v", err)
		}
		f.mu.Lock()
		if n := f.mixer.State().Counts.Unsettled; n > 0 {
			t.Errorf("%d messages came before the desk had settled", n)
		}
		f.mu.Unlock()

		f.mu.Lock() // the third is stored with one level moved
		for _, m := range d.Messages(nil, &w.cues[2]) {
			f.mixer.Handle(time.Now(), "test", wire.Encode(m))
		}
		place := desk.Place{Channel: w.cues[2].Channels[0].Channel, Param: cue.ParamLevel}
		level, _ := d.Arg(place, -31)
		moved := osc.Message{Address: d.Address(place), Args: []osc.Arg{level}}
		f.mixer.Handle(time.Now(), "test", wire.Encode(moved))
		f.mixer.Handle(time.Now(), "test", wire.Encode(d.Store.Message(w.slot(2), "moved")))
		f.mu.Unlock()
		err := w.verify(context.Background(), 0)
		if err == nil || !strings.Contains(err.Error(), "cue "+w.cues[2].ID) || !strings.Contains(err.Error(), moved.String()) ||
			strings.Count(err.Error(), "does not hold") != 1 {
			t.Errorf("one level was moved: %v", err)
		}
	}
}

// An interruption is told with where to go on, and everything is closed after it.
func TestStoreInterrupted(t *testing.T) {
	d := demoDesk(t, "[echo]\n")
	f := &far{mixer: virtual.New(d)}
	f.listen(t, 0)
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	w := newStoring(d, demoCues(), f.at, newProgress(&stopAfter{steps: 3, stop: cancel}))
	if err := w.open(f.at); err != nil {
		t.Fatal(err)
	}
	defer w.close()
	err := w.all(ctx, 0, true)
	if want := "interrupted; --from " + w.cues[2].ID + " goes on there"; err == nil || !strings.Contains(err.Error(), want) || strings.Contains(err.Error(), "OPEN") {
		t.Errorf("%v; want %q", err, want)
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	if n := len(f.mixer.Slots()); n != 2 {
		t.Errorf("%d slots are full", n)
	}
	for _, c := range f.mixer.State().Channels {
		if c.Open {
			t.Errorf("channel %d is open", c.Channel)
		}
	}
}

// stopAfter stops something with the third line that it is given.
type stopAfter struct {
	steps int
	stop  func()
}

func (s *stopAfter) Write(p []byte) (int, error) {
	if s.steps--; s.steps == 0 {
		s.stop()
	}
	return len(p), nil
}

// What a dry run cannot print is an error, and no panic.
func TestStoreDryRunIsWhole(t *testing.T) {
	w := newStoring(demoDesk(t, ""), demoCues(), "127.0.0.1:9000", newProgress(&bytes.Buffer{}))
	w.dry = brokenPipe{}
	if err := w.all(context.Background(), 0, false); !errors.Is(err, os.ErrClosed) {
		t.Errorf("%v", err)
	}
}

type brokenPipe struct{}

func (brokenPipe) Write([]byte) (int, error) { return 0, os.ErrClosed }

// The page tells of every flag.
func TestHelpStoreHasEveryFlag(t *testing.T) {
	all := spans(helpPage(t, "store"))
	flags := regexp.MustCompile(`--[a-z-]+`).FindAllString(storeCommand().Flags().FlagUsages(), -1)
	if len(flags) < 7 {
		t.Errorf("only %q", flags)
	}
	for _, flag := range flags {
		if !all[flag] {
			t.Errorf("store.md does not tell of %s", flag)
		}
	}
}
