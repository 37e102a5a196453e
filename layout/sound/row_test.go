package sound

import (
	"math"
	"math/rand"
	"testing"

	"backfield/layout"
)

// TestRowLikeZoneSends holds places along the row to the pairwise law of directions.
func TestRowLikeZoneSends(t *testing.T) {
	const seed = 21
	rng := rand.New(rand.NewSource(seed))
	between := 0
	for n := range 3000 {
		s := &System{}
		for range 1 + rng.Intn(6) {
			at := layout.Point{X: 60*rng.Float64() - 30, Y: 10*rng.Float64() - 20}
			if rng.Intn(6) == 0 && len(s.Stacks) > 0 {
				at = s.Stacks[0].At
			}
			s.Stacks = append(s.Stacks, Loudspeaker{At: at, Trim: 1})
		}
		ref := layout.Point{Y: -36}
		az := math.Pi * (rng.Float64() - 0.5)
		row := s.Row(ref)
		place := row.Place(az)
		sends, want := row.Sends(place), s.ZoneSends(az, ref, 2)
		power := 0.0
		for i, v := range sends {
			power += v * v
			if v > 1e-6 && v < 1-1e-6 {
				between++
			}
			if len(s.Stacks) > 1 && row.Az[int(math.Min(place, float64(len(sends)-2)))+1]-
				row.Az[int(math.Min(place, float64(len(sends)-2)))] < 1e-9 {
				continue // two stacks in one direction: either may carry the player
			}
			if math.Abs(v-want.Send[i]) > 2e-6 {
				t.Fatalf("seed %d, case %d: place %g sends %v, not %v", seed, n, place, sends, want.Send)
			}
		}
		if math.Abs(power-1) > 1e-12 {
			t.Fatalf("seed %d, case %d: powers add up to %g", seed, n, power)
		}
	}
	if between < 1000 {
		t.Errorf("only %d sends were between stacks", between)
	}
}

func TestRowHalfACircleApart(t *testing.T) {
	s := &System{Stacks: []Loudspeaker{{At: layout.Point{X: -20}}, {At: layout.Point{X: 20}}}}
	row := s.Row(layout.Point{})
	for az, want := range map[float64]float64{-0.1: 0, 0: 0, 0.1: 1, 3: 1, -3: 0} {
		if got := row.Place(az); got != want {
			t.Errorf("azimuth %g is place %g, not %g", az, got, want)
		}
	}
}
