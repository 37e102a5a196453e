package desk

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"backfield/layout/source"
	"backfield/layout/table"
)

// pattern is an address with places: of a parameter for the channel number, of a send for the zone too
// ("/in/{channel:02}/zone/{zone}"), of a request for what it is about ("/scene/{slot}/store"). The zero pattern
// stands for an address that could not be read.
type pattern []piece

// piece is literal text, or what name stands for where width is over 0: a number padded with zeros to that
// width, or an address.
type piece struct {
	text, name string
	width      int
}

// filling is what stands in the places of a pattern or a form.
type filling struct {
	channel, zone, slot int
	address, name       string
}

// number is where the filling keeps the number of that name.
func (x *filling) number(name string) *int {
	switch name {
	case "zone":
		return &x.zone
	case "slot":
		return &x.slot
	}
	return &x.channel
}

// of returns the address with its places filled.
func (p pattern) of(x filling) string {
	b := make([]byte, 0, 32)
	for _, y := range p {
		switch {
		case y.width == 0:
			b = append(b, y.text...)
		case y.name == "address":
			b = append(b, x.address...)
		default:
			b = y.digits(b, *x.number(y.name))
		}
	}
	return string(b)
}

// digits appends a number, padded with zeros to the width of its place.
func (y piece) digits(b []byte, n int) []byte {
	start := len(b)
	b = strconv.AppendInt(b, int64(n), 10)
	for len(b)-start < y.width {
		b = slices.Insert(b, start, '0')
	}
	return b
}

// match is the way back: what fills the places so that the address comes out.
func (p pattern) match(address string) (filling, bool) {
	var x filling
	ok := p.rest(0, address, &x)
	return x, ok
}

// rest matches the pieces from i on to the text.
func (p pattern) rest(i int, text string, x *filling) bool {
	if i == len(p) {
		return text == ""
	}
	y := p[i]
	switch longest := 9; { // digits: the widest place
	case y.width == 0 || p[:i].has(y.name): // known already
		known := y.text
		if y.width > 0 {
			known = p[i : i+1].of(*x)
		}
		after, ok := strings.CutPrefix(text, known)
		return ok && p.rest(i+1, after, x)
	case y.name == "address":
		for n := len(text); n > 0; n-- {
			if x.address = text[:n]; p.rest(i+1, text[n:], x) {
				return true
			}
		}
	default:
		for n := 1; n <= min(longest, len(text)) && text[n-1] >= '0' && text[n-1] <= '9'; n++ {
			number, _ := strconv.Atoi(text[:n])
			*x.number(y.name) = number
			var room [16]byte
			if string(y.digits(room[:0], number)) == text[:n] && p.rest(i+1, text[n:], x) { // as wide as the place makes it
				return true
			}
		}
	}
	return false
}

// has reports whether the pattern has a place of that name.
func (p pattern) has(name string) bool {
	return slices.ContainsFunc(p, func(x piece) bool { return x.width > 0 && x.name == name })
}

