package path

import (
	"math"
	"math/rand"
	"slices"
	"testing"
	"time"
)

// stretch is a small stretch to find a path for.
type stretch struct {
	grid   DelayGrid
	rules  MoveRules
	at     []Instant
	values [][]float64
}

func (x stretch) search(s *PathSearch) ([]int, float64) {
	s.Begin(x.grid, x.rules)
	for k, at := range x.at {
		s.Add(at, x.values[k])
	}
	return s.Path()
}

// over is the best path over a limit.
func (x stretch) over(s *PathSearch, limitS float64) ([]int, float64, bool) {
	s.Begin(x.grid, x.rules)
	for k, at := range x.at {
		s.Add(at, x.values[k])
	}
	return s.PathOver(limitS)
}

// randomStretch draws values from a few, so that equal sums are likely.
func randomStretch(rng *rand.Rand, samples, n int) stretch {
	x := stretch{
		grid:  DelayGrid{StepMS: []float64{0.1, 0.5}[rng.Intn(2)], From: rng.Intn(50), N: n},
		rules: MoveRules{Jumps: rng.Intn(3) == 0, SlewMSPS: 8, Still: []float64{0.01, 0.1, 0.5}[rng.Intn(3)]},
	}
	shared := make([]float64, n)
	for i := range shared {
		shared[i] = float64(rng.Intn(4)) / 4
	}
	for range samples {
		at := Instant{WeightS: float64(1+rng.Intn(3)) / 8, StepS: float64(rng.Intn(5)) / 16, PriceS: math.Inf(1)}
		if rng.Intn(2) == 0 {
			at.PriceS = float64(rng.Intn(3)) / 16
		}
		x.at = append(x.at, at)
		values := shared
		if rng.Intn(3) > 0 {
			values = make([]float64, n)
			for i := range values {
				values[i] = float64(rng.Intn(5))/4 - float64(rng.Intn(2))*float64(i)/10
			}
		}
		x.values = append(x.values, values)
	}
	return x
}

// sum is what a path is worth, by definition; ok is false where it may not be had.
func (x stretch) sum(path []int) (sumS float64, ok bool) {
	for k, i := range path {
		sumS += x.at[k].WeightS * x.values[k][i]
		if k == 0 || i == path[k-1] {
			continue
		}
		moved := math.Abs(float64(i-path[k-1])) * x.grid.StepMS
		switch {
		case x.rules.Jumps:
			sumS -= x.at[k].PriceS
		case moved > x.rules.SlewMSPS*x.at[k].StepS+1e-6:
			return 0, false
		default:
			sumS -= x.rules.Still * moved
		}
	}
	return sumS, true
}

// every tries all paths.
func (x stretch) every(do func(path []int, sumS float64)) {
	path := make([]int, len(x.at))
	var from func(k int)
	from = func(k int) {
		if k == len(path) {
			if v, ok := x.sum(path); ok {
				do(path, v)
			}
			return
		}
		for path[k] = 0; path[k] < x.grid.N; path[k]++ {
			from(k + 1)
		}
	}
	from(0)
}

// comesBefore is the order of paths with equal sums: from the end, the last sample's least delay; before it the smaller
// step, then the lower delay. At a jump the least delay comes first, after no jump.
func (x stretch) comesBefore(a, b []int) bool {
	last := len(a) - 1
	if a[last] != b[last] {
		return a[last] < b[last]
	}
	for k := last - 1; k >= 0; k-- {
		if a[k] == b[k] {
			continue
		}
		stayA, stayB := abs(a[k+1]-a[k]), abs(b[k+1]-b[k])
		switch {
		case x.rules.Jumps && stayA == 0 || stayB == 0 && x.rules.Jumps:
			return stayA == 0
		case stayA != stayB && !x.rules.Jumps:
			return stayA < stayB
		}
		return a[k] < b[k]
	}
	return false
}

