package desk

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"backfield/layout/source"
	"backfield/layout/table"
)

// pattern is an address with places for the channel number, and of a send for the zone:
// "/in/{channel:02}/zone/{zone}". The zero pattern
// stands for an address that could not be read.
type pattern []piece

// piece is literal text, or the number that name stands for where width is over 0: padded with zeros to that
// width.
type piece struct {
	text, name string
	width      int
}

// of returns the address of one channel, and of one zone where the pattern has a place for it.
func (p pattern) of(channel, zone int) string {
	var b strings.Builder
	for _, x := range p {
		switch {
		case x.width == 0:
			b.WriteString(x.text)
		case x.name == "zone":
			fmt.Fprintf(&b, "%0*d", x.width, zone)
		default:
			fmt.Fprintf(&b, "%0*d", x.width, channel)
		}
	}
	return b.String()
}

// placeholders are the names that may stand in braces; the zone only in a send's address.
var placeholders = []string{"channel", "zone"}

// parsePattern reads an address pattern, which has a place for the channel and, if zoned, one for the zone. With
// faults, the pattern is nil.
func parsePattern(text string, zoned bool) (pattern, []source.Fault) {
	var faults []source.Fault
	wrong := func(lo, hi int, what, do string) {
		faults = append(faults, source.Fault{Lo: lo, Hi: hi, What: what, Do: do})
	}
	if !strings.HasPrefix(text, "/") {
		wrong(0, min(1, len(text)), "an OSC address begins with a slash", `write it like "/in/{channel}/level"`)
	}
	var out pattern
	has, literal := map[string]bool{}, 0
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
				wrong(i, i+1, "this brace is never closed", "write {channel}")
				return nil, faults
			}
			end += i + 1
			x, f := placeholder(text[i+1 : end])
			switch {
			case f != nil:
				wrong(i+1+f.Lo, i+1+f.Hi, f.What, f.Do)
			case x.name == "zone" && !zoned:
				wrong(i+1, end, "only a send has a zone", "write {channel}, or put this address under [send]")
			}
			has[x.name] = true
			out = append(out, x)
			i, literal = end+1, end+1
		case c == '}':
			wrong(i, i+1, "this brace closes nothing", "write {channel}")
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
	if !has["channel"] && len(faults) == 0 {
		wrong(0, len(text), "this address is the same for every channel", "put {channel} where the number goes, or {channel:02} for two digits")
	}
	if zoned && !has["zone"] && len(faults) == 0 {
		wrong(0, len(text), "this address is the same for every zone", "put {zone} where the zone's number goes")
	}
	if len(faults) > 0 {
		return nil, faults
	}
	return out, nil
}

// placeholder reads what stands between braces: "channel" or "channel:02". The fault's place counts from there.
func placeholder(text string) (piece, *source.Fault) {
	name, width, padded := strings.Cut(text, ":")
	if !slices.Contains(placeholders, name) {
		return piece{}, &source.Fault{Lo: 0, Hi: len(name), What: fmt.Sprintf("no placeholder {%s} is known", name),
			Do: source.DidYouMean(name, placeholders, "it is {channel}, and in a send {zone}")}
	}
	if !padded {
		return piece{name: name, width: 1}, nil
	}
	if len(width) != 2 || width[0] != '0' || width[1] < '1' || width[1] > '9' {
		return piece{}, &source.Fault{Lo: len(name) + 1, Hi: len(text), What: fmt.Sprintf("%q is no width", width),
			Do: "write 0 and one digit: {channel:02} makes 3 into 03"}
	}
	n, _ := strconv.Atoi(width[1:])
	return piece{name: name, width: n}, nil
}

// readPattern reads an address and reports its faults at their place within the string.
func readPattern(t table.Text, zoned bool, p *source.Problems) pattern {
	if !t.Set {
		return nil
	}
	out, faults := parsePattern(t.V, zoned)
	for _, f := range faults {
		p.Error("desk-address", table.Inside(t, f.Lo, f.Hi), f.What, f.Do)
	}
	return out
}