// parsePattern reads an address pattern that may have the places named. With faults, the pattern is nil.
func parsePattern(text string, places ...string) (pattern, []source.Fault) {
	var faults []source.Fault
	wrong := func(lo, hi int, what, do string) {
		faults = append(faults, source.Fault{Lo: lo, Hi: hi, What: what, Do: do})
	}
	if !strings.HasPrefix(text, "/") && !(slices.Contains(places, "address") && strings.HasPrefix(text, "{address}")) {
		wrong(0, min(1, len(text)), "an OSC address begins with a slash", `write it like "/in/{channel}/level"`)
	}
	var out pattern
	literal := 0
	flush := func(end int) {
		if end > literal {
			out = append(out, piece{text: text[literal:end]})
		}
	}
	for i := 0; i < len(text); {
		switch c := text[i]; {
		case c == '{':
			flush(i)
			end := strings.IndexAny(text[i+1:], "{}")
			if end < 0 || text[i+1+end] == '{' {
				wrong(i, i+1, "this brace is never closed", "write "+braced(places))
				return nil, faults
			}
			end += i + 1
			x, f := placeholder(text[i+1:end], places)
			switch {
			case f != nil:
				wrong(i+1+f.Lo, i+1+f.Hi, f.What, f.Do)
			case x.name == "address" && i > 0 && text[i-1] == '/':
				wrong(i-1, i, "a part of the address is empty", "what {address} stands for begins with a slash itself; leave this one out")
			}
			out = append(out, x)
			i, literal = end+1, end+1
		case c == '}':
			wrong(i, i+1, "this brace closes nothing", "write "+braced(places))
			i++
		case c == '/' && (i+1 == len(text) || text[i+1] == '/'):
			wrong(i, i+1, "a part of the address is empty", "each slash is followed by a name")
			i++
		case c < '!' || c > '~' || strings.IndexByte("#*,?[]", c) >= 0:
			end := i + 1
			for c >= 0x80 && end < len(text) && text[end]&0xC0 == 0x80 { // point at the whole character
				end++
			}
			wrong(i, end, fmt.Sprintf("%q may not stand in an OSC address", text[i:end]), "use printable ASCII without space # * , ? [ ] { }")
			i = end
		default:
			i++
		}
	}
	flush(len(text))
	if len(faults) > 0 {
		return nil, faults
	}
	return out, nil
}

// braced words the places that there are: "{channel} or {zone}".
func braced(places []string) string {
	if len(places) == 0 {
		return "an address without braces"
	}
	return "{" + strings.Join(places, "} or {") + "}"
}

// placeholder reads what stands between braces: "channel" or "channel:02". The fault's place counts from there.
func placeholder(text string, places []string) (piece, *source.Fault) {
	name, width, padded := strings.Cut(text, ":")
	switch {
	case name == "zone" && slices.Equal(places, channelPlace):
		return piece{}, &source.Fault{Lo: 0, Hi: len(text), What: "only a send has a zone", Do: "write {channel}, or put this address under [send]"}
	case !slices.Contains(places, name):
		return piece{}, &source.Fault{Lo: 0, Hi: len(name), What: fmt.Sprintf("no placeholder {%s} is known here", name),
			Do: source.DidYouMean(name, places, "write "+braced(places))}
	case !padded:
		return piece{name: name, width: 1}, nil
	case name == "address":
		return piece{}, &source.Fault{Lo: len(name), Hi: len(text), What: "an address has no width", Do: "write {address}"}
	case len(width) != 2 || width[0] != '0' || width[1] < '1' || width[1] > '9':
		return piece{}, &source.Fault{Lo: len(name) + 1, Hi: len(text), What: fmt.Sprintf("%q is no width", width),
			Do: "write 0 and one digit: {" + name + ":02} makes 3 into 03"}
	}
	n, _ := strconv.Atoi(width[1:])
	return piece{name: name, width: n}, nil
}

// The places of a parameter's address, all of which it must have.
var channelPlace, sendPlaces = []string{"channel"}, []string{"channel", "zone"}

// readParamPattern reads the address of a parameter, which has a place for the channel and, if zoned, for the zone.
func readParamPattern(t table.Text, zoned bool, p *source.Problems) pattern {
	places := channelPlace
	if zoned {
		places = sendPlaces
	}
	out := readPattern(t, places, p)
	for _, name := range places {
		if out != nil && !out.has(name) {
			p.Error("desk-address", table.Inside(t, 0, len(t.V)), "this address is the same for every "+name,
				fmt.Sprintf("put {%s} where its number goes, or {%s:02} for two digits", name, name))
			return nil
		}
	}
	return out
}

// readPattern reads an address and reports its faults at their place within the string.
func readPattern(t table.Text, places []string, p *source.Problems) pattern {
	if !t.Set {
		return nil
	}
	out, faults := parsePattern(t.V, places...)
	for _, f := range faults {
		p.Error("desk-address", table.Inside(t, f.Lo, f.Hi), f.What, f.Do)
	}
	return out
}
