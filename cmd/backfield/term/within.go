package term

import (
	"io"
	"os"
	"time"

	"github.com/charmbracelet/x/term"

	"backfield/layout/visible"
)

// Within does something that writes to a terminal or a pipe, and reports whether it was done within a time. Ctrl-S, a
// lost connection or a reader that has stopped can hold up a write for good; it is left behind then.
func Within(most time.Duration, do func()) bool {
	done := make(chan struct{})
	go func() {
		defer close(done)
		do()
	}()
	late := time.NewTimer(most)
	defer late.Stop()
	select {
	case <-done:
		return true
	case <-late.C:
		return false
	}
}

// Settings notes how a terminal is set, and returns what sets it so again without waiting for its output. For anything
// else than a terminal that does nothing.
func Settings(in io.Reader) (restore func()) {
	w, _ := in.(io.Writer)
	if w == nil || !IsTerminal(w) {
		return func() {}
	}
	f := visible.Raw(w).(*os.File)
	state, err := term.GetState(f.Fd())
	if err != nil {
		return func() {}
	}
	return func() { term.Restore(f.Fd(), state) } // an error is a terminal that is gone
}
