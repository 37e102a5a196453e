package standby

import (
	"slices"
	"time"

	"backfield/cue"
	"backfield/osc"
	"backfield/osc/mixer"
)

// Ear tells what other programs send to a mixer from what this one sends. A mixer that echoes says each value that it is
// sent to everybody once; a value that it says more often than this laptop sent or asked for was sent by another, or
// was moved at the mixer.
type Ear struct {
	mixer  *mixer.Mixer
	first  bool // laptop 1's
	rows   map[string]*heardRow
	order  []string // addresses as they were first sent, for beacons
	cursor int
	deaf   time.Time // nothing is judged before: the mixer has recalled a scene
	sentAt time.Time // the last message; a laptop that was stopped hears afterwards what came meanwhile
}

type heardRow struct {
	sentAt time.Time   // the last message about it
	owed   int         // echoes and answers that may still come of those
	set    osc.Message // the value that was sent last; none where the mixer may hold another
	setAt  time.Time
	said   [4]osc.Arg // by the mixer, the last first: a fade has several under way
	own    []ownValue // what was sent within ownFor, the oldest first
	echoed bool       // the last is the value that was set
}

// ownValue is a value that this laptop has sent.
type ownValue struct {
	arg osc.Arg
	at  time.Time
}

// What a slow network delivers late, twice or out of order is still this laptop's: a value that it has sent within this
// time shows no other program that would set anything else.
const ownFor = 3 * time.Second

// How long an echo may be under way. What is later is another's.
const echoWait = 2 * time.Second

// A network may deliver what the mixer says twice: the same value again, this soon after it was sent or asked for, is the
// same message.
const twiceWithin = 200 * time.Millisecond

// beaconRest is how long a value is at rest before it is good for a beacon. It is so short that a laptop that has just
// taken over, and has sent everything, is heard by one that was stopped until then: that one asks and listens for
// ackWait and listenFor, and has to hear a beacon before it goes on, even if one is lost.
const beaconRest = (ackWait + listenFor) / 2

// NewEar makes an ear of the first laptop or of the second that has heard nothing.
func NewEar(d *mixer.Mixer, first bool) *Ear {
	return &Ear{mixer: d, first: first, rows: map[string]*heardRow{}}
}

// Sent notes a message that goes to the mixer.
func (e *Ear) Sent(m osc.Message, now time.Time) {
	about, asked := m.Address, false
	if e.mixer.Query != nil {
		if address, ok := e.mixer.Query.Match(m); ok {
			about, asked = address, true
		}
	}
	if e.mixer.Recall != nil {
		if _, _, ok := e.mixer.Recall.Match(m); ok {
			e.recalled(now)
		}
	}
	r := e.rows[about]
	if r == nil {
		r = &heardRow{}
		e.rows[about] = r
		e.order = append(e.order, about)
	}
	if now.Sub(r.sentAt) > echoWait {
		r.owed = 0
	}
	r.owed++
	r.sentAt, e.sentAt = now, now
	if _, isValue := e.mixer.Find(about); isValue && !asked { // extra messages of a cue are never repeated
		r.set, r.setAt, r.echoed = m, now, false
		r.own = slices.DeleteFunc(r.own, func(v ownValue) bool { return v.arg == m.Args[0] || now.Sub(v.at) > ownFor })
		r.own = append(r.own, ownValue{m.Args[0], now})
	}
}

// recalled notes that the mixer fetches a scene: it may say any of its values, and holds none that was sent before.
func (e *Ear) recalled(now time.Time) {
	e.deaf = now.Add(echoWait)
	for _, r := range e.rows {
		r.set, r.echoed = osc.Message{}, false
	}
}

