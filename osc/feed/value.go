package feed

import (
	"math"
	"time"

	"backfield/osc"
	"backfield/osc/mixer"
)

// Value is what is known of one value at a mixer: what it was sent, and whether it has confirmed that. Whoever says
// something until it is confirmed keeps one for each address: a feed, and a walk that stores scenes.
type Value struct {
	sent      osc.Arg
	known     bool // whether sent is what the mixer was last sent
	confirmed bool
	before    osc.Arg // what it was sent before sent, the zero Arg for nothing
	sentAt    time.Time
	changedAt time.Time // when it was last sent something else than before
}

// Holds reports whether the mixer was last sent an argument.
func (v *Value) Holds(arg osc.Arg) bool { return v.known && v.sent == arg }

// Say notes that the mixer is sent an argument, once or again.
func (v *Value) RecordSent(arg osc.Arg, now time.Time) {
	if !v.Holds(arg) {
		v.before, v.changedAt, v.confirmed = osc.Arg{}, now, false
		if v.known {
			v.before = v.sent
		}
	}
	v.sent, v.known, v.sentAt = arg, true, now
}

// Forget takes for unknown what the mixer holds.
func (v *Value) Forget() { v.known, v.confirmed = false, false }

// Confirms reports whether what the mixer says is what it was sent, within a tolerance (see osc.Arg.Same). The steps
// between two values may be smaller than the tolerance: what is nearer to what it was sent before confirms nothing.
func (v *Value) Confirms(said osc.Arg, tolerance float64) bool {
	return said.Same(v.sent, tolerance) && !nearer(said, v.before, v.sent)
}

// ForgetBefore ends the mistrust of what is near to the value before: a mixer that says the same again and again has
// coarser steps than its file.
func (v *Value) ForgetBefore() { v.before = osc.Arg{} }

// nearer reports whether what is heard is nearer to what the mixer was sent before than to what it was sent last.
func nearer(heard, before, last osc.Arg) bool {
	h, ok1 := heard.Number()
	b, ok2 := before.Number()
	l, ok3 := last.Number()
	return ok1 && ok2 && ok3 && math.Abs(h-b) < math.Abs(h-l)
}

// Tolerance is how far what a mixer says may be from what it was sent, for mixer.Same: that of its echo. without is
// for one that only answers.
func Tolerance(mixer *mixer.Mixer, without float64) float64 {
	if mixer.Echo != nil {
		return mixer.Echo.Tolerance
	}
	return without
}

// Answers reports whether a mixer says what it holds.
func CanConfirm(mixer *mixer.Mixer) bool { return mixer.Echo != nil || mixer.Query != nil }
