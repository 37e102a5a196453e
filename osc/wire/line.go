package wire

import (
	"encoding/binary"

	"backfield/layout/osctype"
	"backfield/osc"
)

// Line is the packet of one address with one argument, encoded once: a new value is written over the old one in its
// place. It is what a fade sends tick after tick. One goroutine at a time may use it.
type Line struct {
	address string
	packet  []byte
	of      *osctype.Type // its argument, nil while it holds nothing
}

// NewLine makes the line of an address, which holds nothing yet.
func NewLine(address string) *Line { return &Line{address: address} }

// Packet is the packet that gives the address this value, as Encode makes it. It is valid until Packet is called again.
// A number costs some nanoseconds and no memory; a string, or another type than the last time, is encoded anew.
func (l *Line) Packet(arg osc.Arg) []byte {
	if t := arg.Type(); t != l.of || t.Kind == osctype.Text {
		l.packet, l.of = Encode(osc.Message{Address: l.address, Args: []osc.Arg{arg}}), t
	}
	switch end := len(l.packet); l.of.Size {
	case 4:
		binary.BigEndian.PutUint32(l.packet[end-4:], uint32(arg.Bits()))
	case 8:
		binary.BigEndian.PutUint64(l.packet[end-8:], arg.Bits())
	}
	return l.packet // a bool is its tag
}
