// Package osc holds the message: an address and typed arguments, and its text form. The sub-rooms turn
// snapshots into messages (desk) and messages into packets on a wire (wire).
package osc

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Message is one OSC message. Arguments are int32, int64, float32, float64, string or bool (T and F).
type Message struct {
	Address string
	Args    []any
}

// Arg is one argument without a box: what is compared, kept and passed on at every tick of a fade costs no memory by
// it. Two are equal if their types and values are; a zero has no sign. The zero Arg is none.
type Arg struct {
	tag  byte   // as in a packet; 'T' and 'F' for a bool
	bits uint64 // of a number, as in a packet
	text string
}

// ArgOf takes an argument out of its box. It panics on what Message does not allow.
func ArgOf(a any) Arg {
	switch a := a.(type) {
	case nil:
		return Arg{}
	case int32:
		return Int32(a)
	case int64:
		return Int64(a)
	case float32:
		return Float32(a)
	case float64:
		return Float64(a)
	case string:
		return Arg{tag: 's', text: a}
	case bool:
		if a {
			return Arg{tag: 'T'}
		}
		return Arg{tag: 'F'}
	}
	panic(fmt.Sprintf("osc: argument of type %T", a))
}

// Int32, Int64, Float32 and Float64 are arguments of the types i, h, f and d.
func Int32(v int32) Arg     { return Arg{tag: 'i', bits: uint64(uint32(v))} }
func Int64(v int64) Arg     { return Arg{tag: 'h', bits: uint64(v)} }
func Float32(v float32) Arg { return Arg{tag: 'f', bits: uint64(math.Float32bits(v + 0))} } // -0 + 0 is 0
func Float64(v float64) Arg { return Arg{tag: 'd', bits: math.Float64bits(v + 0)} }

// Any is the argument as a Message has it, nil for none.
func (a Arg) Any() any {
	switch a.tag {
	case 'i':
		return int32(a.bits)
	case 'h':
		return int64(a.bits)
	case 'f':
		return math.Float32frombits(uint32(a.bits))
	case 'd':
		return math.Float64frombits(a.bits)
	case 's':
		return a.text
	case 'T', 'F':
		return a.tag == 'T'
	}
	return nil
}

// Tag is the argument's type tag, 0 for none.
func (a Arg) Tag() byte { return a.tag }

// Bits is a number's value as it stands in a packet, big-endian: the low 32 bits of an i or f, all 64 of an h or d.
func (a Arg) Bits() uint64 { return a.bits }

// Tags returns the type tags without the comma.
func (m Message) Tags() string {
	tags := make([]byte, 0, len(m.Args))
	for _, a := range m.Args {
		tags = append(tags, ArgOf(a).tag)
	}
	return string(tags)
}

// Size is the number of bytes that the message takes as OSC 1.0 encodes it: strings end in a NUL, and all is padded to
// four bytes.
func (m Message) Size() int {
	padded := func(n int) int { return (n + 3) &^ 3 }
	size := padded(len(m.Address)+1) + padded(len(m.Args)+2)
	for _, a := range m.Args {
		switch a := a.(type) {
		case int32, float32:
			size += 4
		case int64, float64:
			size += 8
		case string:
			size += padded(len(a) + 1)
		}
	}
	return size
}

// String is the message as one line: address, tags, arguments ("/in/3/level f 0.8"). Floats print with the
// fewest digits that read back as the same value.
func (m Message) String() string {
	var b strings.Builder
	b.WriteString(m.Address)
	if len(m.Args) > 0 {
		b.WriteString(" " + m.Tags())
	}
	for _, a := range m.Args {
		switch a := a.(type) {
		case float32:
			b.WriteString(" " + strconv.FormatFloat(float64(a), 'f', -1, 32))
		case float64:
			b.WriteString(" " + strconv.FormatFloat(a, 'f', -1, 64))
		case string:
			b.WriteString(" " + strconv.Quote(a))
		case bool: // the tag says it all
		default:
			fmt.Fprintf(&b, " %d", a)
		}
	}
	return b.String()
}
