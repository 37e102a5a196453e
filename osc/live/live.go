// Package live drives a run with real sockets and the machine's clock. One goroutine works the engine as time passes;
// who gives a command works it himself, in his turn, so that what it leads to is on its way before another goroutine
// would be awake. Others wait for what comes in and hand it over, so that nothing that the world does can disturb the
// order of things. What is to be sent when is the engine's to know.
package live

import (
	"context"
	"errors"
	"io"
	"slices"
	"sync"
	"time"

	"backfield/osc"
	"backfield/osc/feed"
	"backfield/osc/mixer"
	"backfield/osc/run"
	"backfield/osc/wire"
)

const (
	reopen = time.Second // from one try to open a road to the next
)

// Stage is a run at work. Make one with New, start it with Run; Do and View may be called from any goroutine while it
// runs.
type Driver struct {
	mu     sync.Mutex // of all up to over
	engine *run.Engine
	mixer  *mixer.Mixer
	links  []wire.Link         // by mixer; nil while a road is closed
	lines  []*wire.ValuePacket // by address of the run; nil before it is first sent
	batch  *wire.Batch

	ends func() bool // the context of Run has ended, and the roads are being closed
	over bool

	moved  chan struct{} // something was done that may want the engine to be called sooner
	events chan linkEvent
	ticked func(due, now time.Time) // is told of each tick of a fade; nil but in benchmarks
}

// event is what came in from a mixer: a road that opened, messages, or an error.
type linkEvent struct {
	mixer int
	link  wire.Link // whose event it is
	open  bool
	ms    []osc.Message
	err   error
}

// New makes a stage for an engine whose mixers are to, in order.
func New(e *run.Engine, d *mixer.Mixer, to []string) *Driver {
	return &Driver{
		ends: func() bool { return false }, engine: e, mixer: d, links: make([]wire.Link, len(to)),
		batch: wire.NewBatch(d.Bundle, d.MaxPacket), moved: make(chan struct{}, 1), events: make(chan linkEvent, 256),
	}
}

// ErrEnded is the error of Do after the end of the run.
var ErrEnded = errors.New("the run has ended")

// Do gives a command and waits for what comes of it. The messages that it leads to are on their way by then, not all
// sent.
func (s *Driver) Do(c run.Command) (said string, err error) {
	if !s.withEngine(func(now time.Time) { said, err = s.engine.Do(c, now) }) {
		return "", ErrEnded
	}
	return said, err
}

// ErrLate is the error of DoWithin for a command that was not taken in time.
var ErrLate = errors.New("the run did not answer in time: not taken")

// DoWithin is Do, but a command that the run has not taken up after most is taken back: one that came late would meet
// another moment than it was meant for.
func (s *Driver) DoWithin(c run.Command, most time.Duration) (said string, err error) {
	for end := time.Now().Add(most); !s.mu.TryLock(); time.Sleep(time.Millisecond) {
		if time.Now().After(end) {
			return "", ErrLate
		}
	}
	defer s.mu.Unlock()
	if !s.withEngineLocked(func(now time.Time) { said, err = s.engine.Do(c, now) }) {
		return "", ErrEnded
	}
	return said, err
}

// View looks at the run; ok is false after its end.
func (s *Driver) View() (v run.View, ok bool) {
	ok = s.withEngine(func(now time.Time) { v = s.engine.View(now) })
	return v, ok
}

// Trouble has the operator told of a problem that is not the run's own.
func (s *Driver) ReportProblem(text string) {
	s.withEngine(func(now time.Time) { s.engine.ReportProblem(text, now) })
}

// Close closes every worn mic, and waits until the mixers have been told, for as long as most. It returns how each
// mixer is that may not have heard of it.
func (s *Driver) Close(most time.Duration) (open []run.MixerView) {
	s.withEngine(func(now time.Time) { s.engine.Close(now) })
	for end := time.Now().Add(most); ; time.Sleep(10 * time.Millisecond) {
		v, _ := s.View()
		if open = slices.DeleteFunc(v.Mixers, run.MixerView.Done); len(open) == 0 || time.Now().After(end) {
			return open
		}
	}
}

// Settled reports whether the mixers hold what is meant, as far as it can be known.
func (s *Driver) Settled() (yes bool) {
	s.withEngine(func(time.Time) { yes = s.engine.Settled() })
	return yes
}

// ask works the engine and sends what comes of it; it reports whether the run goes on.
func (s *Driver) withEngine(do func(now time.Time)) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.withEngineLocked(do)
}

// work is ask, by who holds mu.
func (s *Driver) withEngineLocked(do func(now time.Time)) bool {
	if s.over {
		return false
	}
	do(time.Now())
	s.turn()
	select {
	case s.moved <- struct{}{}:
	default:
	}
	return true
}

