package stand

import (
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"backfield/layout"
)

// crowd is the players of a solver benchmark: places drawn by the same generator in Go, C and Python.
func crowd(n int) []layout.Point {
	state := uint64(1)
	uniform := func() float64 {
		state = state*6364136223846793005 + 1442695040888963407
		return float64(state>>11) / (1 << 53)
	}
	list := make([]layout.Point, n)
	for i := range list {
		list[i] = layout.Point{X: 80*uniform() - 40, Y: 48 * uniform(), Z: 1.5}
	}
	return list
}

var proofAim = Aim{WindowS: 0.03, LeadS: 0.01}

// solver is one worker's choosers.
type solver struct {
	l     *Listeners
	pan   *PanChooser
	delay *Chooser
}

// found is what is made out of one place, or the sums of many: pan step, the four delays in s, the share inside the
// window and the median lateness in s of the most-seats delay.
type found [7]float64

func (s solver) solve(p layout.Point) found {
	k := s.pan.Fit(p)
	h := s.l.AtPan(k)
	reference, _ := s.delay.Raw(h, p, Reference, proofAim)
	never, _ := s.delay.Raw(h, p, NeverEarly, proofAim)
	least, _ := s.delay.Raw(h, p, LeastError, proofAim)
	most, _ := s.delay.Raw(h, p, MostSeats, proofAim)
	f, _ := s.delay.Fit(h, []layout.Point{p}, most, proofAim.WindowS)
	return found{float64(k), reference, most, least, never, f.Inside, f.MedianMS / 1000}
}

// plain is the same by straightforward loops over the table of pan steps: every step is scanned, every candidate is
// weighed by every seat, the library sorts.
func (s solver) plain(p layout.Point) found {
	l := s.l
	s.pan.aim(p)
	costs := make([]float64, 2*l.steps+1)
	for k := -l.steps; k <= l.steps; k++ {
		row := l.energyAt(k)
		sum := 0.0
		for j := range s.pan.px {
			sum += s.pan.px[j]*row.ex[j] + s.pan.py[j]*row.ey[j]
		}
		costs[k+l.steps] = 1 - sum/l.total
	}
	least, k := slices.Min(costs), l.steps+1
	for n, v := range costs {
		if n -= l.steps; v <= least+1e-12 && (abs(n) < abs(k) || abs(n) == abs(k) && n < k) {
			k = n
		}
	}
	q := make([]float64, l.Len())
	h := l.AtPan(k)
	reference, _ := l.needAt(h, p)
	l.Needs(h, p, q)
	best, most := -1.0, 0.0
	for _, v := range append([]float64{reference}, q...) {
		tau := max(0, v)
		if tau < max(0, reference) || tau > max(0, reference+proofAim.WindowS) {
			continue
		}
		if in := weightIn(q, l.w, tau, proofAim.WindowS); in > best+1e-9 || in > best-1e-9 && tau < most {
			best, most = max(in, best), tau
		}
	}
	medianOf := func(q []float64) float64 {
		order := make([]int, len(q))
		for i := range order {
			order[i] = i
		}
		slices.SortStableFunc(order, func(a, b int) int { return byTime(need{q: q[a]}, need{q: q[b]}) })
		sum := 0.0
		for _, i := range order {
			if sum += l.w[i]; sum >= l.total/2*(1-1e-12) {
				return q[i]
			}
		}
		return 0
	}
	late := make([]float64, len(q))
	for j, v := range q {
		late[j] = most - v
	}
	return found{float64(k), reference + proofAim.LeadS, most, medianOf(q) + proofAim.LeadS, slices.Max(q), weightIn(q, l.w, most, proofAim.WindowS) / l.total, medianOf(late)}
}

func (f found) add(g found) found {
	for i := range f {
		f[i] += g[i]
	}
	return f
}

// apart is how far two sums lie apart, relative to their size.
func (f found) apart(g found) (most float64) {
	for i := range f {
		most = max(most, math.Abs(f[i]-g[i])/max(1, math.Abs(g[i])))
	}
	return most
}

// solveAll works all places on a number of cores, from cold tables.
func solveAll(places []layout.Point, cores int) (total found) {
	l := bigScene(6, 25, 80)
	each := make([]found, len(places))
	var next atomic.Int64
	var workers sync.WaitGroup
	for range cores {
		workers.Go(func() {
			s := solver{l, l.PanChooser(), l.Chooser()}
			const batch = 20
			for {
				lo := int(next.Add(batch)) - batch
				if lo >= len(places) {
					return
				}
				for i := lo; i < min(lo+batch, len(places)); i++ {
					each[i] = s.solve(places[i])
				}
			}
		})
	}
	workers.Wait()
	for _, f := range each {
		total = total.add(f)
	}
	return total
}

