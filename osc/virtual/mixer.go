// Package virtual is the simulated mixer: packets in, packets out, and a state to look at. It behaves as mixer.toml
// describes (echoes, replies, scenes), and has the faults of real ones: it reboots, someone moves a fader, the network
// loses packets. It opens no socket and reads no clock, and its caller chooses the seed, so that the same run always
// ends the same way. It does not model how a mixer sounds.
package virtual

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"time"

	"backfield/cue"
	"backfield/osc"
	"backfield/osc/mixer"
	"backfield/osc/wire"
)

// Limits, so that no sender can make a Device grow or stall. They are far above any real mixer.
const (
	maxHeld      = 100_000   // addresses with a value
	maxStored    = 1_000_000 // values in all scenes together
	maxUnknown   = 100       // unknown addresses that are named
	maxSenders   = 16        // senders that get echoes
	maxPerSecond = 50_000    // messages it takes
	maxNameBytes = 100       // bytes kept of a name or of an unknown address
)

// echoFor is how long after its last packet a sender gets echoes.
const echoFor = 30 * time.Second

// Device is one simulated mixer. One goroutine at a time may use it. Times passed in must not go backwards.
type Device struct {
	WakeOpen bool              // it starts with every channel open at 0 dB (or at its ceiling) instead of closed
	Boot     time.Duration     // how long it takes nothing after a reboot
	Changed  func(osc.Message) // called with every value that is taken, moved or recalled; may be nil

	mixer   *mixer.Mixer
	now     heldValues
	scenes  map[int]storedScene
	stored  int // values in all scenes
	senders map[string]time.Time
	unknown map[string]Unknown
	counts  MessageCounts

	awake   time.Time // nothing is taken before this
	settled time.Time // after the last store or recall
	second  time.Time // when the second that spent counts started
	spent   int       // messages taken in it
}

// heldValues is all values: those held, and for every other address the value at the start.
type heldValues struct {
	open bool // WakeOpen at the start
	held map[string]osc.Arg
}

type storedScene struct {
	name string
	heldValues
}

// Reply is a packet that the mixer sends.
type Reply struct {
	To     string
	Packet []byte
}

// MessageCounts is what a simulated mixer has seen.
type MessageCounts struct {
	Packets    int `json:"packets"`    // packets that came
	Asleep     int `json:"asleep"`     // packets that came while it booted, lost
	Malformed  int `json:"malformed"`  // packets that are not OSC
	Messages   int `json:"messages"`   // messages in the other packets
	Flooded    int `json:"flooded"`    // messages over maxPerSecond, lost
	Taken      int `json:"taken"`      // values kept
	Refused    int `json:"refused"`    // values that the parameter cannot have, or several arguments
	Unknown    int `json:"unknown"`    // messages and queries for an address that it does not have
	Full       int `json:"full"`       // values and scenes without room
	Queries    int `json:"queries"`    // queries with a reply
	Keepalives int `json:"keepalives"` // keepalives that came
	Stores     int `json:"stores"`
	Recalls    int `json:"recalls"`
	NoSlot     int `json:"no_slot"`   // stores to a slot that does not exist, recalls of one that is empty
	Unsettled  int `json:"unsettled"` // messages that came too soon after a store or recall
	Echoes     int `json:"echoes"`    // echoes sent
	Moves      int `json:"moves"`     // values moved at the mixer
	Reboots    int `json:"reboots"`
}

// New returns a simulated mixer that behaves as d describes, with every channel closed.
func New(d *mixer.Mixer) *Device {
	return &Device{mixer: d, now: heldValues{held: map[string]osc.Arg{}}, scenes: map[int]storedScene{},
		senders: map[string]time.Time{}, unknown: map[string]Unknown{}}
}

// Reboot turns it off and on: it goes back to the values of the start and forgets its senders. Scenes stay.
func (m *Device) Reboot(now time.Time) {
	m.counts.Reboots++
	m.Wake()
	clear(m.senders)
	m.awake = now.Add(m.Boot)
}

// Wake sets every value to its value at the start.
func (m *Device) Wake() { m.now = heldValues{m.WakeOpen, map[string]osc.Arg{}} }

