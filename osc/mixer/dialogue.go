package mixer

import (
	"math"
	"strings"
	"time"

	"backfield/cue"
	"backfield/osc"
	"backfield/osc/form"
)

// Echo is for a mixer that sends back every value that it takes or that someone moves, under the same address.
type Echo struct {
	Tolerance float64 // for osc.Arg.Same
}

// EchoDelay is how long after the last change an echo is about that change: a sooner one may be about an earlier value. A
// packet that takes longer than half of that counts as lost.
const EchoDelay = 300 * time.Millisecond

// EchoTolerance is the tolerance of the mixer's echo, for osc.Arg.Same. without is for a mixer that has no echo.
func (d *Mixer) EchoTolerance(without float64) float64 {
	if d.Echo != nil {
		return d.Echo.Tolerance
	}
	return without
}

// CanConfirm reports whether the mixer sends back what it holds.
func (d *Mixer) CanConfirm() bool { return d.Echo != nil || d.Query != nil }

// Query is for a mixer that can be asked for one value. It replies under the address of that value.
type Query struct{ form form.Form }

// Message is the query for the value at an address.
func (q *Query) Message(address string) osc.Message {
	return q.form.Fill(form.Filling{Address: address})
}

// Match returns the address that a query asks for; ok is false if the message is not a query.
func (q *Query) Match(m osc.Message) (address string, ok bool) {
	x, ok := q.form.Match(m)
	return x.Address, ok
}

// Keepalive is a message that the mixer needs again and again.
type Keepalive struct {
	Message osc.Message
	Every   time.Duration // 100 ms to 1 h
}

// Store is how a mixer stores its values as a scene in one of its slots.
type Store struct {
	SceneMessage
	Settle       time.Duration // how long the mixer needs after a store or recall
	First, Slots int           // the first slot that may be used, and how many from there on
}

// SceneMessage is the message that stores or recalls a scene in a slot.
type SceneMessage struct{ form form.Form }

// Message is the message for a slot. The name is sent if mixer.toml has a place for it, in printable ASCII.
func (s *SceneMessage) Message(slot int, name string) osc.Message {
	return s.form.Fill(form.Filling{Slot: slot, Name: name})
}

// SceneName is the name of a cue's scene, to store and to recall it.
func SceneName(id, name string) string { return strings.TrimSpace(id + " " + name) }

// Match returns the slot and the name of such a message; ok is false for any other message.
func (s *SceneMessage) Match(m osc.Message) (slot int, name string, ok bool) {
	x, ok := s.form.Match(m)
	return x.Slot, x.Name, ok
}

// Safety limits how fast levels may rise. For the ceilings see Mixer.CeilingDB.
type Safety struct {
	RiseDB float64       // a level that rises by more than this at once takes a ramp
	Ramp   time.Duration // how long that ramp takes
}

// Ask is the query for the value at an address. The mixer must have a Query.
func (d *Mixer) Ask(address string) osc.Message { return d.Query.Message(address) }

// CeilingDB is the highest level that a channel is ever sent, in dB, or infinite.
func (d *Mixer) CeilingDB(channel int) float64 {
	p := d.param(cue.ParamLevel)
	if p == nil {
		return math.Inf(1)
	}
	return p.top(channel)
}
