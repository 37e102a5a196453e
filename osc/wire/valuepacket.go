package wire

import (
	"encoding/binary"

	"backfield/layout/osctype"
	"backfield/osc"
)

// Line is the packet of one address with one argument, encoded once: a new value is written over the old one in its
// place. It is what a fade sends tick after tick. One goroutine at a time may use it.
type ValuePacket struct {
	address string
	packet  []byte
	tag     byte // of its argument, 0 while it holds nothing
	text    bool // whether that is a text, which may be longer than the last
	size    int  // bytes of a number at the end of the packet, 0 for what is no number
}

// NewLine makes the line of an address, which holds nothing yet.
func NewValuePacket(address string) *ValuePacket { return &ValuePacket{address: address} }

// Packet is the packet that gives the address this value, as Encode makes it. It is valid until Packet is called again.
// A number costs some nanoseconds and no memory; a string, or another type than the last time, is encoded again.
func (l *ValuePacket) With(arg osc.Arg) []byte {
	if arg.Tag() != l.tag || l.text {
		l.encode(arg)
	}
	switch end := len(l.packet); l.size {
	case 4:
		binary.BigEndian.PutUint32(l.packet[end-4:], uint32(arg.Bits()))
	case 8:
		binary.BigEndian.PutUint64(l.packet[end-8:], arg.Bits())
	}
	return l.packet // a bool is its tag
}

func (l *ValuePacket) encode(arg osc.Arg) {
	l.packet = Encode(osc.Message{Address: l.address, Args: []osc.Arg{arg}})
	l.tag, l.text, l.size = arg.Tag(), arg.Type().Kind == osctype.Text, arg.Type().Size
}