// TestEveryPath holds the search to all paths that there are of small stretches.
func TestEveryPath(t *testing.T) {
	const seed = 11
	rng := rand.New(rand.NewSource(seed))
	var s PathSearch
	moved, ties := 0, 0
	for n := range 6000 {
		x := randomStretch(rng, 1+rng.Intn(5), 1+rng.Intn(5))
		best, most, equal := []int(nil), math.Inf(-1), 0
		x.every(func(path []int, sumS float64) {
			switch {
			case sumS > most+1e-9:
				best, most, equal = slices.Clone(path), sumS, 1
			case sumS > most-1e-9:
				if equal++; x.comesBefore(path, best) {
					best = slices.Clone(path)
				}
			}
		})
		path, sumS := x.search(&s)
		if math.Abs(sumS-most) > 1e-9 || !slices.Equal(path, best) {
			t.Fatalf("seed %d, stretch %d: %v with %g, not %v with %g\n%+v", seed, n, path, sumS, best, most, x)
		}
		if over, overS, ok := x.over(&s, most-0.01); !ok || !slices.Equal(over, best) || math.Abs(overS-sumS) > 1e-12 {
			t.Fatalf("seed %d, stretch %d: over %g there is %v, not %v", seed, n, most-0.01, over, best)
		}
		if over, _, ok := x.over(&s, most+1e-6); ok {
			t.Fatalf("seed %d, stretch %d: %v is worth more than all", seed, n, over)
		}
		if slices.Min(path) < slices.Max(path) {
			moved++
		}
		if equal > 1 {
			ties++
		}
	}
	if moved < 600 || ties < 600 {
		t.Errorf("only %d paths moved, and %d had ties", moved, ties)
	}
}

// plainPath is the search by straightforward loops: from every delay, each delay that the slew allows is tried.
func (x stretch) plainPath() (path []int, sumS float64) {
	n := x.grid.N
	before := make([]float64, n)
	froms := make([][]int, len(x.at))
	for k, at := range x.at {
		row, from := make([]float64, n), make([]int, n)
		steps := int(math.Floor(x.rules.SlewMSPS*at.StepS/x.grid.StepMS + 1e-9))
		for i := range row {
			most, best := math.Inf(-1), i
			for j := range n {
				if k > 0 && (j < i-steps || j > i+steps) {
					continue
				}
				v := before[j] - x.rules.Still*x.grid.StepMS*math.Abs(float64(i-j))
				if v > most+tie || v > most-tie && abs(i-j) < abs(i-best) {
					most, best = v, j
				}
			}
			if k == 0 {
				most = 0
			}
			row[i], from[i] = most+at.WeightS*x.values[k][i], best
		}
		before, froms[k] = row, from
	}
	path = make([]int, len(x.at))
	at := first(before)
	sumS = before[at]
	for k := len(path) - 1; k >= 0; k-- {
		path[k], at = at, froms[k][at]
	}
	return path, sumS
}

// hill is a stretch like those of a show: n delays, and a range of good ones that walks.
func hill(samples, n int) stretch {
	x := stretch{grid: DelayGrid{StepMS: 0.1, N: n}, rules: MoveRules{SlewMSPS: 8, Still: 0.01}}
	for k := range samples {
		x.at = append(x.at, Instant{WeightS: 0.1, StepS: 0.1})
		middle := float64(n) * (0.5 + 0.3*math.Sin(float64(k)/40))
		values := make([]float64, n)
		for i := range values {
			d := (float64(i) - middle) / 100
			values[i] = math.Max(1-d*d, -math.Abs(d)) + 0.1*math.Sin(float64(i*7+k))
		}
		x.values = append(x.values, values)
	}
	return x
}

// TestLikePlainLoops holds longer searches, which leave out what cannot be on the best path, to plain loops.
func TestLikePlainLoops(t *testing.T) {
	var s PathSearch
	rng := rand.New(rand.NewSource(14))
	for range 40 {
		x := hill(1+rng.Intn(200), 10+rng.Intn(400))
		x.rules.Still = []float64{0, 0.01, 0.1}[rng.Intn(3)]
		for k := range x.at {
			x.at[k].WeightS = 0.2 * float64(rng.Intn(4))
			x.at[k].StepS = 0.2 * rng.Float64()
		}
		path, sumS := x.search(&s)
		plain, plainS := x.plainPath()
		if !slices.Equal(path, plain) || math.Abs(sumS-plainS) > 1e-9 {
			t.Fatalf("%g and %g\n%v\n%v", sumS, plainS, path, plain)
		}
		if over, _, ok := x.over(&s, sumS-0.05); !ok || !slices.Equal(over, plain) {
			t.Fatalf("over a limit:\n%v\n%v", over, plain)
		}
	}
}

