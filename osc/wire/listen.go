package wire

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/netip"
	"strings"
	"sync"
	"time"
)

const (
	maxStreams    = 8 // connections of a Listener that takes anyone
	maxOfOneNamed = 4 // connections of each address of a Listener that takes only named addresses
)

// ErrUnnamed is in the error of a connection from an address that is not among those that ListenTo was given.
var ErrUnnamed = errors.New("its address is not among those that may connect")

// Listener takes packets from anyone who can reach its port, over UDP or over up to 8 TCP connections. Whatever they
// send, it goes on and uses a few MiB of memory: it cuts a stream that is not OSC and refuses a ninth connection. If
// the caller is slow to Receive, senders of streams slow down and datagrams are lost. Connections may be idle; one
// whose other end is gone is noticed within seconds.
//
// One that takes only named addresses closes every other connection at once. Each named address has 4 connections of
// its own, so no other machine can use them up; a fifth one displaces that of the same address which has been silent
// longest. Datagrams come from anyone, since their sender can be forged: the caller looks at Peer.Addr.
type Listener struct {
	at  Target
	udp *net.UDPConn // one of udp and tcp is nil
	tcp *net.TCPListener

	buffer []byte        // for one datagram
	inbox  chan received // what the connections deliver, one at a time

	closed  chan struct{}
	running sync.WaitGroup
	mu      sync.Mutex
	named   map[netip.Addr]bool // empty: anyone may connect
	streams map[*stream]*client
}

// client is the other end of a connection.
type client struct {
	addr  netip.Addr
	heard time.Time // when it last sent a packet, or connected
}

type received struct {
	packet []byte
	from   Peer
	err    error
}

// Listen opens a port: "udp://host:port" or "host:port", "tcp://host:port" (OSC 1.0 stream) or
// "slip://host:port" (OSC 1.1 stream). The host is an address of this computer, or empty for all of them. Port 0 takes
// any free port, and Addr reports which.
func Listen(at string) (*Listener, error) { return ListenTo(at, nil) }

// ListenTo opens a port as Listen does. If it has connections, it takes those of the named addresses alone.
func ListenTo(at string, named []netip.Addr) (*Listener, error) {
	target, err := address(at, true)
	if err != nil {
		return nil, err
	}
	ctx, cancel := context.WithTimeout(context.Background(), dialWait)
	defer cancel()
	l := &Listener{at: target, closed: make(chan struct{}), named: map[netip.Addr]bool{}}
	for _, a := range named {
		l.named[a.Unmap()] = true
	}
	config := net.ListenConfig{KeepAliveConfig: keepAlive}
	if target.Scheme == "udp" {
		conn, err := config.ListenPacket(ctx, "udp", target.HostPort)
		if err != nil {
			return nil, explainListen(err, target)
		}
		l.udp, l.buffer, l.at.HostPort = conn.(*net.UDPConn), make([]byte, MaxPacket), conn.LocalAddr().String()
		l.udp.SetReadBuffer(readBufferBytes)
		return l, nil
	}
	tcp, err := config.Listen(ctx, "tcp", target.HostPort)
	if err != nil {
		return nil, explainListen(err, target)
	}
	l.tcp, l.at.HostPort = tcp.(*net.TCPListener), tcp.Addr().String()
	l.inbox, l.streams = make(chan received), map[*stream]*client{}
	l.running.Go(l.accept)
	return l, nil
}

// Addr is where it listens, with the port that it got: "udp://127.0.0.1:40213".
func (l *Listener) Addr() Target { return l.at }

// Receive waits for the next packet and says who sent it. The caller may keep the packet; only Decode shows whether it
// is OSC. One goroutine at a time may call it. An error with ErrClosed means the end, after Close. Any other error
// comes without a packet and a Peer, and ends nothing: a connection sent something other than OSC or ended inside a
// packet, one was refused or displaced, or the network has a problem. A bad sender can cause many of these, so do not print
// them all.
func (l *Listener) Receive() (packet []byte, from Peer, err error) {
	if l.udp == nil {
		select {
		case <-l.closed:
			return nil, Peer{}, ErrClosed
		case a := <-l.inbox:
			return a.packet, a.from, a.err
		}
	}
	for {
		n, from, err := l.udp.ReadFromUDPAddrPort(l.buffer)
		switch {
		case errors.Is(err, net.ErrClosed):
			return nil, Peer{}, ErrClosed
		case is(err, portClosed): // on Windows this is about an earlier Reply
		case err != nil:
			l.pause()
			return nil, Peer{}, fmt.Errorf("listening at %s: %w", l.at, err)
		case n > 0:
			return bytes.Clone(l.buffer[:n]), Peer{from: from, udp: l.udp}, nil
		}
	}
}

// pause keeps an error that stays from causing a busy loop.
func (l *Listener) pause() {
	select {
	case <-l.closed:
	case <-time.After(50 * time.Millisecond):
	}
}

// Close closes the port and all connections. When it returns, none of the Listener's goroutines run. It may be called
// at any time and more than once.
func (l *Listener) Close() error {
	l.mu.Lock()
	select {
	case <-l.closed:
	default:
		close(l.closed)
	}
	for s := range l.streams {
		s.Close()
	}
	l.mu.Unlock()
	if l.udp != nil {
		return closeOnce(l.udp)
	}
	defer l.running.Wait()
	return closeOnce(l.tcp)
}

