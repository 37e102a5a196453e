// Package osctype is the table of the types that an OSC argument may have: how a file writes each, what each can hold,
// and how it is encoded in a packet. Everything that reads a file, a packet or typed text uses this table, All. It is
// under layout because scores and snapshots name these types too, not only the mixer's messages.
package osctype

import (
	"bytes"
	"errors"
	"math"
	"slices"
	"strconv"
	"strings"
)

// ArgKind is how a file writes an argument.
type ArgKind byte

// The kinds of values.
const (
	Number ArgKind = iota
	Text
	Bool // true or false
)

// Type is one type of argument. Its value is bits, as in a packet, or a text.
type Type struct {
	Tag  byte
	Is   string // in words, for the reference pages
	Kind ArgKind

	Size  int     // bytes of a number in a packet, big-endian: 4 or 8
	Whole bool    // a whole number in two's complement; other numbers are IEEE 754 floats
	Most  float64 // the largest magnitude that a file may write
	Yes   bool    // the value of a boolean, which takes no bytes in a packet

	// TextSize is how many bytes a text takes in a packet, and Read reads one from the start of the remaining bytes.
	// See the functions TextSize and ReadText.
	TextSize func(text string) int
	Read     func(rest []byte) (text string, size int, err error)

	GoValue func(bits uint64, text string) any // as go-osc encodes it and as JSON
}

// All lists the types, each letter once, in the order of error messages.
var All = []Type{
	{Tag: 'i', Is: "whole number, 32 bits", Kind: Number, Size: 4, Whole: true, Most: math.MaxInt32,
		GoValue: func(bits uint64, _ string) any { return int32(bits) }},
	{Tag: 'f', Is: "float, 32 bits", Kind: Number, Size: 4, Most: math.MaxFloat32,
		GoValue: func(bits uint64, _ string) any { return math.Float32frombits(uint32(bits)) }},
	{Tag: 's', Is: "string", Kind: Text, TextSize: TextSize, Read: ReadText,
		GoValue: func(_ uint64, text string) any { return BeforeNUL(text) }},
	{Tag: 'T', Is: "true", Kind: Bool, Yes: true, GoValue: func(uint64, string) any { return true }},
	{Tag: 'F', Is: "false", Kind: Bool, GoValue: func(uint64, string) any { return false }},
	{Tag: 'd', Is: "float, 64 bits", Kind: Number, Size: 8, Most: math.MaxFloat64,
		GoValue: func(bits uint64, _ string) any { return math.Float64frombits(bits) }},
	{Tag: 'h', Is: "whole number, 64 bits", Kind: Number, Size: 8, Whole: true, Most: maxExact,
		GoValue: func(bits uint64, _ string) any { return int64(bits) }},
}

// maxExact is the largest whole number up to which a float64 is exact. Files are read into float64.
const maxExact = 1 << 53

// byTag finds a type by its letter.
var byTag = func() (index [256]*Type) {
	for i := range All {
		index[All[i].Tag] = &All[i]
	}
	return index
}()

// Of returns the type with that letter, or nil.
func Of(tag byte) *Type { return byTag[tag] }

// Letters returns the tags of all types, or of some kinds, in the order of All.
func Letters(kinds ...ArgKind) []string {
	var letters []string
	for _, t := range All {
		if len(kinds) == 0 || slices.Contains(kinds, t.Kind) {
			letters = append(letters, string(t.Tag))
		}
	}
	return letters
}

// LettersByKind returns the tags of all types: first numbers, then texts, then booleans.
func LettersByKind() []string {
	return slices.Concat(Letters(Number), Letters(Text), Letters(Bool))
}

// Takes reports whether this type can hold a number from a file without rounding it to a whole number.
func (t *Type) Takes(v float64) bool {
	return !(math.Abs(v) > t.Most) && (!t.Whole || v == math.Trunc(v))
}

// Fits reports whether a value from a file or from JSON (float64, string or bool) is of the type's kind.
func (t *Type) Fits(v any) bool {
	switch v := v.(type) {
	case float64:
		return t.Kind == Number
	case string:
		return t.Kind == Text
	case bool:
		return t.Kind == Bool && t.Yes == v
	}
	return false
}

// Bits encodes the nearest number that the type can hold, with halves away from zero. Zero has no sign.
func (t *Type) Bits(v float64) uint64 {
	switch {
	case t.Whole && t.Size == 4:
		return uint64(uint32(int32(min(max(math.Round(v), math.MinInt32), math.MaxInt32))))
	case t.Whole:
		return uint64(int64(min(max(math.Round(v), -t.Most), t.Most)))
	case t.Size == 4:
		return uint64(math.Float32bits(float32(min(max(v, -math.MaxFloat32), math.MaxFloat32)) + 0)) // -0 + 0 is 0
	}
	return math.Float64bits(min(max(v, -math.MaxFloat64), math.MaxFloat64) + 0)
}

// Value decodes a number. For a whole number over 2^53 it is the nearest float64.
func (t *Type) Value(bits uint64) float64 {
	switch {
	case t.Whole:
		return float64(t.Int(bits))
	case t.Size == 4:
		return float64(math.Float32frombits(uint32(bits)))
	}
	return math.Float64frombits(bits)
}

// Single reports whether the type is a 32-bit float, the least exact type of number.
func (t *Type) Single() bool { return t.Kind == Number && !t.Whole && t.Size == 4 }

// Int decodes a whole number.
func (t *Type) Int(bits uint64) int64 {
	if t.Size == 4 {
		return int64(int32(bits))
	}
	return int64(bits)
}

// Word is a value in a line of text, with the fewest digits that read back as the same value. It is empty for a
// boolean, whose letter is its value.
func (t *Type) Word(bits uint64, text string) string {
	switch {
	case t.Kind == Bool:
		return ""
	case t.Kind == Text:
		return strconv.Quote(text)
	case t.Whole:
		return strconv.FormatInt(t.Int(bits), 10)
	}
	return strconv.FormatFloat(t.Value(bits), 'f', -1, 8*t.Size)
}

// BeforeNUL is the part of a string before the first NUL, since a NUL ends an OSC string.
func BeforeNUL(text string) string {
	head, _, _ := strings.Cut(text, "\x00")
	return head
}

// TextSize is the number of bytes of a string in a packet (OSC 1.0): a NUL ends it, and NULs pad it to a multiple of
// four.
func TextSize(text string) int { return (len(text) + 4) &^ 3 }

// ReadText reads a string from the start of rest, whose length is a multiple of four. size includes the padding; with
// an error, size is the position of the error.
func ReadText(rest []byte) (text string, size int, err error) {
	n := bytes.IndexByte(rest, 0)
	if n < 0 {
		return "", 0, errors.New("a string is cut off")
	}
	text = string(rest[:n])
	size = TextSize(text) // within rest, since its length is a multiple of 4
	for i := n; i < size; i++ {
		if rest[i] != 0 {
			return "", i, errors.New("a string's padding is not zero")
		}
	}
	return text, size, nil
}
