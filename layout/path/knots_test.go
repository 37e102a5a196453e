package path

import (
	"fmt"
	"math"
	"math/rand"
	"slices"
	"testing"
)

// randomTrail is a short trail of a delay on a grid and a pan, with forced knots and waits.
func randomTrail(rng *rand.Rand, samples int) *Trail {
	t := &Trail{ToleranceMS: []float64{0, 0.1, 0.3, 1}[rng.Intn(4)], MaxMS: 30, SlewMSPS: 8}
	count, delay, pan := 0.0, float64(rng.Intn(20))/10, 0.0
	if rng.Intn(5) == 0 {
		t.MaxMS = delay + 0.2
	}
	speed := float64(rng.Intn(9)-4) / 10
	var pans []float64
	for k := range samples {
		wait := k > 0 && rng.Intn(8) == 0
		stepS := []float64{0.1, 0.125, 0.05}[rng.Intn(3)]
		switch {
		case wait:
			stepS = 5
		case k > 0:
			count += 0.25
		}
		if k > 0 {
			if rng.Intn(3) == 0 {
				speed = float64(rng.Intn(9)-4) / 10
			}
			most := math.Floor(t.SlewMSPS*stepS/0.1+1e-9) * 0.1
			delay = math.Round(10*max(0, min(delay+max(-most, min(speed, most)), t.MaxMS))) / 10
			pan += []float64{0, 0.01, 0.03}[rng.Intn(3)]
		}
		t.Counts, t.StepS, t.DelayMS = append(t.Counts, count), append(t.StepS, stepS), append(t.DelayMS, delay)
		t.Forced = append(t.Forced, wait || rng.Intn(6) == 0)
		if wait {
			t.Forced[k-1] = true
		}
		pans = append(pans, pan)
	}
	t.Others = []Coordinate{{pans, 0.02}}
	return t
}

// allowed is the rule for one line, sample by sample.
func (t *Trail) allowed(from, to TrailKnot) bool {
	a, b := from.Sample, to.Sample
	y := func(k TrailKnot) float64 { return t.DelayMS[k.Sample] + float64(k.Offset)*t.ToleranceMS }
	share := func(k int) float64 {
		if k == a {
			return 0
		} else if k == b {
			return 1
		}
		return (t.Counts[k] - t.Counts[a]) / (t.Counts[b] - t.Counts[a])
	}
	for k := a + 1; k <= b; k++ {
		if math.Abs((y(to)-y(from))*(share(k)-share(k-1))) > t.SlewMSPS*t.StepS[k]+1e-9 {
			return false
		}
		if k == b {
			break
		}
		line := y(from) + (y(to)-y(from))*share(k)
		if t.Forced[k] || math.Abs(line-t.DelayMS[k]) > t.ToleranceMS+1e-9 {
			return false
		}
		for _, c := range t.Others {
			if math.Abs(c.At[a]+(c.At[b]-c.At[a])*share(k)-c.At[k]) > c.Tolerance+1e-9 {
				return false
			}
		}
	}
	return true
}

// plainKnots is the choice by definition: all ways of knots and offsets there are.
func (t *Trail) plainKnots() []TrailKnot {
	var best, now []TrailKnot
	last := len(t.Counts) - 1
	may := func(k TrailKnot) bool {
		v := t.DelayMS[k.Sample] + float64(k.Offset)*t.ToleranceMS
		return k.Offset == 0 || t.ToleranceMS > 0 && v >= -1e-9 && v <= t.MaxMS+1e-9
	}
	order := func(o int) int { return slices.Index([]int{0, -1, 1}, o) }
	off := func(list []TrailKnot) (n int) {
		for _, k := range list {
			n += abs(k.Offset)
		}
		return n
	}
	better := func() bool {
		if len(now) != len(best) {
			return best == nil || len(now) < len(best)
		}
		if a, b := off(now), off(best); a != b {
			return a < b
		}
		for i := len(now) - 1; i >= 0; i-- {
			if a, b := now[i], best[i]; a.Sample != b.Sample {
				return a.Sample < b.Sample
			} else if a.Offset != b.Offset {
				return order(a.Offset) < order(b.Offset)
			}
		}
		return false
	}
	var from func()
	from = func() {
		k := now[len(now)-1]
		if k.Sample == last {
			if better() {
				best = slices.Clone(now)
			}
			return
		}
		for b := k.Sample + 1; b <= last; b++ {
			for o := -1; o <= 1; o++ {
				if next := (TrailKnot{b, o}); may(next) && t.allowed(k, next) {
					now = append(now, next)
					from()
					now = now[:len(now)-1]
				}
			}
		}
	}
	for o := -1; o <= 1; o++ {
		if k := (TrailKnot{0, o}); may(k) {
			now = []TrailKnot{k}
			from()
		}
	}
	return best
}

