package wire

import (
	"encoding/binary"

	"backfield/osc"
)

// Line is the packet of one address with one argument, encoded once: a new value is written over the old one in its
// place. It is what a fade sends tick after tick. One goroutine at a time may use it.
type Line struct {
	address string
	packet  []byte
	arg     osc.Arg
}

// NewLine makes the line of an address, which holds nothing yet.
func NewLine(address string) *Line { return &Line{address: address} }

// Packet is the packet that gives the address this value, as Encode makes it. It is valid until Packet is called again.
// A number costs some nanoseconds and no memory; a string, or another type than the last time, is encoded anew.
func (l *Line) Packet(arg osc.Arg) []byte {
	tag, end := arg.Tag(), len(l.packet)
	switch {
	case arg == l.arg: // the last one: not only a repeat, of 0 and -0 too, which no desk tells apart
	case tag != l.arg.Tag() || tag == 's':
		l.packet = Encode(osc.Message{Address: l.address, Args: []any{arg.Any()}})
	case tag == 'i' || tag == 'f':
		binary.BigEndian.PutUint32(l.packet[end-4:], uint32(arg.Bits()))
	default: // h and d: two bools that differ have two tags
		binary.BigEndian.PutUint64(l.packet[end-8:], arg.Bits())
	}
	l.arg = arg
	return l.packet
}
