// Package live drives a run with real sockets and the computer's clock. One goroutine advances the engine as time
// passes. A command runs in its caller's goroutine under the same lock, so its messages leave without waiting for
// another goroutine to wake up. Other goroutines read from the mixers and pass on what arrives. The engine alone
// decides what is sent, and when.
package live

import (
	"context"
	"errors"
	"slices"
	"sync"
	"time"

	"backfield/osc"
	"backfield/osc/feed"
	"backfield/osc/follow"
	"backfield/osc/glance"
	"backfield/osc/mixer"
	"backfield/osc/run"
	"backfield/osc/wire"
)

const (
	reopen     = time.Second          // between tries to open a link
	slackOuter = 5 * time.Millisecond // how late the time of another machine may be looked at
)

// Driver is a run in progress. Make one with New and start it with Run. Do and View may be called from any goroutine
// while it runs.
type Driver struct {
	mu     sync.Mutex // guards everything up to over
	engine *run.Engine
	mixer  *mixer.Mixer
	links  []wire.Link         // by mixer; nil while a link is closed
	lines  []*wire.ValuePacket // by row of the run; nil before it is first sent
	batch  *wire.Batch
	pair   *Pair                // nil without another laptop
	outer  *follow.TimeFollower // nil where the run has its own time

	ends func() bool // whether the context of Run has ended, so that links close
	over bool

	moved  chan struct{} // wakes Run: the engine may want to be called sooner
	events chan linkEvent
	ticked func(due, now time.Time) // called at each tick of a fade; nil except in benchmarks
}

// linkEvent is what came from a mixer: a link that opened, messages, or an error.
type linkEvent struct {
	mixer int
	link  wire.Link // the link that it came over
	open  bool
	ms    []osc.Message
	err   error
}

// New makes a driver for an engine whose mixers have the addresses to, in order.
func New(e *run.Engine, d *mixer.Mixer, to []string) *Driver {
	return &Driver{
		ends: func() bool { return false }, engine: e, mixer: d, links: make([]wire.Link, len(to)),
		batch: wire.NewBatch(d.Bundle, d.MaxPacket), moved: make(chan struct{}, 1), events: make(chan linkEvent, 256),
	}
}

// ErrEnded is the error of Do after the end of the run.
var ErrEnded = errors.New("the run has ended")

// Do carries out a command and returns the answer. Its first messages are sent by then, but not all of them.
func (s *Driver) Do(c run.Command) (said string, err error) {
	if s.pair != nil && c.Verb == run.TakeOver {
		return s.pair.takeOver()
	}
	if !s.withEngine(func(now time.Time) { said, err = s.do(c, now) }) {
		return "", ErrEnded
	}
	return said, err
}

// do carries out a command with the engine locked.
func (s *Driver) do(c run.Command, now time.Time) (said string, err error) {
	if c.Verb == run.Status {
		s.engine.Advance(now)
		return glance.Status(s.view(now)), nil
	}
	if s.pair != nil {
		if said, done, err := s.pair.do(c, now); done {
			return said, err
		}
	}
	said, err = s.engine.Do(c, now)
	if err == nil && s.outer != nil {
		s.outer.Ordered(s.engine, c.Verb, now)
	}
	return said, err
}

// ErrLate is the error of DoWithin for a command that the run did not take in time.
var ErrLate = errors.New("ignored: the run did not reply in time")

// DoWithin is Do, but it drops a command that the run has not taken after most. A late command would meet another
// moment than the one it was for.
func (s *Driver) DoWithin(c run.Command, most time.Duration) (said string, err error) {
	for end := time.Now().Add(most); !s.mu.TryLock(); time.Sleep(time.Millisecond) {
		if time.Now().After(end) {
			return "", ErrLate
		}
	}
	defer s.mu.Unlock()
	if !s.withEngineLocked(func(now time.Time) { said, err = s.do(c, now) }) {
		return "", ErrEnded
	}
	return said, err
}

// View returns the run as it is now; ok is false after its end.
func (s *Driver) View() (v run.View, ok bool) {
	ok = s.withEngine(func(now time.Time) { v = s.view(now) })
	return v, ok
}

// FinalView returns the run as it was at its end.
func (s *Driver) FinalView() run.View {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.view(time.Now())
}

func (s *Driver) view(now time.Time) run.View {
	if s.pair != nil {
		s.pair.refresh(now)
	}
	v := s.engine.View(now)
	if s.outer != nil {
		text, alarm := s.outer.View(now)
		v.Outer = &run.OuterView{Text: text, Alarm: alarm}
	}
	if s.pair == nil {
		return v
	}
	if v.Pair = s.pair.view(now); !s.pair.working {
		s.pair.seen(&v, now)
	}
	return v
}

// ReportProblem shows the operator a problem from outside the run.
func (s *Driver) ReportProblem(text string) {
	s.withEngine(func(now time.Time) { s.engine.ReportProblem(text, now) })
}

// ReportNotice shows the operator for a while what is no problem.
func (s *Driver) ReportNotice(text string) {
	s.withEngine(func(now time.Time) { s.engine.ReportNotice(text, now) })
}

// Finish sends the end values of all fades and waits until the mixers have received them, for most at the longest. It
// returns the mixers that may not have received them. If nothing fades it does nothing.
func (s *Driver) Finish(most time.Duration) (late []run.MixerView) {
	fades := false
	s.withEngine(func(now time.Time) { fades = s.engine.FinishFades(now) })
	if !fades {
		return nil
	}
	return s.received(most)
}

