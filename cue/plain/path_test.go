package plain

import (
	"math"
	"math/rand"
	"slices"
	"testing"

	"backfield/layout/path"
	"backfield/layout/stands"
)

// coarse is a stretch of made-up values with many equal ones, and the path through them.
func coarse(r *rand.Rand, s *Scene, list []PlainSample) (*Course, [][]float64) {
	c := &Course{Step: s.StepMS, From: r.Intn(200), Weight: weights(list), Want: make([]float64, len(list))}
	if s.Moves == "glide" {
		c.Step = grid
	}
	n := 1 + r.Intn(120)
	c.To = c.From + n - 1
	values := make([][]float64, len(list))
	weighted := make([][]float64, len(list))
	middle, height := float64(r.Intn(n)), pick(r, 0.0, 0.1, 1)
	for k := range list {
		middle += float64(r.Intn(31) - 15)
		for i := range n {
			v := math.Floor(4*math.Exp(-math.Pow((float64(i)-middle)/10, 2))+height*r.Float64()) / 4
			values[k], weighted[k] = append(values[k], v), append(weighted[k], c.Weight[k]*v)
		}
		if k > 0 {
			c.Want[k] = c.Want[k-1] + float64(r.Intn(5)-2)/100
		}
	}
	var found []int
	if s.Moves == "glide" {
		found, c.Sum = glide(weighted, s.steps(list), still*c.Step)
	} else {
		found, c.Sum = jump(weighted, s.prices(list))
	}
	for _, i := range found {
		c.Index = append(c.Index, c.From+i)
	}
	c.Bends = s.bends(list, c)
	return c, values
}

// searched is the compiler's search over the same range and values.
func (s *Scene) searched(list []PlainSample, c *Course, values [][]float64) ([]int, float64) {
	var search path.PathSearch
	search.Begin(path.DelayGrid{StepMS: c.Step, From: c.From, N: c.To - c.From + 1},
		path.MoveRules{Jumps: s.Moves != "glide", SlewMSPS: s.SlewMSPS, Still: still})
	prices := s.prices(list)
	for k, x := range list {
		at := path.Instant{WeightS: c.Weight[k], PriceS: prices[k]}
		if k > 0 {
			at.StepS = x.TimeS - list[k-1].TimeS
		}
		search.Add(at, values[k])
	}
	return search.Path()
}

// trailed is the compiler's knots for the same path.
func (s *Scene) trailed(list []PlainSample, c *Course) []path.TrailKnot {
	t := &path.Trail{Forced: s.forced(list, c), ToleranceMS: s.TolMS, MaxMS: s.MaxMS, SlewMSPS: s.SlewMSPS}
	levels := path.Coordinate{Tolerance: levelTol}
	for k, x := range list {
		t.Counts = append(t.Counts, x.Count)
		t.StepS = append(t.StepS, 0)
		if k > 0 {
			t.StepS[k] = x.TimeS - list[k-1].TimeS
		}
		if s.Moves == "glide" {
			t.DelayMS = append(t.DelayMS, c.Delay(k))
		}
		levels.At = append(levels.At, x.LevelDB)
	}
	t.Others = []path.Coordinate{{At: c.Want, Tolerance: s.PanTol}, levels}
	return t.Knots()
}

// values are those of every delay in the range of the search, by sample; those of the seats are the compiler's.
func (s *Scene) values(list []PlainSample, c *Course) [][]float64 {
	needs := s.listeners().SeatNeeds()
	values := make([][]float64, len(list))
	for k, x := range list {
		values[k] = make([]float64, c.To-c.From+1)
		w := s.wishAt(x, c.Want[k])
		if w.seatsDecide() {
			needs.Hear(s.through(c.Want[k]), x.At)
			needs.InTime(stands.Window{MostMS: s.WindowMS, MarginMS: s.MarginMS}, c.Step, c.From, values[k])
		}
		for i := range values[k] {
			if d := float64(c.From+i) * c.Step; w.seatsDecide() {
				values[k][i] -= over * w.out(d)
			} else {
				values[k][i] = w.value(s, d)
			}
		}
	}
	return values
}

func (s *Scene) comparePath(t *testing.T, list []PlainSample, c *Course, values [][]float64) {
	t.Helper()
	got, sum := s.searched(list, c, values)
	for i := range got {
		got[i] += c.From
	}
	if !slices.Equal(got, c.Index) || math.Abs(sum-c.Sum) > 1e-9*max(1, math.Abs(sum)) {
		t.Errorf("%s: path %v with %v, want %v with %v", s.Moves, got, sum, c.Index, c.Sum)
	}
	knots := s.trailed(list, c)
	if !slices.EqualFunc(knots, c.Bends, func(a path.TrailKnot, b Bend) bool {
		return a.Sample == b.Sample && a.Offset == b.Offset
	}) {
		t.Errorf("%s: knots %v, want %v", s.Moves, knots, c.Bends)
	}
}

// TestSearchAndKnots compares the compiler's search and its knots with the ones here.
func TestSearchAndKnots(t *testing.T) {
	eachScene(t, func(t *testing.T, s *Scene, list []PlainSample) {
		c := s.Path(list)
		s.comparePath(t, list, c, s.values(list, c))
	})
}

// TestTiedValues is the same for values that are equal at many delays.
func TestTiedValues(t *testing.T) {
	eachScene(t, func(t *testing.T, s *Scene, list []PlainSample) {
		r := rand.New(rand.NewSource(int64(len(list))))
		for range 5 {
			c, values := coarse(r, s, list)
			s.comparePath(t, list, c, values)
		}
	})
}
