package live

import (
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"syscall"
	"testing"
	"time"

	"backfield/osc/journal"
	"backfield/osc/run"
	"backfield/osc/wire"
)

var fadeSeconds = flag.Int("fade", 2, "how many seconds of fade BenchmarkTick plays each way")

// spent is the time that this process has taken of the cores.
func spent() time.Duration {
	var u syscall.Rusage
	syscall.Getrusage(syscall.RUSAGE_SELF, &u)
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// queued is how long the threads of this process have waited for a core, or 0 where the kernel does not report it: the
// second number of schedstat (Documentation/scheduler/sched-stats.rst).
func queued() (sum time.Duration) {
	tasks, _ := filepath.Glob("/proc/self/task/*/schedstat")
	for _, path := range tasks {
		var ran, waited int64
		text, _ := os.ReadFile(path)
		fmt.Sscan(string(text), &ran, &waited)
		sum += time.Duration(waited)
	}
	return sum
}

// ticks is what is known of a player's ticks: how late each began, what they cost.
type ticks struct {
	late    []time.Duration
	missed  int // that passed before one was begun; they are among the late
	cpu     time.Duration
	wall    time.Duration
	queued  time.Duration // that threads which could run have waited for a core
	objects uint64        // that were allocated
}

const (
	hz     = 100
	period = time.Second / hz
)

// begun notes a tick, and those that it comes too late for. It returns when the next is due.
func (t *ticks) begun(due, now time.Time) time.Time {
	for first := true; first || !due.After(now); due = due.Add(period) {
		t.late = append(t.late, now.Sub(due))
		if !first {
			t.missed++
		}
		first = false
	}
	return due
}

func (t *ticks) at(share float64) time.Duration {
	return t.late[min(int(share*float64(len(t.late))), len(t.late)-1)]
}

func (t *ticks) String() string {
	slices.Sort(t.late)
	n := float64(len(t.late))
	return fmt.Sprintf(
		"%d ticks, %d of them missed; late p50 %v, p90 %v, p99 %v, p99.9 %v, most %v; "+
			"%.2f %% of a core; %.2f objects a tick; waited %v a tick for a core",
		len(
			t.late,
		),
		t.missed,
		t.at(0.5),
		t.at(0.9),
		t.at(0.99),
		t.at(0.999),
		t.at(1),
		100*t.cpu.Seconds()/t.wall.Seconds(),
		float64(t.objects)/n,
		t.queued/time.Duration(n),
	)
}

// played measures what goes on while play runs.
func (t *ticks) played(play func()) {
	var before, after runtime.MemStats
	wait := queued()
	runtime.ReadMemStats(&before)
	cpu, start := spent(), time.Now()
	play()
	t.cpu, t.wall = t.cpu+spent()-cpu, t.wall+time.Since(start)
	runtime.ReadMemStats(&after)
	t.objects += after.Mallocs - before.Mallocs
	t.queued += queued() - wait
}

// BenchmarkTick plays a fade of 64 channels at 100 Hz and reports how late its ticks are, next to the same engine
// doing the same on a time.Ticker; in turn, and again while another process keeps a core busy. -fade 20 plays 20 s each
// way. Read x-p50 and x-p99, and x-cpu, which is how many times the ticker's time on the cores ours takes.
func BenchmarkTick(b *testing.B) {
	for _, busy := range []bool{false, true} {
		name := "quiet"
		if busy {
			name = "busy"
		}
		b.Run(name, func(b *testing.B) {
			if busy {
				spin := exec.Command("sh", "-c", "while :; do :; done")
				if err := spin.Start(); err != nil {
					b.Skip("nothing keeps a core busy: ", err)
				}
				b.Cleanup(func() { spin.Process.Kill(); spin.Wait() })
			}
			var ours, ticker ticks
			for b.Loop() {
				playStage(b, &ours)
				playTicker(b, &ticker)
			}
			b.Logf("\nours   %v\nticker %v", &ours, &ticker)
			us := func(d time.Duration) float64 { return float64(d.Nanoseconds()) / 1e3 }
			for _, p := range []float64{0.5, 0.99} {
				unit := fmt.Sprintf("p%.0f", 100*p)
				b.ReportMetric(us(ours.at(p)), "us-"+unit)
				b.ReportMetric(us(ticker.at(p)), "us-"+unit+"-ticker")
				b.ReportMetric(float64(ticker.at(p))/float64(max(ours.at(p), 1)), "x-"+unit)
			}
			b.ReportMetric(ours.cpu.Seconds()/ticker.cpu.Seconds(), "x-cpu")
			b.ReportMetric(float64(ours.objects)/float64(len(ours.late)), "objects/tick")
			b.ReportMetric(float64(ours.missed), "missed")
			b.ReportMetric(float64(ticker.missed), "missed-ticker")
		})
	}
}

// fading is a show whose second cue fades in for some ticks more than are counted.
func fading(b *testing.B) (p run.ShowSetup, counted int) {
	counted = hz * *fadeSeconds
	show, d := benchShow(b, 64, float64(counted+100)/hz, fmt.Sprintf("rate = 2147483647\ntick = %d\n", hz))
	return run.ShowSetup{Show: show, Mixer: d}, counted
}

// playStage plays the fade as a run does.
func playStage(b *testing.B, t *ticks) {
	p, counted := fading(b)
	e := listenTo(b)
	stage := stageFor(b, p.Show, p.Mixer, e.port, unwritten)
	e.hear(b, 1<<20, 100*time.Millisecond)
	do(b, stage, "go")
	time.Sleep(settled)
	do(b, stage, "go")
	time.Sleep(settled)
	t.late = slices.Grow(t.late, 2*counted)
	until, full := len(t.late)+counted, make(chan struct{})
	t.played(func() {
		stage.withEngine(func(time.Time) {
			stage.ticked = func(due, now time.Time) {
				if t.begun(due, now); len(t.late) >= until {
					stage.ticked = nil
					close(full)
				}
			}
		})
		select {
		case <-full:
		case <-time.After(2 * time.Duration(*fadeSeconds) * time.Second):
			b.Error("the fade has ended too early")
		}
	})
}

// settled is when what a go sends at once has long been sent.
const settled = 100 * time.Millisecond

// playTicker plays it with an engine, a socket and a time.Ticker.
func playTicker(b *testing.B, t *ticks) {
	p, counted := fading(b)
	e := listenTo(b)
	link, err := wire.Open(fmt.Sprintf("udp://127.0.0.1:%d", e.port))
	if err != nil {
		b.Fatal(err)
	}
	defer link.Close()
	s := New(
		run.New(
			p, run.Options{To: []string{"ear"}, Guard: time.Nanosecond, Record: func(journal.Entry) {}}, time.Now(),
		),
		p.Mixer,
		[]string{"ear"},
	)
	s.links[0] = link
	s.engine.LinkUp(0, time.Now())
	advance := func() {
		now := time.Now()
		s.engine.Advance(now)
		s.send(0, now)
	}
	for range 2 { // everything closed, the first cue, the second
		advance()
		time.Sleep(settled)
		advance()
		if _, err := s.engine.Do(run.Command{Verb: run.Go}, time.Now()); err != nil {
			b.Fatal(err)
		}
		advance()
	}
	time.Sleep(settled)
	t.late = slices.Grow(t.late, 2*counted)
	until, done := len(t.late)+counted, make(chan struct{})
	t.played(func() {
		due := time.Now().Add(period)
		ticker := time.NewTicker(period)
		defer ticker.Stop()
		go func() {
			defer close(done)
			for len(t.late) < until {
				<-ticker.C
				if now := time.Now(); !now.Before(due) { // after a long wait the ticker has one in store
					due = t.begun(due, now)
				}
				advance()
			}
		}()
		<-done
	})
}
