// Package osc holds the message: an address and typed arguments, and its text form. The packages below it turn
// snapshots into messages (mixer) and messages into packets (wire).
package osc

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"backfield/layout/osctype"
)

// Message is one OSC message.
type Message struct {
	Address string
	Args    []Arg
}

// Arg is one argument. It is not an interface, so that a fade can compare, keep and pass on a value at every tick
// without allocating memory. Two are equal if their types and values are. Zero has no sign. The zero Arg means no
// argument.
type Arg struct {
	tag  byte   // of osctype.All
	bits uint64 // of a number, as in a packet
	text string
}

// Int32, Int64, Float32, Float64, String and Bool are arguments of the types i, h, f, d, s, and T or F.
func Int32(v int32) Arg     { return Arg{tag: 'i', bits: uint64(uint32(v))} }
func Int64(v int64) Arg     { return Arg{tag: 'h', bits: uint64(v)} }
func Float32(v float32) Arg { return Arg{tag: 'f', bits: uint64(math.Float32bits(v + 0))} } // -0 + 0 is 0
func Float64(v float64) Arg { return Arg{tag: 'd', bits: math.Float64bits(v + 0)} }
func String(v string) Arg   { return Arg{tag: 's', text: v} }
func Bool(v bool) Arg {
	if v {
		return Arg{tag: 'T'}
	}
	return Arg{tag: 'F'}
}

// Number is the argument of a number type that is nearest to v, with halves away from zero.
func Number(tag byte, v float64) Arg { return Arg{tag: tag, bits: osctype.Of(tag).Bits(v)} }

// Packed makes an argument from what a packet holds: the bits of a number, or a text.
func Packed(tag byte, bits uint64, text string) Arg {
	a := Arg{tag, bits, text}
	if t := a.Type(); t.Kind == osctype.Number && t.Value(bits) == 0 {
		a.bits = 0
	}
	return a
}

// Type is the argument's type, nil for the zero Arg.
func (a Arg) Type() *osctype.Type { return osctype.Of(a.tag) }

// Tag is the argument's type tag, 0 for the zero Arg.
func (a Arg) Tag() byte { return a.tag }

// Bits is a number as a packet holds it: the low 32 bits of an i or f, all 64 bits of an h or d.
func (a Arg) Bits() uint64 { return a.bits }

// Any is the argument as a Go value, nil for the zero Arg.
func (a Arg) Any() any {
	if t := a.Type(); t != nil {
		return t.GoValue(a.bits, a.text)
	}
	return nil
}

// Number is the value of a number, or 1 or 0 for a boolean; ok is false for other arguments.
func (a Arg) Number() (v float64, ok bool) {
	switch t := a.Type(); {
	case t == nil || t.Kind == osctype.Text:
		return 0, false
	case t.Kind == osctype.Number:
		return t.Value(a.bits), true
	case t.Yes:
		return 1, true
	}
	return 0, true
}

// Decimal is a number as its sender wrote it: a 32-bit 1.1 is 1.1, not 1.10000002384. ok is false for an argument that
// is not a number.
func (a Arg) Decimal() (v float64, ok bool) {
	if !a.is(osctype.Number) {
		return 0, false
	}
	v, err := strconv.ParseFloat(a.Type().Word(a.bits, ""), 64)
	return v, err == nil
}

// Int is the value of a whole number; ok is false for other arguments.
func (a Arg) Int() (n int64, ok bool) {
	if t := a.Type(); t != nil && t.Whole {
		return t.Int(a.bits), true
	}
	return 0, false
}

// Text is the value of a string; ok is false for other arguments.
func (a Arg) Text() (text string, ok bool) { return a.text, a.is(osctype.Text) }

// Bool is the value of a boolean; ok is false for other arguments.
func (a Arg) Bool() (yes, ok bool) {
	if !a.is(osctype.Bool) {
		return false, false
	}
	return a.Type().Yes, true
}

func (a Arg) is(kind osctype.ArgKind) bool {
	t := a.Type()
	return t != nil && t.Kind == kind
}

// Same reports whether an echoed argument counts as the one that was sent. Numbers may come back in another type (T and
// F are 1 and 0) and may differ by tolerance * max(1, |sent|). Strings must match exactly.
func (a Arg) Same(sent Arg, tolerance float64) bool {
	if a == sent {
		return true
	}
	v, ok := a.Number()
	w, isNumber := sent.Number()
	switch {
	case !ok || !isNumber:
		return false
	case a.Type().Single() || sent.Type().Single(): // 0.8 in 64 bits and 0.8 in 32 bits are the same
		v, w = float64(float32(v)), float64(float32(w))
	}
	return v == w || !math.IsInf(w, 0) && math.Abs(v-w) <= tolerance*max(1, math.Abs(w))
}

// String is the value alone: "0.8", "ON", "true"; "nothing" for the zero Arg.
func (a Arg) String() string {
	if a == (Arg{}) {
		return "nothing"
	}
	return fmt.Sprint(a.Any())
}

// MarshalJSON gives the value alone, null for the zero Arg.
func (a Arg) MarshalJSON() ([]byte, error) { return json.Marshal(a.Any()) }

// Same reports whether an echoed message counts as the one that was sent: the same address, and the same arguments by
// Arg.Same.
func (m Message) Same(sent Message, tolerance float64) bool {
	same := func(a, b Arg) bool { return a.Same(b, tolerance) }
	return m.Address == sent.Address && slices.EqualFunc(m.Args, sent.Args, same)
}

// Tags returns the type tags without the comma.
func (m Message) Tags() string {
	tags := make([]byte, 0, len(m.Args))
	for _, a := range m.Args {
		tags = append(tags, a.tag)
	}
	return string(tags)
}

// Size is the number of bytes of the encoded message (OSC 1.0).
func (m Message) Size() int {
	size := osctype.TextSize(m.Address) + (len(m.Args)+5)&^3 // a comma, the tags, a NUL, padded
	for _, a := range m.Args {
		if t := a.Type(); t.Kind == osctype.Text {
			size += t.TextSize(a.text)
		} else {
			size += t.Size
		}
	}
	return size
}

// String is the message in one line: address, tags, arguments ("/in/3/level f 0.8"). Floats have the fewest digits that
// read back as the same value.
func (m Message) String() string {
	var b strings.Builder
	b.WriteString(m.Address)
	if len(m.Args) > 0 {
		b.WriteString(" " + m.Tags())
	}
	for _, a := range m.Args {
		if word := a.Type().Word(a.bits, a.text); word != "" {
			b.WriteString(" " + word)
		}
	}
	return b.String()
}
