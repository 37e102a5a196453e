package main

import (
	"encoding/json"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"backfield/cmd/backfield/loudness"
	"backfield/cmd/backfield/show"
	"backfield/cue/work"
	"backfield/layout/source"
)

// What a watch remembers changes no figure: after one dot has moved and after it has moved back, all are those of a fresh
// start, and they differ from each other.
func TestBalanceRemembers(t *testing.T) {
	calls := 0
	demo := filepath.Join("..", "..", "examples", "harbor", "show.toml")
	report := func(rd show.Reader, o show.LoadOptions) string {
		var p source.Problems
		s, err := show.Load(rd, demo, o, &p)
		if err != nil || s.Show == nil {
			t.Fatal(err, p.All())
		}
		l := s.Loudness(&p)
		text, err := json.Marshal(loudness.NewReport(s, l, l.Cues()))
		if err != nil {
			t.Fatal(err)
		}
		return string(text)
	}
	watched := show.LoadOptions{Memo: &work.Memo{}}
	still, moved := report(show.Disk{}, show.LoadOptions{}), ""
	for i := range 3 {
		got := report(oneDot{calls: &calls}, watched)
		want := still
		if calls%2 == 0 {
			n := 1
			moved = report(oneDot{calls: &n}, show.LoadOptions{})
			want = moved
		}
		if got != want {
			t.Errorf("compile %d of the watch has other figures than a fresh start", i+1)
		}
	}
	if moved == still {
		t.Error("the dot changes nothing, so nothing was tested")
	}
}

// What a watch remembers of the demo, whose noise and brass were read, is small, also after an edit
// that changes what is heard everywhere, since the player was read at that dot.
func TestMemoIsSmall(t *testing.T) {
	calls, memo := 0, &work.Memo{}
	inUse := func() int {
		var m runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&m)
		return int(m.HeapAlloc)
	}
	o := show.LoadOptions{Memo: memo, Levels: true,
		Venue: filepath.Join("..", "..", "examples", "harbor", "venues", "lantern-quay-night.toml")}
	before := inUse()
	for range 3 {
		var p source.Problems
		s, err := show.Load(oneDot{calls: &calls}, filepath.Join("..", "..", "examples", "harbor", "show.toml"), o, &p)
		if err != nil || s.Show == nil {
			t.Fatal(err, p.All())
		}
	}
	if mb := float64(inUse()-before) / 1e6; mb > 30 {
		t.Errorf("%.1f MB, want 30 at most", mb)
	} else {
		t.Logf("%.1f MB", mb)
	}
	runtime.KeepAlive(memo)
}

// BenchmarkBalance computes how loud the demo is, after the compile: all cues as `balance` does, one cue, and all cues again
// after one dot has changed, as a watch does, with what each takes of the processor and of the clock.
func BenchmarkBalance(b *testing.B) {
	calls := 0
	demo := filepath.Join("..", "..", "examples", "harbor", "show.toml")
	load := func(rd show.Reader, o show.LoadOptions) *show.Loaded {
		var p source.Problems
		s, err := show.Load(rd, demo, o, &p)
		if err != nil || s.Show == nil {
			b.Fatal(err, p.All())
		}
		return s
	}
	measure := func(s *show.Loaded, one int) (cpu, clock time.Duration) {
		var p source.Problems
		begun, at := processorTime(), time.Now()
		l := s.Loudness(&p)
		if one >= 0 {
			begun, at = processorTime(), time.Now()
			l.Cue(one)
		} else {
			l.Cues()
		}
		return processorTime() - begun, time.Since(at)
	}
	watched := show.LoadOptions{Memo: &work.Memo{}}
	measure(load(oneDot{calls: &calls}, watched), -1) // the first compile of a watch is a cold one
	var whole, wholeClock, one, oneClock, again []time.Duration
	for b.Loop() {
		cold := load(show.Disk{}, show.LoadOptions{})
		cpu, clock := measure(cold, -1)
		whole, wholeClock = append(whole, cpu), append(wholeClock, clock)
		for i := range cold.Cues {
			cpu, clock = measure(cold, i)
			one, oneClock = append(one, cpu), append(oneClock, clock)
		}
		cpu, _ = measure(load(oneDot{calls: &calls}, watched), -1)
		again = append(again, cpu)
	}
	b.ReportMetric(median(whole), "whole-cpu-ms")
	b.ReportMetric(median(wholeClock), "whole-clock-ms")
	b.ReportMetric(median(one), "one-cue-cpu-ms")
	b.ReportMetric(median(oneClock), "one-cue-clock-ms")
	b.ReportMetric(median(again), "after-one-dot-cpu-ms")
	b.ReportMetric(median(whole)/median(again), "x_whole")
}
