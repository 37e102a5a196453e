package picture

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
)

// Any two marks, filled as for an open mic, differ in at least 18 % of their ink. None fills its box or nearly
// vanishes.
func TestMarksDiffer(t *testing.T) {
	const side = 40
	ink := make([][]bool, Marks)
	for n := range ink {
		d := &Drawing{Min: XY{-1, -1}, W: 2, H: 2, WidthMM: 2}
		d.area("mark", Dark, NoInk, 0, Mark(n)...)
		for _, p := range Mark(n) {
			if math.Abs(p.X) > 1+1e-9 || math.Abs(p.Y) > 1+1e-9 {
				t.Errorf("mark %d leaves its box at %v", n, p)
			}
		}
		img, some := d.raster(side), 0
		for i := range side * side {
			dark := img.RGBAAt(i%side, i/side).R < 128
			ink[n] = append(ink[n], dark)
			if dark {
				some++
			}
		}
		if share := float64(some) / side / side; share < 0.2 || share > 0.9 {
			t.Errorf("mark %d takes %.2f of its box", n, share)
		}
		for m := range n {
			differ, either := 0, 0
			for i := range ink[n] {
				if ink[n][i] != ink[m][i] {
					differ++
				}
				if ink[n][i] || ink[m][i] {
					either++
				}
			}
			if share := float64(differ) / float64(either); share < 0.18 {
				t.Errorf("marks %d and %d differ by %.2f of their ink", m, n, share)
			}
		}
	}
	if Marks < 8 {
		t.Errorf("there are %d marks", Marks)
	}
	if !slices.Equal(Mark(3), Mark(3+Marks)) || !slices.Equal(Mark(-1), Mark(Marks-1)) {
		t.Error("marks do not repeat")
	}
}

// Sections are in the order of the roster, and have a mark each.
func TestSections(t *testing.T) {
	s := compiled(t, "harbor", "")
	if got, want := Sections(s), []string{"trumpet", "mellophone", "baritone", "tuba"}; !slices.Equal(got[:4], want) {
		t.Errorf("sections %v", got)
	}
	if n := len(Sections(s)); n > Marks {
		t.Errorf("%d sections share %d marks", n, Marks)
	}
}

// Different roles have different rings, without color.
func TestRanksDiffer(t *testing.T) {
	seen := map[string]int{}
	for n := range ranks {
		d := &Drawing{W: 10, H: 10, WidthMM: 10}
		d.ring(XY{5, 5}, n)
		key := fmt.Sprint(d.Shapes)
		if m, again := seen[key]; again {
			t.Errorf("ranks %d and %d look alike", m, n)
		}
		seen[key] = n
	}
}

// Text has a contrast of at least 4.5 to 1 with the paper (WCAG 2.2, 1.4.3), lines with a meaning 3 to 1 (1.4.11).
func TestContrast(t *testing.T) {
	luminance := func(v uint32) float64 {
		sum := 0.0
		for i, weight := range []float64{0.2126, 0.7152, 0.0722} {
			c := float64(v>>(16-8*i)&0xff) / 255
			if c <= 0.04045 {
				c /= 12.92
			} else {
				c = math.Pow((c+0.055)/1.055, 2.4)
			}
			sum += weight * c
		}
		return sum
	}
	for theme, palette := range rgb {
		for ink, least := range map[Ink]float64{Dark: 7, Middle: 4.5, Warm: 4.5} {
			a, b := luminance(palette[ink]), luminance(palette[Paper])
			if ratio := (max(a, b) + 0.05) / (min(a, b) + 0.05); ratio < least {
				t.Errorf("theme %d, ink %d: %.2f to 1", theme, ink, ratio)
			}
		}
	}
}

func TestDashes(t *testing.T) {
	long := func(pieces [][]XY) string {
		var b strings.Builder
		for _, p := range pieces {
			for _, q := range p {
				fmt.Fprintf(&b, "(%.4g,%.4g)", q.X, q.Y)
			}
			b.WriteByte(' ')
		}
		return strings.TrimSpace(b.String())
	}
	for _, c := range []struct {
		line []XY
		want string
	}{
		{[]XY{{0, 0}, {7, 0}}, "(0,0)(2,0) (4,0)(6,0)"},
		{[]XY{{0, 0}, {1, 0}, {1, 5}}, "(0,0)(1,0)(1,1) (1,3)(1,5)"},
		{[]XY{{0, 0}, {1, 0}}, "(0,0)(1,0)"},
		{[]XY{{0, 0}, {0, 0}}, "(0,0)(0,0)"},
	} {
		if got := long(dashes(c.line, 2)); got != c.want {
			t.Errorf("%v: %s, want %s", c.line, got, c.want)
		}
	}
}