// Handle takes a packet from a sender and returns what the mixer sends, in order.
func (m *Device) Handle(now time.Time, from string, packet []byte) []Reply {
	m.counts.Packets++
	if now.Before(m.awake) {
		m.counts.Asleep++
		return nil
	}
	list, err := wire.Decode(packet)
	if err != nil {
		m.counts.Malformed++
		return nil
	}
	m.noteSender(now, from)
	var out []Reply
	for _, x := range list {
		m.counts.Messages++
		if now.Sub(m.second) >= time.Second {
			m.second, m.spent = now, 0
		}
		if m.spent++; m.spent > maxPerSecond {
			m.counts.Flooded++
			continue
		}
		if now.Before(m.settled) {
			m.counts.Unsettled++
		}
		out = m.message(out, now, from, x)
	}
	return out
}

// noteSender records a sender. When there are too many, messages of a new one are taken, but it gets no echoes.
func (m *Device) noteSender(now time.Time, from string) {
	if _, known := m.senders[from]; !known && len(m.senders) == maxSenders {
		maps.DeleteFunc(m.senders, func(_ string, last time.Time) bool { return now.Sub(last) > m.rememberFor() })
		if len(m.senders) == maxSenders {
			return
		}
	}
	m.senders[from] = now
}

// rememberFor is how long a sender is remembered: at least until its next keepalive is late.
func (m *Device) rememberFor() time.Duration {
	long := echoFor
	for _, k := range m.mixer.Keepalives {
		long = max(long, 2*k.Every)
	}
	return long
}

func (m *Device) message(out []Reply, now time.Time, from string, x osc.Message) []Reply {
	d := m.mixer
	if slices.ContainsFunc(d.Keepalives, func(k mixer.Keepalive) bool { return x.Same(k.Message, 0) }) {
		m.counts.Keepalives++
		return out
	}
	if d.Store != nil {
		if slot, name, ok := d.Store.Match(x); ok {
			m.store(now, slot, name)
			return out
		}
	}
	if d.Recall != nil {
		if slot, _, ok := d.Recall.Match(x); ok {
			return m.recall(out, now, slot)
		}
	}
	if d.Query != nil {
		if address, ok := d.Query.Match(x); ok {
			place, ok := d.Find(address)
			if !ok {
				m.countUnknown(osc.Message{Address: address})
				return out
			}
			m.counts.Queries++
			answer := osc.Message{Address: address, Args: []osc.Arg{m.now.value(d, address, place)}}
			return append(out, Reply{from, wire.Encode(answer)})
		}
	}
	place, ok := d.Find(x.Address)
	switch {
	case !ok:
		m.countUnknown(x)
	case len(x.Args) != 1 || !m.isValid(place, x.Args[0]):
		m.counts.Refused++
	case m.full(x.Address):
		m.counts.Full++
	default:
		m.counts.Taken++
		return m.set(out, now, x)
	}
	return out
}

// isValid reports whether the parameter can have this argument.
func (m *Device) isValid(place mixer.Control, arg osc.Arg) bool {
	_, ok := m.mixer.Value(place.Param, arg)
	v, _ := arg.Number()
	return ok && !math.IsInf(v, 0)
}

func (m *Device) full(address string) bool {
	_, has := m.now.held[address]
	return !has && len(m.now.held) == maxHeld
}

// countUnknown counts a message or query for an address that the mixer does not have.
func (m *Device) countUnknown(x osc.Message) {
	m.counts.Unknown++
	address := short(x.Address)
	if u, known := m.unknown[address]; known || len(m.unknown) < maxUnknown {
		last := address
		if x.Size() <= 4*maxNameBytes { // a flood of long messages is not printed
			last = short(x.String())
		}
		m.unknown[address] = Unknown{address, u.Count + 1, last}
	}
}

func short(text string) string { return text[:min(len(text), maxNameBytes)] }

// set keeps a value, and returns its echoes.
func (m *Device) set(out []Reply, now time.Time, x osc.Message) []Reply {
	m.now.held[x.Address] = x.Args[0]
	if m.Changed != nil {
		m.Changed(x)
	}
	if m.mixer.Echo == nil {
		return out
	}
	packet := wire.Encode(x)
	for _, to := range slices.Sorted(maps.Keys(m.senders)) {
		if now.Sub(m.senders[to]) <= m.rememberFor() {
			m.counts.Echoes++
			out = append(out, Reply{to, packet})
		}
	}
	return out
}

