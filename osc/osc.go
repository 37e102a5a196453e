// Package osc holds the message: an address and typed arguments, and its text form. The sub-rooms turn
// snapshots into messages (desk) and messages into packets on a wire (wire).
package osc

import (
	"fmt"
	"strconv"
	"strings"
)

// Message is one OSC message. Arguments are int32, int64, float32, float64, string or bool (T and F).
type Message struct {
	Address string
	Args    []any
}

// Tags returns the type tags without the comma.
func (m Message) Tags() string {
	tags := make([]byte, 0, len(m.Args))
	for _, a := range m.Args {
		switch a := a.(type) {
		case int32:
			tags = append(tags, 'i')
		case int64:
			tags = append(tags, 'h')
		case float32:
			tags = append(tags, 'f')
		case float64:
			tags = append(tags, 'd')
		case string:
			tags = append(tags, 's')
		case bool:
			if a {
				tags = append(tags, 'T')
			} else {
				tags = append(tags, 'F')
			}
		default:
			panic(fmt.Sprintf("osc: argument of type %T", a))
		}
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
