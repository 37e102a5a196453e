// Package form is messages with placeholders, as mixer.toml writes them: an address, or a message with its arguments,
// in which numbers, names or addresses are left open. It fills them in, and reads the values back out of a message.
package form

import (
	"slices"
	"strconv"
	"strings"

	"backfield/layout/source"
	"backfield/layout/table"
)

// Pattern is an address with placeholders: for a parameter the channel number, for a send the zone too
// ("/in/{channel:02}/zone/{zone}"), for a scene its slot ("/scene/{slot}/store"). The zero Pattern means an address
// that could not be read.
type Pattern []patternPiece

// patternPiece is literal text, or a placeholder if width is over 0: a number padded with zeros to that width, or an
// address.
type patternPiece struct {
	text, name string
	width      int
}

// Filling has the values for the placeholders of a Pattern or a Form.
type Filling struct {
	Channel, Zone, Slot int
	Address, Name       string
}

// number points at the number of that name.
func (x *Filling) number(name string) *int {
	switch name {
	case "zone":
		return &x.Zone
	case "slot":
		return &x.Slot
	}
	return &x.Channel
}

// Of returns the address with these values.
func (p Pattern) Of(x Filling) string {
	b := make([]byte, 0, 32)
	for _, y := range p {
		switch {
		case y.width == 0:
			b = append(b, y.text...)
		case y.name == "address":
			b = append(b, x.Address...)
		default:
			b = y.digits(b, *x.number(y.name))
		}
	}
	return string(b)
}

// digits appends a number, padded with zeros to the width of its placeholder.
func (y patternPiece) digits(b []byte, n int) []byte {
	start := len(b)
	b = strconv.AppendInt(b, int64(n), 10)
	for len(b)-start < y.width {
		b = slices.Insert(b, start, '0')
	}
	return b
}

// Match reverses Of: it returns the values that make this address.
func (p Pattern) Match(address string) (Filling, bool) {
	var x Filling
	ok := p.matchFrom(0, address, &x)
	return x, ok
}

// matchFrom matches the pieces from i on to the text.
func (p Pattern) matchFrom(i int, text string, x *Filling) bool {
	if i == len(p) {
		return text == ""
	}
	y := p[i]
	switch maxDigits := 9; { // the widest placeholder
	case y.width == 0 || p[:i].Has(y.name): // a known text
		known := y.text
		if y.width > 0 {
			known = p[i : i+1].Of(*x)
		}
		after, ok := strings.CutPrefix(text, known)
		return ok && p.matchFrom(i+1, after, x)
	case y.name == "address":
		for n := len(text); n > 0; n-- {
			if x.Address = text[:n]; p.matchFrom(i+1, text[n:], x) {
				return true
			}
		}
	default:
		for n := 1; n <= min(maxDigits, len(text)) && text[n-1] >= '0' && text[n-1] <= '9'; n++ {
			number, _ := strconv.Atoi(text[:n])
			*x.number(y.name) = number
			var room [16]byte
			sameWidth := string(y.digits(room[:0], number)) == text[:n]
			if sameWidth && p.matchFrom(i+1, text[n:], x) {
				return true
			}
		}
	}
	return false
}

// Has reports whether the pattern has a placeholder of that name.
func (p Pattern) Has(name string) bool {
	return slices.ContainsFunc(p, func(x patternPiece) bool { return x.width > 0 && x.name == name })
}

// Parse reads an address pattern that may have these placeholders. With faults, the Pattern is nil.
func Parse(text string, placeholders ...string) (Pattern, []source.Fault) {
	p := parser{text: text, placeholders: placeholders}
	// A misspelled {address} at the beginning gets a message of its own.
	startsWithAddress := slices.Contains(placeholders, "address") && strings.HasPrefix(text, "{")
	if !strings.HasPrefix(text, "/") && !startsWithAddress {
		p.wrong(noSlash(min(1, len(text))))
	}
	for p.at < len(text) && !p.broken {
		p.next()
	}
	p.flush(len(text))
	if len(p.faults) > 0 {
		return nil, p.faults
	}
	return p.out, nil
}