// Run works the engine until the context ends. The roads are opened, and opened again when they break, in the
// background: a mixer that is not there delays nothing.
func (s *Driver) Run(ctx context.Context, to []string) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	s.mu.Lock()
	s.ends = func() bool { return ctx.Err() != nil }
	s.mu.Unlock()
	defer func() {
		s.mu.Lock()
		s.over = true
		s.mu.Unlock()
	}()
	for i := range to {
		go s.keepLink(ctx, i, to[i])
	}
	alarm := wire.NewAlarm()
	defer alarm.Close()
	for at, within := time.Now(), time.Second; ; {
		s.mu.Lock()
		if now := time.Now(); s.ticked != nil && within == 0 && !now.Before(at) {
			s.ticked(at, now)
		}
		s.turn()
		at, within = s.engine.Next(time.Now())
		s.mu.Unlock()
		alarm.Set(at, within)
		select {
		case <-ctx.Done():
			return
		case <-s.moved:
		case e := <-s.events:
			s.mu.Lock()
			s.handle(e)
			s.mu.Unlock()
		case <-alarm.C:
			alarm.Rest()
		}
	}
}

// turn does what is due.
func (s *Driver) turn() {
	now := time.Now()
	s.engine.Advance(now)
	for i := range s.links {
		s.send(i, now)
	}
}

// send writes what may go to a mixer now.
func (s *Driver) send(i int, now time.Time) {
	link := s.links[i]
	if link == nil {
		return
	}
	told := s.engine.Take(i, now)
	if len(told) == 0 {
		return
	}
	s.batch.Reset()
	for _, t := range told {
		if err := s.batch.Add(s.packet(t)); err != nil { // too long for any packet
			s.engine.Unsendable(i, t.OSC(), err, now)
		}
	}
	packets := s.batch.Packets()
	if len(packets) == 0 {
		return
	}
	err := link.WriteAll(packets)
	switch {
	case err == nil:
		s.engine.Sent(i, now)
	case errors.Is(err, wire.ErrBroken) || errors.Is(err, wire.ErrClosed):
		s.cut(i, err)
	default:
		s.engine.SendFailed(i, told, err, now)
	}
}

// packet is the packet of a message: of an address of the run, the one that was sent there before with its value
// written over.
func (s *Driver) packet(t feed.Outgoing) []byte {
	if t.Row < 0 {
		return wire.Encode(t.OSC())
	}
	for len(s.lines) <= t.Row {
		s.lines = append(s.lines, nil)
	}
	if s.lines[t.Row] == nil {
		s.lines[t.Row] = wire.NewValuePacket(t.Address)
	}
	return s.lines[t.Row].With(t.Arg)
}

// cut closes a road that is broken; its goroutine opens another.
func (s *Driver) cut(i int, err error) {
	s.links[i].Close()
	s.links[i] = nil
	if !s.ends() { // else it is no problem of anybody's
		s.engine.LinkDown(i, err, time.Now())
	}
}

// take works an event.
func (s *Driver) handle(e linkEvent) {
	now := time.Now()
	switch {
	case e.open:
		s.links[e.mixer] = e.link
		s.engine.LinkUp(e.mixer, now)
	case e.link == nil: // it could not be opened
		s.engine.LinkDown(e.mixer, e.err, now)
	case e.link != s.links[e.mixer]: // old news
	case errors.Is(e.err, wire.ErrBroken) || errors.Is(e.err, wire.ErrClosed):
		s.cut(e.mixer, e.err)
	case e.err != nil:
		s.engine.SendFailed(e.mixer, nil, e.err, now)
	default:
		for _, m := range e.ms {
			s.engine.Heard(e.mixer, m, now)
		}
	}
}

// road opens the road to a mixer and listens to it, again and again until the context ends.
func (s *Driver) keepLink(ctx context.Context, i int, to string) {
	tell := func(e linkEvent) bool {
		select {
		case s.events <- e:
			return true
		case <-ctx.Done():
			return false
		}
	}
	for ctx.Err() == nil {
		link, err := wire.Open(to)
		if err != nil {
			tell(linkEvent{mixer: i, err: err})
		} else {
			// Word of the road may still be waiting when the run ends: then nobody but this closes it.
			forget := context.AfterFunc(ctx, func() { link.Close() })
			if tell(linkEvent{mixer: i, link: link, open: true}) {
				s.listen(link, func(e linkEvent) bool { e.mixer, e.link = i, link; return tell(e) })
			}
			forget()
			link.Close()
		}
		select {
		case <-time.After(reopen):
		case <-ctx.Done():
		}
	}
}

// listen hands over what a mixer says until its road breaks.
func (s *Driver) listen(link wire.Link, tell func(e linkEvent) bool) {
	buffer := make([]byte, wire.MaxPacket)
	for {
		n, err := link.Read(buffer)
		if err != nil {
			broken := errors.Is(err, wire.ErrBroken) || errors.Is(err, wire.ErrClosed)
			if !errors.Is(err, io.ErrShortBuffer) && !tell(linkEvent{err: err}) || broken {
				return
			}
			continue
		}
		if ms, err := wire.Decode(buffer[:n]); err == nil && !tell(linkEvent{ms: ms}) {
			return
		}
	}
}
