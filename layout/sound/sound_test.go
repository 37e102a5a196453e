package sound

import (
	"encoding/csv"
	"math"
	"math/rand"
	"os"
	"strconv"
	"testing"

	"backfield/layout"
)

// published reads a table of testdata/published as numbers; cells that are none become NaN.
func published(t *testing.T, name string, wantRows int) (column func(row int, name string) float64) {
	t.Helper()
	f, err := os.Open("../../testdata/published/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(all)-1 != wantRows {
		t.Fatalf("%s has %d rows, want %d", name, len(all)-1, wantRows)
	}
	return func(row int, name string) float64 {
		for i, h := range all[0] {
			if h == name {
				if v, err := strconv.ParseFloat(all[row+1][i], 64); err == nil {
					return v
				}
				return math.NaN()
			}
		}
		t.Fatalf("no column %q", name)
		return 0
	}
}

// Against the formula computed separately, and against a printed handbook table for dry air; sources in
// testdata/published/README.md. The printed table is within 0.2 m/s of the formula.
func TestPublishedSpeeds(t *testing.T) {
	at := published(t, "speed_of_sound.csv", 9)
	printed := 0
	for row := range 9 {
		tC := at(row, "t_C")
		if got, want := SpeedMPS(tC), at(row, "iso9613_1_m_s_computed"); math.Abs(got-want) > 5e-5 {
			t.Errorf("%g C: %.5f m/s, worked out %.4f", tC, got, want)
		}
		if want := at(row, "web_handbook_dry_printed_m_s"); !math.IsNaN(want) {
			printed++
			if got := SpeedMPS(tC); math.Abs(got-want) > 0.2 {
				t.Errorf("%g C: %.3f m/s, printed %.1f", tC, got, want)
			}
		}
	}
	if printed != 8 {
		t.Errorf("compared %d printed values, want 8", printed)
	}
}

// Travel times over marching distances at five temperatures.
func TestPublishedTravelTimes(t *testing.T) {
	at := published(t, "delay_drift.csv", 6)
	for row := range 6 {
		for _, tC := range []float64{0, 10, 20, 30, 40} {
			got := 1000 * at(row, "distance_m") / SpeedMPS(tC)
			if want := at(row, "ms_"+strconv.Itoa(int(tC))+"C"); math.Abs(got-want) > 1e-6 {
				t.Errorf("%g m at %g C: %.7f ms, worked out %.6f", at(row, "distance_m"), tC, got, want)
			}
		}
	}
}

func TestPublishedPanLaws(t *testing.T) {
	at := published(t, "pan_laws.csv", 11)
	for row := range 11 {
		p := at(row, "pan")
		for law, columns := range map[Law][2]string{ConstantPower: {"constpow_L", "constpow_R"},
			Linear: {"linear_L", "linear_R"}, Compromise: {"m4p5_L", "m4p5_R"}} {
			l, r := law.Gains(p)
			if math.Abs(l-at(row, columns[0])) > 1e-8 || math.Abs(r-at(row, columns[1])) > 1e-8 {
				t.Errorf("%s at %g: %.9f %.9f, published %.9f %.9f", law, p, l, r, at(row, columns[0]),
					at(row, columns[1]))
			}
		}
	}
}

// A player at a published azimuth between stacks at +-30 degrees is panned so that the law's gains are in
// the published proportion of the tangent law.
func TestPublishedTangentLaw(t *testing.T) {
	at := published(t, "pan_laws.csv", 11)
	const far = 100.0
	angle := func(deg float64) layout.Point {
		return layout.Point{X: far * math.Sin(deg*math.Pi/180), Y: far * math.Cos(deg*math.Pi/180)}
	}
	s := System{Stacks: []Loudspeaker{{At: angle(-30), Left: 1, Trim: 1}, {At: angle(30), Right: 1, Trim: 1}},
		SpeedMPS: 343.2}
	for row := range 11 {
		az := -at(row, "target_azimuth_deg_left_positive") // here it is positive to the right
		tan := s.TangentPan(angle(az), layout.Point{})
		g := s.Gains(tan.Pan)
		if math.Abs(g[0]-at(row, "tangent30_L")) > 1e-6 || math.Abs(g[1]-at(row, "tangent30_R")) > 1e-6 {
			t.Errorf("%g degrees: pan %.6f, gains %.9f, published %.9f %.9f", az, tan.Pan, g, at(row, "tangent30_L"),
				at(row, "tangent30_R"))
		}
	}
}

// Under the linear law the pan is k itself: gains differ as (g1-g2)/(g1+g2) = tan phi / tan phi0.
func TestTangentLinear(t *testing.T) {
	s := System{Stacks: []Loudspeaker{{At: layout.Point{X: -10, Y: 10}, Left: 1, Trim: 1},
		{At: layout.Point{X: 10, Y: 10}, Right: 1, Trim: 1}}, SpeedMPS: 343.2, Law: Linear}
	tan := s.TangentPan(layout.Point{X: 5, Y: 20}, layout.Point{})
	if want := 0.25; math.Abs(tan.Pan-want) > 1e-12 { // tan phi = 5/20, tan 45 degrees = 1
		t.Errorf("pan %.12f, want %g", tan.Pan, want)
	}
}

