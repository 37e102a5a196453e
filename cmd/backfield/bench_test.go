package main

import (
	"path/filepath"
	"testing"

	"backfield/cmd/backfield/show"
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
