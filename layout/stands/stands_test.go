package stands

import (
	"fmt"
	"math"
	"math/rand"
	"slices"
	"testing"

	"backfield/layout"
	"backfield/layout/sound"
	"backfield/layout/source"
)

// scene is a random rig with stands, from a seed that a failure prints.
func scene(seed int64) (seats []Seat, l *Listeners, rng *rand.Rand) {
	rng = rand.New(rand.NewSource(seed))
	sys := &sound.System{LatencyS: rng.Float64() * 0.01, SpeedMPS: 330 + 25*rng.Float64(), Law: sound.Law(rng.Intn(3))}
	n := 2 + rng.Intn(5)
	for i := range n {
		x := -25 + 50*float64(i)/float64(n-1) + rng.Float64()
		k := sound.Loudspeaker{At: layout.Point{X: x, Y: -3 * rng.Float64(), Z: 1 + 3*rng.Float64()},
			Trim: sound.Gain(-6 * rng.Float64()), DelayS: 0.01 * rng.Float64()}
		if x < 0 {
			k.Left = 1
		} else {
			k.Right = 1
		}
		if rng.Intn(4) == 0 {
			k.Left, k.Right = rng.Float64(), rng.Float64()
		}
		sys.Stacks = append(sys.Stacks, k)
	}
	for range 20 + rng.Intn(200) {
		seats = append(seats, Seat{layout.Point{X: 90*rng.Float64() - 45, Y: -10 - 40*rng.Float64(),
			Z: 20 * rng.Float64()}, float64(rng.Intn(4))})
	}
	return seats, New(seats, layout.Point{X: 4 * rng.Float64(), Y: -36, Z: 18}, sys, 100), rng
}

func player(rng *rand.Rand) layout.Point {
	return layout.Point{X: 80*rng.Float64() - 40, Y: 48 * rng.Float64(), Z: 1.5}
}

// plainNeeds is the need of each seat with weight as the definition reads, by System.First.
func plainNeeds(seats []Seat, l *Listeners, g []float64, p layout.Point) (q, w []float64) {
	for _, s := range seats {
		if s.Weight <= 0 {
			continue
		}
		if a := l.System.First(s.At, g); a.OK {
			q = append(q, p.Distance(s.At)/l.System.SpeedMPS-a.TimeS)
			w = append(w, s.Weight)
		}
	}
	return q, w
}

func weightIn(q, w []float64, tau, window float64) (sum float64) {
	for j := range q {
		if d := tau - q[j]; d >= -1e-9 && d <= window+1e-9 {
			sum += w[j]
		}
	}
	return sum
}

// The counting sort against the library's, on what stands give and on what they do not: ties, clusters, one
// far outlier (where it must not turn quadratic: the library takes over what a bin holds too many of).
func TestSort(t *testing.T) {
	rng := rand.New(rand.NewSource(5))
	for range 300 {
		n := rng.Intn(300)
		q, w := make([]float64, n), make([]float64, n)
		for i := range q {
			switch rng.Intn(4) {
			case 0:
				q[i] = float64(rng.Intn(3))
			case 1:
				q[i] = rng.NormFloat64() * 1e-9
			default:
				q[i] = rng.Float64()
			}
			w[i] = float64(i)
		}
		if n > 0 && rng.Intn(3) == 0 {
			q[0] = 1e6
		}
		var s sorted
		s.fill(q, w, slices.Min(append(q, 1e9)), slices.Max(append(q, -1e9)), len(q))
		want := make([]need, n)
		for i := range q {
			want[i] = need{q[i], w[i]}
		}
		slices.SortStableFunc(want, byTime)
		if !slices.Equal(s.need, want) {
			t.Fatalf("%v, want %v", s.need, want)
		}
	}
}

