package ears

import (
	"math"
	"math/cmplx"
	"math/rand"
	"testing"
)

// response is what a shadow does to a tone, as a ratio.
func (f shadow) response(hz, rate float64) complex128 {
	z := cmplx.Exp(complex(0, -2*math.Pi*hz/rate))
	return (complex(f.b0, 0) + complex(f.b1, 0)*z) / (1 + complex(f.a1, 0)*z)
}

// TestWoodworth holds the times at the ears to Woodworth's formula, a/c (theta + sin theta) between the ears for a source
// theta to one side, and to the value that is printed for its greatest, 0.66 ms for a head of 8.75 cm (R. S. Woodworth and
// H. Schlosberg, Experimental Psychology, 1954; G. F. Kuhn, JASA 62, 157-167, 1977; both from memory).
func TestWoodworth(t *testing.T) {
	for deg := 0.0; deg <= 90; deg += 7.5 {
		d, theta := Direction{deg, 0}, deg*math.Pi/180
		want := HeadM / SoundMPS * (theta + math.Sin(theta))
		if got := d.EarS(false) - d.EarS(true); math.Abs(got-want) > 1e-12 {
			t.Errorf("%g degrees to the right: %.6f ms between the ears, want %.6f", deg, 1000*got, 1000*want)
		}
		for _, same := range []Direction{{180 - deg, 0}, {deg, 0}} { // behind is as in front on a ball
			if math.Abs(same.EarS(true)-d.EarS(true)) > 1e-12 {
				t.Errorf("%+v: the right ear has %g s, want %g", same, same.EarS(true), d.EarS(true))
			}
		}
		if left := (Direction{-deg, 0}); math.Abs(left.EarS(false)-d.EarS(true)) > 1e-12 {
			t.Errorf("%g degrees: left and right are no mirror images", deg)
		}
	}
	if most := (Direction{90, 0}).EarS(false) - (Direction{90, 0}).EarS(true); math.Abs(1000*most-0.656) > 0.001 {
		t.Errorf("%.4f ms at most, want 0.656", 1000*most)
	}
	if up := (Direction{90, 60}); math.Abs(up.EarS(true)-(Direction{30, 0}).EarS(true)) > 1e-12 {
		t.Error("90 degrees to the right and 60 up is not on the cone of 30 to the right")
	}
}

// TestBrownDuda holds the filter to what Brown and Duda 1998 print of it (from memory): the high frequencies at an ear
// are 6 dB up straight into it and 20 dB down at 150 degrees, where they are least, and low ones always pass.
func TestBrownDuda(t *testing.T) {
	for _, c := range []struct{ deg, want float64 }{{0, 2}, {150, 0.1}, {75, 1.05}, {180, 0.281434}} {
		if got := alpha(c.deg * math.Pi / 180); math.Abs(got-c.want) > 1e-6 {
			t.Errorf("alpha at %g degrees is %.6f, want %g", c.deg, got, c.want)
		}
	}
	for az := -180.0; az <= 180; az += 15 {
		d := Direction{az, 0}
		for _, right := range []bool{false, true} {
			f := d.shadow(right, Rate)
			if dc := cmplx.Abs(f.response(0, Rate)); math.Abs(dc-1) > 1e-12 {
				t.Errorf("%g degrees: %g at 0 Hz", az, dc)
			}
			if top := cmplx.Abs(f.response(Rate/2, Rate)); math.Abs(top-alpha(d.incidence(right))) > 1e-12 {
				t.Errorf("%g degrees: %g at the top, want %g", az, top, alpha(d.incidence(right)))
			}
			// The analog filter, which the digital one must be at the frequencies of music.
			for _, hz := range []float64{100, 500, 1000, 4000} {
				s := complex(0, 2*math.Pi*hz)
				beta := complex(2*SoundMPS/HeadM, 0)
				want := (complex(alpha(d.incidence(right)), 0)*s + beta) / (s + beta)
				if dB := 20 * math.Log10(cmplx.Abs(f.response(hz, Rate))/cmplx.Abs(want)); math.Abs(dB) > 0.2 {
					t.Errorf("%g degrees, %g Hz: %.3f dB off the analog filter", az, hz, dB)
				}
			}
		}
	}
}

