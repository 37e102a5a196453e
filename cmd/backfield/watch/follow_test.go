package watch

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"
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

// Ten saves in half a second are one change.
func TestFollowWaitsForQuiet(t *testing.T) {
	const most = 5 // tries: a machine that is busy may part the saves by more than the quiet that ends them
	for try := range most {
		ctx, stop := context.WithTimeout(context.Background(), wait)
		file := filepath.Join(t.TempDir(), "show.toml")
		if err := os.WriteFile(file, nil, 0o644); err != nil {
			t.Fatal(err)
		}
		calls, longest := 0, time.Duration(0)
		once := func(watched []string) ([]string, error) {
			if calls++; calls > 1 {
				time.AfterFunc(3*quietFor, stop)
				return watched, nil
			}
			go func() {
				last := time.Now()
				for i := range 10 {
					os.WriteFile(file, make([]byte, i), 0o644)
					time.Sleep(50 * time.Millisecond)
					longest, last = max(longest, time.Since(last)), time.Now()
				}
			}()
			return watched, nil
		}
		if err := Follow(ctx, []string{file}, once, func(err error) { t.Error(err) }); err != nil {
			t.Fatal(err)
		}
		stop()
		if calls == 2 {
			return
		}
		if longest < quietFor || try == most-1 {
			t.Fatalf("it was called %d times, and the saves were at most %v apart", calls, longest)
		}
	}
}
