package main

import (
	"bytes"
	"path/filepath"
	"testing"
	"time"

	"backfield/cmd/backfield/show"
	"backfield/cue/work"
	"backfield/layout/source"
)

// oneDot reads the demo with one trumpet's dot moved by half a step and back, call after call.
type oneDot struct {
	show.Disk
	calls *int
}

func (r oneDot) Read(path string) ([]byte, error) {
	data, err := r.Disk.Read(path)
	if filepath.Base(path) == "dots.csv" {
		if *r.calls++; *r.calls%2 == 0 {
			data = bytes.Replace(data, []byte("\n7,Tpt 3,on 50,5 behind"), []byte("\n7,Tpt 3,on 50,5.5 behind"), 1)
		}
	}
	return data, err
}

// BenchmarkHarbor compiles the demo from its files, cold, as `backfield compile` does it, and again after one dot has
// changed, as `backfield watch` does; the two in turn, with what each takes of the processor and how many times as long
// the cold one takes.
func BenchmarkHarbor(b *testing.B) {
	calls := 0
	demo := filepath.Join("..", "..", "examples", "harbor", "show.toml")
	load := func(rd show.Reader, o show.LoadOptions) time.Duration {
		var p source.Problems
		begun := processorTime()
		s, err := show.Load(rd, demo, o, &p)
		if err != nil || s.Show == nil {
			b.Fatal(err, p.All())
		}
		return processorTime() - begun
	}
	watched := show.LoadOptions{Memo: &work.Memo{}}
	load(oneDot{calls: &calls}, watched) // the first compile of a watch is a cold one
	var cold, again []time.Duration
	for b.Loop() {
		cold = append(cold, load(show.Disk{}, show.LoadOptions{}))
		again = append(again, load(oneDot{calls: &calls}, watched))
	}
	b.ReportMetric(median(cold), "cold-cpu-ms")
	b.ReportMetric(median(again), "after-one-dot-cpu-ms")
	b.ReportMetric(median(cold)/median(again), "x_cold")
}
