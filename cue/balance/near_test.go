package balance_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"backfield/cue/balance"
	"backfield/layout"
	"backfield/layout/level"
)

// earOf finds an ear.
func earOf(t *testing.T, list []balance.NearEar, kind, name string) *balance.NearEar {
	t.Helper()
	for i := range list {
		if list[i].Kind == kind && list[i].Name == name {
			return &list[i]
		}
	}
	t.Fatalf("no %s %q", kind, name)
	return nil
}

func closeTo(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: %.4f, want %.4f", what, got, want)
	}
}

// Levels near people by hand. A snare at forte has 108 dB; its shape sums to +0.51 dB, and A-weighted to -0.10 dB. The ear
// is closer than half a meter, so 108 - 0.51 - 0.10 - 20 lg 0.5 - 10.99 = 102.42 dBA, of which 8 h * 2^(-17.42/3) = 8.6
// minutes are a day's dose: 2095 % in 3 hours.
func TestOwnEar(t *testing.T) {
	f := newSmall(cueAt("1", 1, `open.solo = ["S1"]`))
	l := f.loud(t)
	n := l.NearShow(l.Cues())
	own := earOf(t, n.Ears, balance.NearPlayer, "S1")
	closeTo(t, "own ear", own.All.DBA, 102.42, 0.01)
	closeTo(t, "dose", own.All.DosePct, 2095, 6)
	if want := (layout.Point{X: 2, Y: 30, Z: 1.6}); own.All.Ear != want {
		t.Errorf("the ear is at %v, want %v", own.All.Ear, want)
	}
	if n.DayS != 3*3600 || math.Abs(n.RunS-100) > 1e-9 {
		t.Errorf("%g s of a day, runs of %g s, want 3 h and 200 counts at 120", n.DayS, n.RunS)
	}
	// S2, 3 m to the side, rests and hears it: r is 3.0017 m, so 108 - 0.61 - 9.55 - 10.99 - 0.06 (air) = 86.79 dBA.
	closeTo(t, "neighbor", earOf(t, n.Ears, balance.NearPlayer, "S2").All.DBA, 86.79, 0.01)
	once := earOf(t, n.Cues[0].Ears, balance.NearPlayer, "S1").All.DosePct
	closeTo(t, "one run", once*3*3600/100, own.All.DosePct, 1e-9)
	f.head += "[balance]\nday = \"1.5 h\"\n"
	l = f.loud(t)
	half := earOf(t, l.NearShow(l.Cues()).Ears, balance.NearPlayer, "S1")
	closeTo(t, "half a day", half.All.DosePct, own.All.DosePct/2, 1e-9)
}

// Stacks by hand: on the aim of the left stack, 5 m from it. A trumpet's mic at forte has 111.42 dB and, A-weighted,
// 111.55 dBA (from level.md, example by hand), and reads nominal: 100 + 0.13 + 2 (fader) - 3.01 (pan 0) - 3 (trim) -
// 13.98 - 0.06 (air) = 82.08 dBA. The right stack is 40 m away. Three hours are a part of 8 h * 2^(2.92/3): 19.1 %.
func TestPeopleAtStack(t *testing.T) {
	f := newSmall(cueAt("1", 1, `open.solo = ["T1"]`))
	f.rig = "people = [{ name = \"crew\", at = { x = -20, y = -6.772, z = 3.991 } },\n" +
		"{ name = \"usher\", at = \"on 50; 4 in front of front sideline\" }]\n" + f.rig
	l := f.loud(t)
	n := l.NearShow(l.Cues())
	crew := earOf(t, n.Ears, balance.NearPeople, "crew")
	closeTo(t, "stacks", crew.Stacks.DBA, 82.08, 0.01)
	closeTo(t, "dose", crew.Stacks.DosePct, 19.1, 0.05)
	if loudest := balance.Loudest(n.Ears, func(x *balance.NearEar) float64 { return x.Stacks.DBA }); loudest != crew {
		t.Errorf("the stacks are loudest near %+v", loudest)
	}
	if z := earOf(t, n.Ears, balance.NearPeople, "usher").All.Ear.Z; z != level.EarHeightM {
		t.Errorf("the usher's ear is %g m high", z)
	}
	// T1 walks away from the stacks.
	walker := earOf(t, n.Ears, balance.NearPlayer, "T1")
	if at := walker.Stacks.At; at.Elapsed != 0 || walker.Stacks.Ear.Y != 20 {
		t.Errorf("the walker hears the stacks most at %+v, %v", at, walker.Stacks.Ear)
	}
}

