package sound

import (
	"math"
	"testing"

	"backfield/layout"
)

// Worked VBAP gains; sources in testdata/published/README.md. Published azimuths are positive to the left.
func TestPublishedVBAP(t *testing.T) {
	at := published(t, "vbap_examples.csv", 8)
	angle := func(deg float64) layout.Point {
		return layout.Point{X: 50 * math.Sin(deg*math.Pi/180), Y: 50 * math.Cos(deg*math.Pi/180)}
	}
	for row := range 8 {
		s := System{Stacks: []Loudspeaker{{At: angle(-at(row, "speaker1_az_deg"))}, {At: angle(-at(row, "speaker2_az_deg"))}}}
		z := s.ZoneSends(-at(row, "source_az_deg")*math.Pi/180, layout.Point{}, 2)
		if math.Abs(z.Send[0]-at(row, "g1_norm")) > 1e-8 || math.Abs(z.Send[1]-at(row, "g2_norm")) > 1e-8 {
			t.Errorf("row %d: %v, published %.9f %.9f", row+1, z.Send, at(row, "g1_norm"), at(row, "g2_norm"))
		}
	}
}

// As a player walks across the front, at most two neighboring stacks carry the sound, the power stays 1, and nothing
// jumps.
func TestHandoverKeepsPower(t *testing.T) {
	var s System
	for _, x := range []float64{-24, -11.5, 11.5, 24, 3} {
		s.Stacks = append(s.Stacks, Loudspeaker{At: layout.Point{X: x, Y: -2}})
	}
	r := layout.Point{Y: -36}
	var before []float64
	for x := -40.0; x <= 40; x += 0.01 {
		z := s.ZoneSends(layout.Point{X: x, Y: 15}.Azimuth(r), r, 2)
		power, carry := 0.0, 0
		for i, v := range z.Send {
			power += v * v
			if v > 0 {
				carry++
			}
			if before != nil && math.Abs(v-before[i]) > 0.01 {
				t.Fatalf("at x %.2f stack %d jumps from %g to %g", x, i, before[i], v)
			}
		}
		if math.Abs(power-1) > 1e-9 || carry < 1 || carry > 2 {
			t.Fatalf("at x %.2f: %v", x, z.Send)
		}
		before = z.Send
		one := s.ZoneSends(layout.Point{X: x, Y: 15}.Azimuth(r), r, 1)
		carry = 0
		for _, v := range one.Send {
			if v == 1 {
				carry++
			} else if v != 0 {
				t.Fatalf("one stack alone: %v", one.Send)
			}
		}
		if carry != 1 {
			t.Fatalf("one stack alone: %v", one.Send)
		}
	}
}

func TestZoneEdges(t *testing.T) {
	one := System{Stacks: []Loudspeaker{{At: layout.Point{X: 3, Y: 5}}}}
	if z := one.ZoneSends(1, layout.Point{}, 2); z.Send[0] != 1 {
		t.Errorf("one stack: %+v", z)
	}
	same := System{Stacks: []Loudspeaker{{At: layout.Point{X: 0, Y: 5}}, {At: layout.Point{X: 0, Y: 7}}}}
	if z := same.ZoneSends(0.3, layout.Point{}, 2); z.Send[0] != 1 || z.Send[1] != 0 {
		t.Errorf("two stacks in one direction: %+v", z)
	}
	apart := System{Stacks: []Loudspeaker{{At: layout.Point{X: -5}}, {At: layout.Point{X: 5}}}}
	if z := apart.ZoneSends(0.3, layout.Point{}, 2); z.Send[1] != 1 || z.Note == "" {
		t.Errorf("stacks half a circle apart: %+v", z)
	}
}

// Where one stack carries the player alone, both sides name it, and the direction is limited to the outermost stacks.
func TestAlone(t *testing.T) {
	s := System{Stacks: []Loudspeaker{{At: layout.Point{X: -20, Y: 20}}, {At: layout.Point{Y: 20}},
		{At: layout.Point{X: 20, Y: 20}}}}
	quarter := math.Pi / 4
	for name, c := range map[string]struct {
		az    float64
		most  int
		stack int
		held  float64
	}{
		"left of all":       {-1.2, 2, 0, -quarter},
		"right of all":      {1.2, 2, 2, quarter},
		"in line":           {0, 2, 1, 0},
		"the nearest alone": {0.5, 1, 2, 0.5},
		"the nearer alone":  {0.3, 1, 1, 0.3},
	} {
		z := s.ZoneSends(c.az, layout.Point{}, c.most)
		if z.Left != c.stack || z.Right != c.stack || z.LeftAz != z.RightAz || math.Abs(z.HeldAz-c.held) > 1e-12 ||
			z.Send[c.stack] != 1 {
			t.Errorf("%s: %+v", name, z)
		}
	}
	if z := s.ZoneSends(0.3, layout.Point{}, 2); z.Left != 1 || z.Right != 2 {
		t.Errorf("between two: %+v", z)
	}
}

// By hand: stacks at y = 20 seen from the origin.
func TestFacing(t *testing.T) {
	s := System{Stacks: []Loudspeaker{{At: layout.Point{X: -20, Y: 20}}, {At: layout.Point{X: 20, Y: 20}}}}
	for y, want := range map[float64]Side{-1: Behind, 0.1: Between, 19: Between, 21: Beyond} {
		for _, x := range []float64{-30, 0, 30} {
			if got := s.Facing(layout.Point{X: x, Y: y}, layout.Point{}); got != want {
				t.Errorf("at %g, %g: %d, want %d", x, y, got, want)
			}
		}
	}
}
