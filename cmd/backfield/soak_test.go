package main

import (
	"context"
	"flag"
	"fmt"
	"math"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"backfield/osc/journal"
	"backfield/osc/live"
	"backfield/osc/run"
	"backfield/osc/run/simulate"
	"backfield/osc/virtual"
	"backfield/osc/wire"
)

var soak = flag.Duration("soak", 0, "how long TestSoak plays over real sockets, which it is skipped without, and "+
	"TestLongShow in its own time")

// endless is the time of a show that has no score: 120 bpm throughout.
type endless struct{}

func (endless) Find(position string) (float64, error) { return 0, fmt.Errorf("no %q", position) }
func (endless) At(timeS float64) run.ScoreMoment {
	return run.ScoreMoment{Movement: 1, Count: 1 + 2*timeS, BPM: 120}
}
func (endless) Counts(fromS, toS float64) float64 { return 2 * (toS - fromS) }

// long is the demo played again and again until a time, as one show.
func long(t testing.TB, lengthS float64) run.ShowSetup {
	t.Helper()
	plan := demoPlan()
	demo := plan.Show
	show := *demo
	show.Cues = nil
	for round := 0; ; round++ {
		from := float64(round) * (demo.EndS + 5)
		if from >= lengthS {
			show.EndS = from
			break
		}
		for _, c := range demo.Cues {
			c.ID = fmt.Sprintf("%d/%s", round, c.ID)
			c.TimeS += from
			show.Cues = append(show.Cues, c)
		}
	}
	return run.ShowSetup{Show: &show, Mixer: plan.Mixer, Time: endless{}}
}

// heap is what is in use after a collection, in bytes.
func heap() uint64 {
	var m runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&m)
	return m.HeapAlloc
}

// TestLongShow plays half an hour, or as long as -soak says, by the clock in a time of its own, over a road that loses
// 20 % and a mixer that reboots every seven minutes. No cue is off its time by a millisecond, nothing grows, and the
// mixer ends right.
func TestLongShow(t *testing.T) {
	length := max(30*time.Minute, *soak)
	if testing.Short() {
		length = 12 * time.Minute
	}
	plan := long(t, length.Seconds())
	start := time.Unix(1_700_000_000, 0)
	taken := map[string]time.Time{}
	e := run.New(plan, run.Options{To: []string{"mixer"}, ByClock: true, Record: func(x journal.Entry) {
		if _, seen := taken[x.Step]; !seen && x.Step != "" {
			taken[x.Step] = x.At
		}
	}}, start)
	mixer := virtual.New(plan.Mixer)
	w := simulate.New(e, start, virtual.Faults{Drop: 0.2, Duplicate: 0.05, Delay: 2 * time.Millisecond,
		Jitter: 5 * time.Millisecond}, 3, mixer)
	w.Run(5 * time.Second)
	if _, err := w.Do("start"); err != nil {
		t.Fatal(err)
	}
	begun := w.Now
	var first, last uint64
	for n := 1; w.Now.Sub(begun).Seconds() < plan.Show.EndS; n++ {
		w.Run(time.Minute)
		if n%7 == 0 {
			mixer.Reboot(w.Now)
		}
		if last = heap(); n == 10 {
			first = last
		}
	}
	if _, err := w.Settle(30 * time.Second); err != nil {
		t.Error(err)
	}
	if list := differs(plan.Mixer, &plan.Show.Cues[len(plan.Show.Cues)-1], mixer); len(list) > 0 {
		t.Errorf("after the last cue\n%s", strings.Join(list, "\n"))
	}
	worst, late := time.Duration(0), ""
	for i := range plan.Show.Cues {
		c := &plan.Show.Cues[i]
		at, ok := taken[c.ID]
		if !ok {
			t.Fatalf("cue %s was never taken", c.ID)
		}
		if off := (at.Sub(begun) - time.Duration(c.TimeS*float64(time.Second))).Abs(); off > worst {
			worst, late = off, c.ID
		}
	}
	t.Logf("%d cues in %.0f minutes: off by %v at most (cue %s); heap %.1f MB after ten minutes, %.1f MB at the end",
		len(plan.Show.Cues), plan.Show.EndS/60, worst, late, float64(first)/1e6, float64(last)/1e6)
	if worst > time.Millisecond {
		t.Errorf("cue %s is off its time by %v", late, worst)
	}
	if last > first+first/4+1<<20 {
		t.Errorf("the heap grows from %d to %d bytes", first, last)
	}
}

// TestSoak plays by the clock over real sockets and in real time, with loss and reboots, for as long as -soak says:
// the show clock against the wall's, goroutines and heap.
func TestSoak(t *testing.T) {
	if *soak == 0 {
		t.Skip("a soak takes as long as -soak says: -soak 2h")
	}
	plan := long(t, soak.Seconds()+60)
	ctx, end := context.WithCancel(context.Background())
	defer end()
	l, err := wire.Listen("udp://127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	var mu sync.Mutex
	mixer := virtual.New(plan.Mixer)
	out := virtual.NewFaultyLink(virtual.Faults{Drop: 0.2}, 1)
	go func() {
		for {
			packet, from, err := l.Receive()
			if err != nil {
				return
			}
			mu.Lock()
			now := time.Now()
			out.Send(now, packet)
			for _, p := range out.Deliver(now) {
				for _, r := range mixer.Handle(now, from.String(), p) {
					from.Reply(r.Packet)
				}
			}
			mu.Unlock()
		}
	}()
	to := "udp://" + l.Addr().String()
	e := run.New(plan, run.Options{To: []string{to}, ByClock: true}, time.Now())
	stage := live.New(e, plan.Mixer, []string{to})
	go stage.Run(ctx, []string{to})
	if _, err := stage.Do(run.Command{Verb: "start"}); err != nil {
		t.Fatal(err)
	}
	begun := time.Now()
	offset := func() float64 { // of the show clock against the wall's, in ms
		best := math.Inf(1)
		for range 20 { // the one that was answered soonest
			before := time.Now()
			v, _ := stage.View()
			after := time.Now()
			off := 1000 * (v.ShowS - before.Sub(begun).Seconds() - after.Sub(before).Seconds()/2)
			if math.Abs(off) < math.Abs(best) {
				best = off
			}
		}
		return best
	}
	zero := offset()
	var firstHeap uint64
	var firstCount int
	for n := 1; time.Since(begun) < *soak; n++ {
		time.Sleep(min(time.Minute, *soak-time.Since(begun)+time.Millisecond))
		if n%7 == 0 {
			mu.Lock()
			mixer.Reboot(time.Now())
			mu.Unlock()
		}
		h, count, drift := heap(), runtime.NumGoroutine(), offset()-zero
		if n == min(5, int(soak.Minutes())) {
			firstHeap, firstCount = h, count
		}
		t.Logf("%3d min: show clock off by %+.3f ms, %d goroutines, heap %.2f MB", n, drift, count, float64(h)/1e6)
		if math.Abs(drift) > time.Since(begun).Minutes() {
			t.Errorf("the show clock has drifted by %.3f ms in %v", drift, time.Since(begun))
		}
	}
	if h := heap(); firstHeap > 0 && h > firstHeap+firstHeap/4+1<<20 {
		t.Errorf("the heap has grown from %d to %d bytes", firstHeap, h)
	}
	if count := runtime.NumGoroutine(); firstCount > 0 && count > firstCount {
		t.Errorf("goroutines have grown from %d to %d", firstCount, count)
	}
}
