package remote

import (
	"net/netip"
	"sync"
	"time"
)

const (
	triesPerS    = 0.1 // wrong keys from one address, on average
	triesAtOnce  = 5
	maxAddresses = 512 // addresses that are remembered at once
)

// addressLimiter lets each address do something rate times a second on average, and burst times at once. It remembers a
// bounded number of addresses. If there are more, new ones must wait.
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

// prefix is the part of an address that a machine cannot choose on its own.
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

// give gives one back for a try that was right.
func (m *addressLimiter) give(from netip.Addr) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if a := m.left[prefix(from)]; a != nil {
		a.left = min(m.burst, a.left+1)
	}
}

// forget drops the addresses that have their full allowance again.
func (m *addressLimiter) forget(now time.Time) {
	for from, a := range m.left {
		if a.left+m.rate*now.Sub(a.at).Seconds() >= m.burst {
			delete(m.left, from)
		}
	}
}

// secondLimiter bounds how many come in any second. It keeps the times of the last ones in a ring.
type secondLimiter struct {
	mu    sync.Mutex
	times []time.Time
	next  int
}

func newSecondLimiter(most int) *secondLimiter { return &secondLimiter{times: make([]time.Time, most)} }

func (w *secondLimiter) admit(now time.Time) bool {
	w.mu.Lock()
	defer w.mu.Unlock()
	if now.Sub(w.times[w.next]) < time.Second {
		return false
	}
	w.times[w.next] = now
	w.next = (w.next + 1) % len(w.times)
	return true
}
