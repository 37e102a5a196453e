package unit

import (
	"math"
	"strings"
	"testing"
)

func TestRead(t *testing.T) {
	cases := []struct {
		d    Dimension
		text string
		want float64
	}{
		{Length, "22.5 in", 0.5715}, {Length, "1 step", 0.5715}, {Length, "4 steps", 2.286}, {Length, "8 steps", 4.572},
		{Length, "5 yd", 4.572}, {Length, "53 ft 4 in", 16.256}, {Length, "53' 4\"", 16.256},
		{Length, "53'4\"", 16.256},
		{Length, "160 ft", 48.768}, {Length, "5 yd 6 in", 4.7244}, {Length, "-2 m", -2},
		{Length, "-1 ft 6 in", -0.4572},
		{Length, "-0 ft 6 in", -0.1524}, {Length, "3", 3}, {Length, " 18ft ", 5.4864}, {Length, "150 cm", 1.5},
		{Length, "5 mm", 0.005},
		{Length, "2 M", 2}, {Length, "+.5 m", 0.5}, {Length, "1 metre", 1}, {Length, "3 feet", 0.9144},
		{Temperature, "75 F", 215. / 9}, {Temperature, "-40 F", -40}, {Temperature, "-40 C", -40},
		{Temperature, "32°F", 0},
		{Temperature, "212 degF", 100}, {Temperature, "24", 24}, {Temperature, "24 °C", 24},
		{Temperature, "293.15 K", 20}, {Temperature, "75 f", 215. / 9},
		{Delay, "12", 12}, {Delay, "12 ms", 12}, {Delay, "0.012 s", 12}, {Delay, "250 us", 0.25},
		{Duration, "2.5", 2.5}, {Duration, "1.5 min", 90}, {Duration, "40 ms", 0.04}, {Duration, "3 sec", 3},
		{Level, "-9 dB", -9}, {Level, "-9db", -9}, {Level, "1.5", 1.5},
	}
	for _, c := range cases {
		if got, err := c.d.Read(c.text); err != nil || math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%q as %s is %v (%v), want %v", c.text, c.d.Name, got, err, c.want)
		}
	}
	if StepM != 0.5715 {
		t.Errorf("a step is %v m", StepM)
	}
}

func TestReadErrors(t *testing.T) {
	cases := []struct {
		d          Dimension
		text, want string
	}{
		{Length, "", "is empty"}, {Length, "  \t", "is empty"},
		{Length, "warm", `"warm" does not begin with a number`},
		{Length, "m 3", `"m 3" does not begin with a number`},
		{Length, "3 parsecs", `"parsecs" is not a unit for a length; use m, cm, mm, ft, in, yd, steps`},
		{Length, "1.2.3 m", `"1.2.3" is not a number`}, {Length, "+ m", `"+" is not a number`},
		{Length, "3-4 m", `"3-4" is not a number`},
		{Length, "5 6 in", "has a number without a unit"},
		{Length, "5 ft 6", "has a number without a unit"},
		{Length, "5 ft -6 in", "only the first part of a length may have a sign"},
		{Length, strings.Repeat("9", 400), "is not a number"},
		{Delay, strings.Repeat("9", 308) + " s", "a delay of this size is too large"},
		{Delay, "1 s 5 ms", "a delay is one number and one unit"},
		{Delay, "5 m", `"m" is not a unit for a delay; use ms, s, us`},
		{Temperature, "75 degrees", `"degrees" is not a unit for a temperature`},
		{Level, "3 ft", `"ft" is not a unit for a level; use dB`},
	}
	for _, c := range cases {
		if got, err := c.d.Read(c.text); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q as %s is %v (%v), want an error with %q", c.text, c.d.Name, got, err, c.want)
		}
	}
}