func TestTangentEdges(t *testing.T) {
	s := System{Stacks: []Loudspeaker{{At: layout.Point{X: -10, Y: 10}}, {At: layout.Point{X: 10, Y: 10}}}, SpeedMPS: 343.2}
	if tan := s.TangentPan(layout.Point{X: 50, Y: 10}, layout.Point{}); !tan.Clamped || math.Abs(tan.Pan-1) > 1e-12 {
		t.Errorf("beyond the stacks: %+v", tan)
	}
	if tan := s.TangentPan(layout.Point{X: -1, Y: -50}, layout.Point{}); !tan.Clamped || math.Abs(tan.Pan+1) > 1e-12 {
		t.Errorf("behind the seat, to the left: %+v", tan)
	}
	alone := System{Stacks: s.Stacks[:1], SpeedMPS: 343.2}
	if tan := alone.TangentPan(layout.Point{X: 5, Y: 10}, layout.Point{}); tan.Pan != 0 || tan.Note == "" {
		t.Errorf("one stack: %+v", tan)
	}
	if tan := s.TangentPan(layout.Point{X: 5, Y: 10}, layout.Point{Y: 10.0}); tan.Pan != 0 || tan.Note == "" {
		t.Errorf("seat on the stacks' line (span of 180 degrees): %+v", tan)
	}
	if tan := (&System{}).TangentPan(layout.Point{}, layout.Point{}); tan.Pan != 0 || tan.Note == "" {
		t.Errorf("no stack: %+v", tan)
	}
}

// By hand: seat 10 m from the near stack and 30 m from the far one, equal gains. The far one is
// 20 log10 3 = 9.54 dB down, so it counts; with another 0.5 dB less it is 10.04 dB down and does not, and its
// negative output delay (here: the near one's delay) no longer matters.
func TestFirstArrival(t *testing.T) {
	s := System{LatencyS: 0.004, SpeedMPS: 343.2, Stacks: []Loudspeaker{
		{At: layout.Point{X: 0, Y: 10}, DelayS: 0.1}, {At: layout.Point{X: 30, Y: 0}},
	}}
	seat := layout.Point{}
	a := s.First(seat, []float64{1, 1})
	if want := 0.004 + 30/343.2; a.Stack != 1 || math.Abs(a.TimeS-want) > 1e-12 {
		t.Errorf("both count: %+v, want the far stack after %.6f s", a, want)
	}
	a = s.First(seat, []float64{1, Gain(-0.5)})
	if want := 0.104 + 10/343.2; a.Stack != 0 || math.Abs(a.TimeS-want) > 1e-12 {
		t.Errorf("the far one is too quiet: %+v, want the near stack after %.6f s", a, want)
	}
	if a := s.First(seat, []float64{0, 0}); a.OK {
		t.Errorf("nothing carries the channel, and still %+v", a)
	}
	same := System{SpeedMPS: 343.2, Stacks: []Loudspeaker{{At: layout.Point{X: -3, Y: 4}}, {At: layout.Point{X: 3, Y: 4}}}}
	if a := same.First(seat, []float64{1, 1}); a.Stack != 0 {
		t.Errorf("a tie goes to the lowest index, not %d", a.Stack)
	}
}

func TestDistanceDB(t *testing.T) {
	for ratio, want := range map[float64]float64{1: 0, 2: 6.0206, 10: 20, 0.5: -6.0206} {
		if got := DistanceDB(ratio*7, 7); math.Abs(got-want) > 5e-5 {
			t.Errorf("%g times the distance: %.5f dB, want %.4f", ratio, got, want)
		}
	}
}

// Sides swapped, pans negate: the field has no preferred side.
func TestMirror(t *testing.T) {
	rng := rand.New(rand.NewSource(2))
	for range 500 {
		var s, m System
		s.SpeedMPS, m.SpeedMPS = 343.2, 343.2
		for range 2 + rng.Intn(4) {
			k := Loudspeaker{At: layout.Point{X: rng.Float64()*60 - 30, Y: -rng.Float64() * 5, Z: 3}, Left: rng.Float64(),
				Right: rng.Float64(), Trim: 1}
			s.Stacks = append(s.Stacks, k)
			k.At.X, k.Left, k.Right = -k.At.X, k.Right, k.Left
			m.Stacks = append(m.Stacks, k)
		}
		p, r := layout.Point{X: rng.Float64()*80 - 40, Y: rng.Float64() * 48}, layout.Point{X: rng.Float64()*20 - 10,
			Y: -30 - 20*rng.Float64()}
		pm, rm := p, r
		pm.X, rm.X = -p.X, -r.X
		a, b := s.TangentPan(p, r), m.TangentPan(pm, rm)
		if math.Abs(a.Pan+b.Pan) > 1e-9 {
			t.Fatalf("pan %.12f, mirrored %.12f", a.Pan, b.Pan)
		}
		fa, fb := s.First(r, s.Gains(a.Pan)), m.First(rm, m.Gains(b.Pan))
		if math.Abs(fa.TimeS-fb.TimeS) > 1e-9 {
			t.Fatalf("first arrival %.12f, mirrored %.12f", fa.TimeS, fb.TimeS)
		}
	}
}

// The image of a tangent pan is where the player is.
func TestImage(t *testing.T) {
	for _, law := range []Law{ConstantPower, Linear, Compromise} {
		s := System{Stacks: []Loudspeaker{{At: layout.Point{X: -12, Y: 8}}, {At: layout.Point{X: 10, Y: 10}}},
			SpeedMPS: 343.2, Law: law}
		for x := -9.0; x < 8; x += 0.7 {
			tan := s.TangentPan(layout.Point{X: x, Y: 10}, layout.Point{})
			if got := s.Image(tan, tan.Pan); !tan.Clamped && math.Abs(got-tan.Phi) > 1e-12 {
				t.Errorf("%s at %g: image at %g, player at %g", law, x, got, tan.Phi)
			}
		}
	}
}