// TestEveryKnots holds the knots to all that there are of short trails.
func TestEveryKnots(t *testing.T) {
	const seed = 12
	rng := rand.New(rand.NewSource(seed))
	fewer, off := 0, 0
	for n := range 4000 {
		x := randomTrail(rng, 1+rng.Intn(7))
		want, got := x.plainKnots(), x.Knots()
		if !slices.Equal(got, want) {
			t.Fatalf("seed %d, trail %d: %v, not %v\n%+v", seed, n, got, want, x)
		}
		if len(got) < len(x.Counts) {
			fewer++
		}
		if slices.ContainsFunc(got, func(k TrailKnot) bool { return k.Offset != 0 }) {
			off++
		}
	}
	if fewer < 1000 || off < 100 {
		t.Errorf("only %d trails had fewer knots than samples, and %d knots off the path", fewer, off)
	}
}

// TestLongTrail holds the knots of long trails to the rules, at every sample.
func TestLongTrail(t *testing.T) {
	rng := rand.New(rand.NewSource(13))
	for range 60 {
		x := randomTrail(rng, 300)
		knots := x.Knots()
		if knots[0].Sample != 0 || knots[len(knots)-1].Sample != 299 {
			t.Fatalf("%v do not reach from end to end", knots)
		}
		for i := 1; i < len(knots); i++ {
			if !x.allowed(knots[i-1], knots[i]) {
				t.Fatalf("the line from %v to %v", knots[i-1], knots[i])
			}
		}
	}
}

// TestJumpKnots: where the delay does not glide, the pan alone has knots, without an offset.
func TestJumpKnots(t *testing.T) {
	x := &Trail{Counts: []float64{0, 1, 2, 3, 4}, StepS: make([]float64, 5), Forced: []bool{4: false},
		Others: []Coordinate{{[]float64{0, 0.1, 0.2, 0.2, 0.2}, 0.02}}}
	if got, want := x.Knots(), []TrailKnot{{0, 0}, {2, 0}, {4, 0}}; !slices.Equal(got, want) {
		t.Errorf("%v, not %v", got, want)
	}
	x.Forced[1] = true
	if got, want := x.Knots(), []TrailKnot{{0, 0}, {1, 0}, {2, 0}, {4, 0}}; !slices.Equal(got, want) {
		t.Errorf("with a jump at 1: %v, not %v", got, want)
	}
}

// everyLine is Knots without plateaus: it tries every line from every knot.
func (t *Trail) everyLine() []TrailKnot {
	last := len(t.Counts) - 1
	best := make([][3]vertex, last+1)
	none := &plateaus{of: slices.Repeat([]int{-1}, last+1)}
	for i, o := range offsets {
		if t.may(0, o) {
			best[0][i] = vertex{lines: 1, offsets: abs(o)}
		}
	}
	for a := range last {
		for i, o := range offsets {
			if v := best[a][i]; v.lines > 0 {
				t.lines(a, o, vertex{lines: v.lines + 1, offsets: v.offsets, from: a, offset: i}, best, none)
			}
		}
	}
	end := 0
	for i := range offsets {
		if v := best[last][i]; v.lines > 0 && v.less(best[last][end]) {
			end = i
		}
	}
	knots := make([]TrailKnot, best[last][end].lines)
	for k, n := last, len(knots)-1; n >= 0; n-- {
		v := best[k][end]
		knots[n] = TrailKnot{k, offsets[end]}
		k, end = v.from, v.offset
	}
	return knots
}

