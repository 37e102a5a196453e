package wire

import (
	"encoding/binary"

	"backfield/layout/osctype"
	"backfield/osc"
)

// ValuePacket is the packet of one address with one argument. It is encoded once, and a new value overwrites the old
// one in place, because a fade sends one at every tick. One goroutine at a time may use it.
type ValuePacket struct {
	address string
	packet  []byte
	tag     byte // of its argument, 0 before the first
	text    bool // the argument is a text, which may be longer than the last one
	size    int  // bytes of the number at the end of the packet, 0 for other types
}

// NewValuePacket makes the packet of an address, without a value yet.
func NewValuePacket(address string) *ValuePacket { return &ValuePacket{address: address} }

// With returns the packet that sets the address to this value, as Encode makes it. It is valid until the next call. A
// number takes a few nanoseconds and no memory; a string, or another type than last time, is encoded again.
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
	return l.packet
}

func (l *ValuePacket) encode(arg osc.Arg) {
	l.packet = Encode(osc.Message{Address: l.address, Args: []osc.Arg{arg}})
	l.tag, l.text, l.size = arg.Tag(), arg.Type().Kind == osctype.Text, arg.Type().Size
}
