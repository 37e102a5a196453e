package compile

import (
	"cmp"
	"fmt"
	"math"
	"strings"
	"testing"

	"backfield/cue/work"
	"backfield/layout/stands"
)

// The policy joint moves the pan to where most seats are in time, within its angle of the true direction and within the
// width of the pan. The test tries every pan by plain loops. The angle has to matter: for some players, more seats would
// be in time farther away.
func TestJointMovesThePan(t *testing.T) {
	f := base
	f.score = "delay = { policy = \"joint\", window = 30 }\npan = { width = 0.8, angle = 6 }\n" + f.score
	f.rig += someSeats
	var dots, names, wears strings.Builder
	for i := range 24 {
		x, y := -44+8*(i%12), 20+24*(i/12)
		for set := 1; set <= 3; set++ {
			fmt.Fprintf(&dots, "%d,X%d,%d,%d\n", set, i, x, y)
		}
		fmt.Fprintf(&wears, "X%d,trumpet,P%d,%d,,,\n", i, i+1, i+10)
		fmt.Fprintf(&names, "%q, ", fmt.Sprint("X", i))
	}
	f.dots, f.roster = "set,player,x,y\n"+dots.String(), "player,section,pack,channel,from,height,trim\n"+wears.String()
	all := strings.TrimSuffix(names.String(), ", ")
	r := f.with("[[cue]]\nid = \"1\"\nat = \"1:1\"\nopen.feature = [" + all + "]\n").show(t)

	moved, bound := 0, 0
	for _, d := range r.Derivations[0] {
		pan := int(math.Round(100 * d.Pan.Value))
		if want := plainJoint(r, d, 6); pan != want {
			t.Errorf("%s is panned to %d, want %d of 100; the true direction has %.2f", d.Name, pan, want, d.Pan.Tangent.Pan)
		}
		if pan != trueStep(d) {
			moved++
		}
		if d.Pan.Joint != (pan != trueStep(d)) {
			t.Errorf("%s says that joint has moved the pan: %v", d.Name, d.Pan.Joint)
		}
		if off := math.Abs(imageOf(r, d, pan) - d.Pan.Tangent.Phi); off > 6*math.Pi/180+1e-9 && pan != trueStep(d) {
			t.Errorf("%s is heard %.2f degrees off", d.Name, off*180/math.Pi)
		}
		if plainJoint(r, d, 90) != pan {
			bound++
		}
	}
	if len(r.Derivations[0]) != 24 || moved < 6 || bound < 6 {
		t.Errorf("of %d players, joint moves %d, and its angle binds for %d", len(r.Derivations[0]), moved, bound)
	}
}

// trueStep is the pan of the true direction, in hundredths, within the width.
func trueStep(d *work.Derivation) int {
	return int(math.Round(100 * max(-0.8, min(0.8, d.Pan.Tangent.Pan))))
}

// imageOf is the direction of a pan's image, by the tangent law from the gains of the two stacks.
func imageOf(r *Result, d *work.Derivation, pan int) float64 {
	g := r.Setup.System.Gains(float64(pan) / 100)
	left, right := g[d.Pan.Tangent.LeftStack], g[d.Pan.Tangent.RightStack]
	return math.Atan((right - left) / (right + left) * math.Tan(d.Pan.Tangent.Half))
}

// plainJoint is the pan, in hundredths, whose best delay has the most seats in time: of equal ones the nearest to the
// true direction, then the nearest to the middle, then the one farther left.
func plainJoint(r *Result, d *work.Derivation, angleDeg float64) int {
	from, best, most := trueStep(d), 0, -1.0
	for pan := -80; pan <= 80; pan++ {
		if pan != from && math.Abs(imageOf(r, d, pan)-d.Pan.Tangent.Phi) > angleDeg*math.Pi/180+1e-9 {
			continue
		}
		nearer := cmp.Or(cmp.Compare(distance(pan, from), distance(best, from)), cmp.Compare(distance(pan, 0), distance(best, 0)))
		if v := plainSeats(r, d, pan); v > most+1e-6 || v > most-1e-6 && nearer < 0 {
			best, most = pan, max(most, v)
		}
	}
	return best
}

func distance(a, b int) int { return max(a-b, b-a) }

// plainSeats is the weight of the seats in time with a pan and its best delay, which also serves the press box.
func plainSeats(r *Result, d *work.Derivation, pan int) (most float64) {
	const windowS = 0.03
	sys, gains := r.Setup.System, r.Setup.System.Gains(float64(pan)/100)
	needS := func(s stands.Seat) float64 {
		return d.Place.Start.Distance(s.At)/sys.SpeedMPS - sys.First(s.At, gains).TimeS
	}
	own := max(0, needS(stands.Seat{At: r.Rig.Reference}))
	seats := r.Rig.Seats()
	needs, delays := make([]float64, len(seats)), []float64{own}
	for i, s := range seats {
		needs[i] = needS(s)
		if needs[i] >= own && needs[i] <= own+windowS {
			delays = append(delays, needs[i])
		}
	}
	for _, delayS := range delays {
		weight := 0.0
		for i, s := range seats {
			if late := delayS - needs[i]; late >= -1e-9 && late <= windowS+1e-9 {
				weight += s.Weight
			}
		}
		most = max(most, weight)
	}
	return most
}
