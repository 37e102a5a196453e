package journalfile

import (
	"os"
	"path/filepath"
	"time"
)

// Announce makes a journal that is not in the folder of its show's journals known there, by a link, until forget is
// called: Live finds it, and after a crash Find does. Where no link can be made (a disk that cannot be written, or has
// none), nobody finds it there.
func Announce(score, path string, now time.Time) (forget func()) {
	dir, nothing := folder(score), func() {}
	target, err := filepath.Abs(path)
	if err != nil || Same(filepath.Dir(target), dir) {
		return nothing
	}
	made := os.Mkdir(dir, 0o755) == nil
	link := NewPath(score, now)
	if err := os.Symlink(target, link); err != nil {
		link = ""
	}
	return func() {
		if link != "" {
			os.Remove(link)
		}
		if made {
			os.Remove(dir) // which fails if a journal is in it by now
		}
	}
}

// Same reports whether two paths are of the same file or folder.
func Same(a, b string) bool {
	one, err := os.Stat(a)
	if err != nil {
		return false
	}
	other, err := os.Stat(b)
	return err == nil && os.SameFile(one, other)
}

// Lock keeps other programs that ask for it from opening a file, until it is closed. The error is ErrInUse if one of them
// has it.
func Lock(f *os.File) error { return lock(f) }
