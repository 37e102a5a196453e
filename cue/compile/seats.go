package compile

import (
	"backfield/layout"
	"backfield/layout/stand"
)

// Lateness is how far the loudspeakers are behind a mic's own sound at each of the rig's seats, in milliseconds and
// in the order of Rig.Seats, when its sound is made at a place and goes out as a working has it. Below 0 they are
// ahead; a seat that no stack reaches has +Inf.
func (r *Result) Lateness(w *Working, at layout.Point) []float64 {
	l := stand.New(r.Rig.Seats(), r.Rig.Reference, r.System(), 0)
	late := make([]float64, l.Len())
	l.Needs(l.Through(w.Gains), at, late)
	for i, need := range late {
		late[i] = w.DelayMS - 1000*need
	}
	return late
}
