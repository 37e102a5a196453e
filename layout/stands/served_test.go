package stands

import (
	"cmp"
	"math"
	"math/rand"
	"slices"
	"testing"

	"backfield/layout"
	"backfield/layout/path"
	"backfield/layout/sound"
)

// byHand is the scene of the worked example in the help page on the stands: two stacks, three seats, a player who stands.
func byHand() (l *Listeners, gains []float64, player layout.Point) {
	system := &sound.System{LatencyS: 0.004, SpeedMPS: 343.2, Stacks: []sound.Loudspeaker{
		{At: layout.Point{X: -20}, Left: 1, Trim: 1, DelayS: 0.01},
		{At: layout.Point{X: 20}, Right: 1, Trim: sound.Gain(-9)},
	}}
	seats := []Seat{{layout.Point{Y: -15}, 1}, {layout.Point{X: -20, Y: -30}, 2}, {layout.Point{X: 20, Y: -30}, 1}}
	return New(seats, layout.Point{Y: -48}, system, 100), system.Gains(0), layout.Point{Y: 18}
}

var byHandWindow = Window{LeastMS: 0, MostMS: 25, MarginMS: 2}

// TestByHand holds every number of the worked example, which was computed by hand.
func TestByHand(t *testing.T) {
	l, gains, player := byHand()
	near := func(what string, got, want, within float64) {
		t.Helper()
		if math.Abs(got-want) > within {
			t.Errorf("%s is %.5f, not %.5f", what, got, want)
		}
	}
	near("gain left", gains[0], 0.70711, 5e-6)
	near("gain right", gains[1], 0.25089, 5e-6)
	s := l.SeatNeeds()
	s.Hear(gains, player)
	for j, want := range []float64{19.310, 50.103, 60.103} {
		near("need", s.MS[j], want, 5e-4)
	}
	box, parts, ok := l.BoxNeedMS(gains, player)
	near("need of the box", box, 31.953, 5e-4)
	if !ok || len(parts) != 2 || parts[0].Stack != 1 || parts[1].Stack != 0 {
		t.Fatalf("parts %+v", parts)
	}
	near("part of right", parts[0].Share, 0.5160, 5e-5)
	near("time of right", parts[0].MS, 155.515, 5e-4)
	near("part of left", parts[1].Share, 0.4840, 5e-5)
	near("time of left", parts[1].MS, 165.515, 5e-4)

	const from, to = 119, 920 // 11.9 to 92.0 ms
	share, values := make([]float64, to-from+1), make([]float64, to-from+1)
	s.InTime(byHandWindow, 0.1, from, share)
	for i, v := range share {
		d := float64(from+i) / 10
		values[i] = v - max(0, box+5-d, d-box-20)
	}
	for _, c := range []struct{ delay, a, b, c, s, value float64 }{
		{36.9, 1, 0, 0, 0.2500, 0.1970}, {37.0, 1, 0, 0, 0.2500, 0.2500}, {42.3, 1, 0, 0, 0.2500, 0.2500},
		{45.0, 0.3275, 0, 0, 0.0819, 0.0819}, {46.4, 0, 0, 0, 0, 0}, {50.0, 0, 0.4744, 0, 0.2372, 0.2372},
		{51.9, 0, 0.9494, 0, 0.4747, 0.4747}, {52.0, 0, 0.9744, 0, 0.4872, 0.4402}, {62.2, 0, 1, 1, 0.7500, -9.4970},
	} {
		for j, want := range []float64{c.a, c.b, c.c} {
			near("q", byHandWindow.Share(c.delay-s.MS[j]), want, 1e-4)
		}
		i := int(math.Round(c.delay*10)) - from
		near("S", share[i], c.s, 5e-5)
		near("value", values[i], c.value, 6e-4)
	}

	var search path.PathSearch
	grid := path.DelayGrid{StepMS: 0.1, From: from, N: len(values)}
	for name, rules := range map[string]path.MoveRules{
		"glide": {SlewMSPS: 8, Still: 0.01}, "jump": {Jumps: true},
	} {
		search.Begin(grid, rules)
		for k := range 9 {
			search.Add(path.Instant{WeightS: 0.1, StepS: 0.1, PriceS: 0.5}, slices.Clone(values))
			if k == 0 {
				search.Add(path.Instant{WeightS: 0.1, StepS: 0.1, PriceS: 0.5}, values)
			}
		}
		found, _ := search.Path()
		for _, i := range found {
			near(name, grid.MS(i), 51.9, 1e-9)
		}
	}
	best := slices.Index(share, slices.Max(share))
	near("without the box", float64(from+best)/10, 62.2, 1e-9)
	near("echo", s.Echo(51.9), 0.25, 1e-12)
	near("median", s.MedianMS(), 50.103, 5e-4)
}