// The pan by stands against a scan of every step that computes every angle.
func TestPanAgainstFullScan(t *testing.T) {
	for seed := range int64(150) {
		seats, l, rng := scene(seed)
		c := l.PanChooser()
		for range 4 {
			p := player(rng)
			cost := func(k int) float64 {
				g := l.System.Gains(float64(k) / 100)
				sum, total := 0.0, 0.0
				for _, s := range seats {
					if s.Weight <= 0 {
						continue
					}
					var x, y float64
					for i, st := range l.System.Stacks {
						v := math.Pow(g[i]/st.At.Distance(s.At), 2)
						az := st.At.Azimuth(s.At)
						x, y = x+v*math.Sin(az), y+v*math.Cos(az)
					}
					sum += s.Weight * (1 - math.Cos(math.Atan2(x, y)-p.Azimuth(s.At)))
					total += s.Weight
				}
				return sum / total
			}
			got := c.Fit(p)
			best := cost(got)
			for k := -100; k <= 100; k++ {
				if v := cost(k); v < best-1e-10 {
					t.Fatalf("seed %d, player %+v: step %d costs %.12f, step %d only %.12f", seed, p, got, best, k, v)
				}
			}
		}
	}
}

func TestPanMirror(t *testing.T) {
	for seed := range int64(60) {
		seats, l, rng := scene(seed)
		mirrored := *l.System
		mirrored.Stacks = slices.Clone(mirrored.Stacks)
		for i := range mirrored.Stacks {
			k := &mirrored.Stacks[i]
			k.At.X, k.Left, k.Right = -k.At.X, k.Right, k.Left
		}
		other := slices.Clone(seats)
		for i := range other {
			other[i].At.X = -other[i].At.X
		}
		r := l.Reference
		r.X = -r.X
		m := New(other, r, &mirrored, 100)
		p := player(rng)
		pm := p
		pm.X = -p.X
		if a, b := l.PanChooser().Fit(p), m.PanChooser().Fit(pm); a != -b {
			t.Errorf("seed %d: step %d, mirrored %d", seed, a, b)
		}
	}
}

// A fit counts each seat once, and the histogram's median is the sorted one's.
func TestFit(t *testing.T) {
	for seed := range int64(200) {
		seats, l, rng := scene(seed)
		p, k := player(rng), rng.Intn(201)-100
		q, w := plainNeeds(seats, l, l.System.Gains(float64(k)/100), p)
		tau := rng.Float64() * 0.08
		still := stand(l)
		f, ok := still.DelayChooser().Fit(still.AtPan(k), []layout.Point{p, p, p}, tau, 0.03)
		if !ok {
			t.Fatal("no fit")
		}
		total, early, late, worstEarly, worstLate := 0.0, 0.0, 0.0, 0.0, 0.0
		var list []need
		for j := range q {
			d := tau - q[j]
			total += w[j]
			list = append(list, need{d, w[j]})
			if d < -1e-9 {
				early += w[j]
				worstEarly = max(worstEarly, -d)
			}
			if d > 0.03+1e-9 {
				late += w[j]
				worstLate = max(worstLate, d-0.03)
			}
		}
		slices.SortFunc(list, byTime)
		sum, median := 0.0, 0.0
		for _, n := range list {
			if sum += n.w; sum >= total/2*(1-1e-12) {
				median = n.q
				break
			}
		}
		want := Fit{Inside: weightIn(q, w, tau, 0.03) / total, Early: early / total, Late: late / total,
			WorstEarlyMS: 1000 * worstEarly, WorstLateMS: 1000 * worstLate, MedianMS: 1000 * median}
		for name, pair := range map[string][2]float64{
			"inside": {f.Inside, want.Inside}, "early": {f.Early, want.Early}, "late": {f.Late,
				want.Late}, "worst early": {f.WorstEarlyMS, want.WorstEarlyMS},
			"worst late": {f.WorstLateMS, want.WorstLateMS}, "median": {f.MedianMS,
				want.MedianMS}, "sum": {f.Inside + f.Early + f.Late, 1},
		} {
			if math.Abs(pair[0]-pair[1]) > 1e-9 {
				t.Fatalf("seed %d: %s is %.12f, want %.12f", seed, name, pair[0], pair[1])
			}
		}
	}
}

