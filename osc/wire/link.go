package wire

import (
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"syscall"
	"time"
)

var (
	// ErrRefused is in the error when a machine replies that nothing listens on the port.
	ErrRefused = errors.New("the OSC port is closed")
	// ErrBroken is in the error when a connection can carry nothing more.
	ErrBroken = errors.New("the connection is broken")
	// ErrClosed is in the error when this program closed the connection itself.
	ErrClosed = net.ErrClosed
)

// linkError says in the user's words what happened, and wraps ErrRefused or ErrBroken for callers that ask which.
type linkError struct {
	text string
	kind error
}

func (e linkError) Error() string { return e.text }
func (e linkError) Unwrap() error { return e.kind }

const (
	dialWait = 3 * time.Second
	// writeWait is how long a packet may wait until this computer can send it. It may wait `tries` times.
	writeWait = 4 * time.Millisecond
	tries     = 3
	// ackWait is how long data written to a stream may stay unacknowledged. The system's own limits are a quarter of
	// an hour and more.
	ackWait = 5 * time.Second
)

// keepAlive notices within seconds that the other end of a quiet connection was turned off.
var keepAlive = net.KeepAliveConfig{Enable: true, Idle: 3 * time.Second, Interval: time.Second, Count: 3}

// Link is an open connection to one mixer. One goroutine may Write while another one Reads. Close may be called at any
// time and more than once; it ends a Read or a Write in progress. A Link starts no goroutine.
//
// An error with ErrBroken or ErrClosed in it ends the Link: every later call returns the same error, and the last
// packets may not have arrived. Open another Link and send the full state. After any other error the Link goes on, and
// works again once the cause is gone. Over UDP there is no ErrBroken: a cable that is out or a mixer that is off gives
// no sign, and may come back.
type Link interface {
	// Write sends one packet. It returns within about 12 ms, whatever the mixer does. nil means that this computer
	// took the packet, not that it arrived. Over UDP an error with ErrRefused is about an earlier packet: nothing
	// listened when that one arrived. This packet was sent anyway, unless two such errors came at once. So show the
	// error and go on. Any other error over UDP means that this packet was not sent. Over a stream each error has
	// ErrBroken or ErrClosed, because a half-written packet cannot be taken back, and a mixer that stops reading must
	// not get old values later.
	Write(packet []byte) error
	// WriteAll sends packets in order, faster than many Writes where the system allows it. The error is the worst that
	// the Writes would have returned. Over UDP it sends all packets that it can, but stops at one that this computer
	// has no room for. Each packet is tried like a Write.
	WriteAll(packets [][]byte) error
	// Read waits for the next packet from the mixer, puts it into the buffer and returns its length. A packet that is
	// longer than the buffer is dropped with an error that has io.ErrShortBuffer; none is longer than MaxPacket. Over
	// UDP an error with ErrRefused is again about an earlier packet. A mixer that closes the connection or sends
	// something other than an OSC stream breaks it.
	Read(buffer []byte) (n int, err error)
	// Settle is for a caller that has written everything and does not Read. It waits for at most `wait`: over UDP for
	// a report that the port is closed, over a stream until the mixer has taken everything and closed the connection.
	// What the mixer sends meanwhile is dropped. nil proves little, since a machine that is off reports nothing. After
	// Settle a stream takes no more packets.
	Settle(wait time.Duration) error
	// Close releases the socket.
	Close() error
}

// Open opens a link to "udp://host:port", "tcp://host:port" (OSC 1.0 stream), "slip://host:port" (OSC 1.1 stream) or
// "host:port", which is UDP. If a name has several addresses, it prefers an IPv4 one. Over UDP this sends nothing and
// cannot know whether anything listens. A stream is connected, or there is an error, with ErrRefused if the port is
// closed. Open takes 3 s at most.
func Open(to string) (Link, error) {
	target, err := Address(to)
	if err != nil {
		return nil, err
	}
	ctx, cancel := context.WithTimeout(context.Background(), dialWait)
	defer cancel()
	host, port, _ := net.SplitHostPort(target.HostPort)
	addrs, err := net.DefaultResolver.LookupNetIP(ctx, "ip", host)
	if err != nil {
		return nil, explain(err, target.HostPort, 0)
	}
	addr := addrs[0]
	for _, a := range addrs {
		if a = a.Unmap(); a.Is4() {
			addr = a
			break
		}
	}
	network := "tcp"
	if target.Scheme == "udp" {
		network = "udp"
	}
	dialer := net.Dialer{KeepAliveConfig: keepAlive}
	conn, err := dialer.DialContext(ctx, network, net.JoinHostPort(addr.String(), port))
	if err != nil {
		return nil, explain(err, target.HostPort, 0)
	}
	if target.Scheme == "udp" {
		return newDatagrams(conn.(*net.UDPConn), target.HostPort), nil
	}
	return newStream(conn.(*net.TCPConn), target.framing(), target.HostPort), nil
}

