package term

import (
	"fmt"
	"io"
	"strings"
	"sync"
	"time"

	"backfield/layout/visible"
)

// ProgressBar shows the progress of long work: on a terminal one line that is drawn again, elsewhere a line every few
// seconds. Short work shows nothing. Its methods may be called from any goroutine.
type ProgressBar struct {
	w     io.Writer
	what  string
	drawn bool // on a terminal

	mu    sync.Mutex
	last  time.Time // when something was shown, or the work started
	shown bool
}

// How long work takes before the bar appears, how often the bar is drawn, and how often a line is written elsewhere.
const (
	barAfter = 400 * time.Millisecond
	barEvery = 50 * time.Millisecond
	lineGap  = 10 * time.Second
)

// NewProgressBar is the bar of work that starts now; what names the work.
func NewProgressBar(w io.Writer, what string) *ProgressBar {
	return &ProgressBar{w: w, what: what, drawn: Drawable(w), last: time.Now()}
}

// Show sets how much is done, from 0 to 1.
func (b *ProgressBar) Show(part float64) {
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
	fmt.Fprintf(visible.Raw(b.w), "\r%s%s %s %3d %%", ClearLine, visible.Text(b.what), BarText(percent), percent)
}

// End removes the bar.
func (b *ProgressBar) End() {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.drawn && b.shown {
		fmt.Fprintf(visible.Raw(b.w), "\r%s", ClearLine)
	}
	b.shown = false
}

const barWidth = 30

// BarText draws a bar that is full to a percentage.
func BarText(percent int) string {
	full := barWidth * percent / 100
	return "[" + strings.Repeat("#", full) + strings.Repeat(".", barWidth-full) + "]"
}
