package feed

import (
	"math"
	"time"

	"backfield/osc"
	"backfield/osc/mixer"
)

// Value is what is known about one value at a mixer: what was sent, and whether the mixer has confirmed it. A feed
// keeps one for each address, and so does a walk that stores scenes.
type Value struct {
	sent      osc.Arg
	known     bool // whether sent still holds
	confirmed bool
	before    osc.Arg // what was sent before that; the zero Arg for nothing
	sentAt    time.Time
	changedAt time.Time // when a different value was last sent
}

// Holds reports whether the mixer was last sent an argument.
func (v *Value) Holds(arg osc.Arg) bool { return v.known && v.sent == arg }

// RecordSent notes that an argument is sent, for the first time or again.
func (v *Value) RecordSent(arg osc.Arg, now time.Time) {
	if !v.Holds(arg) {
		v.before, v.changedAt, v.confirmed = osc.Arg{}, now, false
		if v.known {
			v.before = v.sent
		}
	}
	v.sent, v.known, v.sentAt = arg, true, now
}

// Forget takes what the mixer holds as unknown.
func (v *Value) Forget() { v.known, v.confirmed = false, false }

// Confirms reports whether a reply is the value sent, within a tolerance (see osc.Arg.Same). The step between two
// values may be smaller than the tolerance, so a reply that is nearer to the value before does not confirm.
func (v *Value) Confirms(said osc.Arg, tolerance float64) bool {
	return said.Same(v.sent, tolerance) && !nearer(said, v.before, v.sent)
}

// ForgetBefore lets a reply confirm even if it is nearer to the value before: a mixer that keeps sending the same reply
// has coarser steps than its file says.
func (v *Value) ForgetBefore() { v.before = osc.Arg{} }

// nearer reports whether a reply is nearer to the value before than to the last one sent.
func nearer(heard, before, last osc.Arg) bool {
	h, ok1 := heard.Number()
	b, ok2 := before.Number()
	l, ok3 := last.Number()
	return ok1 && ok2 && ok3 && math.Abs(h-b) < math.Abs(h-l)
}

// Tolerance is the tolerance of a mixer's echo, for osc.Arg.Same. without is for a mixer that has no echo.
func Tolerance(mixer *mixer.Mixer, without float64) float64 {
	if mixer.Echo != nil {
		return mixer.Echo.Tolerance
	}
	return without
}

// CanConfirm reports whether a mixer sends back what it holds.
func CanConfirm(mixer *mixer.Mixer) bool { return mixer.Echo != nil || mixer.Query != nil }
