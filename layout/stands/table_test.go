package stands

import (
	"math"
	"testing"

	"backfield/layout"
	"backfield/layout/sound"
)

// policyTable is what the ways to choose a delay are worth: the mean share, in percent, of seats that hear the
// loudspeaker 0 to 30 ms after the player. The scene: 25 rows of 80 seats, 60 to 100 m wide; 2 stacks 32 m apart,
// or 4 or 6 evenly over 72 m, along the front sideline; the reference seat 36.6 m in front and 18.3 m up; players
// on a grid of 4 m within 36 m of the 50; pans by the tangent law, held to 0.8, on steps of 0.01, joint within
// 6 degrees of the true direction; 20 C.
func policyTable() map[string][3]float64 {
	table := map[string][3]float64{}
	aim := Aim{WindowS: 0.03, LeadS: 0.01}
	for column, scene := range []struct{ stacks, halfSpanM float64 }{{2, 16}, {4, 36}, {6, 36}} {
		sys := &sound.System{LatencyS: 0.0042, SpeedMPS: sound.SpeedMPS(20)}
		for i := range int(scene.stacks) {
			x := scene.halfSpanM * (2*float64(i)/(scene.stacks-1) - 1)
			k := sound.Loudspeaker{At: layout.Point{X: x, Y: -2, Z: 2.5}, Trim: 1}
			if x < 0 {
				k.Left = 1
			} else {
				k.Right = 1
			}
			sys.Stacks = append(sys.Stacks, k)
		}
		b := Block{Front: SeatRow{Y: -12, Z: 2, WidthM: 60}, Back: SeatRow{Y: -45, Z: 19, WidthM: 100}, Rows: 25, Seats: 80,
			Weight: 1}
		l := stand(New(b.List(), layout.Point{Y: -36.6, Z: 18.3}, sys, 100))
		c := l.DelayChooser()
		places := 0.0
		for x := -36.0; x <= 36; x += 4 {
			for y := 2.0; y <= 46; y += 4 {
				p := layout.Point{X: x, Y: y, Z: 1.5}
				places++
				image := sys.TangentPan(p, l.Reference)
				pan := math.Max(-0.8, math.Min(0.8, image.Pan))
				k := int(math.Round(pan * 100))
				heard := l.AtPan(k)
				count := func(name string, h *Heard, delayS float64) {
					f, _ := c.Fit(h, []layout.Point{p}, max(delayS, 0), aim.WindowS)
					row := table[name]
					row[column] += 100 * f.Inside
					table[name] = row
				}
				choose := func(name string, h *Heard, policy *Policy) {
					d, _ := c.Raw(h, p, policy, aim)
					count(name, h, d)
				}
				nearest := math.Inf(1)
				for _, s := range sys.Stacks {
					nearest = min(nearest, p.Distance(s.At))
				}
				count("no delay", heard, 0)
				count("depth / c", heard, y/sys.SpeedMPS)
				count("nearest stack / c", heard, nearest/sys.SpeedMPS)
				choose("reference", heard, Reference)
				choose("most-seats", heard, MostSeats)
				best, _ := c.Joint(p, k, func(k int) bool {
					return k >= -80 && k <= 80 && math.Abs(sys.Image(image, float64(k)/100)-image.Phi) <= 6*math.Pi/180
				}, aim)
				choose("joint", l.AtPan(best), MostSeats)
				choose("zones", l.Through(sys.Through(sys.ZoneSends(p.Azimuth(l.Reference), l.Reference, 2).Send)),
					MostSeats)
			}
		}
		for name, row := range table {
			row[column] /= places
			table[name] = row
		}
	}
	return table
}

// The table of `backfield help zones` was measured with a separate prototype on a scene of this
// kind; its exact places are not known. This one comes within a few percent, and what the table says holds: no
// stereo mix cannot serve wide stands over many stacks, and zones can.
func TestTable(t *testing.T) {
	if testing.Short() {
		t.Skip("takes some seconds")
	}
	table := policyTable()
	for name, want := range map[string][3]float64{
		"no delay": {1, 1, 1}, "depth / c": {40, 18, 13}, "nearest stack / c": {80, 42, 38},
		"reference": {65, 46, 46}, "most-seats": {77, 60, 62}, "joint": {85, 67, 70}, "zones": {83, 97, 98},
	} {
		got := table[name]
		t.Logf("%-18s %5.1f %5.1f %5.1f   prototype %3.0f %3.0f %3.0f", name, got[0], got[1], got[2], want[0], want[1],
			want[2])
		for i := range got {
			if math.Abs(got[i]-want[i]) > 6 {
				t.Errorf("%s, column %d: %.1f %%, the prototype %.0f %%", name, i+1, got[i], want[i])
			}
		}
	}
	for i := range 3 {
		order := []string{"no delay", "depth / c", "nearest stack / c", "most-seats", "joint"}
		for n := 1; n < len(order); n++ {
			if table[order[n]][i] < table[order[n-1]][i] {
				t.Errorf("column %d: %s serves fewer than %s", i+1, order[n], order[n-1])
			}
		}
	}
	for _, i := range []int{1, 2} {
		if table["zones"][i] < 90 || table["joint"][i] > 85 {
			t.Errorf("column %d: zones %.1f %%, the best stereo mix %.1f %%", i+1, table["zones"][i], table["joint"][i])
		}
	}
}