func TestRound(t *testing.T) {
	cases := []struct{ v, step, round, up, signed float64 }{
		{12.34, 0.1, 12.3, 12.4, 12.3}, {12.35, 0.1, 12.4, 12.4, 12.4}, {0.05, 0.1, 0.1, 0.1, 0.1},
		{0.15, 0.1, 0.2, 0.2, 0.2},
		{-0.05, 0.1, 0, 0, -0.1}, {-0.15, 0.1, -0.1, -0.1, -0.2}, {-12.35, 0.1, -12.3, -12.3, -12.4},
		{-0.04, 0.1, 0, 0, 0}, {0, 0.1, 0, 0, 0},
		{0.125, 0.01, 0.13, 0.13, 0.13}, {-0.125, 0.01, -0.12, -0.12, -0.13}, {0.3, 0.1, 0.3, 0.3, 0.3},
		{0.30000000000000004, 0.1, 0.3, 0.3, 0.3},
		{7, 5, 5, 10, 5}, {7.5, 5, 10, 10, 10}, {-7.5, 5, -5, -5, -10}, {1e-12, 0.1, 0, 0, 0},
		{0.1 + 1e-12, 0.1, 0.1, 0.1, 0.1}, {0.1 + 1e-7, 0.1, 0.1, 0.2, 0.1},
	}
	same := func(a, b float64) bool { return a == b && math.Signbit(a) == math.Signbit(b) }
	for _, c := range cases {
		if got := Round(c.v, c.step); !same(got, c.round) {
			t.Errorf("Round(%v, %v) is %v, want %v", c.v, c.step, got, c.round)
		}
		if got := RoundUp(c.v, c.step); !same(got, c.up) {
			t.Errorf("RoundUp(%v, %v) is %v, want %v", c.v, c.step, got, c.up)
		}
		if got := RoundSigned(c.v, c.step); !same(got, c.signed) {
			t.Errorf("RoundSigned(%v, %v) is %v, want %v", c.v, c.step, got, c.signed)
		}
	}
	// Every half of a grid mirrors, and a value on the grid stays what it is.
	for k := range 2000 {
		v, half := float64(k)/100, (float64(k)+0.5)/100
		if RoundSigned(-half, 0.01) != -RoundSigned(half, 0.01) || RoundSigned(half, 0.01) != float64(k+1)/100 {
			t.Fatalf("%v is %v, and its mirror %v", half, RoundSigned(half, 0.01), RoundSigned(-half, 0.01))
		}
		if Round(v, 0.01) != v || RoundUp(v, 0.01) != v || RoundSigned(-v, 0.01) != 0-v {
			t.Fatalf("%v does not stay on the grid", v)
		}
	}
}

func FuzzQuantity(f *testing.F) {
	for _, text := range []string{"53 ft 4 in", "75 F", "-40 °C", "12", "0.5 s", "-0 ft 6 in", "3-4", "1e3 m", "5'4\"",
		"999 us", "K", "9 9", "\u212A"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		for _, d := range []Dimension{Length, Delay, Duration, Temperature, Level} {
			v, err := d.Read(text)
			if err != nil {
				continue
			}
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Fatalf("%q as %s is %v", text, d.Name, v)
			}
			// What was read once reads the same when spelled out part by part.
			parts, err := Parse(text)
			if err != nil || len(parts) == 0 || len(parts) > 1 && d.Name != Length.Name {
				t.Fatalf("%q as %s: parts %v (%v)", text, d.Name, parts, err)
			}
			if sum, err := d.Sum(parts); err != nil || sum != v {
				t.Fatalf("%q as %s is %v, and by parts %v (%v)", text, d.Name, v, sum, err)
			}
			if again, err := d.Read("\t " + text + " "); err != nil || again != v {
				t.Fatalf("%q between spaces is %v (%v), want %v", text, again, err, v)
			}
		}
	})
}

// A temperature is printed in both scales. The fixed points are those of the scales: water freezes at 0 C, 32 F, and
// both are equal at -40.
func TestAirText(t *testing.T) {
	for airC, want := range map[float64]string{
		0: "0 C (32 F)", -40: "-40 C (-40 F)", 24: "24 C (75 F)", 31.25: "31.25 C (88 F)", -18: "-18 C (0 F)",
		23.888888888: "23.89 C (75 F)", 2000: "2000 C (3632 F)", 1e12: "1e+12 C (1.8e+12 F)",
	} {
		if got := AirText(airC); got != want {
			t.Errorf("%g: got %q, want %q", airC, got, want)
		}
	}
}
