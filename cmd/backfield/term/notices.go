package term

import (
	"fmt"
	"io"
	"time"
)

// Notices writes what a run reports, in the background. A terminal that Ctrl-S has stopped, or a pipe that nobody
// reads, must not hold up the run. A notice without room is dropped; the journal has it.
type Notices struct {
	lines chan string
	stop  chan struct{}
	done  chan struct{}
}

// NewNotices starts to write notices to w, a line each. Close ends it.
func NewNotices(w io.Writer) *Notices {
	n := &Notices{lines: make(chan string, 100), stop: make(chan struct{}), done: make(chan struct{})}
	go func() {
		defer close(n.done)
		for {
			select {
			case line := <-n.lines:
				fmt.Fprintf(w, "backfield: %s\n", line)
			case <-n.stop:
				for len(n.lines) > 0 {
					fmt.Fprintf(w, "backfield: %s\n", <-n.lines)
				}
				return
			}
		}
	}()
	return n
}

// Say reports a line. It does not wait.
func (n *Notices) Say(line string) {
	select {
	case n.lines <- line:
	default:
	}
}

// Close waits until the notices are written, but at most a second.
func (n *Notices) Close() {
	close(n.stop)
	select {
	case <-n.done:
	case <-time.After(time.Second):
	}
}