// randomGains feeds the stacks of a scene in stereo, or some of them as zones.
func randomGains(l *Listeners, rng *rand.Rand) []float64 {
	if rng.Intn(2) == 0 {
		return l.System.Gains(2*rng.Float64() - 1)
	}
	row := l.System.Row(l.Reference)
	return l.System.Through(row.Sends(rng.Float64() * float64(len(row.Order)-1)))
}

// TestInTimeLikeSeats holds the shares at all delays of a grid to the seats' own, one by one.
func TestInTimeLikeSeats(t *testing.T) {
	heard := 0
	for seed := range int64(300) {
		_, l, rng := scene(seed)
		s, p := l.SeatNeeds(), player(rng)
		s.Hear(randomGains(l, rng), p)
		w := Window{LeastMS: float64(rng.Intn(3)), MostMS: 25, MarginMS: []float64{2, 0, 0.7, 5, 2.03}[rng.Intn(5)]}
		step, from, share := []float64{0.1, 0.5, 0.07}[rng.Intn(3)], rng.Intn(300), make([]float64, 1+rng.Intn(900))
		s.InTime(w, step, from, share)
		most := 0.0
		for i, got := range share {
			want := 0.0
			for j, need := range s.MS {
				want += l.w[j] / l.total * w.Share(float64(from+i)*step-need)
			}
			if math.Abs(got-want) > 1e-11 {
				t.Fatalf("seed %d: %g at %g ms, not %g", seed, got, float64(from+i)*step, want)
			}
			most = max(most, want)
		}
		if most > 0 {
			heard++
		}
	}
	if heard < 200 {
		t.Errorf("seats are in time in %d scenes only", heard)
	}
}

// plainEcho is the rule for echoes, by definition.
func plainEchoes(l *Listeners, g []float64, p, seat layout.Point, delayMS float64) (n int) {
	type sound struct{ ms, energy float64 }
	var list []sound
	loudest := 0.0
	for i, k := range l.System.Stacks {
		if g[i] >= 1e-6 {
			d := k.At.Distance(seat)
			list = append(list, sound{1000 * (l.System.LatencyS + k.DelayS + d/l.System.SpeedMPS), g[i] * g[i] / d / d})
			loudest = max(loudest, g[i]*g[i]/d/d)
		}
	}
	first := math.Inf(1)
	for _, a := range list {
		if a.energy >= loudest/10*(1-2e-9) {
			first = min(first, a.ms)
		}
	}
	from := min(1000*p.Distance(seat)/l.System.SpeedMPS, first+delayMS)
	for _, a := range list {
		before := 0.0
		for _, b := range list {
			if b.ms < a.ms-1e-9 {
				before += b.energy
			}
		}
		if a.ms+delayMS > from+50+1e-9 && before > 0 && a.energy >= math.Pow(10, -0.5)*before {
			n++
		}
	}
	return n
}

