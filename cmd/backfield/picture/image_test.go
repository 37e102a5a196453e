package picture

import (
	"math"
	"testing"

	"backfield/cue"
	"backfield/layout"
)

// The image of a player who stands still is where the player is seen from the reference seat, within half a step of the
// mixer's pan. The test computes the tangent law itself. By hand for cue 2 of tiny: the baritone at (10.973, 22.86) is
// seen at atan(10.973 / 52.86). The line of the stacks is 28 m from the seat, so the image is
// 28 * 10.973 / 52.86 = 5.81 m toward side 2.
func TestImageStereo(t *testing.T) {
	s := compiled(t, "tiny", "")
	snapshot, _ := s.Show.Find("2")
	for _, c := range snapshot.Channels {
		p, ok := Image(s, c)
		l, r := math.Cos((c.Pan+1)*math.Pi/4), math.Sin((c.Pan+1)*math.Pi/4)
		want := 28 * (r - l) / (r + l) * (20.0 / 28)
		if !ok || math.Abs(p.X-want) > 1e-9 || math.Abs(p.Y+2) > 1e-9 {
			t.Errorf("%s: %v, want x %.4f", c.Player, p, want)
		}
		if x := 28 * c.X / (c.Y + 30); math.Abs(p.X-x) > 0.2 {
			t.Errorf("%s: image at %.3f m, seen at %.3f", c.Player, p.X, x)
		}
		c.Open = false
		if _, ok := Image(s, c); ok {
			t.Error("a closed mic has an image")
		}
	}
}

// With zones too, a player who stands still within the span of the stacks is heard where the player is seen. A player
// outside it is heard at the outermost stack.
func TestImageZones(t *testing.T) {
	s := compiled(t, "harbor", zones)
	ref, still, held := s.Rig.Reference, 0, 0
	for _, snapshot := range s.Show.Cues {
		for _, c := range snapshot.Channels {
			if !c.Open || c.Kind != cue.Worn || c.Location != c.End {
				continue
			}
			p, ok := Image(s, c)
			if !ok {
				t.Fatalf("cue %s, %s: no image", snapshot.ID, c.Player)
			}
			seen := layout.Point{X: c.X, Y: c.Y}.Azimuth(ref)
			outer := layout.Point{X: 24, Y: -2}.Azimuth(ref)
			if math.Abs(seen) > outer {
				held++
				seen = math.Copysign(outer, seen)
			}
			still++
			if off := math.Abs(p.Azimuth(ref)-seen) * 180 / math.Pi; off > 0.1 {
				t.Errorf("cue %s, %s: image %.2f degrees off", snapshot.ID, c.Player, off)
			}
		}
	}
	if still < 20 {
		t.Errorf("only %d places were looked at", still)
	}
	t.Logf("%d places, %d of them beyond the stacks", still, held)
}

func TestCrossing(t *testing.T) {
	a, b := layout.Point{X: -10, Y: 20}, layout.Point{X: 10, Y: 20}
	for name, c := range map[string]struct {
		deg, x float64
	}{
		"ahead": {0, 0}, "right": {math.Atan(0.25) * 180 / math.Pi, 5},
		"beyond": {60, 10}, "beyond on the left": {-60, -10},
	} {
		if p, ok := crossing(layout.Point{}, c.deg*math.Pi/180, a, b); !ok || math.Abs(p.X-c.x) > 1e-9 || p.Y != 20 {
			t.Errorf("%s: %v", name, p)
		}
	}
	if _, ok := crossing(layout.Point{Y: 5}, 0, layout.Point{Y: 8}, layout.Point{Y: 9}); ok {
		t.Error("a line seen end on has no crossing")
	}
}
