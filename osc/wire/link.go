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
	// ErrRefused is in the errors that tell of a machine which is there, and has nothing that listens on the
	// port.
	ErrRefused = errors.New("the machine answered: port closed")
	// ErrBroken is in the errors of a connection that can carry nothing more.
	ErrBroken = errors.New("the connection is broken")
	// ErrClosed is in the errors of what this program has closed itself.
	ErrClosed = net.ErrClosed
)

const (
	dialWait = 3 * time.Second
	// patience is how long a packet may wait for room on its way out of this computer, tries times.
	writeWait = 4 * time.Millisecond
	tries     = 3
	// silence is how long what was written to a stream may stay unacknowledged. The system's own limits are
	// a quarter of an hour and more.
	ackWait = 5 * time.Second
)

// keepAlive finds out within some seconds that the other end of a quiet connection has been switched off.
var keepAlive = net.KeepAliveConfig{Enable: true, Idle: 3 * time.Second, Interval: time.Second, Count: 3}

// Link is an open road to one mixer. One goroutine at a time may Write and one may Read, both at once. Close
// may come at any time and more than once; it ends a Read or a Write that is under way. A Link has no
// goroutine of its own.
//
// An error with ErrBroken or ErrClosed in it is the Link's end: the same comes back from every later call,
// and what was written last may not have arrived; open another one, and send the full state. After any
// other error the Link goes on, and works again once the cause is gone. Over UDP ErrBroken does not occur: a
// cable that is out or a mixer that is off is passing, and mostly silent.
type Link interface {
	// Write sends one packet. It returns within some 12 ms, whatever the mixer does. nil says that this
	// computer took the packet and not that it arrived. Over UDP an error with ErrRefused is word of an
	// earlier packet: nothing listened when that one arrived. This one has been sent nonetheless, unless such
	// word came twice at once; so show it, and go on. Any other error over UDP says that this packet was
	// not sent. Over a stream each error has ErrBroken or ErrClosed: a packet that is written in part cannot
	// be taken back, and a mixer that takes in nothing must not be fed ever older news.
	Write(packet []byte) error
	// WriteAll sends packets in order, faster than one Write after the other where the system can. The error is the
	// worst of what the Writes would have told; over UDP all that can be sent are, but for those after one that this
	// computer had no room for. Each tries like a Write.
	WriteAll(packets [][]byte) error
	// Read waits for the next packet that the mixer sends, puts it into the buffer and returns its length. A
	// packet that is longer than the buffer is dropped with an error that has io.ErrShortBuffer; none is
	// longer than MaxPacket. Over UDP an error with ErrRefused is again word of an earlier packet. A mixer
	// that ends the connection or sends what is no stream of OSC breaks it.
	Read(buffer []byte) (n int, err error)
	// Settle is for one who has written all there is to write, and does not Read. It gives the mixer as
	// long as wait: over UDP to let word come that the port is closed, over a stream to take in what was
	// written and end the connection. What the mixer sends meanwhile is thrown away. A nil result says little:
	// a machine that is off is silent. After Settle a stream takes no packet any more.
	Settle(wait time.Duration) error
	// Close gives the socket back.
	Close() error
}

// Open opens the road to "udp://host:port", "tcp://host:port" (OSC 1.0 stream), "slip://host:port" (OSC 1.1
// stream) or "host:port", which is UDP. Of a name with several addresses an IPv4 one is preferred. UDP sends
// nothing by this and cannot know whether anything listens; a stream is connected, or there is an error, with
// ErrRefused if the port is closed. Open takes 3 s at most.
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

// push writes and does not wait for long. On a busy computer the deadline can pass before the write has been
// tried at all, which must not end a connection: what was not begun is tried again.
//
// Until is the deadline that the connection has. It is set anew once half of it has gone only: to set one has the
// poller woken, which costs more than a packet does.
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

// Send sends packets that Pack made, in order, at most perSecond messages a second (at least 1). The first
// goes at once. A closed UDP port ends nothing, since word of it comes late and the mixer may be about to
// listen; it is the error once all are out. Any other failure ends the sending, and the error tells how far
// it came.
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

// Error numbers by what they mean. Windows has its own, from 10000 up, which no other system uses; there a
// closed UDP port is told as a reset, and a datagram longer than the buffer as too long.
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

func refused(to string) error { return fmt.Errorf("nothing listens at %s (%w)", to, ErrRefused) }

// explain says in the user's words why a packet of that many bytes could not go to a place, or why the place
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
		return fmt.Errorf("no way to %s: the machine is off, "+
			"or this computer is on no network that leads there (%w)", to, err)
	case is(err, tooLong):
		return fmt.Errorf("a packet of %d bytes is more than the network takes; "+
			"lower max_packet in mixer.toml (%w)", bytes, err)
	case bytes > 0 && is(err, noBuffer):
		return fmt.Errorf("this computer's network takes in no more, and a packet to %s was not sent; "+
			"is the cable in? or lower rate in mixer.toml (%w)", to, err)
	case is(err, timedOut) || errors.As(err, &slow) && slow.Timeout():
		return fmt.Errorf("no answer from %s; see that the machine is on, and on this network (%w)", to, err)
	}
	return fmt.Errorf("%s: %w", to, err)
}
