package journalfile

import (
	"errors"

	"golang.org/x/sys/windows"
)

// beyond is where the lock is: after the end of any journal, since Windows keeps others from reading what is locked.
var beyond = windows.Overlapped{OffsetHigh: 1 << 30}

// lock keeps other runs from opening a journal. The system ends the lock with the program, however that ends.
func lock(f withHandle) error {
	at := beyond
	err := windows.LockFileEx(
		windows.Handle(f.Fd()), windows.LOCKFILE_EXCLUSIVE_LOCK|windows.LOCKFILE_FAIL_IMMEDIATELY, 0, 1, 0, &at,
	)
	if errors.Is(err, windows.ERROR_LOCK_VIOLATION) || errors.Is(err, windows.ERROR_IO_PENDING) {
		return ErrInUse
	}
	return err
}

// unlock ends a lock before its file is closed.
func unlock(f withHandle) {
	at := beyond
	windows.UnlockFileEx(windows.Handle(f.Fd()), 0, 1, 0, &at)
}
