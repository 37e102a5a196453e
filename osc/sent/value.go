// Package sent keeps account of one value at a mixer: what it was sent, and whether the mixer has confirmed that. It does no
// I/O.
package sent

import (
	"math"
	"slices"
	"time"

	"backfield/osc"
)

// Value is what is known about one value at a mixer: what was sent, and whether the mixer has confirmed it. A feed
// keeps one for each address, and so does a walk that stores scenes.
type Value struct {
	Sent      osc.Arg
	Known     bool // whether Sent still holds
	Confirmed bool
	Before    osc.Arg // what was sent before that; the zero Arg for nothing
	SentAt    time.Time
	ChangedAt time.Time // when a different value was last sent

	past [4]osc.Arg // the last values before that, the newest first
}

// Holds reports whether the mixer was last sent an argument.
func (v *Value) Holds(arg osc.Arg) bool { return v.Known && v.Sent == arg }

// RecordSent notes that an argument is sent, for the first time or again.
func (v *Value) RecordSent(arg osc.Arg, now time.Time) {
	if v.Sent != arg && v.Sent != (osc.Arg{}) {
		copy(v.past[1:], v.past[:])
		v.past[0] = v.Sent
	}
	if !v.Holds(arg) {
		v.Before, v.ChangedAt, v.Confirmed = osc.Arg{}, now, false
		if v.Known {
			v.Before = v.Sent
		}
	}
	v.Sent, v.Known, v.SentAt = arg, true, now
}

// Forget takes what the mixer holds as unknown.
func (v *Value) Forget() { v.Known, v.Confirmed = false, false }

// Confirms reports whether a reply is the value sent, within a tolerance (see osc.Arg.Same). The step between two
// values may be smaller than the tolerance, so a reply that is nearer to the value before does not confirm.
func (v *Value) Confirms(said osc.Arg, tolerance float64) bool {
	return said.Same(v.Sent, tolerance) && !nearer(said, v.Before, v.Sent)
}

// WasSent reports whether a reply is one of the last values before the one sent, within a tolerance: it may be late.
func (v *Value) WasSent(said osc.Arg, tolerance float64) bool {
	return slices.ContainsFunc(v.past[:], func(p osc.Arg) bool { return p != osc.Arg{} && said.Same(p, tolerance) })
}

// ForgetBefore lets a reply confirm even if it is nearer to the value before: a mixer that keeps sending the same reply
// has coarser steps than its file says.
func (v *Value) ForgetBefore() { v.Before = osc.Arg{} }

// nearer reports whether a reply is nearer to the value before than to the last one sent.
func nearer(heard, before, last osc.Arg) bool {
	h, ok1 := heard.Number()
	b, ok2 := before.Number()
	l, ok3 := last.Number()
	return ok1 && ok2 && ok3 && math.Abs(h-b) < math.Abs(h-l)
}
