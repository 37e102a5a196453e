package level

import (
	"math"
	"testing"

	"backfield/layout"
)

func TestArccos(t *testing.T) {
	for i := range 20001 {
		x := float64(i)/10000 - 1
		if got, want := fineRow(x)/finePerRad, math.Acos(x); math.Abs(got-want) > 3e-8 {
			t.Fatalf("arccos %v = %v, want %v", x, got, want)
		}
	}
	// Rounding may bring a cosine beyond 1; the row must stay in the table.
	for _, x := range []float64{1, 1 + 1e-15, -1, -1 - 1e-15} {
		if u := fineRow(x); math.IsNaN(u) || u < 0 || int(u) >= fineRows {
			t.Errorf("the row of cosine %v is %v", x, u)
		}
	}
}

func TestAtShare(t *testing.T) {
	values, weights := []float64{3, 9, 5, 1}, []float64{1, 2, 1, 6}
	for _, c := range []struct{ pct, want float64 }{{1, 9}, {20, 9}, {20.1, 5}, {30, 5}, {40, 3}, {41, 1}, {100, 1}} {
		if got := atShare(values, weights, 10, c.pct); got != c.want {
			t.Errorf("at %v %%: %v, want %v", c.pct, got, c.want)
		}
	}
}

// TestBeam: the prepared beam of a stack is its pattern.
func TestBeam(t *testing.T) {
	k := DefaultStack(layout.Point{X: -20, Y: -2, Z: 2}, layout.Point{X: -30, Y: -30, Z: 9})
	k.TrimDB, k.MouthM, k.UpDeg = -3, 0.4, 90
	for x := -50.0; x < 50; x += 3.7 {
		for y := -50.0; y < 50; y += 4.1 {
			p := layout.Point{X: x, Y: y, Z: 1 + math.Abs(x)/5}
			got, toward := k.beam().transfer(p), k.TowardDB(p)
			for b := range got {
				want := toward[b] + k.TrimDB - 20*math.Log10(max(k.At.Distance(p), 0.5))
				if math.Abs(Decibels(got[b])-want) > 1e-9 {
					t.Fatalf("%v, band %d: %v, want %v", p, b, Decibels(got[b]), want)
				}
			}
		}
	}
}
