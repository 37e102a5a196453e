package main

import (
	"fmt"
	"io"
	"time"
)

// murmur writes what a run has to say of itself, in the background: a terminal that Ctrl-S has stopped, or a pipe that
// nobody reads, must not hold the run. What finds no room there is in the journal.
type murmur struct {
	lines chan string
	stop  chan struct{}
	done  chan struct{}
}

func newMurmur(w io.Writer) *murmur {
	m := &murmur{lines: make(chan string, 100), stop: make(chan struct{}), done: make(chan struct{})}
	go func() {
		defer close(m.done)
		for {
			select {
			case line := <-m.lines:
				fmt.Fprintf(w, "backfield: %s\n", line)
			case <-m.stop:
				for len(m.lines) > 0 {
					fmt.Fprintf(w, "backfield: %s\n", <-m.lines)
				}
				return
			}
		}
	}()
	return m
}

// say does not wait.
func (m *murmur) say(line string) {
	select {
	case m.lines <- line:
	default:
	}
}

// close waits for what was said to be written, but not for long.
func (m *murmur) close() {
	close(m.stop)
	select {
	case <-m.done:
	case <-time.After(time.Second):
	}
}
