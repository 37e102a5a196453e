package wire

import (
	"errors"
	"fmt"
	"net"
	"strconv"
	"strings"
)

// Target is the address that packets go to, or that a Listener listens at.
type Target struct {
	Scheme   string // "udp"; "tcp", an OSC 1.0 stream (LengthPrefix); or "slip", an OSC 1.1 stream (SLIP)
	HostPort string // "10.0.0.7:9000", "[::1]:9000"
}

// String is the target as a user writes it: "udp://10.0.0.7:9000".
func (t Target) String() string { return t.Scheme + "://" + t.HostPort }

// framing is how packets are marked off in the stream of a target that is not UDP.
func (t Target) framing() Framing {
	if t.Scheme == "slip" {
		return SLIP
	}
	return LengthPrefix
}

// Address reads "udp://host:port", "tcp://host:port", "slip://host:port" or "host:port", which is UDP. The error says
// what is wrong with it.
func Address(to string) (Target, error) { return address(to, false) }

// address reads an address to send to or to listen at. To listen, the host may be empty and the port 0.
func address(to string, listen bool) (Target, error) {
	t := Target{"udp", to}
	if scheme, after, ok := strings.Cut(to, "://"); ok {
		t = Target{strings.ToLower(scheme), after}
		if t.Scheme != "udp" && t.Scheme != "tcp" && t.Scheme != "slip" {
			return Target{}, fmt.Errorf("%q: %s:// is not supported; use udp://, "+
				"tcp:// (OSC 1.0, each packet after its length) or slip:// (OSC 1.1)", to, scheme)
		}
	}
	example := t.Scheme + "://127.0.0.1:9000"
	host, port, err := net.SplitHostPort(t.HostPort)
	if err != nil {
		var a *net.AddrError
		switch {
		case errors.As(err, &a) && a.Err == "missing port in address":
			return Target{}, fmt.Errorf("%q has no port; add it: %s://%s:PORT", to, t.Scheme, t.HostPort)
		case errors.As(err, &a) && a.Err == "too many colons in address":
			return Target{}, fmt.Errorf("%q has too many colons; an IPv6 address goes in brackets: %s://[::1]:9000",
				to, t.Scheme)
		}
		return Target{}, fmt.Errorf("%q is not an address; write it like %s", to, example)
	}
	if host == "" && !listen {
		return Target{}, fmt.Errorf("%q has no host; write it like %s", to, example)
	}
	if strings.ContainsAny(host, "/@ ") {
		return Target{}, fmt.Errorf("%q: %q is not a host", to, host)
	}
	n, err := strconv.ParseUint(port, 10, 16)
	switch {
	case listen && err != nil:
		return Target{}, fmt.Errorf("%q: the port must be a number from 1 to 65535, "+
			"or 0 for any that is free, and is %q",
			to, port)
	case !listen && (err != nil || n < 1):
		return Target{}, fmt.Errorf("%q: the port must be a number from 1 to 65535, and is %q", to, port)
	}
	t.HostPort = net.JoinHostPort(host, port)
	return t, nil
}
