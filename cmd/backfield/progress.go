package main

import (
	"fmt"
	"io"
	"os"
	"strings"
	"sync"
	"time"

	"github.com/charmbracelet/x/term"
	"github.com/spf13/cobra"
)

// progressBar shows how far long work is: on a terminal a line that is written over, elsewhere a line now and then. Work
// that is soon done shows nothing. Its methods may be called from any goroutine.
type progressBar struct {
	w     io.Writer
	what  string
	drawn bool // on a terminal

	mu    sync.Mutex
	last  time.Time // something was shown, or the work begun
	shown bool
}

// How long work takes before it is worth a bar, how often that is drawn, and how often a line is written elsewhere.
const (
	barAfter = 400 * time.Millisecond
	barEvery = 50 * time.Millisecond
	lineGap  = 10 * time.Second
)

func newBar(c *cobra.Command, what string) *progressBar {
	b := &progressBar{w: c.ErrOrStderr(), what: what, last: time.Now()}
	if b.drawn = drawable(b.w); quiet(c) {
		b.w = io.Discard
	}
	return b
}

// show tells how much is done, from 0 to 1.
func (b *progressBar) show(part float64) {
	b.mu.Lock()
	defer b.mu.Unlock()
	gap := lineGap
	switch {
	case b.drawn && b.shown:
		gap = barEvery
	case b.drawn:
		gap = barAfter
	}
	if time.Since(b.last) < gap {
		return
	}
	b.last, b.shown = time.Now(), true
	percent := int(100 * min(max(part, 0), 1))
	if !b.drawn {
		fmt.Fprintf(b.w, "%s: %d %%\n", b.what, percent)
		return
	}
	fmt.Fprintf(b.w, "\r%s%s %s %3d %%", clearLine, b.what, barOf(percent), percent)
}

// end takes the bar away.
func (b *progressBar) end() {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.drawn && b.shown {
		fmt.Fprintf(b.w, "\r%s", clearLine)
	}
	b.shown = false
}

const barWidth = 30

// barOf is a bar that is so full, of 100.
func barOf(percent int) string {
	full := barWidth * percent / 100
	return "[" + strings.Repeat("#", full) + strings.Repeat(".", barWidth-full) + "]"
}

// terminal reports whether a person sees what is written to w as it is written. Not every device is one: /dev/null is
// a character device too, and nobody answers there.
func terminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	return ok && term.IsTerminal(f.Fd())
}
