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

// maxStreams is how many connections a Listener holds at once.
const maxStreams = 8

// Listener takes in packets from anyone who can reach its port: over UDP, or over up to 8 TCP connections.
// Whatever they send, it goes on and its memory stays at a few MiB: a stream that is no stream of OSC is cut,
// a connection too many is turned away, and a caller that is slow to Receive slows the senders of streams
// and loses datagrams, as UDP does. Connections may be idle; those whose other end is gone are found out
// within some seconds.
type Listener struct {
	at  Target
	udp *net.UDPConn // one of udp and tcp is nil
	tcp *net.TCPListener

	buffer []byte        // of the datagram that is read
	inbox  chan received // what the connections hand over, one at a time

	closed  chan struct{}
	running sync.WaitGroup
	mu      sync.Mutex
	streams map[*stream]bool
}

type received struct {
	packet []byte
	from   Peer
	err    error
}

// Listen opens a port: "udp://host:port" or "host:port", "tcp://host:port" (OSC 1.0 stream) or
// "slip://host:port" (OSC 1.1 stream). The host is an address of this computer, or empty for all of them;
// port 0 is any that is free, and Addr tells which.
func Listen(at string) (*Listener, error) {
	target, err := address(at, true)
	if err != nil {
		return nil, err
	}
	ctx, cancel := context.WithTimeout(context.Background(), dialWait)
	defer cancel()
	l := &Listener{at: target, closed: make(chan struct{})}
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
	l.inbox, l.streams = make(chan received), map[*stream]bool{}
	l.running.Go(l.accept)
	return l, nil
}

// Addr is where it listens, with the port that was found free: "udp://127.0.0.1:40213".
func (l *Listener) Addr() Target { return l.at }

// Receive waits for the next packet and tells who sent it. The packet is the caller's to keep; whether it is OSC, only
// Decode tells. One goroutine at a time may call it. An error with ErrClosed is the end, after Close. Any other error
// is told, comes without a packet and a Peer, and ends nothing: what a connection sent was no stream of OSC or ended
// within a packet, one too many was turned away, or the network is in trouble. One who sends rubbish can make many of
// those; whoever prints them should not print them all.
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
		case is(err, portClosed): // Windows: word of a Reply
		case err != nil:
			l.pause()
			return nil, Peer{}, fmt.Errorf("listening at %s: %w", l.at, err)
		case n > 0:
			return bytes.Clone(l.buffer[:n]), Peer{from: from, udp: l.udp}, nil
		}
	}
}

// rest keeps an error that does not go away from turning into a busy loop.
func (l *Listener) pause() {
	select {
	case <-l.closed:
	case <-time.After(50 * time.Millisecond):
	}
}

// Close closes the port and all connections. Nothing of the Listener runs any more when it returns. It may
// be called at any time and more than once.
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
		case err != nil: // out of file descriptors, say
			l.deliver(received{err: fmt.Errorf("listening at %s: %w", l.at, err)})
			l.pause()
			continue
		}
		from := conn.RemoteAddr().(*net.TCPAddr).AddrPort()
		s := newStream(conn, l.at.framing(), from.String())
		if l.admit(s) {
			l.running.Go(func() { l.serve(s, Peer{from: from, stream: s}) })
			continue
		}
		s.Close()
		l.deliver(received{err: fmt.Errorf("%s was turned away: %d connections to %s are open already",
			from, maxStreams, l.at)})
	}
}

// admit says whether there is room for one more connection.
func (l *Listener) admit(s *stream) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	select {
	case <-l.closed:
		return false
	default:
	}
	if len(l.streams) == maxStreams {
		return false
	}
	l.streams[s] = true
	return true
}

// serve hands over what comes in over one connection, until it is over.
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
			// They come and go; what is told is a packet that came and was not understood.
			var frame badFrame
			if errors.As(s.in.err, &frame) || errors.Is(s.in.err, io.ErrUnexpectedEOF) {
				l.deliver(received{err: err})
			}
			return
		}
		if !l.deliver(received{packet: bytes.Clone(packet), from: from}) {
			return
		}
	}
}

// hand gives an arrival to Receive, and says whether anybody is still there.
func (l *Listener) deliver(a received) bool {
	select {
	case <-l.closed:
		return false
	case l.inbox <- a:
		return true
	}
}

// Peer is one who sent a packet to a Listener. Peers may be compared: over UDP they are the same if address
// and port are, over a stream if the connection is.
type Peer struct {
	from   netip.AddrPort
	udp    *net.UDPConn // one of udp and stream is nil
	stream *stream
}

// Addr is the peer's IP address. An IPv4 address is one, also where the socket is IPv6's.
func (p Peer) Addr() netip.Addr { return p.from.Addr().Unmap() }

// String is the peer's IP address and port.
func (p Peer) String() string { return netip.AddrPortFrom(p.Addr(), p.from.Port()).String() }

// Reply sends a packet to the peer. It returns within some 12 ms. Over a stream every error is the end
// of that connection, as with a Link; over UDP the next reply may go. It may be called from any goroutine,
// also after the peer has gone or the Listener was closed: then there is an error.
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

// explainListen says in the user's words why nothing can listen at a place.
func explainListen(err error, at Target) error {
	var name *net.DNSError
	own := func() string { return strings.Join(ownAddresses(), ", ") }
	switch {
	case errors.As(err, &name):
		return fmt.Errorf("%s: the name %q could not be looked up; "+
			"write an address of this computer, which has %s (%w)", at, name.Name, own(), err)
	case is(err, addressInUse):
		return fmt.Errorf("another program listens at %s already; end it, or take another port (%w)", at, err)
	case is(err, notOurAddress):
		return fmt.Errorf("%s is no address of this computer, which has %s (%w)", at, own(), err)
	case is(err, forbidden):
		return fmt.Errorf("%s may not be used by this program; take a port from 1024 up (%w)", at, err)
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
