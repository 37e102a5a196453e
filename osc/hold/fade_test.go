package hold

import (
	"math"
	"testing"
	"time"
)

func TestFade(t *testing.T) {
	at := time.Unix(1_700_000_000, 0)
	f := Fade{From: -50, To: -3.7, Start: at, Length: 2 * time.Second}
	level := f
	level.Level = true
	half := -3.7 + math.Log10((1+math.Pow(10, -0.03*46.3))/2)/0.03 // half of both loudnesses
	for _, c := range []struct {
		fade Fade
		half float64
	}{{f, -26.85}, {level, half}} {
		for s, want := range map[float64]float64{-1: -50, 0: -50, 1: c.half, 2: -3.7, 3: -3.7} {
			got := c.fade.At(at.Add(time.Duration(s * 1e9)))
			if math.Abs(got-want) > 1e-9 || (s <= 0 || s >= 2) && got != want {
				t.Errorf("level %t, after %g s: %v, want %v", c.fade.Level, s, got, want)
			}
		}
	}
	if got := (Fade{To: 5, From: 1}).At(at); got != 5 {
		t.Errorf("a fade without length is at %g", got)
	}
}

// A fade of a level starts and ends exactly where it should, never turns back and never leaves its ends, from off and to
// off too; and all its steps are equally loud.
func TestFadeLevel(t *testing.T) {
	off := math.Inf(-1)
	for _, c := range [][2]float64{{off, 0}, {0, off}, {off, -12.3}, {-50, -3.7}, {-6, 3}, {3, -6}, {-4.2, -4.2},
		{-4.2, -4.2000000001}, {off, off}, {-300, 10}, {off, -2000}} {
		from, to := c[0], c[1]
		if a, b := FadeLevel(from, to, 0), FadeLevel(from, to, 1); a != from || b != to {
			t.Errorf("from %v to %v it goes from %v to %v", from, to, a, b)
		}
		if a, b := FadeLevel(from, to, math.NaN()), FadeLevel(from, to, 2); a != from || b != to {
			t.Errorf("outside of the fade from %v to %v it is at %v and %v", from, to, a, b)
		}
		const steps = 1000
		sones := func(dB float64) float64 { return math.Pow(10, 0.03*(dB-max(from, to))) }
		last := from
		for i := 1; i <= steps; i++ {
			now := FadeLevel(from, to, float64(i)/steps)
			if math.IsNaN(now) || now < min(from, to) || now > max(from, to) || (now-last)*(to-from) < 0 {
				t.Fatalf("from %v to %v: step %d goes from %v to %v", from, to, i, last, now)
			}
			if from != to {
				step, even := sones(now)-sones(last), (sones(to)-sones(from))/steps
				if math.Abs(step-even) > 1e-12 {
					t.Fatalf("from %v to %v: step %d is %g of the loudness, want %g", from, to, i, step, even)
				}
			}
			last = now
		}
	}
	if got := FadeLevel(off, 0, 0.5); math.Abs(got+10.0343) > 1e-4 { // 10 dB sound twice as loud
		t.Errorf("halfway from off it is at %v dB", got)
	}
}
