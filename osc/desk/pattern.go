package desk

import (
	"fmt"
	"strconv"
	"strings"

	"backfield/layout/source"
	"backfield/layout/table"
)

// pattern is an address with places for the channel number: "/in/{channel:02}/level". The zero pattern
// stands for an address that could not be read.
type pattern []piece

// piece is literal text, or a channel number where width is over 0: padded with zeros to that width.
type piece struct {
	text  string
	width int
}

// channel returns the address of one channel.
func (p pattern) channel(n int) string {
	var b strings.Builder
	for _, x := range p {
		if x.width == 0 {
			b.WriteString(x.text)
			continue
		}
		fmt.Fprintf(&b, "%0*d", x.width, n)
	}
	return b.String()
}

// placeholders are the names that may stand in braces.
var placeholders = []string{"channel"}

// parsePattern reads an address pattern. With faults, the pattern is nil.
func parsePattern(text string) (pattern, []source.Fault) {
	var faults []source.Fault
	wrong := func(lo, hi int, what, do string) {
		faults = append(faults, source.Fault{Lo: lo, Hi: hi, What: what, Do: do})
	}
	if !strings.HasPrefix(text, "/") {
		wrong(0, min(1, len(text)), "an OSC address begins with a slash", `write it like "/in/{channel}/level"`)
	}
	var out pattern
	channels, literal := 0, 0
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
			if f != nil {
				wrong(i+1+f.Lo, i+1+f.Hi, f.What, f.Do)
			} else {
				channels++
			}
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
	if channels == 0 && len(faults) == 0 {
		wrong(0, len(text), "this address is the same for every channel", "put {channel} where the number goes, or {channel:02} for two digits")
	}
	if len(faults) > 0 {
		return nil, faults
	}
	return out, nil
}

// placeholder reads what stands between braces: "channel" or "channel:02". The fault's place counts from there.
func placeholder(text string) (piece, *source.Fault) {
	name, width, padded := strings.Cut(text, ":")
	if name != "channel" {
		return piece{}, &source.Fault{Lo: 0, Hi: len(name), What: fmt.Sprintf("no placeholder {%s} is known", name),
			Do: source.DidYouMean(name, placeholders, "it is {channel}")}
	}
	if !padded {
		return piece{width: 1}, nil
	}
	if len(width) != 2 || width[0] != '0' || width[1] < '1' || width[1] > '9' {
		return piece{}, &source.Fault{Lo: len(name) + 1, Hi: len(text), What: fmt.Sprintf("%q is no width", width),
			Do: "write 0 and one digit: {channel:02} makes 3 into 03"}
	}
	n, _ := strconv.Atoi(width[1:])
	return piece{width: n}, nil
}

// readPattern reads an address and reports its faults at their place within the string.
func readPattern(t table.Text, p *source.Problems) pattern {
	if !t.Set {
		return nil
	}
	out, faults := parsePattern(t.V)
	for _, f := range faults {
		p.Error("desk-address", table.Inside(t, f.Lo, f.Hi), f.What, f.Do)
	}
	return out
}
