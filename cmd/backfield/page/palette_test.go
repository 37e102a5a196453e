package page_test

import (
	"fmt"
	"io/fs"
	"math"
	"regexp"
	"strings"
	"testing"

	"github.com/lucasb-eyer/go-colorful"

	"backfield/cmd/backfield/page"
)

// color is a color in linear light.
type color [3]float64

// theme reads the colors that a rule of the page's style sheet names.
func theme(t *testing.T, rule string) map[string]color {
	t.Helper()
	css, err := fs.ReadFile(page.Static(), "page.css")
	if err != nil {
		t.Fatal(err)
	}
	_, text, ok := strings.Cut(string(css), rule+" {")
	if !ok {
		t.Fatalf("no rule %s", rule)
	}
	text, _, _ = strings.Cut(text, "}")
	list := map[string]color{}
	for _, m := range regexp.MustCompile(`--([a-z-]+): #([0-9a-f]{6}|[0-9a-f]{3});`).FindAllStringSubmatch(text, -1) {
		hex := m[2]
		if len(hex) == 3 {
			hex = string([]byte{hex[0], hex[0], hex[1], hex[1], hex[2], hex[2]})
		}
		var v [3]int
		fmt.Sscanf(hex, "%02x%02x%02x", &v[0], &v[1], &v[2])
		var c color
		for i := range c {
			c[i] = linear(float64(v[i]) / 255)
		}
		list[m[1]] = c
	}
	return list
}

// linear is the light of a part of a color from 0 to 1 (sRGB, IEC 61966-2-1).
func linear(x float64) float64 {
	if x <= 0.04045 {
		return x / 12.92
	}
	return math.Pow((x+0.055)/1.055, 2.4)
}

func (c color) luminance() float64 { return 0.2126*c[0] + 0.7152*c[1] + 0.0722*c[2] }

// lightness is L* of CIE 1976.
func (c color) lightness() float64 {
	if y := c.luminance(); y > 216.0/24389 {
		return 116*math.Cbrt(y) - 16
	} else {
		return y * 24389 / 27
	}
}

// contrast is the ratio of WCAG 2.
func contrast(a, b color) float64 {
	x, y := a.luminance(), b.luminance()
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

// eyes are how eyes see colors: in full, and without one kind of cone (Machado, Oliveira and Fernandes 2009, severity 1.0).
var eyes = map[string][3][3]float64{
	"all cones": {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}},
	"protan":    {{0.152286, 1.052583, -0.204868}, {0.114503, 0.786281, 0.099216}, {-0.003882, -0.048116, 1.051998}},
	"deutan":    {{0.367322, 0.860646, -0.227968}, {0.280085, 0.672501, 0.047413}, {-0.011820, 0.042940, 0.968881}},
	"tritan":    {{1.255528, -0.076749, -0.178779}, {-0.078411, 0.930809, 0.147602}, {0.004733, 0.691367, 0.303900}},
	"gray":      {{0.2126, 0.7152, 0.0722}, {0.2126, 0.7152, 0.0722}, {0.2126, 0.7152, 0.0722}},
}

func seen(c color, eye [3][3]float64) (out color) {
	for i := range out {
		for k := range c {
			out[i] += eye[i][k] * c[k]
		}
		out[i] = min(max(out[i], 0), 1)
	}
	return out
}

// apart is the difference of two colors by CIEDE2000.
func apart(a, b color) float64 {
	return 100 * colorful.LinearRgb(a[0], a[1], a[2]).DistanceCIEDE2000(colorful.LinearRgb(b[0], b[1], b[2]))
}

// TestSeatColors holds the colors of the seats in order of lightness for every eye, the worst farthest from the ground,
// and any two at least 9 apart (CIEDE2000); all but those that are well off are seen against the ground.
func TestSeatColors(t *testing.T) {
	for _, rule := range []string{":root", `:root[data-theme="light"]`} {
		colors := theme(t, rule)
		for _, c := range []struct {
			order    []string // the worst first
			leastGap float64  // in L*, between neighbors
		}{
			{[]string{"very-early", "early", "very-late", "late", "in-time"}, 6},
			{[]string{"bad-seat", "between", "in-time"}, 20},
			{[]string{"share-a", "share-b", "share-c", "share-d", "share-e"}, 9}, // the lane of the stands
		} {
			for eye, how := range eyes {
				ground := seen(colors["ground"], how)
				last := 0.0
				for i, name := range c.order {
					x, ok := colors[name]
					if !ok {
						t.Fatalf("%s has no color %s", rule, name)
					}
					for _, other := range c.order[:i] {
						if d := apart(seen(colors[other], how), seen(x, how)); d < 9 {
							t.Errorf("%s, %s: %s and %s are %.1f apart", rule, eye, other, name, d)
						}
					}
					far := math.Abs(seen(x, how).lightness() - ground.lightness())
					if i > 0 && last-far < c.leastGap {
						t.Errorf("%s, %s: %s is at %.1f from the ground, %s at %.1f", rule, eye, c.order[i-1], last, name, far)
					}
					last = far
				}
			}
			if strings.HasPrefix(c.order[0], "share") {
				continue // a lane has no marks that must stand out one by one
			}
			for _, name := range append(c.order[:len(c.order)-1:len(c.order)-1], "edge", "held") {
				if got := contrast(colors[name], colors["ground"]); got < 3 {
					t.Errorf("%s: %s on the ground has contrast %.2f", rule, name, got)
				}
			}
		}
	}
}

// TestTextColors holds the colors of text on the page to WCAG 2 AA.
func TestTextColors(t *testing.T) {
	for _, rule := range []string{":root", `:root[data-theme="light"]`} {
		colors := theme(t, rule)
		for _, text := range []string{"ink", "chalk", "lamp", "bad", "warn", "good"} {
			for _, on := range []string{"ground", "panel"} {
				if got := contrast(colors[text], colors[on]); got < 4.5 {
					t.Errorf("%s: %s on %s has contrast %.2f", rule, text, on, got)
				}
			}
		}
	}
}
