// Package midi reads the bytes of a MIDI 1.0 cable as messages. It does no I/O and reads no clock.
//
// Source of all rules: MIDI 1.0 Detailed Specification, document version 4.2, quoted from memory.
package midi

import "fmt"

// Status bytes. Those of channel messages have the channel, from 0, in their low four bits.
const (
	NoteOff       = 0x80
	NoteOn        = 0x90
	PolyPressure  = 0xA0
	ControlChange = 0xB0
	ProgramChange = 0xC0
	Pressure      = 0xD0
	PitchBend     = 0xE0

	SystemExclusive = 0xF0
	QuarterFrame    = 0xF1
	SongPosition    = 0xF2
	SongSelect      = 0xF3
	TuneRequest     = 0xF6
	endOfExclusive  = 0xF7

	TimingClock   = 0xF8 // 24 a quarter note
	Start         = 0xFA
	Continue      = 0xFB
	Stop          = 0xFC
	ActiveSensing = 0xFE
	SystemReset   = 0xFF
)

// MostExclusive is how many data bytes of a system exclusive message are kept. A longer one is dropped, since nothing
// that a run follows is longer than 8.
const MostExclusive = 64

// MIDIMessage is one message. Channel messages have their status without the channel.
type MIDIMessage struct {
	Status  byte
	Channel int    // from 1; 0 for a system message
	Data    []byte // 0 to 127 each: 0 to 2 bytes, or those of a system exclusive between its first byte and its last
}

// String is the message in words, such as "note 60 on, velocity 100, channel 1".
func (m MIDIMessage) String() string {
	switch {
	case m.Released() && m.Status != ControlChange:
		return fmt.Sprintf("note %d off, channel %d", m.Data[0], m.Channel)
	case m.Status == NoteOn:
		return fmt.Sprintf("note %d on, velocity %d, channel %d", m.Data[0], m.Data[1], m.Channel)
	case m.Status == ControlChange:
		return fmt.Sprintf("controller %d at %d, channel %d", m.Data[0], m.Data[1], m.Channel)
	case m.Status == ProgramChange:
		return fmt.Sprintf("program %d, channel %d", m.Data[0], m.Channel)
	}
	if name, ok := names[m.Status]; ok {
		return name
	}
	return fmt.Sprintf("message %02X", m.Status)
}

var names = map[byte]string{
	PolyPressure: "key pressure", Pressure: "channel pressure", PitchBend: "pitch bend",
	SystemExclusive: "system exclusive", QuarterFrame: "time code quarter frame", SongPosition: "song position",
	SongSelect: "song select", TuneRequest: "tune request", TimingClock: "timing clock", Start: "start",
	Continue: "continue", Stop: "stop", ActiveSensing: "active sensing", SystemReset: "reset",
}

// Released reports whether a message says that a key or a switch was let go: a note off, a note on with velocity 0,
// which means the same, or a controller below 64, which is the off of a switch.
func (m MIDIMessage) Released() bool {
	switch m.Status {
	case NoteOff:
		return true
	case NoteOn:
		return m.Data[1] == 0
	case ControlChange:
		return m.Data[1] < 64
	}
	return false
}

// Cable puts bytes together. The zero value is a cable that has been silent.
type Cable struct {
	running byte // the status that data bytes go on with; 0 for none
	status  byte // of the message that has begun; 0 for none
	data    []byte
	long    bool // the system exclusive that has begun is too long to keep

	Dropped int // bytes that were no part of a message
}

// Read takes the next byte. ok is true if it ends a message. The message's data are the reader's until the next byte.
func (r *Cable) Read(b byte) (m MIDIMessage, ok bool) {
	switch {
	case b >= TimingClock: // real time: anywhere, also in the middle of another message, which it does not end
		if b == 0xF9 || b == 0xFD { // undefined
			r.Dropped++
			return m, false
		}
		return MIDIMessage{Status: b}, true
	case b >= 0x80:
		return r.begin(b)
	}
	return r.add(b)
}

// begin takes a status byte below the real-time ones. What has begun before it is incomplete.
func (r *Cable) begin(b byte) (m MIDIMessage, ok bool) {
	if b == endOfExclusive && r.status == SystemExclusive {
		m, ok = MIDIMessage{Status: SystemExclusive, Data: r.data}, !r.long
		if r.long {
			r.Dropped++
		}
		r.forget()
		return m, ok
	}
	r.Dropped += r.unfinished()
	r.forget()
	if b < SystemExclusive {
		r.running, r.status = b, b
		return m, false
	}
	r.running = 0 // any system common message ends running status
	switch b {
	case TuneRequest:
		return MIDIMessage{Status: b}, true
	case SystemExclusive, QuarterFrame, SongPosition, SongSelect:
		r.status = b
	default: // 0xF4, 0xF5, an end without a beginning
		r.Dropped++
	}
	return m, false
}

// unfinished is how many bytes have come of a message that will not be complete.
func (r *Cable) unfinished() int {
	if r.status == 0 {
		return 0
	}
	return 1 + len(r.data)
}

func (r *Cable) forget() { r.status, r.data, r.long = 0, r.data[:0], false }

// add takes a data byte.
func (r *Cable) add(b byte) (m MIDIMessage, ok bool) {
	if r.status == 0 {
		if r.running == 0 {
			r.Dropped++
			return m, false
		}
		r.status = r.running
	}
	if r.status == SystemExclusive {
		if r.long = r.long || len(r.data) == MostExclusive; r.long {
			r.Dropped++
			return m, false
		}
		r.data = append(r.data, b)
		return m, false
	}
	if r.data = append(r.data, b); len(r.data) < length(r.status) {
		return m, false
	}
	m = MIDIMessage{Status: r.status, Data: r.data}
	if m.Status < SystemExclusive {
		m.Status, m.Channel = r.status&0xF0, 1+int(r.status&0x0F)
	}
	r.forget()
	return m, true
}

// length is how many data bytes a message has.
func length(status byte) int {
	switch {
	case status == SongPosition:
		return 2
	case status >= SystemExclusive:
		return 1
	}
	switch status & 0xF0 {
	case ProgramChange, Pressure:
		return 1
	}
	return 2
}
