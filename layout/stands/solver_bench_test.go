package stands

import (
	"cmp"
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
	l     *standing
	pan   *PanChooser
	delay *DelayChooser
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

// plain is the same by straightforward loops: every step is scanned, every candidate is weighed by every seat, the
// library sorts. With rows, a step's energy directions are looked up in the table that the solver has too; without,
// only what each stack is worth at each seat is in a table, and the steps' directions are added up from that.
func (s solver) plain(p layout.Point, rows bool) found {
	l := s.l
	s.pan.aim(p)
	costs := make([]float64, 2*l.steps+1)
	for k := -l.steps; k <= l.steps; k++ {
		g := l.System.Gains(float64(k) / float64(l.steps))
		row := l.energyAt(k)
		sum := 0.0
		for j := range s.pan.px {
			if rows {
				sum += s.pan.px[j]*row.ex[j] + s.pan.py[j]*row.ey[j]
			} else if x, y := l.energyFrom(g, j); x != 0 || y != 0 {
				sum += (s.pan.px[j]*x + s.pan.py[j]*y) / math.Sqrt(x*x+y*y)
			}
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
	most := plainMost(q, l.w, reference)
	late := make([]float64, len(q))
	for j, v := range q {
		late[j] = most - v
	}
	return found{float64(k), reference + proofAim.LeadS, most, plainMedian(q, l.w, l.total) + proofAim.LeadS,
		slices.Max(q), weightIn(q, l.w, most, proofAim.WindowS) / l.total, plainMedian(late, l.w, l.total)}
}

// plainMost is the most-seats delay as it is defined: each candidate is weighed by every seat.
func plainMost(q, w []float64, reference float64) (most float64) {
	best := -1.0
	for _, v := range append([]float64{reference}, q...) {
		tau := max(0, v)
		if tau < max(0, reference) || tau > max(0, reference+proofAim.WindowS) {
			continue
		}
		if in := weightIn(q, w, tau, proofAim.WindowS); in > best+1e-9 || in > best-1e-9 && tau < most {
			best, most = max(in, best), tau
		}
	}
	return most
}

// plainMedian is the lower weighted median by the library's sort.
func plainMedian(q, w []float64, total float64) float64 {
	order := make([]int, len(q))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(q[a], q[b]) })
	sum := 0.0
	for _, i := range order {
		if sum += w[i]; sum >= total/2*(1-1e-12) {
			return q[i]
		}
	}
	return 0
}

func (f found) add(g found) found {
	for i := range f {
		f[i] += g[i]
	}
	return f
}

// apart is the difference of two sums, relative to their size.
func (f found) apart(g found) (most float64) {
	for i := range f {
		most = max(most, math.Abs(f[i]-g[i])/max(1, math.Abs(g[i])))
	}
	return most
}

// solveAll works all places on a number of cores, from cold tables.
func solveAll(places []layout.Point, cores int) (total found) {
	l := stand(bigScene(6, 25, 80))
	each := make([]found, len(places))
	var next atomic.Int64
	var workers sync.WaitGroup
	for range cores {
		workers.Go(func() {
			s := solver{l, l.PanChooser(), l.DelayChooser()}
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

// middle is the median of some measurements.
func middle(list []float64) float64 {
	list = slices.Sorted(slices.Values(list))
	return list[len(list)/2]
}

// cost is what some work takes of the processor, in ns each.
func cost(n int, work func()) float64 {
	begun := processorTime()
	work()
	return float64(processorTime()-begun) / float64(n)
}

// BenchmarkSolver solves pan by stands over 201 steps, all four delays and the fit for 2,000 seats and 6 stacks, and in
// the same run has the same done in strict C, with numpy, by the straightforward version, and on two cores. All must
// find the same. Each ratio is how many times as long the other takes, the median of pairs that are run in turn. Times
// are of the processor, so that a busy machine disturbs them little; but for x_two_cores, which is by the wall's clock
// and means something on a machine with two cores to spare only. cpu_two_cores is what the two cores take together
// against one: over 1 is what they lose by standing in each other's way.
//
// C comes twice: with the dot product in four sums, as in Go, which C's compiler makes into two sums of two side by
// side; and with one plain sum, which strict C may not take apart (x_C_one_sum). So does the straightforward version:
// x_plain has in a table what each stack is worth at each seat, x_plain_rows has the solver's own table of pan steps.
func BenchmarkSolver(b *testing.B) {
	for _, problems := range []int{22 * 60, 22 * 1200} {
		b.Run(fmt.Sprint(problems), func(b *testing.B) {
			places := crowd(problems)
			var sums found
			same := func(who string, other found) {
				if d := sums.apart(other); d > 1e-9 {
					b.Errorf("%s finds %v, not %v", who, other, sums)
				}
			}
			dir := b.TempDir()
			binaries := map[string]string{}
			for name, flag := range map[string]string{"x_C": "-DFOUR_SUMS", "x_C_one_sum": "-DONE_SUM"} {
				binary := filepath.Join(dir, name)
				if out, err := exec.Command("gcc", "-O3", flag, "-o", binary, "testdata/solver.c",
					"-lm").CombinedOutput(); err != nil {
					b.Logf("C is left out: %v %s", err, strings.TrimSpace(string(out)))
					continue
				}
				binaries[name] = binary
			}
			l := stand(bigScene(6, 25, 80))
			one := solver{l, l.PanChooser(), l.DelayChooser()}
			ratios := map[string][]float64{}
			for b.Loop() {
				runtime.GOMAXPROCS(1)
				begun := time.Now()
				ours := cost(problems, func() { sums = solveAll(places, 1) })
				wall := time.Since(begun)
				runtime.GOMAXPROCS(runtime.NumCPU())
				ratios["ns/problem"] = append(ratios["ns/problem"], ours)
				for name, binary := range binaries {
					if ns, other, ok := outsider(b, problems, 1, binary); ok {
						same(name, other)
						ratios[name] = append(ratios[name], ns/ours)
					}
				}
				for name, some := range map[string][]layout.Point{"x_plain_rows": places[:20],
					"x_plain": places[20:24]} {
					ratios[name] = append(ratios[name], cost(len(some), func() {
						for _, p := range some {
							if got, want := one.plain(p, name == "x_plain_rows"), one.solve(p); got.apart(want) > 1e-9 {
								b.Errorf("%v: %s %v, not %v", p, name, got, want)
							}
						}
					})/ours-1) // of which one is ours
				}
				if runtime.NumCPU() > 1 {
					begun := time.Now()
					two := cost(problems, func() { same("two cores", solveAll(places, 2)) })
					ratios["x_two_cores"] = append(ratios["x_two_cores"], float64(wall)/float64(time.Since(begun)))
					ratios["cpu_two_cores"] = append(ratios["cpu_two_cores"], two/ours)
				}
			}
			ours := middle(ratios["ns/problem"])
			for name, list := range ratios {
				b.ReportMetric(middle(list), name)
			}
			if ns, other, ok := outsider(b, min(problems, 1320), 1, numpy(), "testdata/solver.py"); ok {
				if problems <= 1320 {
					same("numpy", other)
				}
				b.ReportMetric(ns/ours, "x_numpy")
			}
		})
	}
}

// BenchmarkMostSeats finds the most-seats delay of one place from what its seats need, and BenchmarkZones does so for a
// mic on zone sends, with its fit: what is heard through them is no row of a table. Both have the same done as it is
// defined, in the same run: x_plain is how many times as long that takes.
func BenchmarkMostSeats(b *testing.B) {
	l := stand(bigScene(6, 25, 80))
	h := l.AtPan(20)
	against(b, l, func(c *DelayChooser, p layout.Point) (f found) {
		f[0], _ = c.Raw(h, p, MostSeats, proofAim)
		return f
	}, func(p layout.Point) (f found) {
		q := make([]float64, l.Len())
		l.Needs(h, p, q)
		reference, _ := l.needAt(h, p)
		f[0] = plainMost(q, l.w, reference)
		return f
	})
}

// BenchmarkZones: see BenchmarkMostSeats.
func BenchmarkZones(b *testing.B) {
	l := stand(bigScene(6, 25, 80))
	through := func(p layout.Point) []float64 {
		return l.System.Through(l.System.ZoneSends(p.Azimuth(l.Reference), l.Reference, 2).Send)
	}
	seats := make([]Seat, l.Len())
	for j := range seats {
		seats[j] = Seat{layout.Point{X: l.x[j], Y: l.y[j], Z: l.z[j]}, l.w[j]}
	}
	against(b, l, func(c *DelayChooser, p layout.Point) found {
		h := l.Through(through(p))
		most, _ := c.Raw(h, p, MostSeats, proofAim)
		f, _ := c.Fit(h, []layout.Point{p}, most, proofAim.WindowS)
		return found{most, f.Inside, f.MedianMS / 1000}
	}, func(p layout.Point) found {
		g := through(p)
		q, w := plainNeeds(seats, l.Listeners, g, p)
		most := plainMost(q, w, p.Distance(l.Reference)/l.System.SpeedMPS-l.System.First(l.Reference, g).TimeS)
		late := make([]float64, len(q))
		for j, v := range q {
			late[j] = most - v
		}
		return found{most, weightIn(q, w, most, proofAim.WindowS) / l.total, plainMedian(late, w, l.total)}
	})
}

// against runs a way to work out places and the plain way in turn, and compares what they find and what they take.
func against(b *testing.B, l *standing, ours func(c *DelayChooser, p layout.Point) found,
	plain func(p layout.Point) found) {
	c, places := l.DelayChooser(), crowd(60)
	var each, ratios []float64
	for b.Loop() {
		var sum, other found
		a := cost(len(places), func() {
			for _, p := range places {
				sum = sum.add(ours(c, p))
			}
		})
		z := cost(len(places), func() {
			for _, p := range places {
				other = other.add(plain(p))
			}
		})
		if sum.apart(other) > 1e-9 {
			b.Fatalf("straightforward %v, not %v", other, sum)
		}
		each, ratios = append(each, a), append(ratios, z/a)
	}
	b.ReportMetric(middle(each), "ns/place")
	b.ReportMetric(middle(ratios), "x_plain")
}

// BenchmarkSeats shows the cost of one problem by the number of seats.
func BenchmarkSeats(b *testing.B) {
	for _, seats := range []int{100, 1000, 10_000, 100_000} {
		b.Run(fmt.Sprint(seats), func(b *testing.B) {
			l := stand(bigScene(6, seats/20, 20))
			s := solver{l, l.PanChooser(), l.DelayChooser()}
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