// TestSlew holds paths to their speed, and higher prices to less movement.
func TestSlew(t *testing.T) {
	var s PathSearch
	x := hill(300, 500)
	before := math.Inf(1)
	for _, still := range []float64{0, 0.01, 0.03, 0.1, 1} {
		x.rules.Still = still
		path, _ := x.search(&s)
		moved := 0.0
		for k := 1; k < len(path); k++ {
			step := float64(abs(path[k]-path[k-1])) * x.grid.StepMS
			if step > x.rules.SlewMSPS*x.at[k].StepS+1e-9 {
				t.Fatalf("%g ms in %g s", step, x.at[k].StepS)
			}
			moved += step
		}
		if moved > before+1e-9 {
			t.Errorf("still %g: moves %g ms, and %g at the lower price", still, moved, before)
		}
		before = moved
	}
}

// TestJumpCosts holds jump mixers to their prices: a dear jump is left out, a cheap one is taken where it may be.
func TestJumpCosts(t *testing.T) {
	low, high := []float64{1, 0, 0}, []float64{0, 0, 1}
	var s PathSearch
	for _, c := range []struct {
		price float64
		want  []int
	}{{math.Inf(1), []int{0, 0, 0, 0}}, {3, []int{0, 0, 0, 0}}, {1, []int{0, 0, 2, 2}}} {
		s.Begin(DelayGrid{StepMS: 1, N: 3}, MoveRules{Jumps: true})
		for k, values := range [][]float64{low, low, high, high} {
			s.Add(Instant{WeightS: 1, PriceS: []float64{math.Inf(1), math.Inf(1), c.price, math.Inf(1)}[k]}, values)
		}
		if path, _ := s.Path(); !slices.Equal(path, c.want) {
			t.Errorf("price %g: %v, not %v", c.price, path, c.want)
		}
	}
}

// BenchmarkSearch finds a path of a stretch of the show's size, and compares the time with that of straightforward
// loops in the same run.
func BenchmarkSearch(b *testing.B) {
	x := hill(500, 1000)
	x.rules.SlewMSPS = 20
	var s PathSearch
	var ours, plain time.Duration
	for b.Loop() {
		begun := time.Now()
		path, _ := x.search(&s)
		ours += time.Since(begun)
		begun = time.Now()
		other, _ := x.plainPath()
		plain += time.Since(begun)
		if !slices.Equal(path, other) {
			b.Fatal("the plain loops find another path")
		}
	}
	b.ReportMetric(float64(ours.Nanoseconds())/float64(b.N)/float64(len(x.at)), "ns/sample")
	b.ReportMetric(float64(plain)/float64(ours), "x_plain")
}

// BenchmarkSamples shows that the cost is linear in samples and delays.
func BenchmarkSamples(b *testing.B) {
	for _, c := range []struct {
		name       string
		samples, n int
	}{{"250x1000", 250, 1000}, {"1000x1000", 1000, 1000}, {"250x4000", 250, 4000}} {
		b.Run(c.name, func(b *testing.B) {
			x := hill(c.samples, c.n)
			var s PathSearch
			for b.Loop() {
				x.search(&s)
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(c.samples*c.n), "ns/delay")
		})
	}
}

// TestNearby holds the greatest of a sliding window to plain loops.
func TestNearby(t *testing.T) {
	var s PathSearch
	rng := rand.New(rand.NewSource(3))
	for range 2000 {
		from := make([]float64, 1+rng.Intn(30))
		for i := range from {
			from[i] = float64(rng.Intn(100))
		}
		list, steps := make([]float64, len(from)), rng.Intn(12)
		s.nearby(from, list, steps)
		for i, v := range list {
			if want := slices.Max(from[max(i-steps, 0):min(i+steps+1, len(from))]); v != want {
				t.Fatalf("%v within %d of %d: %g, not %g", from, steps, i, v, want)
			}
		}
	}
}
