// Package osctype is the table of the types that an OSC argument may have: what a file writes for each, what each can
// hold, and how it lies in a packet. All is that table, and whoever reads a file, a packet or a person's typing looks
// there. It stands in layout because scores and snapshots name these types as well as the mixer's messages.
package osctype

import (
	"bytes"
	"errors"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Kind is what a file writes for an argument.
type ArgKind byte

// The kinds of values.
const (
	Number ArgKind = iota
	Text
	Truth // true or false
)

// Type is one type of argument. A value of it is bits, as they lie in a packet, or text.
type Type struct {
	Tag  byte
	Is   string // in words, for the reference pages
	Kind ArgKind

	Size  int     // bytes of a number in a packet, big-endian: 4 or 8
	Whole bool    // a number without fractions, in two's complement; other numbers are floats of IEEE 754
	Most  float64 // the greatest magnitude of a number that a file may write
	Yes   bool    // which of the two truths it stands for; it takes no bytes

	// A text takes Room bytes in a packet, and is read off the head of what is left of one, as TextSize and ReadText
	// say.
	Room func(text string) int
	Read func(rest []byte) (text string, size int, err error)

	Box func(bits uint64, text string) any // the value as Go has it, which go-osc encodes and JSON shows
}

// All lists the types, each letter once, in the order in which messages name them.
var All = []Type{
	{Tag: 'i', Is: "whole number, 32 bits", Kind: Number, Size: 4, Whole: true, Most: math.MaxInt32,
		Box: func(bits uint64, _ string) any { return int32(bits) }},
	{Tag: 'f', Is: "float, 32 bits", Kind: Number, Size: 4, Most: math.MaxFloat32,
		Box: func(bits uint64, _ string) any { return math.Float32frombits(uint32(bits)) }},
	{Tag: 's', Is: "string", Kind: Text, Room: TextSize, Read: ReadText,
		Box: func(_ uint64, text string) any { return BeforeNUL(text) }},
	{Tag: 'T', Is: "true", Kind: Truth, Yes: true, Box: func(uint64, string) any { return true }},
	{Tag: 'F', Is: "false", Kind: Truth, Box: func(uint64, string) any { return false }},
	{Tag: 'd', Is: "float, 64 bits", Kind: Number, Size: 8, Most: math.MaxFloat64,
		Box: func(bits uint64, _ string) any { return math.Float64frombits(bits) }},
	{Tag: 'h', Is: "whole number, 64 bits", Kind: Number, Size: 8, Whole: true, Most: mostExact,
		Box: func(bits uint64, _ string) any { return int64(bits) }},
}

// mostExact is the greatest whole number that a float64, which is what files are read into, holds with all before it.
const mostExact = 1 << 53

// byTag has the types by their letter.
var byTag = func() (index [256]*Type) {
	for i := range All {
		index[All[i].Tag] = &All[i]
	}
	return index
}()

// Of is the type of that letter, nil where none is known.
func Of(tag byte) *Type { return byTag[tag] }

// Letters are the tags of all types, or of those of some kinds, in the order of All.
func Letters(kinds ...ArgKind) []string {
	var letters []string
	for _, t := range All {
		if len(kinds) == 0 || slices.Contains(kinds, t.Kind) {
			letters = append(letters, string(t.Tag))
		}
	}
	return letters
}

// LettersByKind are the tags of all types: those of numbers, of texts, of truths.
func LettersByKind() []string {
	return slices.Concat(Letters(Number), Letters(Text), Letters(Truth))
}

// Takes reports whether a number that a file writes is one of this type's, without rounding it to a whole one.
func (t *Type) Takes(v float64) bool {
	return !(math.Abs(v) > t.Most) && (!t.Whole || v == math.Trunc(v))
}

// Fits reports whether a value that was read from a file or from JSON (float64, string or bool) is of the type's kind.
func (t *Type) Fits(v any) bool {
	switch v := v.(type) {
	case float64:
		return t.Kind == Number
	case string:
		return t.Kind == Text
	case bool:
		return t.Kind == Truth && t.Yes == v
	}
	return false
}

// Bits is the nearest number that the type can hold as it lies in a packet, halves away from zero. A zero has no sign.
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

// Value is the number that the bits stand for; of a whole one over 2^53 the nearest that a float64 holds.
func (t *Type) Value(bits uint64) float64 {
	switch {
	case t.Whole:
		return float64(t.Int(bits))
	case t.Size == 4:
		return float64(math.Float32frombits(uint32(bits)))
	}
	return math.Float64frombits(bits)
}

// Single reports whether it is a float of 32 bits, the coarsest type of number.
func (t *Type) Single() bool { return t.Kind == Number && !t.Whole && t.Size == 4 }

// Int is the whole number that the bits of a whole type stand for.
func (t *Type) Int(bits uint64) int64 {
	if t.Size == 4 {
		return int64(int32(bits))
	}
	return int64(bits)
}

// Word is a value in a line of text, with the fewest digits that read back as the same; empty for a truth, whose letter
// says it all.
func (t *Type) Word(bits uint64, text string) string {
	switch {
	case t.Kind == Truth:
		return ""
	case t.Kind == Text:
		return strconv.Quote(text)
	case t.Whole:
		return strconv.FormatInt(t.Int(bits), 10)
	}
	return strconv.FormatFloat(t.Value(bits), 'f', -1, 8*t.Size)
}

// BeforeNUL is what OSC can carry of a string, which a NUL ends.
func BeforeNUL(text string) string {
	head, _, _ := strings.Cut(text, "\x00")
	return head
}

// TextSize is the number of bytes of a string in a packet (OSC 1.0): a NUL ends it, and NULs pad it to four bytes.
func TextSize(text string) int { return (len(text) + 4) &^ 3 }

// ReadText reads a string off the head of rest, whose length is a multiple of four. Size is what it takes with its
// padding; with an error, size is where that lies.
func ReadText(rest []byte) (text string, size int, err error) {
	n := bytes.IndexByte(rest, 0)
	if n < 0 {
		return "", 0, errors.New("a string is cut off")
	}
	text = string(rest[:n])
	size = TextSize(text) // within rest: all starts and ends are multiples of 4
	for i := n; i < size; i++ {
		if rest[i] != 0 {
			return "", i, errors.New("a string's padding is not zero")
		}
	}
	return text, size, nil
}
