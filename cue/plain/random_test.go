package plain

import (
	"flag"
	"fmt"
	"math"
	"math/rand"
	"slices"
	"testing"

	"backfield/layout"
	"backfield/layout/sound"
)

var (
	scenes    = flag.Int("scenes", 15, "how many random scenes are computed")
	firstSeed = flag.Int64("first", 1, "seed of the first random scene")
)

func pick[T any](r *rand.Rand, list ...T) T { return list[r.Intn(len(list))] }

func some(r *rand.Rand, p float64) bool { return r.Float64() < p }

func from(r *rand.Rand, lo, hi float64) float64 {
	return math.Round((lo+r.Float64()*(hi-lo))*100) / 100
}

// randomScene is a rig with stands and one stretch of a player in it.
func randomScene(seed int64) (*Scene, []PlainSample) {
	r := rand.New(rand.NewSource(seed))
	mirrored := some(r, 0.25)
	s := &Scene{
		Box: layout.Point{X: from(r, -6, 6), Y: from(r, -50, -20), Z: from(r, 3, 25)}, LatencyMS: from(r, 0, 8),
		SpeedMPS: sound.SpeedMPS(from(r, 5, 38)), Law: pick(r, sound.ConstantPower, sound.Linear, sound.Compromise),
		Zones: some(r, 0.45), Width: pick(r, 1, from(r, 0.3, 1)), AngleDeg: float64(r.Intn(3)),
		WindowMS: pick(r, 25, 25, from(r, 10, 40)), MarginMS: pick(r, 2, 2, 0, from(r, 0.5, 5)),
		SlewMSPS: pick(r, 8, 8, 3, from(r, 3, 20)), TolMS: pick(r, 1, 1, 0.5, 0, 2), PanTol: pick(r, 0.02, 0.02, 0.01, 0.1),
		LeadMS: pick(r, 10, 0, from(r, 0, 20)), Moves: pick(r, "glide", "glide", "cues", "closed"),
		StepMS: pick(r, 0.1, 0.1, 0.5, 1), MaxMS: pick(r, 500.0, 500, 500, 500, 500, 120.3, 60.3, 30), StandFit: some(r, 0.1),
	}
	s.MostOne = s.Zones && some(r, 0.25)
	if s.Moves != "glide" && some(r, 0.5) {
		s.DipS = pick(r, 0.5, 0.05, from(r, 0.01, 1))
	}
	if mirrored {
		s.Box.X = 0
	}
	s.randomStacks(r, mirrored)
	s.randomSeats(r, mirrored)
	return s, s.randomStretch(r, mirrored)
}

func (s *Scene) randomStacks(r *rand.Rand, mirrored bool) {
	n := 1 + r.Intn(6)
	if n == 1 && some(r, 0.7) {
		n = 2
	}
	for i := range n {
		k := Emitter{At: layout.Point{X: math.Round(-3000+6000*(float64(i)+0.2+0.6*r.Float64())/float64(n)) / 100,
			Y: from(r, -6, -1), Z: from(r, 1, 6)}, Left: from(r, 0, 1), Right: from(r, 0, 1), Trim: 1}
		if some(r, 0.6) {
			k.Left, k.Right = 0, 1
			if k.At.X < 0 {
				k.Left, k.Right = 1, 0
			}
		}
		if some(r, 0.5) {
			k.Trim = sound.Gain(from(r, -14, 3))
		}
		if some(r, 0.4) {
			k.DelayMS = from(r, 0, 20)
		}
		s.Stacks = append(s.Stacks, k)
		if mirrored {
			k.At.X, k.Left, k.Right = -k.At.X, k.Right, k.Left
			s.Stacks = append(s.Stacks, k)
		}
	}
	r.Shuffle(len(s.Stacks), func(i, j int) { s.Stacks[i], s.Stacks[j] = s.Stacks[j], s.Stacks[i] })
}

func (s *Scene) randomSeats(r *rand.Rand, mirrored bool) {
	for n := 20 + r.Intn(181); n > 0; n-- {
		q := PlainSeat{layout.Point{X: from(r, -45, 45), Y: from(r, -50, -9), Z: from(r, 1, 20)}, pick(r, 1, 1, 0.5, 2)}
		s.Seats = append(s.Seats, q)
		if mirrored {
			q.At.X = -q.At.X
			s.Seats = append(s.Seats, q)
		}
	}
	if some(r, 0.2) {
		s.Seats = append(s.Seats, PlainSeat{s.Box, pick(r, 0.5, 1, 20)})
	}
}

