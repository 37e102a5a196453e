package crew

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

// Worked by hand. 24 m are 944.88 in: 26 yards are 936 of them, and 9 are left. 5 yards are 8 steps, by definition; a
// yard is 0.9144 m (the international yard of 1959).
func TestTape(t *testing.T) {
	for m, want := range map[float64]string{
		24: "26 yd 0 ft 9 in|78 ft 9 in|42.0", -24: "26 yd 0 ft 9 in|78 ft 9 in|42.0",
		4.572: "5 yd 0 ft 0 in|15 ft 0 in|8.0", 0.9144: "1 yd 0 ft 0 in|3 ft 0 in|1.6",
		11.5: "12 yd 1 ft 9 in|37 ft 9 in|20.1",                                    // 452.76 in
		0:    "0 yd 0 ft 0 in|0 ft 0 in|0.0", 0.01: "0 yd 0 ft 0 in|0 ft 0 in|0.0", // under half an inch
		0.0128: "0 yd 0 ft 1 in|0 ft 1 in|0.0", -5.5: "6 yd 0 ft 1 in|18 ft 1 in|9.6",
	} {
		x := TapeOf(m)
		if got := x.Yards() + "|" + x.Feet() + "|" + x.Steps(); got != want {
			t.Errorf("%g m is %s, want %s", m, got, want)
		}
	}
}

// Yards and feet are the same distance, and within half an inch of it.
func TestTapeAgrees(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 2000 {
		m := 120 * (r.Float64() - 0.5)
		x := TapeOf(m)
		if d := float64(x.inches)*0.0254 - max(m, -m); d > 0.0128 || d < -0.0128 {
			t.Fatalf("%g m is %d in", m, x.inches)
		}
	}
}

func TestMark(t *testing.T) {
	for _, x := range []struct {
		m    CrewMark
		want string
	}{
		{CrewMark{XM: -24, YM: -2}, "side 1, in front, toward the stands"},
		{CrewMark{XM: 24, YM: 3}, "side 2, behind, on the field"},
		{CrewMark{XM: 0.001, YM: -0.001}, "on the 50, on the front sideline"},
	} {
		if got := x.m.Side() + ", " + x.m.Front(); got != x.want {
			t.Errorf("%+v: %s, want %s", x.m, got, x.want)
		}
	}
}

// The plan takes ten minutes without a gap, each stack is rolled once, by its side, and the strike is the same in reverse.
func TestPlan(t *testing.T) {
	g := Gear{Packs: 20, Inputs: "41, 42", Fixed: []CrewMark{{Name: "field left"}, {Name: "field right"}}, Stacks: []CrewMark{
		{Name: "outer left", XM: -24}, {Name: "inner left", XM: -11.5}, {Name: "inner right", XM: 11.5},
		{Name: "outer right", XM: 24}, {Name: "subs"},
	}}
	setup, strike := g.Setup(), g.Strike()
	if len(setup) != len(strike) || len(setup) < 5 {
		t.Fatalf("%d and %d steps", len(setup), len(strike))
	}
	for i, s := range setup {
		back := strike[len(strike)-1-i]
		if s.ToMin-s.FromMin != back.ToMin-back.FromMin || back.ToMin != setupMin-s.FromMin {
			t.Errorf("%d to %d, and back %d to %d", s.FromMin, s.ToMin, back.FromMin, back.ToMin)
		}
		for n, who := range Crew {
			if s.Tasks[n] == "" || back.Tasks[n] == "" {
				t.Errorf("minute %d: nothing for %s", s.FromMin, who)
			}
		}
	}
	if setup[0].FromMin != 0 || setup[len(setup)-1].ToMin != 10 || strike[len(strike)-1].ToMin != 10 {
		t.Errorf("%+v", setup)
	}
	if got := setup[0].Tasks[1]; !strings.HasSuffix(got, "subs, inner left, outer left.") {
		t.Errorf("left rolls %q", got)
	}
	if got := strike[len(strike)-1].Tasks[1]; !strings.HasSuffix(got, "outer left, inner left, subs.") {
		t.Errorf("left rolls back %q", got)
	}
	if got := setup[0].Tasks[2]; !strings.HasSuffix(got, "inner right, outer right.") {
		t.Errorf("right rolls %q", got)
	}
	// Power comes on last of all in the setup that carries current, and goes off before any cable is pulled.
	power := func(list []CrewStep, word string) int {
		return slices.IndexFunc(list, func(s CrewStep) bool { return strings.Contains(s.Tasks[0], word) })
	}
	if power(setup, "power to mixer") < power(setup, "Outputs of the mixer") ||
		power(strike, "Amplifiers off first") > power(strike, "Unplug the outputs") {
		t.Error("cables are handled with the power on")
	}
	if !strings.HasPrefix(g.Short(), "One side has 3 stacks") {
		t.Errorf("short: %q", g.Short())
	}
	if g.Stacks = g.Stacks[:4]; g.Short() != "" {
		t.Errorf("short: %q", g.Short())
	}
	if g = (Gear{}); g.Setup()[0].Tasks[1] != "Help on the other side." {
		t.Errorf("%+v", g.Setup()[0])
	}
}
