package live

import (
	"time"

	"backfield/osc/follow"
)

// TimeInlet passes on the time of another machine to a run that follows it. Its methods may be called from any
// goroutine.
type TimeInlet struct{ d *Driver }

// Follow has the run follow the time of another machine. It must be called before Run.
func (s *Driver) Follow(f *follow.TimeFollower) TimeInlet {
	s.outer = f
	return TimeInlet{s}
}

// Hear takes what the other machine says the time is.
func (o TimeInlet) Hear(outer float64, at time.Time) {
	o.d.withOuter(func(f *follow.TimeFollower) { f.Hear(outer, at) })
}

// Locate takes a time that stands.
func (o TimeInlet) Locate(outer float64, at time.Time) {
	o.d.withOuter(func(f *follow.TimeFollower) { f.Locate(outer, at) })
}

// Backward notes that the time runs backward.
func (o TimeInlet) Backward(at time.Time) {
	o.d.withOuter(func(f *follow.TimeFollower) { f.Backward(at) })
}

// withOuter has the follower hear something. The run is turned only if it must notice at once: a hundred words a second
// come, and it looks at the time on its own.
func (s *Driver) withOuter(do func(*follow.TimeFollower)) {
	s.mu.Lock()
	defer s.mu.Unlock()
	do(s.outer)
}