// randomStretch is a player's walk over one to three movements, with the samples that the rules ask for.
func (s *Scene) randomStretch(r *rand.Rand, mirrored bool) []PlainSample {
	var list []PlainSample
	time := from(r, 0, 100)
	at := layout.Point{X: from(r, -40, 40), Y: from(r, -3, 40), Z: 1.5}
	if mirrored && some(r, 0.5) {
		at.X = 0
	}
	wish := randomWish(r)
	movements, makeUp, level := pick(r, 1, 1, 1, 2, 3), some(r, 0.3), 0.0
	for m := range movements {
		begin, end := 0.0, float64(4+r.Intn(20))
		if m == 0 {
			begin = pick(r, 0, float64(r.Intn(8))/2, from(r, 0, 3))
		}
		if m == movements-1 {
			end = begin + pick(r, 0, float64(1+r.Intn(80))/4, from(r, 0.01, 20))
		}
		cues := map[float64]bool{}
		for range r.Intn(4) {
			cues[math.Round(100*(begin+r.Float64()*(end-begin)))/100] = true
		}
		bpm, drift := from(r, 50, 190), pick(r, 0, 0, from(r, -3, 3))
		speed, hold := layout.Point{}, 0.0
		last := math.Inf(-1)
		for _, e := range moments(begin, end, cues) {
			if !math.IsInf(last, -1) {
				dt := 60 / bpm * (e - last)
				time += dt
				bpm = max(30, min(bpm+drift*(e-last), 200))
				at.X, at.Y = at.X+speed.X*dt, at.Y+speed.Y*dt
			}
			x := PlainSample{Count: e + 1, TimeS: time, At: at, Cue: cues[e], AfterWait: m > 0 && math.IsInf(last, -1)}
			if x.Cue || x.AfterWait && some(r, 0.3) {
				wish = randomWish(r)
			}
			if some(r, 0.02) {
				x.PauseS = from(r, 0.1, 4)
			}
			if makeUp {
				level += from(r, -0.2, 0.2)
			}
			x.Policy, x.Least, x.Most, x.Free, x.LevelDB = wish.Policy, wish.Least, wish.Most, wish.Free, level
			list = append(list, x)
			if hold -= 0.25; hold <= 0 {
				hold = float64(1 + r.Intn(16))
				speed = layout.Point{}
				if some(r, 0.65) {
					turn, mps := r.Float64()*2*math.Pi, 2.7*r.Float64()
					speed = layout.Point{X: mps * math.Sin(turn), Y: mps * math.Cos(turn)}
					if mirrored && at.X == 0 && some(r, 0.5) {
						speed.X = 0
					}
				}
			}
			last = e
		}
		wait := pick(r, 0, from(r, 0, 12))
		time += wait
		far := wait * 1.5 * r.Float64()
		at.X, at.Y = max(-45, min(at.X+pick(r, far, -far, 0), 45)), max(-4, min(at.Y+pick(r, far, -far, 0), 48))
	}
	return list
}

// moments are both ends, every cue and every quarter of a count between, those closer than a billionth taken as one.
func moments(begin, end float64, cues map[float64]bool) []float64 {
	list := []float64{begin, end}
	for e := range cues {
		if e > begin && e < end {
			list = append(list, e)
		}
	}
	for k := math.Ceil(begin * 4); k/4 < end; k++ {
		list = append(list, k/4)
	}
	slices.Sort(list)
	return slices.CompactFunc(list, func(a, b float64) bool { return math.Abs(a-b) < tiny })
}

// randomWish is a cue's policy and its bound at the press box.
func randomWish(r *rand.Rand) PlainSample {
	x := PlainSample{Policy: pick(r, "most-seats", "most-seats", "most-seats", "most-seats", "most-seats", "joint",
		"reference", "least-error", "never-early"), Least: 5, Most: 20, Free: some(r, 0.12)}
	if some(r, 0.3) {
		x.Least = from(r, 0, 10)
		x.Most = x.Least + from(r, 0, 20)
	}
	return x
}

func eachScene(t *testing.T, f func(t *testing.T, s *Scene, list []PlainSample)) {
	for n := range *scenes {
		t.Run(fmt.Sprint(*firstSeed+int64(n)), func(t *testing.T) {
			t.Parallel()
			s, list := randomScene(*firstSeed + int64(n))
			f(t, s, list)
		})
	}
}

// TestScenes holds what every path must keep to, however it was found.
func TestScenes(t *testing.T) {
	eachScene(t, func(t *testing.T, s *Scene, list []PlainSample) {
		c := s.Path(list)
		for k := range list {
			if d := c.Delay(k); d < 0 || d > s.MaxMS+1e-9 {
				t.Errorf("sample %d: %v ms, of %v", k, d, s.MaxMS)
			}
			switch changed := k > 0 && c.Index[k] != c.Index[k-1]; {
			case k == 0:
			case s.Moves == "glide":
				if math.Abs(c.Delay(k)-c.Delay(k-1)) > s.SlewMSPS*(list[k].TimeS-list[k-1].TimeS)+1e-9 {
					t.Errorf("sample %d: faster than the slew", k)
				}
			case changed && s.DipS == 0 && !(s.Moves == "cues" && list[k].Cue):
				t.Errorf("sample %d: %v to %v ms on a mixer with %q", k, c.Delay(k-1), c.Delay(k), s.Moves)
			}
		}
		again := 0.0 // the sum, from the path alone
		for k := range list {
			w := s.wishAt(list[k], c.Want[k])
			again += c.Weight[k] * w.value(s, c.Delay(k))
			if k == 0 || c.Index[k] == c.Index[k-1] {
				continue
			}
			if s.Moves == "glide" {
				again -= still * math.Abs(c.Delay(k)-c.Delay(k-1))
			} else {
				again -= s.prices(list)[k]
			}
		}
		if math.Abs(again-c.Sum) > 1e-9*max(1, math.Abs(c.Sum)) {
			t.Errorf("sum %v, found %v", again, c.Sum)
		}
		s.holdsBends(t, list, c)
	})
}