// A walk's fit is that of all its places together, each as often as it is listed; a far seat makes no difference to
// how the median is found.
func TestFitOfWalk(t *testing.T) {
	for seed := range int64(100) {
		seats, l, rng := scene(seed)
		if seed%3 == 0 {
			seats = append(seats, Seat{layout.Point{X: 900, Y: -900}, 2})
			l = New(seats, l.Reference, l.System, 100)
		}
		k, tau := rng.Intn(201)-100, rng.Float64()*0.08
		g := l.System.Gains(float64(k) / 100)
		var way []layout.Point
		var list []need
		for range 2 + rng.Intn(4) {
			p := player(rng)
			q, w := plainNeeds(seats, l, g, p)
			for range 1 + rng.Intn(3) {
				way = append(way, p)
				for j := range q {
					list = append(list, need{tau - q[j], w[j]})
				}
			}
		}
		slices.SortFunc(list, byTime)
		total, inside, median := 0.0, 0.0, math.NaN()
		for _, n := range list {
			total += n.w
			if n.q >= -1e-9 && n.q <= 0.03+1e-9 {
				inside += n.w
			}
		}
		sum := 0.0
		for _, n := range list {
			if sum += n.w; sum >= total/2*(1-1e-12) {
				median = n.q
				break
			}
		}
		still := stand(l)
		f, ok := still.DelayChooser().Fit(still.AtPan(k), way, tau, 0.03)
		if !ok || math.Abs(f.Inside-inside/total) > 1e-9 || math.Abs(f.MedianMS-1000*median) > 1e-9 ||
			math.Abs(f.WorstEarlyMS+1000*min(0, list[0].q)) > 1e-9 {
			t.Fatalf("seed %d: %+v, want %.9f inside and a median of %.9f ms", seed, f, inside/total, 1000*median)
		}
	}
}

// The order of seats does not matter to any result.
func TestSeatOrder(t *testing.T) {
	for seed := range int64(50) {
		seats, l, rng := scene(seed)
		shuffled := slices.Clone(seats)
		rng.Shuffle(len(shuffled), func(i, j int) { shuffled[i], shuffled[j] = shuffled[j], shuffled[i] })
		m := New(shuffled, l.Reference, l.System, 100)
		p := player(rng)
		k := l.PanChooser().Fit(p)
		if other := m.PanChooser().Fit(p); other != k {
			t.Errorf("seed %d: pan step %d, shuffled %d", seed, k, other)
		}
		still, other := stand(l), stand(m)
		for _, policy := range []*Policy{MostSeats, LeastError, NeverEarly} {
			a, _ := still.DelayChooser().Raw(still.AtPan(k), p, policy, Aim{WindowS: 0.03, LeadS: 0.01})
			b, _ := other.DelayChooser().Raw(other.AtPan(k), p, policy, Aim{WindowS: 0.03, LeadS: 0.01})
			if math.Abs(a-b) > 1e-12 {
				t.Errorf("seed %d, %s: %.12f, shuffled %.12f", seed, policy.Name, a, b)
			}
		}
	}
}

func TestBlocks(t *testing.T) {
	b := Block{Front: SeatRow{Y: -10, Z: 2, WidthM: 60}, Back: SeatRow{Y: -40, Z: 17, WidthM: 90}, Rows: 4, Seats: 3, Weight: 2}
	seats := b.List()
	if len(seats) != 12 || b.Size() != 12 {
		t.Fatalf("%d seats", len(seats))
	}
	// By hand: the second row of four is a third of the way, 70 m wide; its first seat is in the middle of the
	// first 70/3 m, at -23.333.
	if s := seats[3]; math.Abs(s.At.X+70./3) > 1e-9 || math.Abs(s.At.Y+20) > 1e-9 || math.Abs(s.At.Z-7) > 1e-9 ||
		s.Weight != 2 {
		t.Errorf("second row's first seat: %+v", s)
	}
	spaced := Block{Front: SeatRow{WidthM: 5.2}, Back: SeatRow{WidthM: 5.2}, Rows: 1, SpacingM: 0.5, Weight: 1}
	if n := spaced.Size(); n != 10 {
		t.Errorf("5.2 m at 0.5 m hold %d seats", n)
	}
}

