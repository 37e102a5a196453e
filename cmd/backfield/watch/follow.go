package watch

import (
	"context"
	"slices"
)

// Follow calls once now, and again whenever a file has changed, until the context ends. once is given the files that
// are watched, the given ones at first, and returns those that matter. Where they are others, it is to do nothing else,
// and is called again once they are watched: they may have changed since they were read. Errors of watching that end
// nothing go to report. Follow returns the first error of once, or one that ends the watch.
func Follow(ctx context.Context, files []string, once func(watched []string) ([]string, error),
	report func(error)) error {
	watcher, err := New(files)
	if err != nil {
		return err
	}
	defer watcher.Close()
	for {
		now, err := once(files)
		if err != nil {
			return err
		}
		if !slices.Equal(now, files) {
			if err := watcher.SetFiles(now); err != nil {
				return err
			}
			files = now
			continue
		}
		if !nextChange(ctx, watcher, report) {
			return nil
		}
	}
}

// nextChange returns true when a file has changed, false when the context has ended.
func nextChange(ctx context.Context, watcher *Watcher, report func(error)) bool {
	for {
		select {
		case <-ctx.Done():
			return false
		case <-watcher.Changes():
			return true
		case err := <-watcher.Errors():
			report(err)
		}
	}
}
