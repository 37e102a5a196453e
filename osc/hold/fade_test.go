package hold

import (
	"math"
	"testing"
	"time"
)

func TestFade(t *testing.T) {
	at := time.Unix(1_700_000_000, 0)
	f := Fade{-50, -3.7, at, 2 * time.Second}
	for s, want := range map[float64]float64{-1: -50, 0: -50, 1: -26.85, 2: -3.7, 3: -3.7} {
		if got := f.At(at.Add(time.Duration(s * 1e9))); math.Abs(got-want) > 1e-9 || (s <= 0 || s >= 2) && got != want {
			t.Errorf("after %g s: %v, want %v", s, got, want)
		}
	}
	if got := (Fade{To: 5, From: 1}).At(at); got != 5 {
		t.Errorf("a fade without length is at %g", got)
	}
}
