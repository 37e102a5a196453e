package compile

import (
	"encoding/binary"
	"fmt"
	"math"
	"sync"

	"backfield/layout"
	"backfield/layout/stand"
)

// Memo keeps what the stand solver worked out from one compile to the next, so that after a save only what
// changed is computed again: the same way over the field, through the same stacks to the same seats, by the same
// policy, is the same number. The zero Memo is ready. It may serve one compile at a time.
type Memo struct {
	of        string // everything that all entries depend on
	listeners *stand.Listeners

	mu         sync.Mutex
	old, now   map[string]solved // entries of the last compile, and those that this one has used
	oldP, nowP map[layout.Point]int
}

// solved is one answer: a range of delays in ms, or a fit.
type solved struct {
	lo, hi float64
	fit    stand.Fit
	ok     bool
}

// begin prepares for a compile: what was not used in the last one is forgotten, and everything when the stacks,
// the seats or the aim are others.
func (m *Memo) begin(of string, listeners func() *stand.Listeners) *stand.Listeners {
	if m.of != of {
		*m = Memo{of: of, listeners: listeners()}
	}
	m.old, m.now = m.now, map[string]solved{}
	m.oldP, m.nowP = m.nowP, map[layout.Point]int{}
	return m.listeners
}

// solve returns the remembered answer to a question, or asks.
func (m *Memo) solve(key string, ask func() solved) solved {
	m.mu.Lock()
	v, ok := m.now[key]
	if !ok {
		v, ok = m.old[key]
	}
	m.mu.Unlock()
	if !ok {
		v = ask()
	}
	m.mu.Lock()
	m.now[key] = v
	m.mu.Unlock()
	return v
}

// pan returns the remembered pan step for a place, or asks.
func (m *Memo) pan(at layout.Point, ask func() int) int {
	m.mu.Lock()
	k, ok := m.nowP[at]
	if !ok {
		k, ok = m.oldP[at]
	}
	m.mu.Unlock()
	if !ok {
		k = ask()
	}
	m.mu.Lock()
	m.nowP[at] = k
	m.mu.Unlock()
	return k
}

// question writes everything that an answer depends on besides what the whole memo does: what is asked, through
// which amplitudes, and over which way.
func question(what string, gains []float64, way []layout.Point, more ...float64) string {
	key := make([]byte, 0, len(what)+8*(len(gains)+len(more)+3*len(way))+1)
	key = append(append(key, what...), 0)
	number := func(v float64) { key = binary.LittleEndian.AppendUint64(key, math.Float64bits(v)) }
	for _, v := range more {
		number(v)
	}
	for _, v := range gains {
		number(v)
	}
	for _, p := range way {
		number(p.X)
		number(p.Y)
		number(p.Z)
	}
	return string(key)
}

// fingerprint is what all answers depend on.
func (e *engine) fingerprint(seats []stand.Seat, reference layout.Point) string {
	return fmt.Sprint(*e.system, reference, e.aim, e.steps, seats)
}