// Heard reports whether a message from the mixer is another program's doing: the mixer says it more often than this laptop
// has sent or asked for it. own reports that it may still be what this laptop sent or was told, late or once more.
func (e *Ear) Heard(m osc.Message, now time.Time) (foreign, own bool) {
	r := e.rows[m.Address]
	if r == nil {
		return !now.Before(e.deaf), false
	}
	said := osc.Arg{}
	if len(m.Args) == 1 {
		said = m.Args[0]
	}
	r.echoed = r.set.Address != "" && said.Same(r.set.Args[0], e.mixer.EchoTolerance(0))
	again := (r.echoed || slices.Contains(r.said[:], said)) && now.Sub(r.sentAt) <= twiceWithin
	own = r.isOwn(said, e.mixer.EchoTolerance(0), e.sentAt)
	copy(r.said[1:], r.said[:])
	if r.said[0] = said; again {
		r.owed = max(r.owed-1, 0)
		return false, true
	}
	if r.owed == 0 || now.Sub(r.sentAt) > echoWait {
		return !now.Before(e.deaf), own
	}
	r.owed--
	return false, true
}

// isOwn reports whether a value is one that this laptop sent in the time before its last message, or was told by the mixer.
func (r *heardRow) isOwn(said osc.Arg, tolerance float64, now time.Time) bool {
	if now.Sub(r.sentAt) <= ownFor && slices.Contains(r.said[:], said) {
		return true
	}
	return slices.ContainsFunc(r.own, func(v ownValue) bool {
		return now.Sub(v.at) <= ownFor && said.Same(v.arg, tolerance)
	})
}

// Beacon is the next value that the mixer holds as this laptop sent it and that is at rest: to send it again changes
// nothing, and the mixer's echo says that this laptop is at work. The two laptops take turns by address, where there are
// enough: the other's beacons are then none that this one has just sent. ok is false for none.
func (e *Ear) Beacon(now time.Time) (m osc.Message, ok bool) {
	for range e.order {
		r := e.rows[e.order[e.cursor%len(e.order)]]
		e.cursor++
		switch {
		case !r.echoed || now.Sub(r.setAt) < beaconRest:
		case isFirsts(r.set.Address) == e.first:
			return r.set, true
		case !ok:
			m, ok = r.set, true
		}
	}
	return m, ok
}

// isFirsts reports whether an address is for the first laptop's beacons: every other one, of those that are numbered.
func isFirsts(address string) bool {
	sum := byte(0)
	for i := range len(address) {
		sum += address[i]
	}
	return sum%2 == 1
}

// Probe lists what makes the mixer say something to this laptop, and tell it what others send, in a cue of the show. It
// sets nothing where the mixer can be asked; elsewhere it sets one value: one that is the same in all cues, or else the
// least that is heard of.
func (e *Ear) Probe(cues []cue.Snapshot, in int) (list []osc.Message) {
	for _, k := range e.mixer.Keepalives {
		list = append(list, k.Message)
	}
	settings := e.mixer.Settings(&cues[in])
	if len(settings) == 0 {
		return list
	}
	probe := leastHeard(settings).Message
	if steady := e.steady(cues, settings); len(steady) > 0 {
		probe = leastHeard(steady).Message
	}
	if e.mixer.Query != nil {
		return append(list, e.mixer.Ask(probe.Address))
	}
	return append(list, probe)
}

// steady is the settings that no cue changes.
func (e *Ear) steady(cues []cue.Snapshot, settings []mixer.ControlMessage) []mixer.ControlMessage {
	same := map[mixer.Control]osc.Arg{}
	for _, x := range settings {
		same[x.Control] = x.Message.Args[0]
	}
	for i := range cues {
		e.mixer.Each(&cues[i], func(place mixer.Control, arg osc.Arg) {
			if same[place] != arg {
				delete(same, place)
			}
		})
	}
	return slices.DeleteFunc(slices.Clone(settings), func(x mixer.ControlMessage) bool {
		_, is := same[x.Control]
		return !is
	})
}

// leastHeard is the setting that is heard least if it is wrong for a moment.
func leastHeard(settings []mixer.ControlMessage) mixer.ControlMessage {
	for _, param := range []string{cue.ParamDelay, cue.ParamPan} {
		for _, x := range settings {
			if x.Param == param {
				return x
			}
		}
	}
	return settings[len(settings)-1]
}

// Forget is for a mixer whose link was opened again: what it says is owed to nobody.
func (e *Ear) Forget() { *e = *NewEar(e.mixer, e.first) }
