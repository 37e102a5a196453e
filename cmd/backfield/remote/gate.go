package remote

import (
	"context"
	"net"
	"net/http"
	"net/netip"
	"slices"
	"sync"
	"time"
)

// Connections are few and cheap to refuse. A crowd at the port may keep new devices out, but it neither slows down the
// run nor takes a slot from a page that is in.
const (
	maxAdmittedConns   = 96 // connections that carried a device's cookie
	maxStrangerConns   = 48 // connections that have not
	maxConnsPerAddress = 24 // of these, from one address
	newConnsPerS       = 10 // new connections from one address, on average
	newConnsAtOnce     = 40
	fromDevicePerS     = 200 // from an address that a device came in from, whoever connects
	fromDeviceAtOnce   = 400
	refusalGap         = 2 * time.Millisecond // between a refused connection and the next
	socketBuffer       = 64 << 10             // bytes that may wait for a page that reads nothing
)

// connLimiter is a listener that bounds the connections. One that has not shown a device's cookie is a stranger's, and
// makes room for newer ones when there are too many. So a device's connection always gets to show its cookie, even if its
// address sends many others; after that it keeps its slot.
type connLimiter struct {
	net.Listener
	named      []netip.Addr // if any, other machines are closed at once
	deviceFrom func(netip.Addr) bool
	newConns   *addressLimiter // of strangers
	fromDevice *addressLimiter

	mu        sync.Mutex
	strangers []*limitedConn // the oldest first
	admitted  int
}

func newConnLimiter(l net.Listener, named []netip.Addr, deviceFrom func(netip.Addr) bool) *connLimiter {
	return &connLimiter{
		Listener: l, named: named, deviceFrom: deviceFrom, newConns: newAddressLimiter(newConnsPerS, newConnsAtOnce),
		fromDevice: newAddressLimiter(fromDevicePerS, fromDeviceAtOnce),
	}
}

// Accept waits for a connection within the bounds. It closes others.
func (g *connLimiter) Accept() (net.Conn, error) {
	for {
		raw, err := g.Listener.Accept()
		if err != nil {
			return nil, err
		}
		c := &limitedConn{Conn: raw, of: g, from: addrOf(raw.RemoteAddr()).Addr()}
		if !g.allows(c, time.Now()) {
			raw.Close()
			time.Sleep(refusalGap)
			continue
		}
		if t, ok := raw.(*net.TCPConn); ok {
			t.SetWriteBuffer(socketBuffer) // where the system allows it; otherwise it holds more
		}
		g.enter(c)
		return c, nil
	}
}

// allows reports whether a connection may come in. From an address with a device it may, and counts as a stranger's only
// once it asks for something without a cookie.
func (g *connLimiter) allows(c *limitedConn, now time.Time) bool {
	if len(g.named) > 0 && !c.from.IsLoopback() && !slices.Contains(g.named, c.from) {
		return false
	}
	if g.deviceFrom(c.from) {
		return g.fromDevice.take(c.from, now)
	}
	c.counted = true
	return g.newConns.take(c.from, now)
}

// enter gives a stranger a slot. If there is none, the oldest of its own address makes room, and else the oldest whose
// address has no device.
func (g *connLimiter) enter(c *limitedConn) {
	g.mu.Lock()
	own := 0
	for _, x := range g.strangers {
		if x.from == c.from {
			own++
		}
	}
	var out *limitedConn
	switch {
	case own >= maxConnsPerAddress:
		out = g.oldest(func(x *limitedConn) bool { return x.from == c.from })
	case len(g.strangers) >= maxStrangerConns:
		if out = g.oldest(func(x *limitedConn) bool { return !g.deviceFrom(x.from) }); out == nil {
			out = g.strangers[0]
		}
	}
	g.strangers = append(g.strangers, c)
	g.mu.Unlock()
	if out != nil {
		out.Close()
	}
}

// oldest finds a stranger's connection; nil if none fits. The caller holds mu.
func (g *connLimiter) oldest(fits func(*limitedConn) bool) *limitedConn {
	if i := slices.IndexFunc(g.strangers, fits); i >= 0 {
		return g.strangers[i]
	}
	return nil
}

// limitedConn is a connection that makes room when it closes.
type limitedConn struct {
	net.Conn
	of   *connLimiter
	from netip.Addr

	counted  bool // by newConns; used by one request at a time
	admitted bool // guarded by of.mu
	closed   bool // guarded by of.mu
}

// Close closes the connection and gives its slot back.
func (c *limitedConn) Close() error {
	g := c.of
	g.mu.Lock()
	if !c.closed {
		c.closed = true
		if i := slices.Index(g.strangers, c); i >= 0 {
			g.strangers = slices.Delete(g.strangers, i, i+1)
		}
		if c.admitted {
			g.admitted--
		}
	}
	g.mu.Unlock()
	return c.Conn.Close()
}

// admit gives the connection of a device a slot that no stranger can take, if there is one left.
func (c *limitedConn) admit() {
	g := c.of
	g.mu.Lock()
	defer g.mu.Unlock()
	if c.admitted || c.closed || g.admitted >= maxAdmittedConns {
		return
	}
	if i := slices.Index(g.strangers, c); i >= 0 {
		g.strangers = slices.Delete(g.strangers, i, i+1)
	}
	c.admitted, g.admitted = true, g.admitted+1
}

// mayAsk counts a request without a cookie, once for a connection. It reports whether its address has any left.
func (c *limitedConn) mayAsk(now time.Time) bool {
	if c.counted {
		return true
	}
	c.counted = true
	return c.of.newConns.take(c.from, now)
}

type connKey struct{}

// withConn is the server's ConnContext: it lets connOf find the connection.
func withConn(ctx context.Context, c net.Conn) context.Context {
	return context.WithValue(ctx, connKey{}, c)
}

// connOf is the connection of a request.
func connOf(r *http.Request) *limitedConn { return r.Context().Value(connKey{}).(*limitedConn) }
