// Package form is messages with places: an address, or a message with its arguments, in which numbers, names or
// addresses are left open, as the mixer's file writes them. It fills them, and reads back out of a message what they
// were filled with.
package form

import (
	"slices"
	"strconv"
	"strings"

	"backfield/layout/source"
	"backfield/layout/table"
)

// Pattern is an address with places: of a parameter for the channel number, of a send for the zone too
// ("/in/{channel:02}/zone/{zone}"), of a request for what it is about ("/scene/{slot}/store"). The zero Pattern
// stands for an address that could not be read.
type Pattern []patternPiece

// piece is literal text, or what name stands for where width is over 0: a number padded with zeros to that
// width, or an address.
type patternPiece struct {
	text, name string
	width      int
}

// Filling is what stands in the places of a Pattern or a Form.
type Filling struct {
	Channel, Zone, Slot int
	Address, Name       string
}

// number is where the filling keeps the number of that name.
func (x *Filling) number(name string) *int {
	switch name {
	case "zone":
		return &x.Zone
	case "slot":
		return &x.Slot
	}
	return &x.Channel
}

// Of returns the address with its places filled.
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

// digits appends a number, padded with zeros to the width of its place.
func (y patternPiece) digits(b []byte, n int) []byte {
	start := len(b)
	b = strconv.AppendInt(b, int64(n), 10)
	for len(b)-start < y.width {
		b = slices.Insert(b, start, '0')
	}
	return b
}

// Match is the way back: what fills the places so that the address comes out.
func (p Pattern) Match(address string) (Filling, bool) {
	var x Filling
	ok := p.matchFrom(0, address, &x)
	return x, ok
}

// rest matches the pieces from i on to the text.
func (p Pattern) matchFrom(i int, text string, x *Filling) bool {
	if i == len(p) {
		return text == ""
	}
	y := p[i]
	switch longest := 9; { // digits: the widest place
	case y.width == 0 || p[:i].Has(y.name): // known already
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
		for n := 1; n <= min(longest, len(text)) && text[n-1] >= '0' && text[n-1] <= '9'; n++ {
			number, _ := strconv.Atoi(text[:n])
			*x.number(y.name) = number
			var room [16]byte
			asWide := string(y.digits(room[:0], number)) == text[:n] // as the place makes it
			if asWide && p.matchFrom(i+1, text[n:], x) {
				return true
			}
		}
	}
	return false
}

// Has reports whether the pattern has a place of that name.
func (p Pattern) Has(name string) bool {
	return slices.ContainsFunc(p, func(x patternPiece) bool { return x.width > 0 && x.name == name })
}

// Parse reads an address pattern that may have the places named. With faults, the Pattern is nil.
func Parse(text string, places ...string) (Pattern, []source.Fault) {
	p := parser{text: text, placeholders: places}
	if !strings.HasPrefix(text, "/") && !(slices.Contains(places, "address") && strings.HasPrefix(text, "{address}")) {
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
	at, literal  int // where it is, and where the literal text before that begins
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

// next reads a place or a character.
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

// place reads a place from its brace on.
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

// placeholder reads what stands between braces: "channel" or "channel:02". The fault's place counts from there.
func placeholder(text string, places []string) (patternPiece, *source.Fault) {
	name, width, padded := strings.Cut(text, ":")
	switch {
	case name == "zone" && slices.Equal(places, channelPlaceholder):
		return patternPiece{}, zoneWithoutSend(len(text))
	case !slices.Contains(places, name):
		return patternPiece{}, unknownPlaceholder(name, places)
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

// The places of a parameter's address, all of which it must have.
var channelPlaceholder, sendPlaceholders = []string{"channel"}, []string{"channel", "zone"}

// ReadParam reads the address of a parameter, which has a place for the channel and, if zoned, for the zone.
func ReadParam(t table.Text, zoned bool, p *source.Problems) Pattern {
	places := channelPlaceholder
	if zoned {
		places = sendPlaceholders
	}
	out := readPattern(t, places, p)
	for _, name := range places {
		if out != nil && !out.Has(name) {
			p.Add(sameForEvery(t, name))
			return nil
		}
	}
	return out
}

// readPattern reads an address and reports its faults at their place within the string.
func readPattern(t table.Text, places []string, p *source.Problems) Pattern {
	if !t.Set {
		return nil
	}
	out, faults := Parse(t.V, places...)
	for _, f := range faults {
		p.Add(badAddress(t, f))
	}
	return out
}
