package live

import (
	"context"
	"fmt"
	"strings"
	"sync"
	"testing"
	"time"

	"backfield/osc/feed"
	"backfield/osc/journal"
	"backfield/osc/run"
	"backfield/osc/standby"
	"backfield/osc/standby/link"
	"backfield/osc/virtual"
	"backfield/osc/wire"
)

// echoing has a mixer take what comes in, and say it to whom it is for, until l is closed.
func echoing(l *wire.Listener, mixer *virtual.Device, mu *sync.Mutex) {
	peers := map[string]wire.Peer{}
	for {
		packet, from, err := l.Receive()
		if err != nil {
			return
		}
		peers[from.String()] = from
		mu.Lock()
		replies := mixer.Handle(time.Now(), from.String(), packet)
		mu.Unlock()
		for _, r := range replies {
			peers[r.To].Reply(r.Packet)
		}
	}
}

// laptop is one of two with real sockets: its driver, and the end of it.
type laptop struct {
	*Driver
	pair *Pair
	link *link.PairLink
	end  func()

	mu      sync.Mutex
	journal []journal.Entry
}

func (l *laptop) write(e journal.Entry) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.journal = append(l.journal, e)
}

// steps lists the steps in the laptop's journal.
func (l *laptop) steps() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	var list []string
	for _, e := range l.journal {
		if e.Kind == "step" {
			list = append(list, e.Step)
		}
	}
	return strings.Join(list, " ")
}

// newLaptop starts a laptop of a show at a mixer. How it is linked is left to dial.
func newLaptop(
	t *testing.T, p run.ShowSetup, to string, first bool, dial func() (*link.PairLink, error),
) *laptop {
	t.Helper()
	l := &laptop{}
	o := run.Options{To: []string{to}, Guard: 1, Record: func(e journal.Entry) {
		l.write(e)
		l.pair.Record(e)
	}}
	l.Driver = New(run.New(p, o, time.Now()), p.Mixer, o.To)
	var err error
	if l.link, err = dial(); err != nil {
		t.Fatal(err)
	}
	l.pair = l.NewPair(PairOptions{First: first, Setup: p, Run: o, Follow: l.write, Send: l.link.Send, Waiting: "no standby"})
	if first {
		state := journal.RunState{Clock: journal.PlayClock{Rate: 1}}
		l.pair.Record(journal.Entry{At: time.Now(), Kind: "state", State: &state})
	}
	l.link.Start(l.pair)
	ctx, cancel := context.WithCancel(context.Background())
	var running sync.WaitGroup
	running.Go(func() { l.Run(ctx, o.To) })
	ended := false
	l.end = func() {
		if !ended {
			ended = true
			cancel()
			running.Wait()
			l.link.Close()
		}
	}
	t.Cleanup(l.end)
	return l
}

