// Package term is the terminal as the commands use it: whether there is one, a progress bar, a picture that is drawn
// again in its place, notices that nobody waits for, questions, and lines of commands. The caller has the words. The
// full screen of a run is in the package console.
package term

import (
	"io"
	"os"

	"github.com/charmbracelet/x/term"

	"backfield/layout/visible"
)

// Control sequences of terminals (ECMA-48; saving the cursor is common practice).
const (
	saveCursor, restoreCursor = "\x1b7", "\x1b8"
	goUp                      = "\x1b[%dA\r"
	clearBelow                = "\x1b[J"

	// ClearLine empties the line that the cursor is on.
	ClearLine = "\x1b[2K"
)

// IsTerminal reports whether w is a terminal. Not every device is one: /dev/null is a character device too, and nobody
// answers there.
func IsTerminal(w io.Writer) bool {
	f, ok := visible.Raw(w).(*os.File)
	return ok && term.IsTerminal(f.Fd())
}

// Drawable reports whether w is a terminal that can draw over what it shows.
func Drawable(w io.Writer) bool {
	f, ok := visible.Raw(w).(*os.File)
	return ok && IsTerminal(w) && takesControlSequences(f)
}

// CanAnswer reports whether someone can answer on r.
func CanAnswer(r io.Reader) bool {
	w, ok := r.(io.Writer)
	return ok && IsTerminal(w)
}
