package main

import (
	"flag"
	"fmt"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"backfield/cmd/backfield/show"
	"backfield/cue"
	"backfield/layout/source"
	"backfield/osc/glance"
	"backfield/osc/mixer"
	"backfield/osc/run"
	"backfield/osc/run/simulate"
	"backfield/osc/virtual"
)

// demoPlan is the demo, compiled, for a run.
func demoPlan() run.ShowSetup {
	s := compiledOnce()
	return run.ShowSetup{Show: s.Show, Mixer: s.Mixer, Time: show.Timeline{Clock: s.Clock}}
}

func planOf(t testing.TB, example string) run.ShowSetup {
	t.Helper()
	var p source.Problems
	s, err := show.Load(show.Disk{}, "../../examples/"+example+"/show.toml", show.LoadOptions{}, &p)
	if err != nil || s.Show == nil {
		t.Fatal(err, p.All())
	}
	return run.ShowSetup{Show: s.Show, Mixer: s.Mixer, Time: show.Timeline{Clock: s.Clock}}
}

// differs lists where a mixer holds something else than a snapshot wants.
func differs(d *mixer.Mixer, s *cue.Snapshot, m *virtual.Device) (list []string) {
	for _, x := range d.Settings(s) {
		if got, ok := m.Value(x.Message.Address); !ok || got != x.Message.Args[0] {
			list = append(list, fmt.Sprintf("%s is %v, wanted %v", x.Message.Address, got, x.Message.Args[0]))
		}
	}
	return list
}

var stormRuns = flag.Int("storms", 6, "how many seeded runs TestStorm plays over bad roads")

// TestStorm plays the demo, cue after cue, over roads that lose 30 % of the packets either way, and double and reorder
// others. After each cue has settled the mixer must hold the compiled snapshot. CI plays 1,000 seeded runs; here it is
// some, and fewer with -short.
func TestStorm(t *testing.T) {
	t.Parallel()
	storms(t, demoPlan())
}

// The same with a mixer that has parameters of its own.
func TestStormWithOwnParameters(t *testing.T) {
	t.Parallel()
	storms(t, planOf(t, "foghorn"))
}

func storms(t *testing.T, plan run.ShowSetup) {
	if plan.Mixer.Echo == nil || plan.Mixer.Query == nil {
		t.Fatal("the demo's mixer does not confirm")
	}
	runs := *stormRuns
	if testing.Short() {
		runs = min(runs, 10)
	}
	faults := virtual.Faults{Drop: 0.3, Duplicate: 0.1, Reorder: 0.1, Delay: 2 * time.Millisecond,
		Jitter: 8 * time.Millisecond}
	var next atomic.Int64
	var workers sync.WaitGroup
	var mu sync.Mutex
	var times []time.Duration
	for range runtime.GOMAXPROCS(0) {
		workers.Go(func() {
			for {
				seed := uint64(next.Add(1))
				if seed > uint64(runs) || t.Failed() {
					return
				}
				took, err := storm(plan, faults, seed)
				if err != nil {
					t.Errorf("seed %d: %v", seed, err)
				}
				mu.Lock()
				times = append(times, took...)
				mu.Unlock()
			}
		})
	}
	workers.Wait()
	slices.Sort(times)
	if n := len(times); n > 0 {
		t.Logf("%d runs, %d cues: settled after %v in the median, %v at 99 %%, %v at most", runs, n, times[n/2],
			times[n*99/100], times[n-1])
	}
}

func storm(plan run.ShowSetup, faults virtual.Faults, seed uint64) (times []time.Duration, err error) {
	start := time.Unix(1_700_000_000, 0)
	e := run.New(plan, run.Options{To: []string{"mixer"}}, start)
	mixer := virtual.New(plan.Mixer)
	w := simulate.New(e, start, faults, seed, mixer)
	for i := range plan.Show.Cues {
		s := &plan.Show.Cues[i]
		w.Run(time.Second)
		if s.Auto {
			_, err = w.Do("jump " + s.ID)
		} else {
			_, err = w.Do("go")
		}
		if err != nil {
			return times, fmt.Errorf("cue %s: %w", s.ID, err)
		}
		w.Do("stop") // so that the step stays until it has settled
		took, err := w.Settle(20 * time.Second)
		if err != nil {
			return times, fmt.Errorf("cue %s: %w", s.ID, err)
		}
		times = append(times, took)
		if list := differs(plan.Mixer, s, mixer); len(list) > 0 {
			return times, fmt.Errorf("cue %s has settled, and\n%s", s.ID, strings.Join(list, "\n"))
		}
	}
	if v := e.View(w.Now); len(v.Mixers[0].Manual) > 0 || v.Problem != "" {
		return times, fmt.Errorf("%s", glance.Status(v))
	}
	return times, nil
}
