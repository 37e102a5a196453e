// Package letters measures text and turns it into outlines, in fonts that are part of the binary: the fonts of the Go
// project (BSD license), and for a text with a letter that these lack, DejaVu Sans (its license is free, and is in the
// module's LICENSE-DejaVu). A letter that no font has whole is drawn as its base letter and its marks.
package letters

import (
	"sync"
	"unicode"

	"github.com/go-fonts/dejavu/dejavusans"
	"github.com/go-fonts/dejavu/dejavusansbold"
	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"golang.org/x/text/unicode/norm"
)

// OutlinePoint is a place in a drawing: X to the right, Y downward.
type OutlinePoint struct{ X, Y float64 }

// An SVG and a page are shown in the viewer's own sans serif font, which may be wider than ours. This factor leaves
// room for it.
const viewerWider = 1.1

// Ascent is the height of a capital letter, as a part of the font size.
const Ascent = 0.72

// parsed makes a font of its file when it is first needed.
func parsed(data []byte) func() *sfnt.Font {
	return sync.OnceValue(func() *sfnt.Font {
		f, err := sfnt.Parse(data)
		if err != nil {
			panic(err) // the fonts are part of the binary
		}
		return f
	})
}

var (
	usual = [2]func() *sfnt.Font{parsed(goregular.TTF), parsed(gobold.TTF)}
	more  = [2]func() *sfnt.Font{parsed(dejavusans.TTF), parsed(dejavusansbold.TTF)}
)

// glyph is one letter or mark at its place on the line. A unit is a thousandth of the font size.
type glyph struct {
	font  *sfnt.Font
	index sfnt.GlyphIndex
	x, y  float64
}

// typesetter puts letters on a line.
type typesetter struct {
	fonts  []*sfnt.Font // the first that has a letter draws it
	buffer sfnt.Buffer
	glyphs []glyph
	x      float64 // where the next letter begins
	last   *inked  // the letter that marks go on, nil for none
}

// inked is where a letter's ink is.
type inked struct{ left, right, top, bottom float64 }

// line puts a text on a line. All of a text is in one font if one has all its letters, so that a name looks like one.
func line(text string, bold bool) *typesetter {
	weight := 0
	if bold {
		weight = 1
	}
	text = norm.NFC.String(text)
	t := &typesetter{fonts: []*sfnt.Font{usual[weight]()}}
	for _, r := range text {
		if t.find(r).index == 0 {
			t.fonts = []*sfnt.Font{more[weight](), usual[weight]()}
			break
		}
	}
	for _, r := range text {
		t.put(r)
	}
	return t
}

// find is the glyph of a letter. Its index is 0, which draws a box, if no font has the letter.
func (t *typesetter) find(r rune) glyph {
	for _, f := range t.fonts {
		if i, err := f.GlyphIndex(&t.buffer, r); err == nil && i != 0 {
			return glyph{font: f, index: i}
		}
	}
	return glyph{font: t.fonts[0]}
}

// put puts a letter at the end of the line, or a mark on the letter before it.
func (t *typesetter) put(r rune) {
	g := t.find(r)
	if unicode.Is(unicode.Mn, r) && t.last != nil && g.index != 0 {
		t.mark(r, g)
		return
	}
	if parts := norm.NFD.String(string(r)); g.index == 0 && parts != string(r) {
		for _, part := range parts {
			t.put(part)
		}
		return
	}
	g.x = t.x
	t.glyphs = append(t.glyphs, g)
	if a, err := g.font.GlyphAdvance(&t.buffer, g.index, em, font.HintingNone); err == nil {
		t.x += float64(a) / 64
	}
	t.last = t.ink(g)
}

// em is the font size at which outlines and widths are read.
var em = fixed.I(1000)

// ink is where a glyph's ink is; nil for a space.
func (t *typesetter) ink(g glyph) *inked {
	b, _, err := g.font.GlyphBounds(&t.buffer, g.index, em, font.HintingNone)
	if err != nil || b.Empty() {
		return nil
	}
	return &inked{
		left: g.x + float64(b.Min.X)/64, right: g.x + float64(b.Max.X)/64,
		top: g.y + float64(b.Min.Y)/64, bottom: g.y + float64(b.Max.Y)/64,
	}
}

// The classes of marks by their place, from the Unicode standard (UAX 44, canonical combining classes).
const (
	classBelow = 220
	classAbove = 230
)

// gap is the space between a letter and a mark on it.
const gap = 60

// mark puts a mark in the middle of the last letter, above or below its ink.
func (t *typesetter) mark(r rune, g glyph) {
	at := t.ink(g)
	if at == nil {
		return
	}
	g.x = (t.last.left+t.last.right)/2 - (at.left+at.right)/2
	switch norm.NFC.PropertiesString(string(r)).CCC() {
	case classAbove:
		g.y = min(0, t.last.top-gap-at.bottom)
		t.last.top = at.top + g.y
	case classBelow:
		g.y = max(0, t.last.bottom+gap-at.top)
		t.last.bottom = at.bottom + g.y
	}
	t.glyphs = append(t.glyphs, g)
}

// Wide is about how wide a text of that font size is for a viewer, in the unit of the size.
func Wide(text string, size float64, bold bool) float64 {
	return viewerWider * Advance(text, size, bold)
}

// Advance is how wide a text is in our fonts.
func Advance(text string, size float64, bold bool) float64 { return line(text, bold).x / 1000 * size }

// Outlines are the outlines of a text that begins at a place on its baseline. Curves are cut into short lines.
func Outlines(text string, size float64, bold bool, at OutlinePoint) [][]OutlinePoint {
	t := line(text, bold)
	var outlines [][]OutlinePoint
	for _, g := range t.glyphs {
		segments, err := g.font.LoadGlyph(&t.buffer, g.index, em, nil)
		if err != nil {
			continue
		}
		place := func(p fixed.Point26_6) OutlinePoint {
			return OutlinePoint{at.X + (g.x+float64(p.X)/64)/1000*size, at.Y + (g.y+float64(p.Y)/64)/1000*size}
		}
		for _, s := range segments {
			if s.Op == sfnt.SegmentOpMoveTo {
				outlines = append(outlines, []OutlinePoint{place(s.Args[0])})
				continue
			}
			n := len(outlines) - 1
			from := outlines[n][len(outlines[n])-1]
			outlines[n] = append(outlines[n], curve(s.Op, from, place(s.Args[0]), place(s.Args[1]),
				place(s.Args[2]))...)
		}
	}
	return outlines
}

// curve is a line, or a Bezier curve in eight pieces.
func curve(op sfnt.SegmentOp, p, a, b, c OutlinePoint) []OutlinePoint {
	if op == sfnt.SegmentOpLineTo {
		return []OutlinePoint{a}
	}
	const pieces = 8
	points := make([]OutlinePoint, pieces)
	for i := range points {
		t := float64(i+1) / pieces
		u := 1 - t
		if op == sfnt.SegmentOpQuadTo {
			points[i] = OutlinePoint{u*u*p.X + 2*u*t*a.X + t*t*b.X, u*u*p.Y + 2*u*t*a.Y + t*t*b.Y}
		} else {
			points[i] = OutlinePoint{
				u*u*u*p.X + 3*u*u*t*a.X + 3*u*t*t*b.X + t*t*t*c.X,
				u*u*u*p.Y + 3*u*u*t*a.Y + 3*u*t*t*b.Y + t*t*t*c.Y,
			}
		}
	}
	return points
}