// push writes without waiting long. On a busy computer the deadline can pass before the write was even tried, which
// must not end a connection, so it tries again if nothing was written.
//
// Until is the connection's deadline. It is renewed only after half of it has passed, because setting one wakes Go's
// network poller, which costs more than a packet.
func push(conn net.Conn, until *time.Time, write func() (int, error)) error {
	for try := 1; ; try++ {
		if now := (Wall{}).Now(); until.Sub(now) < writeWait/2 {
			*until = now.Add(writeWait)
			if err := conn.SetWriteDeadline(*until); err != nil {
				return err
			}
		}
		if n, err := write(); n > 0 || try == tries || !errors.Is(err, os.ErrDeadlineExceeded) {
			return err
		}
	}
}

// Send sends packets that Pack made, in order, at most perSecond messages a second (at least 1). The first goes at
// once. A closed UDP port does not stop it, since that report comes late and the mixer may be about to listen; it is
// the error at the end. Any other error stops the sending and says at which packet.
func Send(l Link, packets [][]byte, perSecond int, clock TimeSource) error {
	var pace pacer
	var refusal error
	for i, packet := range packets {
		pace.wait(messagesIn(packet), max(perSecond, 1), clock)
		err := l.Write(packet)
		switch {
		case errors.Is(err, ErrRefused):
			refusal = err
		case err != nil:
			return fmt.Errorf("packet %d of %d: %w", i+1, len(packets), err)
		}
	}
	return refusal
}

// Error numbers by what they mean. Windows has its own, from 10000 up, which no other system uses. There a closed UDP
// port shows as a reset, and a datagram longer than the buffer as too long.
var (
	portClosed  = []error{syscall.ECONNREFUSED, syscall.Errno(10061), syscall.Errno(10054)}
	unreachable = []error{syscall.ENETUNREACH, syscall.EHOSTUNREACH, syscall.ENETDOWN,
		syscall.Errno(10051), syscall.Errno(10065), syscall.Errno(10050)}
	tooLong       = []error{syscall.EMSGSIZE, syscall.Errno(10040)}
	noBuffer      = []error{syscall.ENOBUFS, syscall.Errno(10055), os.ErrDeadlineExceeded}
	timedOut      = []error{syscall.ETIMEDOUT, syscall.Errno(10060), context.DeadlineExceeded}
	addressInUse  = []error{syscall.EADDRINUSE, syscall.Errno(10048)}
	notOurAddress = []error{syscall.EADDRNOTAVAIL, syscall.Errno(10049)}
	forbidden     = []error{syscall.EACCES, syscall.Errno(10013)}
)

func is(err error, kinds []error) bool {
	for _, e := range kinds {
		if errors.Is(err, e) {
			return true
		}
	}
	return false
}

func refused(to string) error {
	return linkError{to + " is up, but its OSC port is closed", ErrRefused}
}

// explain says in the user's words why a packet of that many bytes could not be sent to an address, or why the address
// could not be reached at all.
func explain(err error, to string, bytes int) error {
	var name *net.DNSError
	var slow net.Error
	switch {
	case err == nil:
		return nil
	case errors.As(err, &name) && name.IsNotFound:
		return fmt.Errorf("no such host %q; check the name, or write the mixer's IP address", name.Name)
	case errors.As(err, &name):
		return fmt.Errorf("the name %q could not be looked up (%s); write the mixer's IP address", name.Name, name.Err)
	case errors.Is(err, net.ErrClosed):
		return ErrClosed
	case is(err, portClosed):
		return refused(to)
	case is(err, unreachable):
		return fmt.Errorf("cannot reach %s: it is off, or this computer is on another network; "+
			"check the cable and this computer's address (%w)", to, err)
	case is(err, tooLong):
		return fmt.Errorf("a packet of %d bytes is too big for the network; "+
			"lower max_packet in mixer.toml (%w)", bytes, err)
	case bytes > 0 && is(err, noBuffer):
		return fmt.Errorf("this computer's network accepts no more data, so a packet to %s was not sent; "+
			"check the cable, or lower rate in mixer.toml (%w)", to, err)
	case is(err, timedOut) || errors.As(err, &slow) && slow.Timeout():
		return fmt.Errorf("no reply from %s; check its power and that it is on this network (%w)", to, err)
	}
	return fmt.Errorf("%s: %w", to, err)
}
