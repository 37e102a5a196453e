package wire

import (
	"errors"
	"fmt"
	"net"
	"os"
	"strconv"
	"strings"
	"syscall"
	"time"
)

// ErrRefused is in the error that Settle gives when the machine is there and nothing listens on the port.
var ErrRefused = errors.New("the machine answered: port closed")

// Address turns "udp://host:port" or "host:port" into "host:port", or says what is wrong with it.
func Address(to string) (string, error) {
	rest := to
	if scheme, after, ok := strings.Cut(to, "://"); ok {
		if !strings.EqualFold(scheme, "udp") {
			return "", fmt.Errorf("%q: %s:// is not spoken yet, only udp://", to, scheme)
		}
		rest = after
	}
	host, port, err := net.SplitHostPort(rest)
	if err != nil {
		var a *net.AddrError
		switch {
		case errors.As(err, &a) && a.Err == "missing port in address":
			return "", fmt.Errorf("%q has no port; write it like udp://127.0.0.1:9000", to)
		case errors.As(err, &a) && a.Err == "too many colons in address":
			return "", fmt.Errorf("%q has too many colons; an IPv6 address goes in brackets: udp://[::1]:9000", to)
		}
		return "", fmt.Errorf("%q is no address; write it like udp://127.0.0.1:9000", to)
	}
	if host == "" {
		return "", fmt.Errorf("%q has no host; write it like udp://127.0.0.1:9000", to)
	}
	if strings.ContainsAny(host, "/@ ") {
		return "", fmt.Errorf("%q: %q is no host", to, host)
	}
	if n, err := strconv.ParseUint(port, 10, 64); err != nil || n < 1 || n > 65535 {
		return "", fmt.Errorf("%q: the port must be a number from 1 to 65535, and is %q", to, port)
	}
	return net.JoinHostPort(host, port), nil
}

// UDP is one connected socket. It is for one goroutine at a time.
type UDP struct {
	conn    *net.UDPConn
	to      string // as the errors name it
	pace    pacer
	refused bool // a datagram came back: port closed
}

// Dial makes the socket for "udp://host:port" or "host:port". It sends nothing, so it cannot know whether
// anything listens. Of a name with several addresses an IPv4 one is preferred.
func Dial(to string) (*UDP, error) {
	hostport, err := Address(to)
	if err != nil {
		return nil, err
	}
	addr, err := net.ResolveUDPAddr("udp", hostport)
	if err != nil {
		return nil, explain(err, hostport, 0)
	}
	conn, err := net.DialUDP("udp", nil, addr)
	if err != nil {
		return nil, explain(err, hostport, 0)
	}
	return &UDP{conn: conn, to: hostport}, nil
}

// Send sends packets that Pack made, in order, at most perSecond messages a second (at least 1). The first
// goes at once, unless it follows on an earlier Send. A closed port is no error here, since word of it comes
// late or never: ask Settle. Any other failure ends the sending, and the error tells how far it came.
func (u *UDP) Send(packets [][]byte, perSecond int, clock Clock) error {
	for i, packet := range packets {
		u.pace.wait(messagesIn(packet), max(perSecond, 1), clock)
		if err := u.write(packet); err != nil {
			return fmt.Errorf("packet %d of %d: %w", i+1, len(packets), err)
		}
	}
	return nil
}

func (u *UDP) write(packet []byte) error {
	_, err := u.conn.Write(packet)
	if is(err, refusals) {
		// That is word of an earlier datagram; this one was not sent. Once more is enough: the word is
		// taken, and should there be a second one, Settle tells anyway.
		u.refused = true
		if _, err = u.conn.Write(packet); is(err, refusals) {
			return nil
		}
	}
	return explain(err, u.to, len(packet))
}

// Settle listens for as long as wait for word that the port is closed, and returns an error with ErrRefused
// if it came, now or during Send since the last Settle. What a desk answers meanwhile is thrown away. A nil
// result says little: UDP does not tell what arrived, and a machine that is off is silent.
func (u *UDP) Settle(wait time.Duration) error {
	defer func() { u.refused = false }()
	if err := u.conn.SetReadDeadline(Wall{}.Now().Add(wait)); err != nil {
		return err
	}
	for buffer := make([]byte, 1); ; {
		switch _, err := u.conn.Read(buffer); {
		case errors.Is(err, os.ErrDeadlineExceeded):
			if u.refused {
				return fmt.Errorf("nothing listens at %s (%w)", u.to, ErrRefused)
			}
			return nil
		case is(err, refusals):
			u.refused = true
		case err != nil && !is(err, tooLong):
			return explain(err, u.to, 0)
		}
	}
}

// Close closes the socket.
func (u *UDP) Close() error { return u.conn.Close() }

// Error numbers by what they mean. Windows has its own, from 10000 up, which no other system uses; there a
// closed port is told as a reset, and a datagram longer than the buffer as too long.
var (
	refusals    = []error{syscall.ECONNREFUSED, syscall.Errno(10061), syscall.Errno(10054)}
	unreachable = []error{syscall.ENETUNREACH, syscall.EHOSTUNREACH, syscall.ENETDOWN, syscall.Errno(10051), syscall.Errno(10065), syscall.Errno(10050)}
	tooLong     = []error{syscall.EMSGSIZE, syscall.Errno(10040)}
)

func is(err error, kinds []error) bool {
	for _, e := range kinds {
		if errors.Is(err, e) {
			return true
		}
	}
	return false
}

// explain says in the user's words why a packet of that many bytes could not go to a place.
func explain(err error, to string, bytes int) error {
	var name *net.DNSError
	switch {
	case err == nil:
		return nil
	case errors.As(err, &name) && name.IsNotFound:
		return fmt.Errorf("no such host %q; check the name, or write the desk's IP address", name.Name)
	case errors.As(err, &name):
		return fmt.Errorf("the name %q could not be looked up (%s); write the desk's IP address", name.Name, name.Err)
	case is(err, unreachable):
		return fmt.Errorf("no way to %s: this computer is on no network that leads there (%w)", to, err)
	case is(err, tooLong):
		return fmt.Errorf("a packet of %d bytes is more than the network takes; lower max_packet in desk.toml (%w)", bytes, err)
	}
	return fmt.Errorf("sending to %s: %w", to, err)
}
