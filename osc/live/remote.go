package live

import (
	"cmp"
	"errors"
	"fmt"
	"net/netip"
	"sync"
	"time"

	"backfield/osc/run"
	"backfield/osc/wire"
)

// Bounds, so that nobody who can reach the port can make a Remote grow, stall the run, or flood what it tells.
const (
	mostBytes     = 2048 // in a packet: a command is far shorter
	mostInPacket  = 8    // messages
	mostPerSecond = 20   // commands of one address, in any second
	mostWaiting   = 16   // commands that are yet to be carried out
	between       = 5 * time.Second
)

// Remote takes commands over OSC from machines that are named: see Trigger. There is no password in OSC, and an
// address can be forged by anyone on the same network: it belongs on a network of the show's own.
type Remote struct {
	listener *wire.Listener
	named    map[netip.Addr]*window // not written after Listen
	do       func(c run.Command, from string) (said string, err error)
	tell     func(text string)

	waiting chan order
	ended   chan struct{} // no more orders will be carried out
	poke    chan struct{} // there is trouble to tell
	running sync.WaitGroup

	mu       sync.Mutex
	counts   Counts
	troubles [kinds]trouble
}

// Counts is what a Remote has seen.
type Counts struct {
	Packets   int // that came, from anybody
	Strangers int // packets from addresses that are not named
	Malformed int // packets that are no OSC, too long, or of too many messages; connections that were cut
	Refused   int // messages that are no command
	Released  int // buttons let go
	Flooded   int // commands over what one address may give in a second, or over what can wait; not carried out
	Failed    int // commands that came to nothing: the run would not take them
	Done      int // commands that were carried out
}

// order is a command that waits.
type order struct {
	command run.Command
	from    string
}

// trouble is what is yet to be told of one kind of it.
type trouble struct {
	n    int    // since it was last told
	text string // of the first since then
	told time.Time
}

// The kinds of trouble, each of which is told by itself.
const (
	stranger = iota
	malformed
	refused
	flooded
	failed
	kinds
)

// ListenRemote opens a port as wire.Listen does, and takes commands from the addresses that are named, at least one.
// do carries one out; tell is told of trouble in words, of each kind every 5 s at most. Each is called from a goroutine
// of its own, one call at a time, and must not call Close.
func ListenRemote(at string, named []netip.Addr, do func(c run.Command, from string) (string, error), tell func(text string)) (*Remote, error) {
	r := &Remote{named: map[netip.Addr]*window{}, do: do, tell: tell, waiting: make(chan order, mostWaiting), ended: make(chan struct{}), poke: make(chan struct{}, 1)}
	for _, a := range named {
		if !a.IsValid() || a.IsUnspecified() || a.IsMulticast() {
			return nil, fmt.Errorf("%v is the address of no machine; name the IP address of each that may give commands", a)
		}
		r.named[a.Unmap()] = &window{}
	}
	if len(r.named) == 0 {
		return nil, errors.New("nobody may give commands; name the IP address of each machine that may")
	}
	l, err := wire.Listen(at)
	if err != nil {
		return nil, err
	}
	r.listener = l
	r.running.Go(r.hear)
	r.running.Go(r.work)
	r.running.Go(r.report)
	return r, nil
}

// Addr is where it listens.
func (r *Remote) Addr() wire.Target { return r.listener.Addr() }

// Counts is what it has seen so far.
func (r *Remote) Counts() Counts {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.counts
}

// Close closes the port. Commands that came before are still carried out; nothing of the Remote runs any more when it
// returns. It may be called more than once.
func (r *Remote) Close() error {
	err := r.listener.Close()
	r.running.Wait()
	return err
}

// hear takes packets. It waits for nothing else, so that what is honest is lost as seldom as the network allows.
func (r *Remote) hear() {
	defer close(r.waiting)
	for {
		packet, from, err := r.listener.Receive()
		switch {
		case errors.Is(err, wire.ErrClosed):
			return
		case err != nil:
			r.note(malformed, func(c *Counts) { c.Malformed++ }, func() string { return err.Error() })
		default:
			r.packet(time.Now(), packet, from.Addr(), from.String)
		}
	}
}