// sphere is the pressure of a far tone at a point of a rigid ball over that without the ball, by the series of Lord
// Rayleigh (as R. O. Duda and W. L. Martens, JASA 104, 3048, 1998, give it):
//
//	H = 1/(ka)^2 sum over m of (2m + 1) (-i)^(m-1) P_m(cos angle) / h_m'(ka)
func sphere(angle, ka float64) float64 {
	var sum complex128
	x := ka
	// Spherical Hankel functions of the first kind, upward, and Legendre polynomials.
	h0 := cmplx.Exp(complex(0, x)) / complex(0, x)
	h1 := cmplx.Exp(complex(0, x)) * complex(-1/x, -1/(x*x))
	p0, p1 := 1.0, math.Cos(angle)
	turn := complex(0, 1) // (-i)^(m-1) at m = 0
	for m := 0; m < int(2*x)+25; m++ {
		// h_m'(x) = m/x h_m(x) - h_(m+1)(x)
		slope := complex(float64(m)/x, 0)*h0 - h1
		sum += complex(float64(2*m+1)*p0, 0) * turn / slope
		h0, h1 = h1, complex(float64(2*m+3)/x, 0)*h1-h0
		p0, p1 = p1, (float64(2*m+3)*p1*math.Cos(angle)-float64(m+1)*p0)/float64(m+2)
		turn *= complex(0, -1)
	}
	return cmplx.Abs(sum) / (x * x)
}

// TestShadowLikeSphere compares the filter with the sound around a real ball, which it imitates: within 1.2 dB
// up to 500 Hz, and up to 4 kHz within 4.5 dB on the side of the ear and 7 dB in the shadow, where a ball has ripples and the
// filter has none. Straight behind the head, waves from all sides meet at the ear and make it bright: the filter has that in
// part only, so that the last angle is left out.
func TestShadowLikeSphere(t *testing.T) {
	if at := 20 * math.Log10(sphere(0, 20)); math.Abs(at-6) > 0.4 { // a wall doubles the pressure
		t.Fatalf("the series has %.2f dB straight ahead at high frequencies, want 6", at)
	}
	for _, hz := range []float64{200, 500, 1000, 2000, 4000} {
		for deg := 0.0; deg <= 165; deg += 15 {
			f := Direction{90 - deg, 0}.shadow(true, Rate)
			got := 20 * math.Log10(cmplx.Abs(f.response(hz, Rate)))
			want := 20 * math.Log10(sphere(deg*math.Pi/180, 2*math.Pi*hz*HeadM/SoundMPS))
			most := 4.5
			switch {
			case hz <= 500:
				most = 1.2
			case deg > 90:
				most = 7
			}
			if math.Abs(got-want) > most {
				t.Errorf("%g Hz at %g degrees: %.1f dB, a ball %.1f", hz, deg, got, want)
			}
		}
	}
}

// unshadowed undoes the filter of an ear: its inverse is the filter with numerator and denominator exchanged.
func (f shadow) undone(y []float64) []float64 {
	out := make([]float64, len(y))
	shadow{1 / f.b0, f.a1 / f.b0, f.b1 / f.b0}.over(y, out)
	return out
}

// measured is when a dry sound begins in a recording, in samples, and how loud it is there, by the peak of their
// correlation, which a parabola finds between samples. The recording has nothing else in it.
func measured(y, dry []float64) (at, gain float64) {
	correlate := func(lag int) (sum float64) {
		for i, x := range dry {
			if n := lag + i; n >= 0 && n < len(y) {
				sum += x * y[n]
			}
		}
		return sum
	}
	best, most := 0, math.Inf(-1)
	for lag := range len(y) - len(dry) {
		if v := correlate(lag); v > most {
			best, most = lag, v
		}
	}
	before, after := correlate(best-1), correlate(best+1)
	part := (before - after) / (2 * (before - 2*most + after))
	energy := 0.0
	for _, x := range dry {
		energy += x * x
	}
	return float64(best) + part, (most - (before-after)*part/4) / energy
}

// TestRenderedArrivals measures what was rendered: each arrival alone, at each ear, with the head undone. Times are
// within 0.05 ms (they are within 0.001), levels within 0.1 dB (they are within 0.01).
func TestRenderedArrivals(t *testing.T) {
	dry, _ := Dry("click", Rate)
	r := rand.New(rand.NewSource(7))
	for range 40 {
		a := EarArrival{TimeS: 0.3 * r.Float64(), LevelDB: -40 * r.Float64(),
			Direction: Direction{360*r.Float64() - 180, 60*r.Float64() - 40}}
		got := Render(dry, Rate, []EarArrival{a})
		for right, y := range [2][]float64{got.Left, got.Right} {
			at, gain := measured(a.shadow(right == 1, Rate).undone(y), dry)
			ms := 1000 * (at/Rate - LeadS - a.EarS(right == 1) - a.TimeS)
			dB := 20*math.Log10(gain) - LoudestDB - a.LevelDB - got.DownDB
			if math.Abs(ms) > 0.001 || math.Abs(dB) > 0.01 {
				t.Errorf("%+v, right %d: %.5f ms and %.4f dB off", a, right, ms, dB)
			}
		}
	}
}