// TestTallyLikeSeats holds needs, echoes and the whole tally over some places to the rules, seat by seat.
func TestTallyLikeSeats(t *testing.T) {
	heard := 0
	var tally GapTally
	for seed := range int64(300) {
		seats, l, rng := scene(seed)
		seats = slices.DeleteFunc(seats, func(s Seat) bool { return s.Weight <= 0 })
		s, w := l.SeatNeeds(), Window{LeastMS: float64(rng.Intn(2)), MostMS: 25, MarginMS: 2}
		tally.Reset(w)
		var want Fit
		var gaps []need
		total := 0.0
		for range 1 + rng.Intn(3) {
			g, p, delayMS, weightS := randomGains(l, rng), player(rng), 60*rng.Float64(), 1+rng.Float64()
			s.Hear(g, p)
			tally.Add(s, weightS, delayMS)
			by, sum := make([]float64, len(l.System.Stacks)), 0.0
			s.EchoesBy(delayMS, by)
			for _, v := range by {
				sum += v
			}
			if math.Abs(sum-s.echoes(delayMS)) > 1e-9 {
				t.Fatalf("seed %d: echoes of %g by stack, of %g in all", seed, sum, s.echoes(delayMS))
			}
			q, _ := plainNeeds(seats, l, g, p)
			for j, seat := range seats {
				if math.Abs(s.MS[j]-1000*q[j]) > 1e-9 {
					t.Fatalf("seed %d: a need of %g, not %g", seed, s.MS[j], 1000*q[j])
				}
				gap, weight := delayMS-1000*q[j], seat.Weight*weightS
				total += weight
				gaps = append(gaps, need{gap, weight})
				want.Served += weight * w.Share(gap)
				switch {
				case gap < w.LeastMS-1e-9:
					want.Early += weight
					want.WorstEarlyMS = max(want.WorstEarlyMS, -gap)
				case gap > 25+1e-9:
					want.Late += weight
					want.WorstLateMS = max(want.WorstLateMS, gap-25)
				default:
					want.Inside += weight
				}
				if got, all := len(s.EchoesAt(delayMS, j)), plainEchoes(l, g, p, seat.At, delayMS); got != all {
					t.Fatalf("seed %d: %d stacks are echoes, not %d", seed, got, all)
				}
				if plainEchoes(l, g, p, seat.At, delayMS) > 0 {
					want.Echo += weight
					heard++
				} else if gap >= w.LeastMS-1e-9 && gap <= 25+1e-9 {
					want.NoEcho += weight
				}
			}
		}
		got, ok := tally.Fit()
		slices.SortFunc(gaps, func(a, b need) int { return cmp.Compare(a.q, b.q) })
		sum := 0.0
		for _, x := range gaps {
			if sum += x.w; sum >= total/2*(1-1e-12) {
				want.MedianMS = math.Round(100*x.q) / 100
				break
			}
		}
		for name, pair := range map[string][2]float64{
			"served": {got.Served, want.Served / total}, "inside": {got.Inside, want.Inside / total},
			"early": {got.Early, want.Early / total}, "late": {got.Late, want.Late / total},
			"echo": {got.Echo, want.Echo / total}, "no echo": {got.NoEcho, want.NoEcho / total},
			"median":      {got.MedianMS, want.MedianMS},
			"worst early": {got.WorstEarlyMS, want.WorstEarlyMS}, "worst late": {got.WorstLateMS, want.WorstLateMS},
		} {
			if !ok || math.Abs(pair[0]-pair[1]) > 1e-9 {
				t.Fatalf("seed %d: %s is %.10f, not %.10f", seed, name, pair[0], pair[1])
			}
		}
	}
	if heard < 100 {
		t.Errorf("only %d echoes", heard)
	}
}

// TestBoxNeedIsContinuous moves the gains in small steps: the need of the press box follows in small steps, where the
// 10 dB rule of the seats would jump.
func TestBoxNeedIsContinuous(t *testing.T) {
	l, _, p := byHand()
	before, jump := math.NaN(), 0.0
	seat := New([]Seat{{l.Reference, 1}}, l.Reference, l.System, 100).SeatNeeds()
	seatBefore := math.NaN()
	for i := range 4001 {
		g := l.System.Gains(float64(i)/2000 - 1)
		v, _, ok := l.BoxNeedMS(g, p)
		if !ok {
			t.Fatal("nothing is heard")
		}
		if math.Abs(v-before) > 0.05 {
			t.Fatalf("%g, then %g", before, v)
		}
		seat.Hear(g, p)
		if !math.IsNaN(seatBefore) {
			jump = max(jump, math.Abs(seat.MS[0]-seatBefore))
		}
		before, seatBefore = v, seat.MS[0]
	}
	if jump < 5 {
		t.Errorf("a seat there jumps by %g ms at most: the scene shows nothing", jump)
	}
}

// TestNobodyHears: without a stack that carries the mic there is nothing to be in time with.
func TestNobodyHears(t *testing.T) {
	l, _, p := byHand()
	s := l.SeatNeeds()
	s.Hear([]float64{1e-7, 0}, p)
	share := []float64{1, 1}
	s.InTime(byHandWindow, 0.1, 500, share)
	var tally GapTally
	tally.Reset(byHandWindow)
	tally.Add(s, 1, 50)
	_, _, box := l.BoxNeedMS([]float64{1e-7, 0}, p)
	if _, ok := tally.Fit(); ok || s.Heard || box || share[0] != 0 || s.Echo(50) != 0 {
		t.Error("something is heard")
	}
}

