package watch

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"testing"
)

// Follow reads again when there are other files than it watched, and after each change; it ends with the context, or
// with an error of who reads.
func TestFollow(t *testing.T) {
	ctx, stop := context.WithTimeout(context.Background(), wait)
	defer stop()
	dir := t.TempDir()
	score, drill := filepath.Join(dir, "show.toml"), filepath.Join(dir, "dots.csv")
	for _, file := range []string{score, drill} {
		if err := os.WriteFile(file, []byte("1"), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	var calls [][]string
	once := func(watched []string) ([]string, error) {
		calls = append(calls, watched)
		switch len(calls) {
		case 2:
			return watched, os.WriteFile(drill, []byte("22"), 0o644)
		case 3:
			stop()
		}
		return []string{score, drill}, nil
	}
	report := func(err error) { t.Error(err) }
	if err := Follow(ctx, []string{score}, once, report); err != nil {
		t.Fatal(err)
	}
	if want := [][]string{{score}, {score, drill}, {score, drill}}; !slices.EqualFunc(calls, want, slices.Equal) {
		t.Errorf("it was called with %q, want %q", calls, want)
	}
	broken := errors.New("broken")
	if err := Follow(ctx, []string{score}, func([]string) ([]string, error) { return nil, broken },
		report); err != broken {
		t.Errorf("it ends with %v", err)
	}
}
