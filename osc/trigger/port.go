package trigger

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"net/netip"
	"slices"
	"time"

	"backfield/osc"
	"backfield/osc/run"
	"backfield/osc/wire"
)

// Limits, so that nobody who can reach the port can make it use up memory, stall the run, or flood the reports.
const (
	maxBytes     = 2048 // in a packet; a command is far shorter
	maxInPacket  = 8    // messages in a packet
	maxPerSecond = 20   // commands from one address in any second, other than hush
)

// Port takes commands over OSC from named machines: see Message. OSC has no password, and anyone on the same network
// can forge an address, so the port belongs on a network just for the show.
type Port struct {
	*commandQueue
	listener *wire.Listener
	ear      OuterEar                   // nil where the run goes by no time that comes over OSC
	named    map[netip.Addr]*rateWindow // not written after Listen
}

// Listen opens a port as wire.ListenTo does, and takes commands from the named addresses, at least one. ear
// takes the time that comes as /backfield/time; it may be nil. do carries out a command. report gets each problem, the same one every 5 s at most: a refused command names itself. Each is called from
// its own goroutine, one call at a time, and must not call Close.
func Listen(at string, named []netip.Addr, ear OuterEar, do Do, report Report) (*Port, error) {
	p := &Port{ear: ear, named: map[netip.Addr]*rateWindow{}}
	for _, a := range named {
		if !a.IsValid() || a.IsUnspecified() || a.IsMulticast() {
			return nil, fmt.Errorf("%v is not the address of a machine; "+
				"name the IP address of each machine that may send commands", a)
		}
		p.named[a.Unmap()] = &rateWindow{}
	}
	if len(p.named) == 0 {
		return nil, errors.New("no machine may send commands; name the IP address of each that may")
	}
	l, err := wire.ListenTo(at, slices.Collect(maps.Keys(p.named)))
	if err != nil {
		return nil, err
	}
	p.listener, p.commandQueue = l, newCommandQueue(do, report)
	p.running.Go(p.hear)
	return p, nil
}

// Addr is the address where the port listens.
func (p *Port) Addr() wire.Target { return p.listener.Addr() }

// Close closes the port and waits until commands that came before are carried out. It may be called more than once.
func (p *Port) Close() error {
	err := p.listener.Close()
	p.running.Wait()
	return err
}

// hear takes packets. It waits for nothing else, so that as few real commands as possible are lost in a flood.
func (p *Port) hear() {
	defer p.last()
	for {
		packet, from, err := p.listener.Receive()
		switch {
		case errors.Is(err, wire.ErrClosed):
			return
		case errors.Is(err, wire.ErrUnnamed):
			p.note(stranger, func(c *PortCounts) { c.Strangers++ }, func() string { return err.Error() + " (--from)" })
		case err != nil:
			p.note(broken, func(c *PortCounts) { c.Malformed++ }, func() string { return err.Error() })
		default:
			p.packet(time.Now(), packet, from.Addr(), from.String)
		}
	}
}

func (p *Port) packet(now time.Time, packet []byte, addr netip.Addr, from func() string) {
	w := cmp.Or(p.named[addr], p.named[addr.WithZone("")])
	if w == nil {
		p.note(stranger, func(c *PortCounts) { c.Packets++; c.Strangers++ }, func() string {
			return from() + " may not send commands: it is not in --from"
		})
		return
	}
	wrong := func(what string) {
		p.note(malformed, func(c *PortCounts) { c.Packets++; c.Malformed++ }, func() string {
			return from() + " sent " + what
		})
	}
	if len(packet) > maxBytes {
		wrong(fmt.Sprintf("a packet of %d bytes, which is too long for a command", len(packet)))
		return
	}
	ms, err := wire.Decode(packet)
	switch {
	case err != nil:
		wrong("something other than OSC: " + err.Error())
		return
	case len(ms) > maxInPacket:
		wrong(fmt.Sprintf("%d messages in one packet; %d is the limit", len(ms), maxInPacket))
		return
	}
	p.count(func(c *PortCounts) { c.Packets++ })
	for _, m := range ms {
		if p.ear != nil && m.Address == timeAddress && p.hearTime(m, now) {
			continue
		}
		c, act, err := Message(m)
		switch {
		case err != nil:
			p.refuse(from(), err.Error(), func(c *PortCounts) { c.Refused++ })
		case !act:
			p.count(func(c *PortCounts) { c.Released++ })
		case c.Verb != run.Hush && !w.admit(now), !p.give(pendingCommand{c, from()}):
			p.note(flooded, func(c *PortCounts) { c.Flooded++ }, func() string {
				return fmt.Sprintf("%s sends too many commands: %s was dropped", from(), c)
			})
		}
	}
}

// timeAddress is where another machine says its time, in seconds.
const timeAddress = "/backfield/time"

// hearTime takes a time; false for what is none.
func (p *Port) hearTime(m osc.Message, now time.Time) bool {
	if len(m.Args) != 1 {
		return false
	}
	s, ok := m.Args[0].Number()
	if ok = ok && s >= 0 && s <= mostTimeS; ok {
		p.ear.Hear(s, now)
	}
	return ok
}

// mostTimeS is the greatest time: ten days.
const mostTimeS = 864000

// rateWindow is a ring of the times of an address's last commands.
type rateWindow struct {
	came [maxPerSecond]time.Time
	next int
}

// admit reports whether one more command may come now, and notes it.
func (w *rateWindow) admit(now time.Time) bool {
	if now.Sub(w.came[w.next]) < time.Second {
		return false
	}
	w.came[w.next] = now
	w.next = (w.next + 1) % maxPerSecond
	return true
}
