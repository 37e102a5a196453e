package work

import (
	"encoding/binary"
	"math"
	"reflect"
	"slices"
	"sync"

	"backfield/layout"
	"backfield/layout/sound"
	"backfield/layout/stands"
)

// Memo keeps what the seat solver found from one compile to the next, so that after a save only what changed is
// computed again: the same path over the field, through the same stacks to the same seats, by the same policy, gives
// the same number. The zero Memo is ready to use, by one compile at a time.
type Memo struct {
	of        basis
	listeners *stands.Listeners

	delays remembered[string, delays]
	fits   remembered[string, *stands.Fit]
	pans   remembered[layout.Point, int]
}

// basis is everything that all answers depend on. Anything else that the solver needs must go into the basis or into
// its input, since these two are what the memo compares.
type basis struct {
	seats     []stands.Seat
	acoustics acoustics
}

type acoustics struct {
	System    sound.System
	Reference layout.Point
	Aim       stands.Aim
	PanSteps  int // from the middle to one side
}

func (b basis) equal(c basis) bool {
	return slices.Equal(b.seats, c.seats) && reflect.DeepEqual(b.acoustics, c.acoustics)
}

// delays is the range of the delays that a policy wants along a path, in ms; ok is false if no stack is heard.
type delays struct {
	loMS, hiMS float64
	ok         bool
}

// begin prepares for a compile. It forgets what the last compile did not use, and everything if the stacks, the seats
// or the aim have changed.
func (m *Memo) begin(of basis) *stands.Listeners {
	if m.listeners == nil || !m.of.equal(of) {
		system := of.acoustics.System
		m.of, m.listeners = of, stands.New(of.seats, of.acoustics.Reference, &system, of.acoustics.PanSteps)
		m.delays.forget()
		m.fits.forget()
		m.pans.forget()
	}
	m.delays.turn()
	m.fits.turn()
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

// solverInput is everything that an answer depends on other than the basis: the policy, the amplitudes with which the
// stacks carry the mic, the mic's path, and for a fit the delay that is sent.
type solverInput struct {
	Policy  *stands.Policy // nil for a fit
	Gains   []float64
	Path    []layout.Point
	DelayMS float64
	LaterS  float64 // how much longer the sound takes to the loudspeakers than a worn mic's
}

// key is every field of the input as a string of bytes.
func (q solverInput) key() string {
	name := ""
	if q.Policy != nil {
		name = q.Policy.Name
	}
	key := make([]byte, 0, len(name)+8*(len(q.Gains)+3*len(q.Path)+3)+1)
	key = append(append(key, name...), 0)
	key = binary.LittleEndian.AppendUint64(key, uint64(len(q.Gains)))
	number := func(v float64) { key = binary.LittleEndian.AppendUint64(key, math.Float64bits(v)) }
	number(q.DelayMS)
	number(q.LaterS)
	for _, v := range q.Gains {
		number(v)
	}
	for _, p := range q.Path {
		number(p.X)
		number(p.Y)
		number(p.Z)
	}
	return string(key)
}
