package remote

import (
	"net"
	"net/netip"
	"sync"
	"time"
)

// Connections are few and cheap to refuse: a crowd at the port may keep new pages out, but takes no time from the run.
const (
	mostGuests   = 96 // connections in all
	mostOfOne    = 24 // of one address
	comesPerS    = 10 // new connections of one address, on average
	comesAtOnce  = 40
	triesPerS    = 0.1 // wrong keys of one address, on average
	triesAtOnce  = 5
	mostMetered  = 512                  // addresses that are remembered at once
	betweenNoes  = 2 * time.Millisecond // from one connection that is refused to the next that is looked at
	socketBuffer = 64 << 10             // bytes that may wait for a page that takes nothing
)

// gate is a listener that lets in so many connections, and so many of one address.
type gate struct {
	net.Listener
	comes *meter

	mu  sync.Mutex
	all int
	by  map[netip.Addr]int
}

func newGate(l net.Listener) *gate {
	return &gate{Listener: l, comes: newMeter(comesPerS, comesAtOnce), by: map[netip.Addr]int{}}
}

// Accept waits for a connection that may come in; others are closed.
func (g *gate) Accept() (net.Conn, error) {
	for {
		c, err := g.Listener.Accept()
		if err != nil {
			return nil, err
		}
		from := addrOf(c.RemoteAddr()).Addr()
		if !g.comes.take(from, time.Now()) || !g.enter(from) {
			c.Close()
			time.Sleep(betweenNoes)
			continue
		}
		if t, ok := c.(*net.TCPConn); ok {
			t.SetWriteBuffer(socketBuffer) // where the system lets us; else it holds more
		}
		return &guest{Conn: c, leave: sync.OnceFunc(func() { g.exit(from) })}, nil
	}
}

func (g *gate) enter(from netip.Addr) bool {
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.all >= mostGuests || g.by[from] >= mostOfOne {
		return false
	}
	g.all++
	g.by[from]++
	return true
}

func (g *gate) exit(from netip.Addr) {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.all--
	if g.by[from]--; g.by[from] == 0 {
		delete(g.by, from)
	}
}

// guest is a connection that makes room when it is closed.
type guest struct {
	net.Conn
	leave func()
}

func (g *guest) Close() error {
	g.leave()
	return g.Conn.Close()
}

// meter lets each address do something so often: rate times a second on average, burst times at once. It remembers
// a bounded number of addresses, and where there are more, the new ones wait.
type meter struct {
	rate, burst float64

	mu   sync.Mutex
	left map[netip.Addr]*allowance
}

type allowance struct {
	left float64
	at   time.Time
}

func newMeter(rate, burst float64) *meter {
	return &meter{rate: rate, burst: burst, left: map[netip.Addr]*allowance{}}
}

// prefix is the part of an address that one machine cannot choose for itself.
func prefix(a netip.Addr) netip.Addr {
	if p, err := a.Prefix(64); err == nil && a.Is6() {
		return p.Addr()
	}
	return a
}

func (m *meter) take(from netip.Addr, now time.Time) bool {
	m.mu.Lock()
	defer m.mu.Unlock()
	from = prefix(from)
	a := m.left[from]
	if a == nil {
		if len(m.left) >= mostMetered {
			m.forget(now)
		}
		if len(m.left) >= mostMetered {
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
func (m *meter) give(from netip.Addr) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if a := m.left[prefix(from)]; a != nil {
		a.left = min(m.burst, a.left+1)
	}
}

// forget drops those who have all their allowance again.
func (m *meter) forget(now time.Time) {
	for from, a := range m.left {
		if a.left+m.rate*now.Sub(a.at).Seconds() >= m.burst {
			delete(m.left, from)
		}
	}
}

// window admits so many a second, in any second, as a ring of when the last ones came.
type window struct {
	mu   sync.Mutex
	came []time.Time
	next int
}

func newWindow(most int) *window { return &window{came: make([]time.Time, most)} }

func (w *window) admit(now time.Time) bool {
	w.mu.Lock()
	defer w.mu.Unlock()
	if now.Sub(w.came[w.next]) < time.Second {
		return false
	}
	w.came[w.next] = now
	w.next = (w.next + 1) % len(w.came)
	return true
}