// Move changes a value as someone at the mixer would, by a fader or a key. The argument is the OSC value. It returns
// the echoes.
func (m *Device) Move(now time.Time, address string, arg osc.Arg) ([]Reply, error) {
	place, ok := m.mixer.Find(address)
	switch {
	case !ok:
		return nil, fmt.Errorf("this mixer has no %s", address)
	case !m.isValid(place, arg):
		return nil, fmt.Errorf("%v is not a value of the %s at %s", arg, place.Param, address)
	case m.full(address):
		return nil, fmt.Errorf("no room for a value at %s", address)
	}
	m.counts.Moves++
	return m.set(nil, now, osc.Message{Address: address, Args: []osc.Arg{arg}}), nil
}

// Value is what the mixer holds at an address; ok is false for an address that it does not have.
func (m *Device) Value(address string) (arg osc.Arg, ok bool) {
	place, ok := m.mixer.Find(address)
	if !ok {
		return osc.Arg{}, false
	}
	return m.now.value(m.mixer, address, place), true
}

// value is the value of a control.
func (s heldValues) value(d *mixer.Mixer, address string, place mixer.Control) osc.Arg {
	if arg, ok := s.held[address]; ok {
		return arg
	}
	arg, _ := d.Arg(place, s.startValue(d, place.Param))
	return arg
}

// startValue is what a parameter has at the start: pan in the center, no delay, channels closed, or open at 0 dB.
func (s heldValues) startValue(d *mixer.Mixer, param string) float64 {
	switch param {
	case cue.ParamMute:
		if s.open {
			return 0
		}
		return 1
	case cue.ParamLevel, cue.ParamSend:
		if s.open {
			return 0
		}
		return math.Inf(-1)
	}
	return d.Default(param)
}

func (m *Device) store(now time.Time, slot int, name string) {
	s := m.mixer.Store
	if slot < s.First || slot >= s.First+s.Slots {
		m.counts.NoSlot++
		return
	}
	stored := m.stored - len(m.scenes[slot].held) + len(m.now.held)
	if stored > maxStored {
		m.counts.Full++
		return
	}
	m.counts.Stores++
	m.stored = stored
	m.scenes[slot] = storedScene{short(name), heldValues{m.now.open, maps.Clone(m.now.held)}}
	m.settled = now.Add(s.Settle)
}

func (m *Device) recall(out []Reply, now time.Time, slot int) []Reply {
	s, ok := m.scenes[slot]
	if !ok {
		m.counts.NoSlot++
		return out
	}
	m.counts.Recalls++
	before := m.now
	m.now = heldValues{s.open, maps.Clone(s.held)}
	m.settled = now.Add(m.mixer.Store.Settle)
	controls := map[string]mixer.Control{}
	for _, held := range []map[string]osc.Arg{before.held, s.held} {
		for address := range held {
			controls[address], _ = m.mixer.Find(address)
		}
	}
	if before.open != s.open {
		for channel := 1; channel <= m.mixer.Channels; channel++ {
			for _, x := range m.mixer.Controls(channel) {
				controls[m.mixer.Address(x)] = x
			}
		}
	}
	for _, address := range slices.Sorted(maps.Keys(controls)) {
		is := m.now.value(m.mixer, address, controls[address])
		if before.value(m.mixer, address, controls[address]) == is {
			continue
		}
		_, held := m.now.held[address]
		out = m.set(out, now, osc.Message{Address: address, Args: []osc.Arg{is}})
		if !held { // a value of the start counts as not received
			delete(m.now.held, address)
		}
	}
	return out
}

// Slots lists the slots that hold a scene, by number.
func (m *Device) Slots() []SceneSlot {
	out := []SceneSlot{}
	for slot, s := range m.scenes {
		out = append(out, SceneSlot{slot, s.name, len(s.held)})
	}
	slices.SortFunc(out, func(a, b SceneSlot) int { return cmp.Compare(a.Slot, b.Slot) })
	return out
}