func (r *Remote) packet(now time.Time, packet []byte, addr netip.Addr, from func() string) {
	w := cmp.Or(r.named[addr], r.named[addr.WithZone("")])
	if w == nil {
		r.note(stranger, func(c *Counts) { c.Packets++; c.Strangers++ }, func() string {
			return from() + " is not among those who may give commands"
		})
		return
	}
	wrong := func(what string) {
		r.note(malformed, func(c *Counts) { c.Packets++; c.Malformed++ }, func() string { return from() + " sent " + what })
	}
	if len(packet) > mostBytes {
		wrong(fmt.Sprintf("a packet of %d bytes: no command is so long", len(packet)))
		return
	}
	ms, err := wire.Decode(packet)
	switch {
	case err != nil:
		wrong("what is no OSC: " + err.Error())
		return
	case len(ms) > mostInPacket:
		wrong(fmt.Sprintf("%d messages in one packet; %d are taken", len(ms), mostInPacket))
		return
	}
	r.count(func(c *Counts) { c.Packets++ })
	for _, m := range ms {
		c, act, err := Trigger(m)
		switch {
		case err != nil:
			r.note(refused, func(c *Counts) { c.Refused++ }, func() string { return from() + ": " + err.Error() })
		case !act:
			r.count(func(c *Counts) { c.Released++ })
		case !w.admit(now) || !r.queue(order{c, from()}):
			r.note(flooded, func(c *Counts) { c.Flooded++ }, func() string {
				return fmt.Sprintf("%s gives more commands than can be taken: %s was not carried out", from(), c)
			})
		}
	}
}

// queue puts an order to those that wait, if there is room.
func (r *Remote) queue(o order) bool {
	select {
	case r.waiting <- o:
		return true
	default:
		return false
	}
}

func (r *Remote) count(add func(*Counts)) {
	r.mu.Lock()
	defer r.mu.Unlock()
	add(&r.counts)
}

// note counts trouble. The text is made only if it will be told.
func (r *Remote) note(kind int, add func(*Counts), text func() string) {
	r.mu.Lock()
	defer r.mu.Unlock()
	add(&r.counts)
	t := &r.troubles[kind]
	if t.n++; t.n > 1 {
		return
	}
	t.text = text()
	select {
	case r.poke <- struct{}{}:
	default:
	}
}

// work carries out commands.
func (r *Remote) work() {
	defer close(r.ended)
	for o := range r.waiting {
		r.carryOut(o)
	}
}

func (r *Remote) carryOut(o order) {
	if _, err := r.do(o.command, o.from); err != nil {
		r.note(failed, func(c *Counts) { c.Failed++ }, func() string { return fmt.Sprintf("%s: %s: %v", o.from, o.command, err) })
		return
	}
	r.count(func(c *Counts) { c.Done++ })
}

// report tells of trouble.
func (r *Remote) report() {
	timer := time.NewTimer(time.Hour)
	defer timer.Stop()
	for {
		select {
		case <-r.ended:
			return
		case <-r.poke:
		case <-timer.C:
		}
		now, wait := time.Now(), time.Hour
		for kind := range r.troubles {
			text, due := r.due(kind, now)
			if text != "" {
				r.tell(text)
			}
			wait = min(wait, due)
		}
		timer.Reset(wait)
	}
}

// due is what is to be told of a kind of trouble now, and how long it is until there is more.
func (r *Remote) due(kind int, now time.Time) (text string, wait time.Duration) {
	r.mu.Lock()
	defer r.mu.Unlock()
	t := &r.troubles[kind]
	wait = t.told.Add(between).Sub(now)
	switch {
	case t.n == 0:
		return "", time.Hour
	case wait > 0:
		return "", wait
	}
	if text = t.text; t.n > 1 {
		text = fmt.Sprintf("%s (and %d more such)", text, t.n-1)
	}
	*t = trouble{told: now}
	return text, time.Hour
}

// window holds when the last commands of an address came, as a ring.
type window struct {
	came [mostPerSecond]time.Time
	next int
}

// admit says whether one more may come, and notes it.
func (w *window) admit(now time.Time) bool {
	if now.Sub(w.came[w.next]) < time.Second {
		return false
	}
	w.came[w.next] = now
	w.next = (w.next + 1) % mostPerSecond
	return true
}