// parser walks the text of a pattern.
type parser struct {
	text         string
	placeholders []string
	at, literal  int // the position, and where the literal text before it starts
	broken       bool
	out          Pattern
	faults       []source.Fault
}

func (p *parser) wrong(f source.Fault) { p.faults = append(p.faults, f) }

// flush ends the literal text.
func (p *parser) flush(end int) {
	if end > p.literal {
		p.out = append(p.out, patternPiece{text: p.text[p.literal:end]})
	}
}

// next reads a placeholder or a character.
func (p *parser) next() {
	i := p.at
	end := i + 1
	switch c := p.text[i]; {
	case c == '{':
		p.placeholder()
		return
	case c == '}':
		p.wrong(strayBrace(i, p.placeholders))
	case c == '/' && (end == len(p.text) || p.text[end] == '/'):
		p.wrong(emptyPart(i))
	case c < '!' || c > '~' || strings.IndexByte("#*,?[]", c) >= 0:
		for c >= 0x80 && end < len(p.text) && p.text[end]&0xC0 == 0x80 { // point at the whole character
			end++
		}
		p.wrong(badCharacter(i, p.text[i:end]))
	}
	p.at = end
}

// placeholder reads a placeholder from its brace on.
func (p *parser) placeholder() {
	i := p.at
	p.flush(i)
	p.literal = len(p.text)
	length := strings.IndexAny(p.text[i+1:], "{}")
	if length < 0 || p.text[i+1+length] == '{' {
		p.wrong(openBrace(i, p.placeholders))
		p.broken = true
		return
	}
	end := i + 1 + length
	x, f := placeholder(p.text[i+1:end], p.placeholders)
	switch {
	case f != nil:
		f.Lo, f.Hi = f.Lo+i+1, f.Hi+i+1
		p.wrong(*f)
	case x.name == "address" && i > 0 && p.text[i-1] == '/':
		p.wrong(doubleSlash(i - 1))
	}
	p.out = append(p.out, x)
	p.at, p.literal = end+1, end+1
}

// placeholder reads the text between braces: "channel" or "channel:02". Positions in the fault start there.
func placeholder(text string, placeholders []string) (patternPiece, *source.Fault) {
	name, width, padded := strings.Cut(text, ":")
	switch {
	case name == "zone" && slices.Equal(placeholders, channelPlaceholder):
		return patternPiece{}, zoneWithoutSend(len(text))
	case !slices.Contains(placeholders, name):
		return patternPiece{}, unknownPlaceholder(name, placeholders)
	case !padded:
		return patternPiece{name: name, width: 1}, nil
	case name == "address":
		return patternPiece{}, addressWidth(len(name), len(text))
	case len(width) != 2 || width[0] != '0' || width[1] < '1' || width[1] > '9':
		return patternPiece{}, badWidth(len(name)+1, len(text), name, width)
	}
	n, _ := strconv.Atoi(width[1:])
	return patternPiece{name: name, width: n}, nil
}

// The placeholders of a parameter's address, all of which it must have.
var channelPlaceholder, sendPlaceholders = []string{"channel"}, []string{"channel", "zone"}

// ReadParam reads the address of a parameter, with a placeholder for the channel and, if zoned, for the zone.
func ReadParam(t table.Text, zoned bool, p *source.Problems) Pattern {
	placeholders := channelPlaceholder
	if zoned {
		placeholders = sendPlaceholders
	}
	out := readPattern(t, placeholders, p)
	for _, name := range placeholders {
		if out != nil && !out.Has(name) {
			p.Add(sameForEvery(t, name))
			return nil
		}
	}
	return out
}

// readPattern reads an address and reports its faults at their position in the string.
func readPattern(t table.Text, placeholders []string, p *source.Problems) Pattern {
	if !t.Set {
		return nil
	}
	out, faults := Parse(t.V, placeholders...)
	for _, f := range faults {
		p.Add(badAddress(t, f))
	}
	return out
}
