package plain

import (
	"fmt"
	"math"
	"testing"

	"backfield/layout"
	"backfield/layout/sound"
)

// worked is the scene that is computed by hand: two stacks, three seats, the press box, a player on the 50.
func worked() (*Scene, []PlainSample) {
	s := &Scene{
		Stacks: []Emitter{
			{At: layout.Point{X: -20}, Left: 1, Trim: 1, DelayMS: 10},
			{At: layout.Point{X: 20}, Right: 1, Trim: math.Pow(10, -9./20)},
		},
		Seats: []PlainSeat{
			{layout.Point{Y: -15}, 1}, {layout.Point{X: -20, Y: -30}, 2}, {layout.Point{X: 20, Y: -30}, 1},
		},
		Box: layout.Point{Y: -48}, LatencyMS: 4, SpeedMPS: 343.2, Law: sound.ConstantPower, Width: 1, AngleDeg: 6,
		WindowMS: 25, MarginMS: 2, SlewMSPS: 8, TolMS: 1, PanTol: 0.02, LeadMS: 10, Moves: "glide", StepMS: 0.1,
		MaxMS: 500,
	}
	var list []PlainSample
	for k := range 9 {
		list = append(list, PlainSample{Count: 1 + float64(k)/4, TimeS: float64(k) / 8, At: layout.Point{Y: 18},
			Policy: "most-seats", Least: 5, Most: 20})
	}
	return s, list
}

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: %v, want %v", what, got, want)
	}
}

func TestWorkedExample(t *testing.T) {
	s, list := worked()
	p := list[0].At
	pan := s.wantedAt(p)
	near(t, "pan", pan, 0, 1e-12)
	g := s.gains(pan)
	near(t, "left", g[0], 0.70711, 5e-6)
	near(t, "right", g[1], 0.25089, 5e-6)

	rows := []struct {
		name          string
		at            layout.Point
		own           float64
		left, leftA   float64
		right, rightA float64
		ratio         float64
		first, need   float64
		soft          bool
	}{
		{"box", s.Box, 192.308, 165.515, 0.013598, 155.515, 0.004825, 0.3548, 160.355, 31.953, true},
		{"A", s.Seats[0].At, 96.154, 86.844, 0.028284, 76.844, 0.010036, 0.3548, 76.844, 19.310, false},
		{"B", s.Seats[1].At, 151.515, 101.413, 0.023570, 149.688, 0.005018, 0.2129, 101.413, 50.103, false},
		{"C", s.Seats[2].At, 151.515, 159.688, 0.014142, 91.413, 0.008363, 0.5914, 91.413, 60.103, false},
	}
	for _, r := range rows {
		near(t, r.name+" own", s.own(p, r.at), r.own, 5e-4)
		for i, want := range [][2]float64{{r.left, r.leftA}, {r.right, r.rightA}} {
			only := []float64{0, 0}
			only[i] = g[i]
			a := s.arrivals(r.at, only)[0]
			near(t, fmt.Sprint(r.name, " arrival ", i), a.ms, want[0], 6e-4)
			near(t, fmt.Sprint(r.name, " amplitude ", i), a.amplitude, want[1], 6e-7)
		}
		all := s.arrivals(r.at, g)
		near(t, r.name+" softer to louder", min(all[0].amplitude, all[1].amplitude)/loudest(all), r.ratio, 6e-5)
		if r.soft {
			near(t, r.name+" first", softFirst(all), r.first, 6e-4)
			near(t, r.name+" first by 10 dB", first(all), 155.515, 6e-4)
			near(t, r.name+" need", s.boxNeed(p, g), r.need, 6e-4)
			continue
		}
		near(t, r.name+" first", first(all), r.first, 6e-4)
		near(t, r.name+" need", s.need(p, r.at, g), r.need, 6e-4)
	}

	w := s.wishAt(list[0], pan)
	near(t, "B1", w.least, 36.953, 6e-4)
	near(t, "B2", w.most, 51.953, 6e-4)
	for _, r := range [][7]float64{
		{36.9, 1, 0, 0, 0.2500, 0.053, 0.1970}, {37.0, 1, 0, 0, 0.2500, 0, 0.2500}, {42.3, 1, 0, 0, 0.2500, 0, 0.2500},
		{45.0, 0.3275, 0, 0, 0.0819, 0, 0.0819}, {46.4, 0, 0, 0, 0, 0, 0}, {50.0, 0, 0.4744, 0, 0.2372, 0, 0.2372},
		{51.9, 0, 0.9494, 0, 0.4747, 0, 0.4747}, {52.0, 0, 0.9744, 0, 0.4872, 0.047, 0.4402},
		{62.2, 0, 1, 1, 0.7500, 10.247, -9.4970},
	} {
		for i := range 3 {
			near(t, fmt.Sprint("q at ", r[0], " of seat ", i), s.share(r[0]-w.seats[i]), r[1+i], 6e-5)
		}
		near(t, fmt.Sprint("S at ", r[0]), s.served(w.seats, r[0]), r[4], 6e-5)
		near(t, fmt.Sprint("S at ", r[0]), s.Served(p, pan, r[0]), r[4], 6e-5)
		near(t, fmt.Sprint("out at ", r[0]), w.out(r[0]), r[5], 6e-4)
		near(t, fmt.Sprint("value at ", r[0]), w.value(s, r[0]), r[6], 6e-4)
	}
	for _, moves := range []string{"glide", "cues", "closed"} {
		s.Moves = moves
		c := s.Path(list)
		if c.From != 119 || c.To != 920 {
			t.Errorf("%s: search %d to %d", moves, c.From, c.To)
		}
		for k, i := range c.Index {
			if i != 519 {
				t.Errorf("%s: sample %d at %d", moves, k, i)
			}
		}
		if len(c.Bends) != 2 || c.Offsets() != 0 || c.Bends[0].Sample != 0 || c.Bends[1].Sample != 8 {
			t.Errorf("%s: knots %v", moves, c.Bends)
		}
	}
	near(t, "echo", s.Echo(p, pan, 51.9), 0.25, 0)
	s.Moves = "glide"
	for k := range list {
		list[k].Free = true
	}
	if c := s.Path(list); c.Index[0] != 622 {
		t.Errorf("free: %d", c.Index[0])
	}
}