// The loudest seat and the doses of seats are those that a plain loop over all seats and quarter counts finds.
func TestLoudestSeat(t *testing.T) {
	f := newSmall(cueAt("1", 1, "open.solo = [\"T1\"]\nopen.pad = [\"B1\"]\nplays = [\"@snare\"]") +
		cueAt("2", 101, `open.feature = ["@trumpet", "center"]`))
	l := f.loud(t)
	cues := l.Cues()
	n := l.NearShow(cues)
	var places []layout.Point
	for _, seat := range l.Stadium.Seats {
		places = append(places, seat.At)
	}
	stacksDose, allDose := make([]float64, len(places)), make([]float64, len(places))
	for i := range cues {
		stacks, all := math.Inf(-1), math.Inf(-1)
		for k, levels := range balance.LevelsAt(l, i, places) {
			hours := 0.125 / 3600 // a quarter count at 120
			if k == 400 {
				hours = 0
			}
			for j, x := range levels {
				stacks, all = max(stacks, x.StacksDBA), max(all, x.AllDBA)
				stacksDose[j] += level.DosePct(x.StacksDBA, hours) * 3 * 3600 / 100
				allDose[j] += level.DosePct(x.AllDBA, hours) * 3 * 3600 / 100
			}
		}
		seat := earOf(t, n.Cues[i].Ears, balance.NearSeat, "")
		closeTo(t, "stacks", seat.Stacks.DBA, stacks, 1e-9)
		closeTo(t, "all", seat.All.DBA, all, 0.01)
		alone := earOf(t, l.Near(cues[i]).Ears, balance.NearSeat, "")
		if alone.Stacks.DBA != seat.Stacks.DBA || alone.All.DBA != seat.All.DBA {
			t.Errorf("cue %d alone: %+v, within the show %+v", i, alone, seat)
		}
	}
	most := func(list []float64) (v float64) {
		for _, x := range list {
			v = max(v, x)
		}
		return v
	}
	seat := earOf(t, n.Ears, balance.NearSeat, "")
	closeTo(t, "dose of the stacks", seat.Stacks.DosePct, most(stacksDose), 0.002*most(stacksDose))
	closeTo(t, "dose of all sound", seat.All.DosePct, most(allDose), 0.002*most(allDose))
}

// Levels and doses of players and people are those of a plain loop over all quarter counts, within 0.01 dB, also where
// players march through each other and turn at every set.
func TestNearAsPlainLoop(t *testing.T) {
	compared := 0
	for seed := range uint64(30) {
		r := rand.New(rand.NewPCG(16, seed))
		f := newSmall(cueAt("1", 1, "open.solo = [\"T1\"]\nopen.pad = [\"B1\"]\nplays = [\"@snare\"]") +
			cueAt("2", 90, "open.feature = [\"@trumpet\", \"center\"]\nplays = [\"B2\"]"))
		f.rig = "people = [{ name = \"crew\", at = { x = 0, y = 24, z = 1.6 } }]\n" + f.rig
		f.sets, f.dots = "set,movement,counts,hold,facing\n1,1,0,0,\n", "set,player,x,y\n"
		for set, facing := range []string{"", "back", "", "90", "90", "", "", ""} {
			if set > 0 {
				f.sets += fmt.Sprintf("%d,1,25,%d,%s\n", set+1, 4*(set%2), facing)
			}
			for _, name := range []string{"T1", "T2", "T3", "B1", "B2", "S1", "S2", "M1", "G1"} {
				if name == "T3" && set > 5 {
					continue // T3 leaves the field
				}
				f.dots += fmt.Sprintf("%d,%s,%.2f m,%.2f m\n", set+1, name, 20*r.Float64()-10, 17+14*r.Float64())
			}
		}
		l := f.loud(t)
		for i, n := range l.NearShow(l.Cues()).Cues {
			for j, want := range balance.PlainNear(l, i) {
				got := n.Ears[j]
				what := fmt.Sprintf("seed %d, cue %d, %s", seed, i+1, got.Name)
				if want.Stacks != got.Stacks {
					t.Errorf("%s: the stacks %+v, want %+v", what, got.Stacks, want.Stacks)
				}
				closeTo(t, what, got.All.DBA, want.All.DBA, 0.01)
				closeTo(t, what+", dose", got.All.DosePct, want.All.DosePct, 0.0005*want.All.DosePct)
				compared++
			}
		}
	}
	if compared != 30*2*10 {
		t.Errorf("%d ears were compared", compared)
	}
}
