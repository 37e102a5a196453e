package live

import (
	"context"
	"fmt"
	"math/rand/v2"
	"net"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"backfield/osc/glance"
	"backfield/osc/journal"
	"backfield/osc/mixer"
	"backfield/osc/run"
	"backfield/osc/virtual"
	"backfield/osc/wire"
)

// TestManyOperators: several give commands at once, others look on, and of two mixers one is a stream that takes in
// nothing, or is closed, again and again. No command waits for long; what the mixer holds in the end is what is meant;
// nothing is left behind. With -race it holds the stage to what it promises.
func TestManyOperators(t *testing.T) {
	before := runtime.NumGoroutine()
	p := plan(t, 30, "rate = 20000\n", 0.1)
	p.Mixer.Echo = &mixer.Echo{Tolerance: 0.002}
	for i := range p.Show.Cues { // close to each other, so that automatic ones are due
		p.Show.Cues[i].TimeS, p.Show.Cues[i].Auto = float64(i)/5, i%3 == 2
	}
	for i := range p.Show.Cues { // the last eight are spares
		p.Show.Cues[i].Channels = p.Show.Cues[i].Channels[:56]
	}
	mixer := virtual.New(p.Mixer)
	l, err := wire.Listen("udp://127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	var mu sync.Mutex
	var mixers, operators sync.WaitGroup
	mixers.Go(func() { answering(l, mixer, &mu) })
	stalls, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	mixers.Go(func() {
		r := rand.New(rand.NewPCG(5, 5))
		for {
			c, err := stalls.Accept()
			if err != nil {
				return
			}
			c.(*net.TCPConn).SetReadBuffer(4096)
			time.Sleep(time.Duration(r.IntN(300)) * time.Millisecond)
			c.Close()
		}
	})
	to := []string{l.Addr().String(), "tcp://" + stalls.Addr().String()}
	var entries int // the engine calls Record from one goroutine at a time
	e := run.New(
		p, run.Options{To: to, Guard: time.Nanosecond, Record: func(x journal.Entry) { entries += len(x.Line()) }},
		time.Now(),
	)
	s := New(e, p.Mixer, to)
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	operators.Go(func() { s.Run(ctx, to) })

	var givers sync.WaitGroup
	end := time.Now().Add(1500 * time.Millisecond)
	var slowest time.Duration // under mu
	give := func(lines ...string) {
		for _, line := range lines {
			c, err := run.Parse(line)
			if err != nil {
				t.Error(err)
			}
			began := time.Now()
			s.Do(c) // what makes no sense at the moment is refused
			mu.Lock()
			slowest = max(slowest, time.Since(began))
			mu.Unlock()
		}
	}
	for n := range 3 {
		givers.Go(func() {
			r := rand.New(rand.NewPCG(uint64(n), 8))
			for ; time.Now().Before(end); time.Sleep(time.Duration(r.IntN(3000)) * time.Microsecond) {
				name, spare := fmt.Sprintf("%q", fmt.Sprint("Tpt ", 1+r.IntN(56))), 57+r.IntN(8)
				switch r.IntN(6) {
				case 0:
					give("go")
				case 1:
					give(fmt.Sprint("jump ", 1+r.IntN(30)), "start")
				case 2:
					give("hush", "back", "unhush")
				case 3:
					give("hold "+name, "release "+name)
				case 4:
					give(fmt.Sprintf("swap %s to %d", name, spare), "stop", fmt.Sprintf("swap %s back", name))
				case 5:
					give("nudge "+name+" +1", "nudge "+name+" -1")
				}
			}
		})
	}
	for range 2 {
		givers.Go(func() {
			for time.Now().Before(end) {
				if v, ok := s.View(); !ok || len(v.Mixers) != 2 || glance.Status(v) == "" {
					t.Error("a view of nothing")
				}
				s.Settled()
				s.ReportProblem("a problem")
				time.Sleep(time.Millisecond)
			}
		})
	}
	givers.Wait()
	for n := 1; n <= 56; n++ { // who came second to a swap or a hold may have left one
		give(fmt.Sprintf("release \"Tpt %d\"", n), fmt.Sprintf("swap \"Tpt %d\" back", n))
	}
	give("stop", "unhush", "jump 12")
	stalls.Close() // from now on one mixer counts
	settles(t, s, 20*time.Second)
	v, _ := s.View()
	if v.Step != "12" || v.Hush || len(v.Swaps)+len(v.Holds) > 0 || strings.Contains(fmt.Sprint(v.Nudges), "+1") {
		t.Errorf("it stands otherwise:\n%s", glance.Status(v))
	}
	mu.Lock()
	if slowest > 3*time.Second {
		t.Errorf("a command took %v", slowest)
	}
	for _, x := range p.Mixer.Settings(&p.Show.Cues[11]) {
		if got, ok := mixer.Value(x.Message.Address); !ok || got != x.Message.Args[0] {
			t.Errorf("%s is %v, wanted %v", x.Message.Address, got, x.Message.Args[0])
		}
	}
	mu.Unlock()
	t.Logf("the slowest command took %v; %d bytes of journal", slowest, entries)
	cancel()
	operators.Wait()
	if _, ok := s.View(); ok {
		t.Error("it goes on after its end")
	}
	l.Close()
	mixers.Wait()
	fewer(t, before)
}