// holdsBends compares the lines between the knots with the path, sample by sample.
func (s *Scene) holdsBends(t *testing.T, list []PlainSample, c *Course) {
	if c.Bends[0].Sample != 0 || c.Bends[len(c.Bends)-1].Sample != len(list)-1 {
		t.Errorf("knots %v of %d samples", c.Bends, len(list))
	}
	for i := 1; i < len(c.Bends); i++ {
		a, b := c.Bends[i-1], c.Bends[i]
		for k := a.Sample; k < b.Sample; k++ {
			f := 0.0
			if k > a.Sample {
				f = (list[k].Count - list[a.Sample].Count) / (list[b.Sample].Count - list[a.Sample].Count)
			}
			d := a.DelayMS
			if s.Moves == "glide" {
				d += f * (b.DelayMS - a.DelayMS)
			}
			if math.Abs(d-c.Delay(k)) > s.TolMS+2e-9 || math.Abs(a.Pan+f*(b.Pan-a.Pan)-c.Want[k]) > s.PanTol+2e-9 {
				t.Errorf("sample %d: %v ms from knot %d on, path %v", k, d, a.Sample, c.Delay(k))
			}
		}
	}
}

// TestMirroredScenes: mirrored in the 50, the delays are the same and the pans of the other sign.
func TestMirroredScenes(t *testing.T) {
	eachScene(t, func(t *testing.T, s *Scene, list []PlainSample) {
		if s.Zones || s.StandFit || s.Law == sound.Compromise || len(s.Stacks) == 1 {
			t.Skip("the row would have to be counted from the other end, or the pan has ties")
		}
		for k := range list {
			if list[k].Policy == "joint" {
				list[k].Policy = "most-seats" // of two equal turns the left one is taken
			}
		}
		c := s.Path(list)
		m, other := *s, slices.Clone(list)
		m.Stacks, m.Seats = slices.Clone(s.Stacks), slices.Clone(s.Seats)
		m.Box.X = -s.Box.X
		for i := range m.Stacks {
			k := &m.Stacks[i]
			k.At.X, k.Left, k.Right = -k.At.X, k.Right, k.Left
		}
		for i := range m.Seats {
			m.Seats[i].At.X = -m.Seats[i].At.X
		}
		for k := range other {
			other[k].At.X = -other[k].At.X
		}
		d := m.Path(other)
		if !slices.Equal(c.Index, d.Index) {
			t.Errorf("%v\nmirrored %v", c.Index, d.Index)
		}
		for k := range list {
			if math.Abs(c.Want[k]+d.Want[k]) > 1e-9 {
				t.Errorf("sample %d: %v, mirrored %v", k, c.Want[k], d.Want[k])
			}
		}
		if len(c.Bends) != len(d.Bends) || c.Offsets() != d.Offsets() {
			t.Errorf("%v\nmirrored %v", c.Bends, d.Bends)
		}
	})
}

// slopes is the share of the seats at delays first, first + 1, ... steps, by the changes of its slope.
func (s *Scene) slopes(needs []float64, first, n int, step float64) []float64 {
	d, value, slope, all := make([]float64, n), 0.0, 0.0, 0.0
	for _, q := range s.Seats {
		all += q.Weight
	}
	for i, need := range needs {
		for c, edge := range []float64{earliest - s.MarginMS, earliest + s.MarginMS, s.WindowMS - s.MarginMS,
			s.WindowMS + s.MarginMS} {
			m := s.Seats[i].Weight / all / (2 * s.MarginMS) * []float64{1, -1, -1, 1}[c]
			u := (need+edge)/step - float64(first)
			if u <= 0 {
				value, slope = value-m*step*u, slope+m*step
				continue
			}
			k, f := int(math.Floor(u)), u-math.Floor(u)
			if k+1 < n {
				d[k+1] += m * step * (1 - f)
			}
			if k+2 < n {
				d[k+2] += m * step * f
			}
		}
	}
	list := []float64{value}
	for i := 1; i < n; i++ {
		slope += d[i]
		list = append(list, list[i-1]+slope)
	}
	return list
}

// TestSlopes: the share of the seats on all steps at once, by its changes of slope, is what the definition says.
func TestSlopes(t *testing.T) {
	eachScene(t, func(t *testing.T, s *Scene, list []PlainSample) {
		if s.MarginMS == 0 {
			t.Skip("no slopes")
		}
		needs := s.needs(list[0].At, s.gains(s.wanted(list, 0)[0]))
		if slices.ContainsFunc(needs, math.IsNaN) {
			t.Skip("nothing is heard")
		}
		for i, v := range s.slopes(needs, 100, 2000, grid) {
			if want := s.served(needs, float64(100+i)*grid); math.Abs(v-want) > 1e-12 {
				t.Fatalf("%v at %d, want %v", v, i, want)
			}
		}
	})
}
