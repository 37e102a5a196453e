package term

import (
	"fmt"
	"io"

	"backfield/layout/visible"
)

// Steps shows the progress of work in steps: a bar on a terminal, a line for each step elsewhere.
type Steps struct {
	out   io.Writer
	bar   bool
	drawn bool
}

// NewSteps shows steps on out.
func NewSteps(out io.Writer) *Steps { return &Steps{out: out, bar: Drawable(out)} }

// Step shows that step n of all steps starts.
func (s *Steps) Step(n, of int, what string) {
	if !s.bar {
		fmt.Fprintln(s.out, what)
		return
	}
	fmt.Fprintf(visible.Raw(s.out), "\r%s%s %.45s", ClearLine, BarText(100*n/max(of, 1)), visible.Text(what))
	s.drawn = true
}

// Full shows a full bar.
func (s *Steps) Full(what string) {
	if s.bar {
		s.Step(1, 1, what)
	}
}

// End leaves the bar where it is.
func (s *Steps) End() {
	if s.drawn {
		fmt.Fprintln(s.out)
	}
	s.drawn = false
}
