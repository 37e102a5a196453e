package work

import (
	"crypto/sha256"
	"reflect"
	"slices"
	"sync"

	"backfield/layout"
	"backfield/layout/sound"
	"backfield/layout/stands"
)

// Memo keeps the paths from one compile to the next, so that after a save only what changed is computed again: the same
// stretch over the field, through the same stacks to the same seats, by the same rules, has the same path. The zero Memo
// is ready to use, by one compile at a time.
type Memo struct {
	of        basis
	listeners *stands.Listeners

	paths remembered[string, *StretchPath]
	pans  remembered[layout.Point, int]

	heard HeardMemo
}

// HeardMemo keeps what is heard from one compile to the next, by a sum of all that it depends on. It is safe for concurrent
// use.
type HeardMemo struct {
	kept remembered[[sha256.Size]byte, any]
}

// Turn begins a compile: what the last one did not use is forgotten.
func (m *HeardMemo) Turn() {
	m.kept.mu.Lock()
	defer m.kept.mu.Unlock()
	m.kept.turn()
}

// Get returns what was computed for a sum, and computes it if it is not known.
func (m *HeardMemo) Get(of [sha256.Size]byte, compute func() any) any { return m.kept.get(of, compute) }

// Settle ends a compile: what it did not use is forgotten at once, so that two of them are never kept for long.
func (m *HeardMemo) Settle() {
	m.kept.mu.Lock()
	defer m.kept.mu.Unlock()
	m.kept.old = nil
}

// Heard is the memo of what is heard: nil for a compile whose caller keeps none.
func (s *CompileSetup) Heard() *HeardMemo {
	if !s.lasting {
		return nil
	}
	return &s.memo.heard
}

// basis is everything that all answers depend on. Anything else that a path needs must go into the basis or into its
// input, since these two are what the memo compares.
type basis struct {
	seats     []stands.Seat
	acoustics acoustics
	rules     PathRules
}

type acoustics struct {
	System    sound.System
	Reference layout.Point
}

// begin prepares for a compile. It forgets what the last compile did not use, and everything that the stacks, the seats
// or the rules have changed.
func (m *Memo) begin(of basis) *stands.Listeners {
	if m.listeners == nil || !slices.Equal(m.of.seats, of.seats) || !reflect.DeepEqual(m.of.acoustics, of.acoustics) {
		system := of.acoustics.System
		m.listeners = stands.New(of.seats, of.acoustics.Reference, &system, panSteps)
		m.paths.forget()
		m.pans.forget()
	}
	if m.of.rules != of.rules {
		m.paths.forget()
	}
	m.of = of
	m.paths.turn()
	m.pans.turn()
	return m.listeners
}

// remembered is a table of answers that forgets what a whole compile did not use. It is safe for concurrent use.
type remembered[K comparable, V any] struct {
	mu       sync.Mutex
	old, now map[K]V
}

func (r *remembered[K, V]) forget() { r.old, r.now = nil, nil }

func (r *remembered[K, V]) turn() { r.old, r.now = r.now, map[K]V{} }

// get returns the answer for a key, and computes it if it is not in the table.
func (r *remembered[K, V]) get(key K, compute func() V) V {
	r.mu.Lock()
	v, ok := r.now[key]
	if !ok {
		v, ok = r.old[key]
	}
	r.mu.Unlock()
	if !ok {
		v = compute()
	}
	r.mu.Lock()
	r.now[key] = v
	r.mu.Unlock()
	return v
}