// standing is a trail of a player who stands for a while, moves a little, and stands again.
func standing(rng *rand.Rand, stands, longest int) *Trail {
	t := &Trail{ToleranceMS: []float64{0, 0.1, 0.3, 1}[rng.Intn(4)], MaxMS: 30, SlewMSPS: []float64{0.1, 1, 8}[rng.Intn(3)]}
	count, delay, pan := 0.0, float64(rng.Intn(20))/10, 0.0
	var pans []float64
	add := func() {
		stepS := []float64{0.1, 0.125, 0.05}[rng.Intn(3)]
		t.Counts, t.StepS, t.DelayMS = append(t.Counts, count), append(t.StepS, stepS), append(t.DelayMS, delay)
		t.Forced, pans = append(t.Forced, rng.Intn(200) == 0), append(pans, pan)
		count += 0.25
	}
	for range stands {
		for range 1 + rng.Intn(longest) {
			add()
		}
		for range rng.Intn(12) {
			most := math.Floor(t.SlewMSPS*0.05/0.1+1e-9) * 0.1
			delay = math.Round(10*max(0, min(delay+max(-most, min(float64(rng.Intn(9)-4)/10, most)), t.MaxMS))) / 10
			pan += []float64{-0.01, 0, 0.01, 0.03}[rng.Intn(4)]
			add()
		}
	}
	if rng.Intn(6) == 0 {
		t.DelayMS = nil // it jumps
	}
	t.Others = []Coordinate{{pans, 0.02}}
	return t
}

// TestPlateaus holds the knots of those who stand to the search that tries every line.
func TestPlateaus(t *testing.T) {
	const seed = 14
	rng := rand.New(rand.NewSource(seed))
	flat := 0
	for n := range 400 {
		x := standing(rng, 1+rng.Intn(6), 60)
		flat += len(x.plateaus(make([][3]vertex, len(x.Counts))).list)
		if got, want := x.Knots(), x.everyLine(); len(x.Counts) > 1 && !slices.Equal(got, want) {
			t.Fatalf("seed %d, trail %d of %d samples: %v, not %v", seed, n, len(x.Counts), got, want)
		}
	}
	if flat < 400 {
		t.Errorf("only %d plateaus", flat)
	}
}

// BenchmarkStanding finds the knots of somebody who stands twice for so long; the time for a sample should not grow.
func BenchmarkStanding(b *testing.B) {
	for _, samples := range []int{1000, 10000, 100000} {
		b.Run(fmt.Sprint(samples), func(b *testing.B) {
			x := &Trail{ToleranceMS: 1, MaxMS: 500, SlewMSPS: 8}
			var pans []float64
			for k := range samples {
				moved := max(0, min(float64(k-samples/2)/10, 20))
				x.Counts, x.StepS = append(x.Counts, float64(k)/4), append(x.StepS, 0.1)
				x.Forced, x.DelayMS = append(x.Forced, false), append(x.DelayMS, math.Round(10*(60+moved))/10)
				pans = append(pans, moved/40)
			}
			x.Others = []Coordinate{{pans, 0.02}}
			for b.Loop() {
				x.Knots()
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*samples), "ns/sample")
		})
	}
}

// BenchmarkKnots finds the knots of a walk.
func BenchmarkKnots(b *testing.B) {
	x := &Trail{ToleranceMS: 1, MaxMS: 500, SlewMSPS: 8}
	var pans []float64
	for k := range 400 {
		x.Counts, x.StepS, x.Forced = append(x.Counts, float64(k)/4), append(x.StepS, 0.1), append(x.Forced, k%100 == 0)
		x.DelayMS = append(x.DelayMS, math.Round(10*(60+20*math.Sin(float64(k)/60)))/10)
		pans = append(pans, math.Sin(float64(k)/100))
	}
	x.Others = []Coordinate{{pans, 0.02}}
	for b.Loop() {
		x.Knots()
	}
}
