//go:build !windows

package journalfile

import (
	"errors"
	"syscall"
)

// lock keeps other runs from opening a journal. The system ends the lock with the program, however that ends.
func lock(f withHandle) error {
	err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
	if errors.Is(err, syscall.EWOULDBLOCK) {
		return ErrInUse
	}
	return err
}

// unlock ends a lock before its file is closed.
func unlock(f withHandle) { syscall.Flock(int(f.Fd()), syscall.LOCK_UN) }
