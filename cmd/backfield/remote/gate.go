package remote

import (
	"net"
	"net/netip"
	"sync"
	"time"
)

// Connections are few and cheap to refuse: a crowd at the port may keep new pages out, but takes no time from the run.
const (
	maxConns           = 96 // connections in all
	maxConnsPerAddress = 24 // of one address
	newConnsPerS       = 10 // new connections of one address, on average
	newConnsAtOnce     = 40
	triesPerS          = 0.1 // wrong keys of one address, on average
	triesAtOnce        = 5
	maxAddresses       = 512                  // addresses that are remembered at once
	refusalGap         = 2 * time.Millisecond // from one connection that is refused to the next that is looked at
	socketBuffer       = 64 << 10             // bytes that may wait for a page that takes nothing
)

// gate is a listener that lets in so many connections, and so many of one address.
type connLimiter struct {
	net.Listener
	newConns *addressLimiter

	mu       sync.Mutex
	open     int
	openFrom map[netip.Addr]int
}

func newConnLimiter(l net.Listener) *connLimiter {
	return &connLimiter{Listener: l, newConns: newAddressLimiter(newConnsPerS, newConnsAtOnce), openFrom: map[netip.Addr]int{}}
}

// Accept waits for a connection that may come in; others are closed.
func (g *connLimiter) Accept() (net.Conn, error) {
	for {
		c, err := g.Listener.Accept()
		if err != nil {
			return nil, err
		}
		from := addrOf(c.RemoteAddr()).Addr()
		if !g.newConns.take(from, time.Now()) || !g.enter(from) {
			c.Close()
			time.Sleep(refusalGap)
			continue
		}
		if t, ok := c.(*net.TCPConn); ok {
			t.SetWriteBuffer(socketBuffer) // where the system lets us; else it holds more
		}
		return &limitedConn{Conn: c, leave: sync.OnceFunc(func() { g.exit(from) })}, nil
	}
}

func (g *connLimiter) enter(from netip.Addr) bool {
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.open >= maxConns || g.openFrom[from] >= maxConnsPerAddress {
		return false
	}
	g.open++
	g.openFrom[from]++
	return true
}

func (g *connLimiter) exit(from netip.Addr) {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.open--
	if g.openFrom[from]--; g.openFrom[from] == 0 {
		delete(g.openFrom, from)
	}
}

// guest is a connection that makes room when it is closed.
type limitedConn struct {
	net.Conn
	leave func()
}

func (g *limitedConn) Close() error {
	g.leave()
	return g.Conn.Close()
}

// meter lets each address do something so often: rate times a second on average, burst times at once. It remembers
// a bounded number of addresses, and where there are more, the new ones wait.
type addressLimiter struct {
	rate, burst float64

	mu   sync.Mutex
	left map[netip.Addr]*allowance
}

type allowance struct {
	left float64
	at   time.Time
}

func newAddressLimiter(rate, burst float64) *addressLimiter {
	return &addressLimiter{rate: rate, burst: burst, left: map[netip.Addr]*allowance{}}
}

// prefix is the part of an address that one machine cannot choose for itself.
func prefix(a netip.Addr) netip.Addr {
	if p, err := a.Prefix(64); err == nil && a.Is6() {
		return p.Addr()
	}
	return a
}

func (m *addressLimiter) take(from netip.Addr, now time.Time) bool {
	m.mu.Lock()
	defer m.mu.Unlock()
	from = prefix(from)
	a := m.left[from]
	if a == nil {
		if len(m.left) >= maxAddresses {
			m.forget(now)
		}
		if len(m.left) >= maxAddresses {
			return false
		}
		a = &allowance{m.burst, now}
		m.left[from] = a
	}
	a.left = min(m.burst, a.left+m.rate*now.Sub(a.at).Seconds())
	a.at = now
	if a.left < 1 {
		return false
	}
	a.left--
	return true
}

// give gives one back that turned out to be in order.
func (m *addressLimiter) give(from netip.Addr) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if a := m.left[prefix(from)]; a != nil {
		a.left = min(m.burst, a.left+1)
	}
}

// forget drops those who have all their allowance again.
func (m *addressLimiter) forget(now time.Time) {
	for from, a := range m.left {
		if a.left+m.rate*now.Sub(a.at).Seconds() >= m.burst {
			delete(m.left, from)
		}
	}
}

// window admits so many a second, in any second, as a ring of when the last ones came.
type secondLimiter struct {
	mu   sync.Mutex
	came []time.Time
	next int
}

func newSecondLimiter(most int) *secondLimiter { return &secondLimiter{came: make([]time.Time, most)} }

func (w *secondLimiter) admit(now time.Time) bool {
	w.mu.Lock()
	defer w.mu.Unlock()
	if now.Sub(w.came[w.next]) < time.Second {
		return false
	}
	w.came[w.next] = now
	w.next = (w.next + 1) % len(w.came)
	return true
}
