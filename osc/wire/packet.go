// Package wire turns messages into packets and back, and sends packets over UDP and TCP at a steady pace. It is the
// only package that imports an OSC library or opens a socket. It does not know what a message means or when to send it:
// its callers decide.
package wire

import (
	"encoding/binary"
	"fmt"

	model "github.com/hypebeast/go-osc/osc"

	"backfield/layout/osctype"
	"backfield/osc"
)

// bundleHead starts a bundle: its name, and the time tag that means "at once".
const bundleHead = "#bundle\x00\x00\x00\x00\x00\x00\x00\x00\x01"

// Encode returns the packet of one message. A string ends before its first NUL, which OSC cannot carry. It panics if
// an argument is the zero Arg.
func Encode(m osc.Message) []byte {
	boxes := make([]any, len(m.Args))
	for i, a := range m.Args {
		if a.Type() == nil {
			panic(fmt.Sprintf("wire: argument %d of %s is empty", i+1, m.Address))
		}
		boxes[i] = a.Any()
	}
	packet, err := model.NewMessage(osctype.BeforeNUL(m.Address), boxes...).MarshalBinary()
	if err != nil {
		panic(fmt.Sprintf("wire: %s: %v", m.Address, err))
	}
	return packet
}

// messagesIn counts the messages of a packet that Pack made.
func messagesIn(packet []byte) int {
	if len(packet) < len(bundleHead) || packet[0] != '#' {
		return 1
	}
	n := 0
	for at := len(bundleHead); at+4 <= len(packet); n++ {
		at += 4 + int(binary.BigEndian.Uint32(packet[at:]))
	}
	return n
}