// outsider runs a program that prints nanoseconds of processor time a problem and the sums of what it found.
func outsider(b *testing.B, problems, rounds int, name string, args ...string) (nsEach float64, sums found, ok bool) {
	cmd := exec.Command(name, append(args, fmt.Sprint(problems), fmt.Sprint(rounds))...)
	cmd.Env = append(os.Environ(), "OMP_NUM_THREADS=1", "OPENBLAS_NUM_THREADS=1")
	out, err := cmd.Output()
	if err != nil {
		b.Logf("left out: %s: %v", name, err)
		return 0, sums, false
	}
	fields := []any{&nsEach}
	for i := range sums {
		fields = append(fields, &sums[i])
	}
	if _, err := fmt.Sscan(string(out), fields...); err != nil {
		b.Fatalf("%s says %q: %v", name, out, err)
	}
	return nsEach, sums, true
}

// numpy is a python that has it: the first on the path, or the system's own.
func numpy() string {
	for _, name := range []string{"python3", "/usr/bin/python3"} {
		if exec.Command(name, "-c", "import numpy").Run() == nil {
			return name
		}
	}
	return "python3"
}

// BenchmarkSolver solves stand-fit pan over 201 steps, all four delays and the fit for 2,000 seats and 6 stacks, and in
// the same run has the same done in strict C, with numpy, by the straightforward version, and on two cores. All must
// find the same. Times are of the processor, so that a busy machine disturbs them little; but for two cores, which are
// by the wall's clock. Each ratio is how many times as long the other takes.
func BenchmarkSolver(b *testing.B) {
	for _, problems := range []int{22 * 60, 22 * 1200} {
		b.Run(fmt.Sprint(problems), func(b *testing.B) {
			places := crowd(problems)
			var sums found
			runtime.GOMAXPROCS(1)
			ours := math.Inf(1)
			for b.Loop() {
				begun := processorTime()
				sums = solveAll(places, 1)
				ours = min(ours, float64(processorTime()-begun)/float64(problems))
			}
			runtime.GOMAXPROCS(runtime.NumCPU())
			b.ReportMetric(ours, "ns/problem")
			same := func(who string, other found) {
				if d := sums.apart(other); d > 1e-9 {
					b.Errorf("%s finds %v, not %v", who, other, sums)
				}
			}
			dir := b.TempDir()
			binary := filepath.Join(dir, "solver")
			if out, err := exec.Command("gcc", "-O3", "-o", binary, "testdata/solver.c", "-lm").CombinedOutput(); err != nil {
				b.Logf("C is left out: %v %s", err, strings.TrimSpace(string(out)))
			} else if ns, other, ok := outsider(b, problems, 3, binary); ok {
				same("C", other)
				b.ReportMetric(ns/ours, "x_C")
			}
			if ns, other, ok := outsider(b, min(problems, 1320), 1, numpy(), "testdata/solver.py"); ok {
				if problems <= 1320 {
					same("numpy", other)
				}
				b.ReportMetric(ns/ours, "x_numpy")
			}
			l := bigScene(6, 25, 80)
			s := solver{l, l.PanChooser(), l.Chooser()}
			some := places[:min(40, len(places))]
			begun := processorTime()
			for _, p := range some {
				if got, want := s.plain(p), (solver{l, l.PanChooser(), l.Chooser()}).solve(p); got.apart(want) > 1e-9 {
					b.Errorf("%v: straightforward %v, not %v", p, got, want)
				}
			}
			plain := float64(processorTime()-begun)/float64(len(some)) - ours
			b.ReportMetric(plain/ours, "x_plain")
			if runtime.NumCPU() > 1 {
				wall := func(cores int) time.Duration {
					begun := time.Now()
					same(fmt.Sprint(cores, " cores"), solveAll(places, cores))
					return time.Since(begun)
				}
				best := map[int]time.Duration{}
				for range 3 {
					for _, cores := range []int{1, 2} {
						if took := wall(cores); best[cores] == 0 || took < best[cores] {
							best[cores] = took
						}
					}
				}
				b.ReportMetric(float64(best[1])/float64(best[2]), "x_two_cores")
			}
		})
	}
}

// BenchmarkSeats shows the cost of one problem by the number of seats.
func BenchmarkSeats(b *testing.B) {
	for _, seats := range []int{100, 1000, 10_000, 100_000} {
		b.Run(fmt.Sprint(seats), func(b *testing.B) {
			l := bigScene(6, seats/20, 20)
			s := solver{l, l.PanChooser(), l.Chooser()}
			places := crowd(64)
			for _, p := range places {
				s.solve(p) // fills the tables
			}
			i := 0
			for b.Loop() {
				s.solve(places[i%len(places)])
				i++
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(seats), "ns/seat")
		})
	}
}
