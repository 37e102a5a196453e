// Package osc holds the message: an address and typed arguments, and its text form. The sub-rooms turn
// snapshots into messages (mixer) and messages into packets on a wire (wire).
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

// Arg is one argument without a box: what is compared, kept and passed on at every tick of a fade costs no memory by
// it. Two are equal if their types and values are; a zero has no sign. The zero Arg is none.
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

// Number is the argument of a type of numbers that comes nearest to v, halves away from zero.
func Number(tag byte, v float64) Arg { return Arg{tag: tag, bits: osctype.Of(tag).Bits(v)} }

// Packed is the argument that a packet holds: the bits of a number, or a text.
func Packed(tag byte, bits uint64, text string) Arg {
	a := Arg{tag, bits, text}
	if t := a.Type(); t.Kind == osctype.Number && t.Value(bits) == 0 {
		a.bits = 0
	}
	return a
}

// Type is the argument's type, nil for none.
func (a Arg) Type() *osctype.Type { return osctype.Of(a.tag) }

// Tag is the argument's type tag, 0 for none.
func (a Arg) Tag() byte { return a.tag }

// Bits is a number's value as it stands in a packet, big-endian: the low 32 bits of an i or f, all 64 of an h or d.
func (a Arg) Bits() uint64 { return a.bits }

// Any is the argument in a box, nil for none.
func (a Arg) Any() any {
	if t := a.Type(); t != nil {
		return t.Box(a.bits, a.text)
	}
	return nil
}

// Number is what a number or a boolean stands for, which is 1 or 0; ok is false for other arguments.
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

// Decimal is a number as its sender wrote it: a 1.1 of 32 bits is 1.1, and not 1.10000002384. ok is false for what is
// no number.
func (a Arg) Decimal() (v float64, ok bool) {
	if !a.is(osctype.Number) {
		return 0, false
	}
	v, err := strconv.ParseFloat(a.Type().Word(a.bits, ""), 64)
	return v, err == nil
}

// Int is a whole number; ok is false for an argument of another type.
func (a Arg) Int() (n int64, ok bool) {
	if t := a.Type(); t != nil && t.Whole {
		return t.Int(a.bits), true
	}
	return 0, false
}

// Text is a string; ok is false for what is none.
func (a Arg) Text() (text string, ok bool) { return a.text, a.is(osctype.Text) }

// Bool is a boolean; ok is false for what is none.
func (a Arg) Bool() (yes, ok bool) {
	if !a.is(osctype.Truth) {
		return false, false
	}
	return a.Type().Yes, true
}

func (a Arg) is(kind osctype.ArgKind) bool {
	t := a.Type()
	return t != nil && t.Kind == kind
}

// Same reports whether an echoed argument says what was meant. Numbers may come back in another type (T and F are 1 and
// 0) and lie within tolerance * max(1, |meant|); strings are exact.
func (a Arg) Same(meant Arg, tolerance float64) bool {
	if a == meant {
		return true
	}
	v, ok := a.Number()
	w, isNumber := meant.Number()
	switch {
	case !ok || !isNumber:
		return false
	case a.Type().Single() || meant.Type().Single(): // as exact as the coarser: 0.8 in 64 bits is 0.8 in 32
		v, w = float64(float32(v)), float64(float32(w))
	}
	return v == w || !math.IsInf(w, 0) && math.Abs(v-w) <= tolerance*max(1, math.Abs(w))
}

// String is the value alone: "0.8", "ON", "true"; "nothing" for none.
func (a Arg) String() string {
	if a == (Arg{}) {
		return "nothing"
	}
	return fmt.Sprint(a.Any())
}

// MarshalJSON gives the value alone, null for none.
func (a Arg) MarshalJSON() ([]byte, error) { return json.Marshal(a.Any()) }

// Same reports whether an echoed message says what was meant: the same address, and arguments as Arg.Same compares
// them.
func (m Message) Same(meant Message, tolerance float64) bool {
	same := func(a, b Arg) bool { return a.Same(b, tolerance) }
	return m.Address == meant.Address && slices.EqualFunc(m.Args, meant.Args, same)
}

// Tags returns the type tags without the comma.
func (m Message) Tags() string {
	tags := make([]byte, 0, len(m.Args))
	for _, a := range m.Args {
		tags = append(tags, a.tag)
	}
	return string(tags)
}

// Size is the number of bytes that the message takes as OSC 1.0 encodes it.
func (m Message) Size() int {
	size := osctype.TextSize(m.Address) + (len(m.Args)+5)&^3 // a comma, the tags, a NUL, padded
	for _, a := range m.Args {
		if t := a.Type(); t.Kind == osctype.Text {
			size += t.Room(a.text)
		} else {
			size += t.Size
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
		if word := a.Type().Word(a.bits, a.text); word != "" {
			b.WriteString(" " + word)
		}
	}
	return b.String()
}
