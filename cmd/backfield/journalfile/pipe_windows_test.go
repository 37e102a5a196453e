package journalfile

import "testing"

// pipe is a device where there are no named pipes among files.
func pipe(t *testing.T, dir string) string { return "NUL" }
