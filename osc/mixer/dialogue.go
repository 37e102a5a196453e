package mixer

import (
	"math"
	"strings"
	"time"

	"backfield/cue"
	"backfield/osc"
	"backfield/osc/form"
)

// What a mixer says and is asked besides its parameters, and how far levels are trusted to go.

// Echo is a mixer that tells every value that it takes or that a hand moves, under the same address.
type Echo struct {
	Tolerance float64 // for Same
}

// Query is a mixer that can be asked for one value. It answers under the address that was asked about.
type Query struct{ form form.Form }

// Message asks for the value at an address.
func (q *Query) Message(address string) osc.Message {
	return q.form.Fill(form.Filling{Address: address})
}

// Match returns the address that a message asks for, if it is a query.
func (q *Query) Match(m osc.Message) (address string, ok bool) {
	x, ok := q.form.Match(m)
	return x.Address, ok
}

// Keepalive is a message that the mixer must hear every so often.
type Keepalive struct {
	Message osc.Message
	Every   time.Duration // 100 ms to 1 h
}

// Store is how a mixer keeps what it holds as a scene of its own, in one of its slots.
type Store struct {
	SceneMessage
	Settle       time.Duration // what the mixer needs after a store or recall
	First, Slots int           // the first slot that may be used, and how many there are from it on
}

// Scene is a message about a scene in a slot of the mixer: to store or to recall it.
type SceneMessage struct{ form form.Form }

// Message is the message for a slot. A name is sent where the mixer takes one, in printable ASCII.
func (s *SceneMessage) Message(slot int, name string) osc.Message {
	return s.form.Fill(form.Filling{Slot: slot, Name: name})
}

// SceneName is what the scene of a cue is called, where it is stored and where it is recalled.
func SceneName(id, name string) string { return strings.TrimSpace(id + " " + name) }

// Match returns the slot and the name of a message, if it is of this kind.
func (s *SceneMessage) Match(m osc.Message) (slot int, name string, ok bool) {
	x, ok := s.form.Match(m)
	return x.Slot, x.Name, ok
}

// Safety is how fast levels may rise. Ceilings are part of the level itself: see Mixer.CeilingDB.
type Safety struct {
	RiseDB float64       // a level that rises by more than this at once takes a ramp
	Ramp   time.Duration // how long that ramp takes
}

// Ask asks for the value at an address. Only a mixer with a Query can be asked.
func (d *Mixer) Ask(address string) osc.Message { return d.Query.Message(address) }

// CeilingDB is the highest level that a channel is ever sent, infinite where there is no end.
func (d *Mixer) CeilingDB(channel int) float64 {
	p := d.param(cue.ParamLevel)
	if p == nil {
		return math.Inf(1)
	}
	return p.top(channel)
}
