//go:build !windows

package journalfile

import (
	"path/filepath"
	"syscall"
	"testing"
)

// pipe makes a named pipe, which opening would wait for.
func pipe(t *testing.T, dir string) string {
	t.Helper()
	path := filepath.Join(dir, "pipe.jsonl")
	if err := syscall.Mkfifo(path, 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}