func TestSurveyedStand(t *testing.T) {
	var p source.Problems
	seats := ReadSeats(&source.File{Name: "stand.csv", Text: "x,y,z,weight\n1,-10,2,\n-2.5,-11,3,40\n"}, &p)
	if p.Errors() > 0 || len(seats) != 2 || seats[1] != (Seat{layout.Point{X: -2.5, Y: -11, Z: 3},
		40}) || seats[0].Weight != 1 {
		t.Errorf("%+v %v", seats, p.All())
	}
	p = source.Problems{}
	var none source.Problems
	ReadSeats(&source.File{Name: "stand.csv", Text: "x,y,z\n"}, &none)
	if list := none.All(); len(list) != 1 || list[0].Code != "empty-file" {
		t.Errorf("a header alone: %+v", list)
	}
	ReadSeats(&source.File{Name: "stand.csv", Text: "x,y,z,weight\n1,,2,\n1,2,3,-1\n1,9999,3,1\n"}, &p)
	if p.Errors() != 3 {
		t.Errorf("%v", p.All())
	}
}

// The scene of the README's claim and of design: 25 rows of 80 seats, 60 to 100 m wide.
func bigScene(stacks, rows, perRow int) *Listeners {
	b := Block{Front: SeatRow{Y: -12, Z: 2, WidthM: 60}, Back: SeatRow{Y: -45, Z: 19, WidthM: 100}, Rows: rows, Seats: perRow,
		Weight: 1}
	sys := &sound.System{LatencyS: 0.004, SpeedMPS: sound.SpeedMPS(20)}
	for i := range stacks {
		k := sound.Loudspeaker{Name: fmt.Sprint(i), At: layout.Point{X: -24 + 48*float64(i)/float64(stacks-1), Y: -2, Z: 2.5},
			Trim: 1}
		if i < stacks/2 {
			k.Left = 1
		} else {
			k.Right = 1
		}
		sys.Stacks = append(sys.Stacks, k)
	}
	return New(b.List(), layout.Point{X: 0, Y: -36.6, Z: 18.3}, sys, 100)
}

// Never-early is never early: at no seat is the loudspeaker ahead of the player.
func TestNeverEarly(t *testing.T) {
	for seed := range int64(200) {
		_, l, rng := scene(seed)
		p, k := player(rng), rng.Intn(201)-100
		still := stand(l)
		c := still.DelayChooser()
		d, ok := c.Raw(still.AtPan(k), p, NeverEarly, Aim{WindowS: 0.03, LeadS: 0.01})
		if f, _ := c.Fit(still.AtPan(k), []layout.Point{p}, d, 0.03); !ok || f.Early != 0 || f.WorstEarlyMS != 0 {
			t.Fatalf("seed %d: %+v", seed, f)
		}
	}
}

// All distances and the speed of sound scaled together change no pan and no delay.
func TestScale(t *testing.T) {
	const by = 1.7
	for seed := range int64(60) {
		seats, l, rng := scene(seed)
		scaled := *l.System
		scaled.SpeedMPS *= by
		scaled.Stacks = slices.Clone(scaled.Stacks)
		times := func(p layout.Point) layout.Point { return layout.Point{X: p.X * by, Y: p.Y * by, Z: p.Z * by} }
		for i := range scaled.Stacks {
			scaled.Stacks[i].At = times(scaled.Stacks[i].At)
		}
		var far []Seat
		for _, s := range seats {
			far = append(far, Seat{times(s.At), s.Weight})
		}
		m := New(far, times(l.Reference), &scaled, 100)
		p := player(rng)
		k := l.PanChooser().Fit(p)
		if other := m.PanChooser().Fit(times(p)); other != k {
			t.Errorf("seed %d: pan step %d, scaled %d", seed, k, other)
		}
		still, other := stand(l), stand(m)
		for _, policy := range []*Policy{Reference, MostSeats, LeastError, NeverEarly} {
			a, _ := still.DelayChooser().Raw(still.AtPan(k), p, policy, Aim{WindowS: 0.03, LeadS: 0.01})
			b, _ := other.DelayChooser().Raw(other.AtPan(k), times(p), policy, Aim{WindowS: 0.03, LeadS: 0.01})
			if math.Abs(a-b) > 1e-9 {
				t.Errorf("seed %d, %s: %.12f, scaled %.12f", seed, policy.Name, a, b)
			}
		}
	}
}
