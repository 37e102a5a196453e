package compile

import (
	"math"
	"strings"
	"testing"

	"backfield/cue"
)

// glides compiles with a mixer that glides.
func (f files) glides(t *testing.T) *Result {
	t.Helper()
	r, p := f.compileWith(t, func(in *Input) { in.Mixer.Moves = cue.Glides })
	if r.Show == nil {
		t.Fatal(p.All())
	}
	return r
}

// TestWaitMoves: a player whose mic stays open walks 34 m in a wait of 20 s between two movements. The delay goes with the
// player in the wait, and not on the first note: at both ends of the wait the press box's bound holds, and from the
// downbeat on nothing moves. The wait counts for nothing in the search, and the line through it is straight in seconds.
func TestWaitMoves(t *testing.T) {
	f := base
	f.rig += someSeats
	f.score += "[[movement]]\nwait = 20\ntempo = 120\n"
	f.sets += "4,2,0,0\n5,2,16,0\n"
	f.dots = "set,player,x,y\n1,A,-20,20\n2,A,-20,20\n3,A,-20,20\n4,A,20,64\n5,A,20,64\n"
	f.roster = "player,section,pack,channel,from,height,trim\nA,trumpet,P1,1,,,\n"
	r := f.with("[[cue]]\nid = \"1\"\nat = \"1:1\"\nopen.feature = [\"A\"]\n").glides(t)
	x := r.Derivations[0][0].Stretch
	ends, seconds := []int{}, 0.0
	for k, at := range x.Samples {
		if at.IsWait {
			ends = append(ends, k)
		}
		seconds += at.WeightS
	}
	if len(ends) != 2 || ends[1] != ends[0]+1 || math.Abs(x.Samples[ends[1]].StepS-20) > 1e-9 || math.Abs(seconds-24) > 1e-9 {
		t.Fatalf("ends of the wait %v, %g s counted", ends, seconds)
	}
	before, after := x.Samples[ends[0]], x.Samples[ends[1]]
	if d := before.At.Distance(after.At); d < 33 || d > 35 {
		t.Fatalf("the player walks %g m", d)
	}
	for k, at := range x.Samples {
		if late := x.SentMS[k] - x.NeedMS[k]; late < 5-1.05 || late > 20+1.05 {
			t.Errorf("movement %d, %g counts on: the press box is %g ms late", at.Movement, at.Elapsed, late)
		}
		if k > 0 && k != ends[1] && math.Abs(x.SentMS[k]-x.SentMS[k-1]) > 0.051 {
			t.Errorf("movement %d, %g counts on: the delay moves by %g ms", at.Movement, at.Elapsed, x.SentMS[k]-x.SentMS[k-1])
		}
	}
	moved := x.SentMS[ends[1]] - x.SentMS[ends[0]]
	if moved < 30 {
		t.Errorf("the delay moves by %g ms in the wait", moved)
	}
	ch := channelOf(t, r, "1", 1)
	for _, part := range []float64{0, 0.25, 0.5, 1} {
		got := r.Show.Cues[0].GlideAt(&ch, 16+20*part, r.Show.Rig.Delay.Moves, nil).DelayMS
		if want := x.SentMS[ends[0]] + part*moved; math.Abs(got-want) > 0.06 {
			t.Errorf("%g of the wait: %g ms, not %g", part, got, want)
		}
	}
}

// TestPauseStands: in a pause after count 9 the counts stand still, and so does the path, at count 10. The pause counts for
// the sample there, but no step may use its time.
func TestPauseStands(t *testing.T) {
	f := base
	f.rig += someSeats
	f.score = strings.Replace(f.score, "tempo = 120", "tempo = [{ at = 1, bpm = 120 }, { at = 9, pause = 3 }]", 1)
	f.dots = "set,player,x,y\n1,A,0,16\n2,A,0,48\n3,A,0,48\n"
	f.roster = "player,section,pack,channel,from,height,trim\nA,trumpet,P1,1,,,\n"
	r := f.with("[[cue]]\nid = \"1\"\nat = \"1:1\"\nopen.feature = [\"A\"]\n").glides(t)
	x := r.Derivations[0][0].Stretch
	found, moved := false, 0.0
	for k, at := range x.Samples {
		if k == 0 || k == len(x.Samples)-1 {
			continue
		}
		weight := 0.125
		if at.Count() == 10 {
			found, weight = true, 3.125
		}
		if math.Abs(at.WeightS-weight) > 1e-9 || math.Abs(at.StepS-0.125) > 1e-9 {
			t.Errorf("count %g: weight %g s, step %g s", at.Count(), at.WeightS, at.StepS)
		}
		step := math.Abs(x.SentMS[k] - x.SentMS[k-1])
		if moved += step; step > 8*0.125+0.1+1e-9 {
			t.Errorf("count %g: the delay moves by %g ms", at.Count(), step)
		}
	}
	if !found || moved < 10 {
		t.Errorf("a sample at count 10: %v; the delay moves by %g ms", found, moved)
	}
	ch := channelOf(t, r, "1", 1)
	countAt := func(s float64) float64 { return 2*min(s, 4.5) + 2*max(s-7.5, 0) }
	counts := func(from, to float64) float64 { return countAt(to) - countAt(from) }
	at := func(s float64) float64 { return r.Show.Cues[0].GlideAt(&ch, s, r.Show.Rig.Delay.Moves, counts).DelayMS }
	if a, b := at(4.5), at(7.5); a != b || at(4.4) == a || at(7.6) == a {
		t.Errorf("before the pause %g ms, %g and %g at its ends, then %g", at(4.4), a, b, at(7.6))
	}
}
