// Package learning is the verb remote: it shows what comes over a MIDI cable, and asks for the presses that are to give a
// run's commands. It gives no command itself.
package learning

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"time"

	"backfield/osc/midi"
)

// CableEvent is a message of the cable, or the error that has ended it.
type CableEvent struct {
	Message midi.MIDIMessage
	At      time.Time
	Err     error
}

// Read gives the messages of a cable until it ends. in is closed by whoever opened it.
func Read(in io.Reader, done <-chan struct{}) <-chan CableEvent {
	out := make(chan CableEvent)
	go func() {
		var cable midi.Cable
		buffer := make([]byte, 256)
		give := func(x CableEvent) bool {
			select {
			case out <- x:
				return true
			case <-done:
				return false
			}
		}
		for {
			n, err := in.Read(buffer)
			now := time.Now()
			for _, b := range buffer[:n] {
				if m, ok := cable.Read(b); ok {
					m.Data = bytes.Clone(m.Data) // the cable's until its next byte
					if !give(CableEvent{Message: m, At: now}) {
						return
					}
				}
			}
			if errors.Is(err, io.EOF) {
				err = errors.New("the cable has ended")
			}
			if err != nil {
				give(CableEvent{Err: fmt.Errorf("no MIDI: %w", err)})
				return
			}
		}
	}()
	return out
}
