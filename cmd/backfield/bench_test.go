package main

import (
	"bytes"
	"path/filepath"
	"testing"

	"backfield/cmd/backfield/show"
	"backfield/cue/compile"
	"backfield/layout/source"
)

// BenchmarkCompileHarbor is a cold compile of the demo, reading included, as `backfield compile` does it.
func BenchmarkCompileHarbor(b *testing.B) {
	for b.Loop() {
		var p source.Problems
		s, err := show.Load(show.Disk{}, filepath.Join("..", "..", "examples", "harbor", "show.toml"), show.Options{}, &p)
		if err != nil || s.Show == nil {
			b.Fatal(err, p.All())
		}
	}
}

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

// BenchmarkRecompileHarbor compiles again after one dot has changed, as `backfield watch` does.
func BenchmarkRecompileHarbor(b *testing.B) {
	calls := 0
	o := show.Options{Memo: &compile.Memo{}}
	again := func() {
		var p source.Problems
		s, err := show.Load(oneDot{calls: &calls}, filepath.Join("..", "..", "examples", "harbor", "show.toml"), o, &p)
		if err != nil || s.Show == nil {
			b.Fatal(err, p.All())
		}
	}
	again() // the first compile of a watch is a cold one
	for b.Loop() {
		again()
	}
}
