package trigger

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"sync"
	"time"

	"backfield/osc/beats"
	"backfield/osc/midi"
	"backfield/osc/presses"
	"backfield/osc/run"
	"backfield/osc/timecode"
)

// reopenEvery is the time between two tries to open where MIDI comes from.
const reopenEvery = time.Second

// OuterEar takes the time of another machine: in seconds of time code, or in quarter notes of a MIDI clock.
type OuterEar interface {
	Hear(outer float64, at time.Time)
	Locate(outer float64, at time.Time)
	Backward(at time.Time)
}

// MIDIPort takes commands and a time from a MIDI cable: see presses.Remote.
type MIDIPort struct {
	*commandQueue
	where  string
	open   func() (io.ReadCloser, error)
	remote *presses.Remote
	ear    OuterEar // nil where the run has its own time

	cable  midi.Cable
	pieces timecode.Assembler
	beats  beats.Counter

	mu     sync.Mutex
	closed bool
	in     io.Closer     // what is open now
	ended  chan struct{} // closed by Close
}

// ListenMIDI takes MIDI from what open opens, which is called again a second after it fails or ends. where names it in
// notices. do and report are those of Listen. ear may be nil.
func ListenMIDI(where string, open func() (io.ReadCloser, error), r *presses.Remote, ear OuterEar, do Do, report Report,
) *MIDIPort {
	p := &MIDIPort{commandQueue: newCommandQueue(do, report), where: where, open: open, remote: r, ear: ear,
		ended: make(chan struct{})}
	p.running.Go(p.keepOpen)
	return p
}

// Close stops it and waits until commands that came before are carried out.
func (p *MIDIPort) Close() error {
	p.mu.Lock()
	if !p.closed {
		p.closed = true
		close(p.ended)
		if p.in != nil {
			p.in.Close()
		}
	}
	p.mu.Unlock()
	p.running.Wait()
	return nil
}

// keepOpen opens and reads, again and again.
func (p *MIDIPort) keepOpen() {
	defer p.last()
	for {
		in, err := p.open()
		if err == nil && p.take(in) {
			err = p.read(in)
			in.Close()
		}
		if err != nil && !p.isClosed() {
			p.note(broken, func(c *PortCounts) { c.Malformed++ }, func() string { return "no MIDI: " + p.why(err) })
		}
		select {
		case <-p.ended:
			return
		case <-time.After(reopenEvery):
		}
	}
}

// isClosed reports whether it was closed.
func (p *MIDIPort) isClosed() bool {
	select {
	case <-p.ended:
		return true
	default:
		return false
	}
}

// why says why nothing comes.
func (p *MIDIPort) why(err error) string {
	var path *fs.PathError
	switch {
	case errors.Is(err, io.EOF):
		return p.where + " has ended; it is opened again every second"
	case errors.As(err, &path):
		return fmt.Sprintf("%s: %v; it is opened again every second", p.where, path.Err)
	}
	return fmt.Sprintf("%s: %v; it is opened again every second", p.where, err)
}

// take notes what is open, for Close; false after Close.
func (p *MIDIPort) take(in io.ReadCloser) bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.closed {
		in.Close()
		return false
	}
	p.in = in
	return true
}

// read reads bytes until their end.
func (p *MIDIPort) read(in io.Reader) error {
	p.cable, p.pieces = midi.Cable{}, timecode.Assembler{}
	buffer := make([]byte, 256)
	for {
		n, err := in.Read(buffer)
		now := time.Now()
		for _, b := range buffer[:n] {
			if m, ok := p.cable.Read(b); ok {
				p.message(m, now)
			}
		}
		if err != nil {
			return err
		}
	}
}

// message takes a message.
func (p *MIDIPort) message(m midi.MIDIMessage, now time.Time) {
	if p.ear != nil && p.hear(m, now) {
		return
	}
	if m.Status >= midi.SystemExclusive {
		return
	}
	p.count(func(c *PortCounts) { c.Packets++ })
	c, ok := p.remote.Command(m)
	switch {
	case m.Released():
		p.count(func(c *PortCounts) { c.Released++ })
	case !ok:
		p.count(func(c *PortCounts) { c.Refused++ }) // other players on the same cable
	case !p.give(pendingCommand{c, "MIDI (" + m.String() + ")"}):
		p.note(flooded, func(c *PortCounts) { c.Flooded++ }, func() string {
			return fmt.Sprintf("%s sends too many commands: %s was dropped", p.where, run.Command.String(c))
		})
	}
}

// hear takes a message that is of the time which the run follows.
func (p *MIDIPort) hear(m midi.MIDIMessage, now time.Time) bool {
	switch of := p.remote.Time; {
	case of == nil:
	case of.From == presses.FromClock:
		b, ok := p.beats.Add(m)
		switch {
		case ok && b.Stands:
			p.ear.Locate(b.Quarters, now)
		case ok:
			p.ear.Hear(b.Quarters, now)
		}
		return ok
	case of.From == presses.FromTimeCode && m.Status == midi.QuarterFrame:
		switch q := p.pieces.Add(m.Data[0]); {
		case q.Backward:
			p.ear.Backward(now)
		case q.Known && q.Rate != *of.Rate:
			p.note(refused, func(c *PortCounts) { c.Refused++ }, func() string {
				return fmt.Sprintf("time code of %s frames a second, not %s as in remote.toml: not followed", q.Rate,
					of.Rate)
			})
		case q.Known:
			p.ear.Hear(q.S, now)
		}
		return true
	case of.From == presses.FromTimeCode && m.Status == midi.SystemExclusive:
		if c, ok := timecode.ReadFullFrame(m.Data); ok && c.Rate == *of.Rate {
			p.ear.Locate(c.S(), now)
		}
		return true
	}
	return false
}
