package compile

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"backfield/cue/work"
	"backfield/layout"
)

// The policy joint turns the player to where most seats are in time, within its angle of the true direction and within the
// width of the pan. The test tries every turn by plain loops. The angle has to matter: for some players, more seats would
// be in time farther away.
func TestJointTurnsThePlayer(t *testing.T) {
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
		turn, wider := plainJoint(r, d, 6), plainJoint(r, d, 30)
		if d.Pan.TurnDeg != turn {
			t.Errorf("%s is turned by %d degrees, not %d", d.Name, d.Pan.TurnDeg, turn)
		}
		at := turned(d.Place.Start, r.Rig.Reference, turn)
		if pan := max(-0.8, min(0.8, r.Setup.System.TangentPan(at, r.Rig.Reference).Pan)); math.Abs(d.Pan.Raw-pan) > 1e-9 {
			t.Errorf("%s is panned to %g, not %g", d.Name, d.Pan.Raw, pan)
		}
		if turn != 0 {
			moved++
		}
		if turn != wider {
			bound++
		}
	}
	if len(r.Derivations[0]) != 24 || moved < 6 || bound < 4 {
		t.Errorf("of %d players, joint moves %d, and its angle binds for %d", len(r.Derivations[0]), moved, bound)
	}
}

func turned(at, around layout.Point, deg int) layout.Point {
	angle := -float64(deg) * math.Pi / 180 // clockwise, seen from above
	x, y := at.X-around.X, at.Y-around.Y
	return layout.Point{X: around.X + x*math.Cos(angle) - y*math.Sin(angle), Y: around.Y + x*math.Sin(angle) + y*math.Cos(angle), Z: at.Z}
}

// plainJoint is the turn, in degrees, whose best delay has the most seats in time: of equal ones the smaller, then the
// one to the left.
func plainJoint(r *Result, d *work.Derivation, angleDeg int) (best int) {
	most := math.Inf(-1)
	for n := range 2*angleDeg + 1 { // 0, -1, 1, -2, 2 ...
		turn := (n + 1) / 2
		if n%2 == 1 {
			turn = -turn
		}
		if v := plainSeats(r, d, turn); v > most+1e-9 {
			best, most = turn, v
		}
	}
	return best
}

// plainSeats is the share of the seats in time with a turn and its best delay, within the bound of the press box.
func plainSeats(r *Result, d *work.Derivation, turn int) (most float64) {
	sys, ref, at := r.Setup.System, r.Rig.Reference, d.Place.Start
	gains := sys.Gains(max(-0.8, min(0.8, sys.TangentPan(turned(at, ref, turn), ref).Pan)))
	boxMS, _, _ := r.Setup.Listeners.BoxNeedMS(gains, at)
	needs, weights, total := []float64{}, []float64{}, 0.0
	for _, s := range r.Rig.Seats() {
		needs = append(needs, 1000*(at.Distance(s.At)/sys.SpeedMPS-sys.First(s.At, gains).TimeS))
		weights = append(weights, s.Weight)
		total += s.Weight
	}
	most = math.Inf(-1)
	for i := range 5000 {
		delay, v := float64(i)/10, 0.0
		if delay < boxMS-25 || delay > boxMS+65 {
			continue
		}
		for j, need := range needs {
			gap := delay - need
			v += weights[j] / total * (max(0, min((gap+2)/4, 1)) - max(0, min((gap-23)/4, 1)))
		}
		most = max(most, v-max(0, boxMS+5-delay, delay-boxMS-20))
	}
	return most
}
