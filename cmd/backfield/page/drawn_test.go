package page_test

import (
	"image/png"
	"os"
	"path/filepath"
	"testing"
	"time"

	"backfield/cmd/backfield/browser"
)

// TestDrawnColors looks at the pixels of the page and of the seat's screen through the eyes of TestSeatColors: the strongest
// pixel of each sign still stands out from the ground beside it.
func TestDrawnColors(t *testing.T) {
	b := browser.Open(t, 1280, 720)
	b.Go(harbor())
	b.Await("document.querySelector('.in-stands')", time.Minute)
	file := filepath.Join(t.TempDir(), "page.png")
	look := func(light string, signs string) {
		t.Helper()
		boxes := browser.Eval[[][4]float64](b, "[...document.querySelectorAll('"+signs+"')].map(e => e.getBoundingClientRect()).filter(r => r.width && r.top >= 0 && r.bottom <= innerHeight)"+
			".map(r => [r.left - 2, r.top - 2, r.right + 2, r.bottom + 2])")
		b.Shot(file)
		f, err := os.Open(file)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		shot, err := png.Decode(f)
		if err != nil || len(boxes) == 0 {
			t.Fatalf("%s: %d signs, %v", signs, len(boxes), err)
		}
		at := func(x, y int) (c color) {
			var v [3]uint32
			v[0], v[1], v[2], _ = shot.At(x, y).RGBA()
			for i := range c {
				c[i] = linear(float64(v[i]) / 0xffff)
			}
			return c
		}
		for eye, how := range eyes {
			for n, r := range boxes {
				most, ground := 0.0, seen(at(int(r[0]), int(r[1])), how)
				for y := int(r[1]); y <= int(r[3]); y++ {
					for x := int(r[0]); x <= int(r[2]); x++ {
						most = max(most, contrast(seen(at(x, y), how), ground))
					}
				}
				if most < 2.5 { // 3, less what antialiasing takes from a small sign
					t.Errorf("%s, %s: sign %d of %s has contrast %.2f to the ground beside it", light, eye, n+1, signs, most)
				}
			}
		}
	}
	b.Key("]]]]]s") // cue 6
	for range 2 {
		b.Key("d")
		light := browser.Eval[string](b, "document.documentElement.dataset.theme")
		b.Key("1")
		b.Await("document.querySelectorAll('#legend path').length > 4", time.Minute)
		look(light, "#legend path")
		look(light, ".player.open:not(.fixed) .mark")
		look(light, ".facts dt, .soon dd, .mics td.sign abbr")
	}
	b.Key("h")
	b.Await("document.querySelector('#strip-b .arrival')", time.Minute)
	look("the last light", "#strip-a .arrival .bar, .verdict .big, .gaps svg path")
	if faults := b.Faults(); faults != "" {
		t.Error(faults)
	}
}
