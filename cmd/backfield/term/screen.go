package term

import (
	"fmt"
	"io"
	"strings"
	"time"

	"backfield/layout/visible"
)

// Screen is a picture of some lines on a terminal that is drawn again in its place. What is typed below it stays, as
// long as the picture has the same number of lines.
type Screen struct {
	out   io.Writer
	rows  int // of the picture on the terminal; 0 for none that can be drawn over
	drawn time.Time
	stale bool
}

// NewScreen is a screen that has shown nothing yet and is due.
func NewScreen(out io.Writer) *Screen { return &Screen{out: out, stale: true} }

// Change makes the picture due, since what it shows has changed.
func (s *Screen) Change() { s.stale = true }

// Typed makes the picture due below what was typed, which moved the old one up.
func (s *Screen) Typed() { s.rows, s.stale = 0, true }

// Due reports whether the picture is due, and from when on it may be drawn.
func (s *Screen) Due(gap time.Duration) (from time.Time, due bool) { return s.drawn.Add(gap), s.stale }

// Draw draws the picture, over the last one if possible.
func (s *Screen) Draw(now time.Time, rows []string) {
	var b strings.Builder
	var lines []string // as many as the terminal has of them
	for _, row := range rows {
		lines = append(lines, Wrap(visible.Text(row), Columns(s.out))...)
	}
	rows = lines
	same := s.rows == len(rows)
	if same {
		b.WriteString(saveCursor)
	}
	if s.rows > 0 {
		fmt.Fprintf(&b, goUp, s.rows)
	}
	if !same {
		b.WriteString(clearBelow)
	}
	for _, row := range rows {
		fmt.Fprintf(&b, "%s%s\n", ClearLine, row)
	}
	if same {
		b.WriteString(restoreCursor)
	}
	s.rows, s.drawn, s.stale = len(rows), now, false
	io.WriteString(visible.Raw(s.out), b.String())
}
