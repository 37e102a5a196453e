package letters

import (
	"math"
	"slices"
	"strings"
	"testing"
	"unicode"
)

// boxes counts the letters of a text that no font has.
func boxes(text string) (n int) {
	for _, bold := range []bool{false, true} {
		for _, g := range line(text, bold).glyphs {
			if g.index == 0 {
				n++
			}
		}
	}
	return n
}

// All letters of the Latin blocks that living languages are written in have a shape, in both weights. The blocks are
// those of the Unicode standard. Latin Extended-D and -E and the phonetic extensions are for old manuscripts and for
// phonetics: of these only the saltillo and the click letters are asked for here.
func TestEveryLatinLetterHasAShape(t *testing.T) {
	blocks := []struct {
		name     string
		from, to rune
		without  []rune
		least    int
	}{
		{"Basic Latin and Latin-1 Supplement", 0x0000, 0x00ff, nil, 110},
		{"Latin Extended-A and -B", 0x0100, 0x024f, nil, 330},
		{"IPA Extensions, which African languages write with", 0x0250, 0x02af, nil, 90},
		{"Latin Extended Additional (Vietnamese)", 0x1e00, 0x1eff, []rune("ỼỽỾỿ"), 250}, // of medieval Welsh
		{"Latin Extended-C", 0x2c60, 0x2c7f, []rune("ⱸ"), 30},                           // of a phonetic alphabet
		{"saltillo, Dan and Lithuanian letters of Latin Extended-D", 0xa78b, 0xa78d, nil, 3},
	}
	for _, b := range blocks {
		n := 0
		for r := b.from; r <= b.to; r++ {
			if !unicode.Is(unicode.Latin, r) || slices.Contains(b.without, r) {
				continue
			}
			n++
			if boxes(string(r)) > 0 || len(Outlines(string(r), 1, false, OutlinePoint{})) == 0 {
				t.Errorf("%s: %c (%04X) is a box", b.name, r, r)
			}
		}
		if n < b.least {
			t.Errorf("%s: only %d letters were tried", b.name, n)
		}
	}
	for r := rune(0x0300); r <= 0x0331; r++ { // the marks that orthographies combine
		if boxes("o"+string(r)) > 0 {
			t.Errorf("the mark %04X is a box", r)
		}
	}
	if boxes("\U000e0000") == 0 || boxes("ꬰ") == 0 {
		t.Error("a letter that no font has is not noticed")
	}
}

// bounds is where the ink of a text is.
func bounds(text string) (b inked, n int) {
	b = inked{math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)}
	list := Outlines(text, 1000, false, OutlinePoint{})
	for _, o := range list {
		for _, p := range o {
			b.left, b.right = min(b.left, p.X), max(b.right, p.X)
			b.top, b.bottom = min(b.top, p.Y), max(b.bottom, p.Y)
		}
	}
	return b, len(list)
}

// Letters that Unicode has no single character for get their marks above and below, clear of the letter and of each
// other: Guarani g̃, Marshallese m̧, Yoruba ọ́, Lithuanian ė́, and an upper case letter, which is higher.
func TestMarksAreOnTheirLetters(t *testing.T) {
	const fonts = 30 // the letter alone is in another font
	for _, c := range []struct {
		letter, mark string
		above        bool
	}{
		{"g", "\u0303", true}, {"G", "\u0303", true}, {"ọ", "\u0301", true}, {"x", "\u0302", true},
		{"ė", "\u0301", true}, {"X", "\u0323", false}, {"j", "\u0323", false},
	} {
		alone, n := bounds(c.letter)
		both, m := bounds(c.letter + c.mark)
		if m <= n {
			t.Fatalf("%s: the mark is not drawn", c.letter+c.mark)
		}
		rises, sinks := alone.top-both.top, both.bottom-alone.bottom
		if c.above && (rises < gap || sinks > fonts) || !c.above && (sinks < gap || rises > fonts) {
			t.Errorf("%s: it rises by %.0f and sinks by %.0f", c.letter+c.mark, rises, sinks)
		}
		if a, b := Advance(c.letter, 1000, false), Advance(c.letter+c.mark, 1000, false); math.Abs(a-b) > 100 {
			t.Errorf("%s: the mark takes room on the line: %.0f, without it %.0f", c.letter+c.mark, b, a)
		}
	}
}

// A name in letters and marks is the same as in single characters, and is in one font.
func TestOneNameOneFont(t *testing.T) {
	composed, apart := "Nguyễn Thị Hồng", "Nguye\u0302\u0303n Thi\u0323 Ho\u0302\u0300ng"
	if a, b := Advance(composed, 10, true), Advance(apart, 10, true); a != b {
		t.Errorf("%g and %g wide", a, b)
	}
	glyphs := line(composed, false).glyphs
	for _, g := range glyphs {
		if g.font != glyphs[0].font || g.index == 0 {
			t.Fatal("the name is in two fonts, or has a box")
		}
	}
	if plain := line("Tpt 1, Ø ß č", false).glyphs; plain[0].font != usual[0]() {
		t.Error("a name that the usual font has is in another")
	}
}

// Text that is cut keeps its ends, and lines keep their width.
func TestFit(t *testing.T) {
	const name = "first trumpet of the left wing 12"
	if got := ShortenMiddle(name, 10, Wide(name, 10, true), true); got != name {
		t.Errorf("a name that fits is cut: %q", got)
	}
	for _, got := range []string{ShortenMiddle(name, 10, 80, true), ShortenEnd(name, 10, 80, true)} {
		if Wide(got, 10, true) > 80 || got[0] != 'f' {
			t.Errorf("%q is %.0f wide", got, Wide(got, 10, true))
		}
	}
	lines := Wrap(name, 10, 90, false)
	if strings.Join(lines, " ") != name || len(lines) < 2 {
		t.Errorf("%q", lines)
	}
	for _, l := range lines {
		if Wide(l, 10, false) > 90 {
			t.Errorf("the line %q is %.0f wide", l, Wide(l, 10, false))
		}
	}
}
