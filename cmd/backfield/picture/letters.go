package picture

import (
	"sync"
	"unicode/utf8"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// A PNG uses the fonts of the Go project (BSD license), and all text is measured with them. An SVG is shown in the
// viewer's own sans serif font, which may be wider. This factor leaves room for it.
const viewerWider = 1.1

var faces = sync.OnceValue(func() [2]*sfnt.Font {
	var list [2]*sfnt.Font
	for i, data := range [][]byte{goregular.TTF, gobold.TTF} {
		f, err := sfnt.Parse(data)
		if err != nil {
			panic(err) // the fonts are part of the binary
		}
		list[i] = f
	}
	return list
})

func face(bold bool) *sfnt.Font {
	if bold {
		return faces()[1]
	}
	return faces()[0]
}

// ascent is the height of a capital letter, as a part of the font size.
const ascent = 0.72

// wide is about how wide a text of that font size is, in the unit of the size.
func wide(text string, size float64, bold bool) float64 {
	return viewerWider * advance(text, size, bold)
}

func advance(text string, size float64, bold bool) float64 {
	f, em, x := face(bold), fixed.I(1000), 0.0
	var b sfnt.Buffer
	for _, r := range text {
		g, err := f.GlyphIndex(&b, r)
		if err != nil {
			continue
		}
		if a, err := f.GlyphAdvance(&b, g, em, font.HintingNone); err == nil {
			x += float64(a) / 64000
		}
	}
	return x * size
}

// glyphs are the outlines of a text and its tail, in pixels. Curves are cut into short lines.
func glyphs(s Shape, scale float64, at XY) [][]XY {
	size := s.SizeM * scale
	long, tail := advance(s.Text, size, s.Bold), ""
	if s.Tail != "" {
		tail = " " + s.Tail
	}
	x := at.X - float64(s.Anchor+1)/2*(long+advance(tail, size, false))
	outlines := textOutlines(s.Text, size, s.Bold, XY{x, at.Y})
	return append(outlines, textOutlines(tail, size, false, XY{x + long, at.Y})...)
}

// textOutlines are the outlines of a text that begins at a place.
func textOutlines(text string, size float64, bold bool, at XY) [][]XY {
	f := face(bold)
	var b sfnt.Buffer
	var outlines [][]XY
	for _, r := range text {
		g, err := f.GlyphIndex(&b, r)
		if err != nil {
			continue
		}
		segments, err := f.LoadGlyph(&b, g, fixed.I(1000), nil)
		if err != nil {
			continue
		}
		place := func(p fixed.Point26_6) XY {
			return XY{at.X + float64(p.X)/64000*size, at.Y + float64(p.Y)/64000*size}
		}
		for _, g := range segments {
			if g.Op == sfnt.SegmentOpMoveTo {
				outlines = append(outlines, []XY{place(g.Args[0])})
				continue
			}
			n := len(outlines) - 1
			from := outlines[n][len(outlines[n])-1]
			outlines[n] = append(outlines[n], curve(g.Op, from, place(g.Args[0]), place(g.Args[1]),
				place(g.Args[2]))...)
		}
		at.X += advance(string(r), size, bold)
	}
	return outlines
}

// curve is a line, or a Bezier curve in eight pieces.
func curve(op sfnt.SegmentOp, p, a, b, c XY) []XY {
	if op == sfnt.SegmentOpLineTo {
		return []XY{a}
	}
	const pieces = 8
	points := make([]XY, pieces)
	for i := range points {
		t := float64(i+1) / pieces
		u := 1 - t
		if op == sfnt.SegmentOpQuadTo {
			points[i] = XY{u*u*p.X + 2*u*t*a.X + t*t*b.X, u*u*p.Y + 2*u*t*a.Y + t*t*b.Y}
		} else {
			points[i] = XY{
				u*u*u*p.X + 3*u*u*t*a.X + 3*u*t*t*b.X + t*t*t*c.X,
				u*u*u*p.Y + 3*u*u*t*a.Y + 3*u*t*t*b.Y + t*t*t*c.Y,
			}
		}
	}
	return points
}

// wrap breaks a text between words so that no line is wider than width.
func wrap(text string, size, width float64) []string {
	var lines []string
	line, word := "", ""
	flush := func() {
		switch {
		case line == "":
			line = word
		case wide(line+" "+word, size, false) <= width:
			line += " " + word
		default:
			lines = append(lines, line)
			line = word
		}
		word = ""
	}
	for _, r := range text {
		if r == ' ' {
			flush()
		} else {
			word += string(r)
		}
	}
	flush()
	return append(lines, line)
}

// shortenMiddle cuts a name that is wider than width in its middle, since most names differ at the end.
func shortenMiddle(name string, size, width float64, bold bool) string {
	letters := []rune(name)
	for n := len(letters) - 1; n > 1 && wide(name, size, bold) > width; n-- {
		name = string(letters[:(n+1)/2]) + "…" + string(letters[len(letters)-n/2:])
	}
	return name
}

// shortenEnd cuts a text that is wider than width, and ends it with a sign that it was cut.
func shortenEnd(text string, size, width float64, bold bool) string {
	if wide(text, size, bold) <= width {
		return text
	}
	for text != "" && wide(text+"…", size, bold) > width {
		_, n := utf8.DecodeLastRuneInString(text)
		text = text[:len(text)-n]
	}
	return text + "…"
}