// Close closes every worn mic and waits until the mixers have received that, for most at the longest. It returns the
// mixers that may not have received it.
func (s *Driver) Close(most time.Duration) (open []run.MixerView) {
	s.withEngine(func(now time.Time) { s.engine.Close(now) })
	return s.received(most)
}

// received waits until the mixers have received what they should hold, for most at the longest. It returns those that
// may not have received it.
func (s *Driver) received(most time.Duration) (open []run.MixerView) {
	for end := time.Now().Add(most); ; time.Sleep(10 * time.Millisecond) {
		v, _ := s.View()
		if open = slices.DeleteFunc(v.Mixers, run.MixerView.Done); len(open) == 0 || time.Now().After(end) {
			return open
		}
	}
}

// Settled reports whether the mixers hold what they should, as far as that can be known.
func (s *Driver) Settled() (yes bool) {
	s.withEngine(func(time.Time) { yes = s.engine.Settled() })
	return yes
}

// withEngine calls do with the engine locked and sends the messages that follow. It reports whether the run goes on; if
// it has ended, do is not called.
func (s *Driver) withEngine(do func(now time.Time)) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.withEngineLocked(do)
}

// withEngineLocked is withEngine for a caller that holds mu.
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

// Run drives the engine until the context ends. The links are opened in the background, and opened again when they
// break, so a mixer that is not there delays nothing.
func (s *Driver) Run(ctx context.Context, to []string) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	s.mu.Lock()
	s.ends = func() bool { return ctx.Err() != nil }
	s.mu.Unlock()
	for i := range to {
		go s.keepLink(ctx, i, to[i])
	}
	alarm := wire.NewWakeTimer()
	defer alarm.Close()
	for at, within := time.Now(), time.Second; ; {
		s.mu.Lock()
		if now := time.Now(); s.ticked != nil && within == 0 && !now.Before(at) {
			s.ticked(at, now)
		}
		s.turn()
		at, within = s.next(time.Now())
		s.mu.Unlock()
		alarm.Set(at, within)
		select {
		case <-ctx.Done(): // not deferred: a panic in here holds the lock, and must end the program
			s.mu.Lock()
			s.over = true
			s.mu.Unlock()
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

// turn does what is due now.
func (s *Driver) turn() {
	now := time.Now()
	if s.pair != nil {
		if s.pair.turn(now); !s.pair.sends(now) {
			return
		}
	}
	if s.outer != nil {
		s.outer.Steer(s.engine, now)
	}
	s.engine.Advance(now)
	if s.pair != nil {
		s.pair.turn(now) // the other laptop is the first to know what has just happened
	}
	for i := range s.links {
		s.send(i, now)
	}
}

// next is when turn is to be called again, and how late that may be.
func (s *Driver) next(now time.Time) (at time.Time, within time.Duration) {
	if s.pair == nil {
		return s.engineNext(now)
	}
	at, within = s.pair.machine.Next(now), 5*time.Millisecond
	if !s.pair.sends(now) {
		return at, within
	}
	if t, w := s.engineNext(now); t.Before(at) {
		return t, w
	}
	return at, within
}

// engineNext is when the engine is to be called again, and the follower of another machine's time.
func (s *Driver) engineNext(now time.Time) (at time.Time, within time.Duration) {
	at, within = s.engine.Next(now)
	if s.outer != nil && now.Add(follow.Every).Before(at) {
		return now.Add(follow.Every), slackOuter
	}
	return at, within
}

// send sends what may go to a mixer now.
func (s *Driver) send(i int, now time.Time) {
	link := s.links[i]
	if link == nil || s.pair != nil && !s.pair.sends(now) {
		return
	}
	list := s.engine.Take(i, now)
	if len(list) == 0 {
		return
	}
	s.batch.Reset()
	for _, t := range list {
		if s.pair != nil {
			s.pair.ears[i].Sent(t.OSC(), now)
		}
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
		s.engine.SendFailed(i, list, err, now)
	}
}

// packet encodes a message. For a row it reuses the packet that was sent there before and overwrites the value.
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

// cut closes a broken link. Its goroutine opens another one.
func (s *Driver) cut(i int, err error) {
	s.links[i].Close()
	s.links[i] = nil
	if !s.ends() { // at the end of the run a closed link is not a problem
		s.engine.LinkDown(i, err, time.Now())
	}
}

// handle handles an event.
func (s *Driver) handle(e linkEvent) {
	now := time.Now()
	switch {
	case e.open && s.pair != nil:
		s.links[e.mixer] = e.link
		if s.pair.ears[e.mixer].Forget(); s.pair.working {
			s.engine.LinkUp(e.mixer, now)
		}
	case e.open:
		s.links[e.mixer] = e.link
		s.engine.LinkUp(e.mixer, now)
	case e.link == nil: // the link could not be opened
		s.engine.LinkDown(e.mixer, e.err, now)
	case e.link != s.links[e.mixer]: // from a link that was replaced
	case errors.Is(e.err, wire.ErrBroken) || errors.Is(e.err, wire.ErrClosed):
		s.cut(e.mixer, e.err)
	case e.err != nil:
		s.engine.SendFailed(e.mixer, nil, e.err, now)
	default:
		for _, m := range e.ms {
			if s.pair != nil && !s.pair.heard(e.mixer, m, now) {
				continue
			}
			s.engine.Heard(e.mixer, m, now)
		}
	}
}