// TestPhysics: mirrored scenes and seats in another order need the same, a hotter mic too, and with all distances and
// times twice as long everything takes twice as long.
func TestPhysics(t *testing.T) {
	for seed := range int64(100) {
		seats, l, rng := scene(seed)
		g, p := randomGains(l, rng), player(rng)
		shares := func(l *Listeners, g []float64, p layout.Point, scale float64) []float64 {
			s := l.SeatNeeds()
			s.Hear(g, p)
			list := make([]float64, 801)
			s.InTime(Window{MostMS: 25 * scale, MarginMS: 2 * scale}, 0.1*scale, 0, list)
			box, _, _ := l.BoxNeedMS(g, p)
			return append(list, s.LeastMS/scale, s.MostMS/scale, s.MedianMS()/scale, box/scale)
		}
		want := shares(l, g, p, 1)
		change := func(name string, at func(q layout.Point) layout.Point, gain, times float64) {
			system := *l.System
			system.Stacks = slices.Clone(system.Stacks)
			for i := range system.Stacks {
				system.Stacks[i].At = at(system.Stacks[i].At)
				system.Stacks[i].DelayS *= times
			}
			system.LatencyS *= times
			other := make([]Seat, len(seats))
			for i, j := range rng.Perm(len(seats)) {
				other[i] = Seat{at(seats[j].At), seats[j].Weight}
			}
			hotter := make([]float64, len(g))
			for i := range g {
				hotter[i] = g[i] * gain
			}
			got := shares(New(other, at(l.Reference), &system, 100), hotter, at(p), times)
			for i := range got {
				if math.Abs(got[i]-want[i]) > 1e-9 {
					t.Fatalf("seed %d, %s: number %d is %g, not %g", seed, name, i, got[i], want[i])
				}
			}
		}
		same := func(q layout.Point) layout.Point { return q }
		change("reordered", same, 1, 1)
		change("mirrored", func(q layout.Point) layout.Point { q.X = -q.X; return q }, 1, 1)
		change("hotter", same, 1.5, 1)
		change("scaled", func(q layout.Point) layout.Point {
			return layout.Point{X: 2 * q.X, Y: 2 * q.Y, Z: 2 * q.Z}
		}, 1, 2)
	}
}

// BenchmarkInTime finds the share in time at a thousand delays for a place, and the fit of one delay, and has the share
// by plain loops over delays and seats in the same run: x_plain is how many times as long that takes.
func BenchmarkInTime(b *testing.B) {
	l := bigScene(6, 25, 80)
	s, places := l.SeatNeeds(), crowd(64)
	w := Window{MostMS: 25, MarginMS: 2}
	share := make([]float64, 1000)
	var hear, fit, ours, plain []float64
	var tally GapTally
	tally.Reset(w)
	gains := make([][]float64, len(places))
	for i, p := range places {
		gains[i] = l.System.Gains(math.Max(-1, math.Min(p.X/25, 1)))
	}
	for b.Loop() {
		hear = append(hear, cost(len(places), func() {
			for i, p := range places {
				s.Hear(gains[i], p)
			}
		}))
		fit = append(fit, cost(len(places), func() {
			for range places {
				tally.Add(s, 1, 60)
			}
		}))
		ours = append(ours, cost(len(places), func() {
			for i, p := range places {
				s.Hear(gains[i], p)
				s.InTime(w, 0.1, 200, share)
			}
		}))
		sum := 0.0
		plain = append(plain, cost(1, func() {
			s.Hear(gains[0], places[0])
			for i := range share {
				share[i] = 0
				for j, need := range s.MS {
					share[i] += l.w[j] * w.Share(float64(200+i)*0.1-need)
				}
				sum += share[i]
			}
		}))
	}
	b.ReportMetric(middle(hear), "ns/hear")
	b.ReportMetric(middle(fit), "ns/fit")
	b.ReportMetric(middle(ours), "ns/place")
	b.ReportMetric(middle(plain)/middle(ours), "x_plain")
}