// TestRenderingIsLimited adds arrivals up: nothing is over the peak, all are turned down by as much, and the file begins
// with silence.
func TestRenderingIsLimited(t *testing.T) {
	dry, _ := Dry("brass", Rate)
	var many []EarArrival
	for range 12 {
		many = append(many, EarArrival{TimeS: 0.02, Direction: Direction{-30, 0}})
	}
	one, all := Render(dry, Rate, many[:1]), Render(dry, Rate, many)
	most := 0.0
	for i := range all.Left {
		most = max(most, math.Abs(all.Left[i]), math.Abs(all.Right[i]))
	}
	if limit := math.Pow(10, PeakDB/20.0); most > limit*(1+1e-12) || most < limit*(1-1e-12) {
		t.Errorf("the peak is %g, want %g", most, limit)
	}
	down := math.Pow(10, all.DownDB/20)
	for i := range one.Left {
		if math.Abs(12*down*one.Left[i]-all.Left[i]) > 1e-12 {
			t.Fatalf("sample %d is %g, want %g", i, all.Left[i], 12*down*one.Left[i])
		}
	}
	for i := range int(LeadS * Rate) {
		if all.Left[i] != 0 || all.Right[i] != 0 {
			t.Fatalf("it sounds before the note, in sample %d", i)
		}
	}
	if one.DownDB != 0 {
		t.Errorf("one arrival is turned down by %g dB", one.DownDB)
	}
	// One after the other, both are turned down by as much.
	n := len(one.Left)
	both := Render(dry, Rate, many[:1]).Then(Render(dry, Rate, many))
	if len(both.Left) != 2*n+GapS*Rate || both.DownDB != all.DownDB {
		t.Errorf("%d samples, want %d; turned down by %g, want %g", len(both.Left), 2*n+GapS*Rate, both.DownDB, all.DownDB)
	}
	for i := range n {
		if math.Abs(both.Left[i]-down*one.Left[i]) > 1e-12 || math.Abs(both.Right[n+GapS*Rate+i]-all.Right[i]) > 1e-12 {
			t.Fatalf("sample %d is %g and %g, want %g and %g", i, both.Left[i], both.Right[n+GapS*Rate+i], down*one.Left[i],
				all.Right[i])
		}
	}
}

func TestDrySounds(t *testing.T) {
	for _, name := range DryNames() {
		for _, rate := range []int{44100, 48000, 96000} {
			y, ok := Dry(name, rate)
			most, sum := 0.0, 0.0
			for _, x := range y {
				most, sum = max(most, math.Abs(x)), sum+x
			}
			if !ok || most != 1 || y[0] != 0 || math.Abs(y[len(y)-1]) > 0.01 {
				t.Errorf("%s at %d: peak %g, from %g to %g", name, rate, most, y[0], y[len(y)-1])
			}
		}
	}
	if _, ok := Dry("gong", Rate); ok {
		t.Error("there is a gong")
	}
}

// TestResample takes a tone to another rate: it is the tone there, and what the new rate cannot hold is gone.
func TestResample(t *testing.T) {
	for _, c := range []struct {
		from, to int
		hz       float64
		gone     bool
	}{{44100, 48000, 1000, false}, {44100, 48000, 15000, false}, {96000, 48000, 5000, false}, {8000, 48000, 3000, false},
		{96000, 48000, 30000, true}, {192000, 48000, 60000, true}} {
		in := make([]float64, c.from/4)
		for i := range in {
			in[i] = math.Sin(2 * math.Pi * c.hz * float64(i) / float64(c.from))
		}
		out := Resample(in, c.from, c.to)
		if len(out) != c.to/4 {
			t.Errorf("%d samples at %d are %d at %d", len(in), c.from, len(out), c.to)
		}
		worst := 0.0
		for i := c.to / 40; i < len(out)-c.to/40; i++ {
			want := math.Sin(2 * math.Pi * c.hz * float64(i) / float64(c.to))
			if c.gone {
				want = 0
			}
			worst = max(worst, math.Abs(out[i]-want))
		}
		if worst > 1e-4 {
			t.Errorf("%g Hz from %d to %d is %g off", c.hz, c.from, c.to, worst)
		}
	}
}