// newPair starts two laptops at a mixer that says what it holds.
func newPair(t *testing.T, p run.ShowSetup) (first, second *laptop) {
	t.Helper()
	l, err := wire.Listen("udp://127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	var mu sync.Mutex
	go echoing(l, virtual.New(p.Mixer), &mu)
	key := link.NewKey()
	first = newLaptop(t, p, l.Addr().String(), true, func() (*link.PairLink, error) {
		return link.Listen(t.Context(), "127.0.0.1:0", standby.NewDoor(key, "run", "show"), func(string) {})
	})
	second = newLaptop(t, p, l.Addr().String(), false, func() (*link.PairLink, error) {
		fits := func(link.Welcome) error { return nil }
		return link.Call(t.Context(), first.link.Addr(), standby.NewCaller(key), fits)
	})
	return first, second
}

func (l *laptop) is(step string, sends bool) func() bool {
	return func() bool {
		v, ok := l.View()
		return ok && v.Step == step && v.Pair.Sends == sends
	}
}

func until(t *testing.T, what string, most time.Duration, yes func() bool) {
	t.Helper()
	start := time.Now()
	for !yes() {
		if time.Sleep(2 * time.Millisecond); time.Since(start) > most {
			t.Fatalf("not after %v: %s", most, what)
		}
	}
	t.Logf("%s: after %v", what, time.Since(start).Round(time.Millisecond))
}

func give(t *testing.T, l *laptop, v run.Verb) {
	t.Helper()
	if said, err := l.Do(run.Command{Verb: v}); err != nil {
		t.Errorf("%s: %v", v, err)
	} else {
		t.Logf("%s: %s", v, said)
	}
}

const most = 10 * time.Second // on a machine that has others to do

// A standby shows what laptop 1 does, sends nothing, and takes over on the key; laptop 1 then follows it, and takes over
// in its turn. Both journals have the same steps.
func TestPairTakesOverAndBack(t *testing.T) {
	first, second := newPair(t, plan(t, 6, "rate = 10000\n", 0.2))
	until(t, "the standby is connected", most, func() bool { return second.pair.View().Linked })
	give(t, first, run.Go)
	give(t, first, run.Go)
	until(t, "the standby shows cue 2", most, second.is("2", false))
	if _, err := second.Do(run.Command{Verb: run.Go}); err == nil {
		t.Error("a standby takes a go")
	}
	give(t, second, run.TakeOver)
	if !second.is("2", true)() {
		t.Error("laptop 2 does not send in cue 2")
	}
	if !first.is("2", false)() {
		t.Error("laptop 1 is not silent")
	}
	if _, err := first.Do(run.Command{Verb: run.Go}); err == nil {
		t.Error("laptop 1 takes a go")
	}
	give(t, second, run.Go)
	until(t, "laptop 1 shows cue 3", most, first.is("3", false))
	settles(t, second.Driver, most)
	give(t, first, run.TakeOver)
	until(t, "laptop 1 sends again", most, first.is("3", true))
	give(t, first, run.Go)
	until(t, "laptop 2 shows cue 4", most, second.is("4", false))
	settles(t, first.Driver, most)
	if a, b := first.steps(), second.steps(); a != "1 2 3 4" || b != a {
		t.Errorf("the journals have the steps %q and %q", a, b)
	}
}

// A standby hears no mixer, but shows what laptop 1 has heard from them: what is confirmed there is confirmed here. Once
// laptop 1 is gone nothing is.
func TestStandbyShowsWhatIsConfirmed(t *testing.T) {
	first, second := newPair(t, plan(t, 6, "rate = 10000\necho = {}\n", 0))
	until(t, "the standby is connected", most, func() bool { return second.pair.View().Linked })
	give(t, first, run.Go)
	confirmed := func() bool {
		v, _ := second.View()
		for _, r := range v.Rows {
			if r.Sign != feed.ChannelOK || !r.LevelKnown {
				return false
			}
		}
		return v.Step == "1" && len(v.Rows) > 0 && len(v.Pair.Mixers) == 1 && v.Pair.Mixers[0].Up
	}
	until(t, "the standby shows confirmed values", most, confirmed)
	first.end()
	until(t, "the standby does not call them confirmed any more", most, func() bool {
		v, _ := second.View()
		return v.Pair.Mixers == nil && len(v.Rows) > 0 && v.Rows[0].Sign == feed.ChannelWaiting
	})
}

// Laptop 1 dies in the middle of a fade: the key takes over in the same cue, with the mixers as they were meant.
func TestPairAfterLaptop1HasDied(t *testing.T) {
	first, second := newPair(t, plan(t, 6, "rate = 10000\necho = {}\n", 3))
	until(t, "the standby is connected", most, func() bool { return second.pair.View().Linked })
	give(t, first, run.Go)
	settles(t, first.Driver, most)
	give(t, first, run.Go)
	until(t, "the standby shows cue 2", most, second.is("2", false))
	first.end()
	until(t, "the link is down", most, func() bool { return !second.pair.View().Linked })
	if v, _ := second.View(); !v.Pair.Gone || !strings.HasPrefix(v.Pair.Headline, "LAPTOP 1 IS GONE") {
		t.Errorf("%+v", v.Pair)
	}
	give(t, second, run.TakeOver)
	until(t, "laptop 2 sends", most, second.is("2", true))
	alone := func() bool {
		v, _ := second.View()
		return v.Pair.Alone && strings.HasPrefix(v.Pair.Headline, "THIS LAPTOP SENDS NOW: laptop 1 is silent")
	}
	if !alone() {
		t.Error("laptop 2 does not say that it is alone")
	}
	if said, err := second.Do(run.Command{Verb: run.Ack, Name: AckLaptop}); err != nil || alone() {
		t.Errorf("it says so after that was acknowledged: %q, %v", said, err)
	}
	if _, err := second.Do(run.Command{Verb: run.Ack, Name: AckLaptop}); err == nil {
		t.Error("what is not reported can be acknowledged") // and would then not be reported when it happens
	}
	give(t, second, run.Go)
	settles(t, second.Driver, most)
}

// Laptop 1 ends its run: it says so, and the key takes over without a second press.
func TestPairAfterQuit(t *testing.T) {
	first, second := newPair(t, plan(t, 3, "rate = 10000\n", 0))
	until(t, "the standby is connected", most, func() bool { return second.pair.View().Linked })
	give(t, first, run.Go)
	until(t, "the standby shows cue 1", most, second.is("1", false))
	first.pair.Quit()
	first.end()
	until(t, "laptop 2 knows", most, func() bool {
		return strings.Contains(fmt.Sprint(second.pair.View().Headline), "HAS QUIT")
	})
	give(t, second, run.TakeOver)
	if !second.is("1", true)() {
		t.Error("it has not taken over at once")
	}
}
