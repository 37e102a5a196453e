package compile

import (
	"encoding/binary"
	"math"
	"slices"
	"sync"

	"backfield/layout"
	"backfield/layout/sound"
	"backfield/layout/stand"
)

// Memo keeps what the stand solver worked out from one compile to the next, so that after a save only what
// changed is computed again: the same way over the field, through the same stacks to the same seats, by the same
// policy, is the same number. The zero Memo is ready. It may serve one compile at a time.
type Memo struct {
	of        basis
	listeners *stand.Listeners

	answers remembered[string, solved]
	pans    remembered[layout.Point, int]
}

// basis is everything that all answers depend on.
type basis struct {
	system    *sound.System
	seats     []stand.Seat
	reference layout.Point
	aim       stand.Aim
	steps     int
}

func (b basis) equal(c basis) bool {
	if b.system == nil || c.system == nil || b.reference != c.reference || b.aim != c.aim || b.steps != c.steps {
		return false
	}
	s, t := *b.system, *c.system
	alike := slices.Equal(s.Stacks, t.Stacks) && s.LatencyS == t.LatencyS && s.SpeedMPS == t.SpeedMPS && s.Law == t.Law
	return alike && slices.Equal(b.seats, c.seats)
}

// solved is one answer: a range of delays in ms, or a fit.
type solved struct {
	lo, hi float64
	fit    stand.Fit
	ok     bool
}

// begin prepares for a compile: what was not used in the last one is forgotten, and everything when the stacks,
// the seats or the aim are others.
func (m *Memo) begin(of basis) *stand.Listeners {
	if !m.of.equal(of) {
		m.of, m.listeners = of, stand.New(of.seats, of.reference, of.system, of.steps)
		m.answers.forget()
		m.pans.forget()
	}
	m.answers.turn()
	m.pans.turn()
	return m.listeners
}

// remembered is a table of answers that forgets what a whole compile had no use for. It is safe for concurrent
// use.
type remembered[K comparable, V any] struct {
	mu       sync.Mutex
	old, now map[K]V
}

func (r *remembered[K, V]) forget() { r.old, r.now = nil, nil }

func (r *remembered[K, V]) turn() { r.old, r.now = r.now, map[K]V{} }

// get returns the remembered answer to a question, or asks.
func (r *remembered[K, V]) get(key K, ask func() V) V {
	r.mu.Lock()
	v, ok := r.now[key]
	if !ok {
		v, ok = r.old[key]
	}
	r.mu.Unlock()
	if !ok {
		v = ask()
	}
	r.mu.Lock()
	r.now[key] = v
	r.mu.Unlock()
	return v
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
