package store

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"backfield/cue"
	"backfield/layout/source"
	"backfield/osc"
	"backfield/osc/mixer"
	"backfield/osc/virtual"
	"backfield/osc/waiting"
	"backfield/osc/wire"
)

func TestMain(m *testing.M) { os.Exit(waiting.Run(m)) }

// far is a simulated mixer on its own port, behind a link that loses some packets each way.
type far struct {
	mu    sync.Mutex
	mixer *virtual.Device
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

// walking are cues in which four of twelve players are heard and everybody walks: levels, pans and delays of every
// size of step, down to the smallest that the mixer has.
func walking(n int) []cue.Snapshot {
	r := rand.New(rand.NewPCG(7, 7))
	cues := make([]cue.Snapshot, n)
	for i := range cues {
		cues[i] = cue.Snapshot{ID: fmt.Sprint(i + 1), Name: fmt.Sprintf("walk %d", i+1)}
		for c := range 12 {
			x := cue.Channel{
				Channel: c + 1, Player: fmt.Sprintf("Tpt %d", c+1), Kind: cue.Worn, LevelDB: cue.Silent,
				Pan: float64(r.IntN(201)-100) / 100, DelayMS: float64(r.IntN(2000)) / 10,
			}
			if i > 0 && r.IntN(2) == 0 {
				x.DelayMS = cues[i-1].Channels[c].DelayMS + 0.1
			}
			if (c+i)%3 == 0 {
				x.Open, x.LevelDB = true, cue.Level(r.IntN(20)-14)
			}
			cues[i].Channels = append(cues[i].Channels, x)
		}
	}
	return cues
}

// mixerThat reads the demo's mixer file with scenes, and other tables instead of its echo and query.
func mixerThat(t *testing.T, more string) *mixer.Mixer {
	t.Helper()
	text, err := os.ReadFile("../../examples/harbor/mixer.toml")
	if err != nil {
		t.Fatal(err)
	}
	plain, _, _ := strings.Cut(string(text), "[echo]")
	scenes := "\n[store]\naddress = \"/scene/{slot}/store\"\nargs = [\"{name}\"]\n" +
		"settle = \"1 ms\"\nfirst = 3\nslots = 500\n" +
		"[recall]\naddress = \"/scene/{slot}/recall\"\n"
	var p source.Problems
	d := mixer.Read(&source.File{Name: "mixer.toml", Text: plain + scenes + more}, &p)
	if p.Errors() > 0 {
		source.Print(os.Stderr, p.All())
		t.Fatal("the mixer file has errors")
	}
	return d
}

// lacks lists where a mixer has something else than a snapshot wants, whether it was sent or is its default.
func lacks(d *mixer.Mixer, s *cue.Snapshot, m *virtual.Device) (list []string) {
	channels := m.State().Channels
	for _, x := range d.Settings(s) {
		if got := channels[x.Channel-1].Wire[x.Param]; got != x.Message.Args[0] {
			list = append(list, fmt.Sprintf("%s is %v, wanted %v", x.Message.Address, got, x.Message.Args[0]))
		}
	}
	return list
}

// TestStoreHoldsEveryCue stores the demo over a link that loses packets, and then asks the mixer itself: each slot must
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
			d := mixerThat(t, x.tables)
			cues := walking(12)
			if x.lost > 0 {
				cues = cues[:5] // a value that is lost costs a fifth of a second
			}
			f := &far{mixer: virtual.New(d)}
			f.listen(t, x.lost)
			w := New(d, cues, f.at, silent{})
			if err := w.Open(); err != nil {
				t.Fatal(err)
			}
			defer w.Close()
			began := time.Now()
			if err := w.All(context.Background(), 0, false); err != nil {
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
				if names[w.Slot(i)] == "" && x.lost > 0 {
					continue // the store itself was lost, which nobody can know without --verify
				}
				if got, want := names[w.Slot(i)], w.title(i); got != want {
					t.Errorf("slot %d is named %q, want %q", w.Slot(i), got, want)
				}
				f.mixer.Handle(time.Now(), "test", wire.Encode(d.Recall.Message(w.Slot(i), "")))
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

// A store that is lost is found by verify, and only that cue is listed; so is a value that was moved in a scene.
func TestVerifyFindsWhatWasLost(t *testing.T) {
	t.Parallel()
	for _, tables := range []string{"[echo]\n", "[query]\naddress = \"{address}\"\n"} {
		d := mixerThat(t, tables)
		cues := walking(4)
		f := &far{mixer: virtual.New(d)}
		f.listen(t, 0)
		w := New(d, cues, f.at, silent{})
		if err := w.Open(); err != nil {
			t.Fatal(err)
		}
		defer w.Close()
		if err := w.store(context.Background(), 0); err != nil {
			t.Fatal(err)
		}
		if err := w.verify(context.Background(), 0); err != nil {
			t.Errorf("nothing was lost: %v", err)
		}
		f.mu.Lock()
		if n := f.mixer.State().Counts.Unsettled; n > 0 {
			t.Errorf("%d messages came before the mixer had settled", n)
		}
		f.mu.Unlock()

		f.mu.Lock() // the third is stored with one level moved
		for _, m := range d.Messages(nil, &w.cues[2]) {
			f.mixer.Handle(time.Now(), "test", wire.Encode(m))
		}
		place := mixer.Control{Channel: w.cues[2].Channels[0].Channel, Param: cue.ParamLevel}
		level, _ := d.Arg(place, -31)
		moved := osc.Message{Address: d.Address(place), Args: []osc.Arg{level}}
		f.mixer.Handle(time.Now(), "test", wire.Encode(moved))
		f.mixer.Handle(time.Now(), "test", wire.Encode(d.Store.Message(w.Slot(2), "moved")))
		f.mu.Unlock()
		err := w.verify(context.Background(), 0)
		if err == nil || !strings.Contains(err.Error(), "cue "+w.cues[2].ID) ||
			!strings.Contains(err.Error(), fmt.Sprintf("(the mixer has %s)", level)) ||
			strings.Count(err.Error(), "does not hold") != 1 {
			t.Errorf("one level was moved: %v", err)
		}
	}
}

// An interruption says where to continue, and everything is closed after it.
func TestStoreInterrupted(t *testing.T) {
	t.Parallel()
	d := mixerThat(t, "[echo]\n")
	f := &far{mixer: virtual.New(d)}
	f.listen(t, 0)
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	w := New(d, walking(30), f.at, &stopAfter{steps: 3, stop: cancel})
	if err := w.Open(); err != nil {
		t.Fatal(err)
	}
	defer w.Close()
	err := w.All(ctx, 0, true)
	want := "interrupted; to continue there: --from " + w.cues[2].ID
	if err == nil || !strings.Contains(err.Error(), want) || strings.Contains(err.Error(), "OPEN") {
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

// silent shows no progress.
type silent struct{}

func (silent) Step(int, int, string) {}
func (silent) Full(string)           {}
func (silent) End()                  {}

// stopAfter stops something at a step.
type stopAfter struct {
	silent
	steps int
	stop  func()
}

func (s *stopAfter) Step(int, int, string) {
	if s.steps--; s.steps == 0 {
		s.stop()
	}
}

// What a dry run cannot print is an error, and no panic.
func TestStoreDryRunIsWhole(t *testing.T) {
	w := New(mixerThat(t, ""), walking(30), "127.0.0.1:9000", silent{})
	w.Dry = brokenPipe{}
	if err := w.All(context.Background(), 0, false); !errors.Is(err, os.ErrClosed) {
		t.Errorf("%v", err)
	}
}

type brokenPipe struct{}

func (brokenPipe) Write([]byte) (int, error) { return 0, os.ErrClosed }