func (l *Listener) accept() {
	for {
		conn, err := l.tcp.AcceptTCP()
		switch {
		case errors.Is(err, net.ErrClosed):
			return
		case err != nil: // for example out of file descriptors
			l.deliver(received{err: fmt.Errorf("listening at %s: %w", l.at, err)})
			l.pause()
			continue
		}
		from := conn.RemoteAddr().(*net.TCPAddr).AddrPort()
		addr, known := l.knows(from.Addr().Unmap())
		if !known {
			conn.Close()
			l.deliver(received{err: fmt.Errorf("closed a connection from %s: %w", from, ErrUnnamed)})
			continue
		}
		s := newStream(conn, l.at.framing(), from.String())
		displaced, ok := l.admit(s, addr)
		if !ok {
			s.Close()
			l.deliver(received{err: fmt.Errorf("refused a connection from %s: %d connections to %s are already open",
				from, maxStreams, l.at)})
			continue
		}
		l.running.Go(func() { l.serve(s, Peer{from: from, stream: s}) })
		if displaced != nil {
			displaced.Close()
			l.deliver(received{err: fmt.Errorf("closed the connection from %s, silent longest of %d: "+
				"that machine has opened another", displaced.to, maxOfOneNamed)})
		}
	}
}

// knows reports whether an address may connect, and gives it as it was named.
func (l *Listener) knows(addr netip.Addr) (named netip.Addr, ok bool) {
	if len(l.named) == 0 || l.named[addr] {
		return addr, true
	}
	return addr.WithZone(""), l.named[addr.WithZone("")]
}

// admit takes one more connection if there is room. Where addresses are named there always is: displaced is the
// connection of the same address that has to go, nil for none.
func (l *Listener) admit(s *stream, addr netip.Addr) (displaced *stream, ok bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	select {
	case <-l.closed:
		return nil, false
	default:
	}
	if len(l.named) > 0 {
		displaced = l.silentLongest(addr)
		delete(l.streams, displaced)
	} else if len(l.streams) == maxStreams {
		return nil, false
	}
	l.streams[s] = &client{addr, time.Now()}
	return displaced, true
}

// silentLongest is the connection that has to go when an address opens one more, nil for none.
func (l *Listener) silentLongest(addr netip.Addr) (oldest *stream) {
	n := 0
	for s, c := range l.streams {
		if c.addr != addr {
			continue
		}
		if n++; oldest == nil || c.heard.Before(l.streams[oldest].heard) {
			oldest = s
		}
	}
	if n < maxOfOneNamed {
		return nil
	}
	return oldest
}

// heard notes that a connection has sent a packet.
func (l *Listener) heard(s *stream) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if c := l.streams[s]; c != nil {
		c.heard = time.Now()
	}
}

// serve delivers what comes over one connection until it ends.
func (l *Listener) serve(s *stream, from Peer) {
	defer func() {
		s.Close()
		l.mu.Lock()
		delete(l.streams, s)
		l.mu.Unlock()
	}()
	for {
		packet, err := s.next()
		if err != nil {
			// A connection may end at any time. Only a packet that could not be read is an error.
			var frame badFrame
			if errors.As(s.in.err, &frame) || errors.Is(s.in.err, io.ErrUnexpectedEOF) {
				l.deliver(received{err: err})
			}
			return
		}
		l.heard(s)
		if !l.deliver(received{packet: bytes.Clone(packet), from: from}) {
			return
		}
	}
}

// deliver gives a packet or an error to Receive, and reports whether the Listener is still open.
func (l *Listener) deliver(a received) bool {
	select {
	case <-l.closed:
		return false
	case l.inbox <- a:
		return true
	}
}

// Peer is whoever sent a packet to a Listener. Peers can be compared: over UDP they are equal if address and port are,
// over a stream if the connection is.
type Peer struct {
	from   netip.AddrPort
	udp    *net.UDPConn // one of udp and stream is nil
	stream *stream
}

// Addr is the peer's IP address. An IPv4 address stays IPv4 even on an IPv6 socket.
func (p Peer) Addr() netip.Addr { return p.from.Addr().Unmap() }

// String is the peer's IP address and port.
func (p Peer) String() string { return netip.AddrPortFrom(p.Addr(), p.from.Port()).String() }

// Reply sends a packet to the peer. It returns within about 12 ms. Over a stream every error ends the connection, as
// with a Link; over UDP the next reply may work. It may be called from any goroutine. It returns an error if the peer
// is gone or the Listener is closed.
func (p Peer) Reply(packet []byte) error {
	if p.stream != nil {
		return p.stream.Write(packet)
	}
	if p.udp == nil {
		return errors.New("nobody to reply to")
	}
	err := push(p.udp, new(time.Time), func() (int, error) { return p.udp.WriteToUDPAddrPort(packet, p.from) })
	return explain(err, p.String(), len(packet))
}

// explainListen says in the user's words why nothing can listen at an address.
func explainListen(err error, at Target) error {
	var name *net.DNSError
	own := func() string { return strings.Join(ownAddresses(), ", ") }
	switch {
	case errors.As(err, &name):
		return fmt.Errorf("%s: the name %q could not be looked up; "+
			"write an address of this computer, which has %s (%w)", at, name.Name, own(), err)
	case is(err, addressInUse):
		return fmt.Errorf("another program already listens at %s; end it, or use another port (%w)", at, err)
	case is(err, notOurAddress):
		return fmt.Errorf("%s is not an address of this computer, which has %s (%w)", at, own(), err)
	case is(err, forbidden):
		return fmt.Errorf("this program may not use %s; use a port from 1024 up (%w)", at, err)
	}
	return fmt.Errorf("listening at %s: %w", at, err)
}

// ownAddresses lists the IP addresses of this computer.
func ownAddresses() []string {
	var out []string
	addrs, _ := net.InterfaceAddrs()
	for _, a := range addrs {
		if prefix, err := netip.ParsePrefix(a.String()); err == nil {
			out = append(out, prefix.Addr().String())
		}
	}
	return out
}
