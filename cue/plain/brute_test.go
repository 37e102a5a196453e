package plain

import (
	"math"
	"math/rand"
	"slices"
	"testing"
)

// every calls f with all lists of n numbers from 0 to most.
func every(n, most int, f func([]int)) {
	list := make([]int, n)
	for {
		f(list)
		k := 0
		for ; k < n; k++ {
			if list[k]++; list[k] <= most {
				break
			}
			list[k] = 0
		}
		if k == n {
			return
		}
	}
}

// eighths are random values that add up without rounding, with many equal ones.
func eighths(r *rand.Rand, samples, steps int) [][]float64 {
	values := make([][]float64, samples)
	for k := range values {
		for range steps {
			values[k] = append(values[k], float64(r.Intn(5))/8)
		}
	}
	return values
}

// TestGlideAgainstAllPaths: the greatest sum, and of equal ones the right path.
func TestGlideAgainstAllPaths(t *testing.T) {
	r := rand.New(rand.NewSource(1))
	tied := 0
	for round := range 300 {
		n, m := 1+r.Intn(5), 1+r.Intn(5)
		values, steps := eighths(r, n, m), make([]int, n)
		for k := range steps {
			steps[k] = r.Intn(4)
		}
		price := float64(r.Intn(3)) / 16
		best, equal := math.Inf(-1), 0
		var want []int
		every(n, m-1, func(p []int) {
			sum := 0.0
			for k, i := range p {
				sum += values[k][i]
				if k > 0 {
					move := max(i-p[k-1], p[k-1]-i)
					if move > steps[k] {
						return
					}
					sum -= price * float64(move)
				}
			}
			// Seen from the end: the least last step; then the smaller move, and of two the one from below.
			before := func(a, b []int) bool {
				for k := n - 1; k >= 0; k-- {
					if a[k] == b[k] {
						continue
					}
					if k == n-1 {
						return a[k] < b[k]
					}
					da, db := a[k]-a[k+1], b[k]-b[k+1]
					if max(da, -da) != max(db, -db) {
						return max(da, -da) < max(db, -db)
					}
					return da < db
				}
				return false
			}
			if sum == best {
				equal++
			}
			if sum > best {
				equal = 0
			}
			if sum > best || sum == best && before(p, want) {
				best, want = sum, slices.Clone(p)
			}
		})
		if equal > 0 {
			tied++
		}
		if got, sum := glide(values, steps, price); !slices.Equal(got, want) || sum != best {
			t.Fatalf("round %d: %v with %v, want %v with %v", round, got, sum, want, best)
		}
	}
	if tied < 60 {
		t.Errorf("only %d rounds had a choice", tied)
	}
}

func TestJumpAgainstAllPaths(t *testing.T) {
	r := rand.New(rand.NewSource(2))
	changed := 0
	for round := range 300 {
		n, m := 1+r.Intn(5), 1+r.Intn(5)
		values, prices := eighths(r, n, m), make([]float64, n)
		for k := range prices {
			prices[k] = float64(r.Intn(4)) / 8
			if r.Intn(3) == 0 {
				prices[k] = math.Inf(1)
			}
		}
		best := math.Inf(-1)
		var want []int
		every(n, m-1, func(p []int) {
			sum := 0.0
			for k, i := range p {
				sum += values[k][i]
				if k > 0 && i != p[k-1] {
					sum -= prices[k]
				}
			}
			before := func(a, b []int) bool { // no change rather than one, then from the least
				for k := n - 1; k >= 0; k-- {
					if a[k] == b[k] {
						continue
					}
					if k < n-1 && (a[k] == a[k+1] || b[k] == b[k+1]) {
						return a[k] == a[k+1]
					}
					return a[k] < b[k]
				}
				return false
			}
			if sum > best || sum == best && before(p, want) {
				best, want = sum, slices.Clone(p)
			}
		})
		if slices.Min(want) != slices.Max(want) {
			changed++
		}
		if got, sum := jump(values, prices); !slices.Equal(got, want) || sum != best {
			t.Fatalf("round %d: %v with %v, want %v with %v", round, got, sum, want, best)
		}
	}
	if changed < 50 {
		t.Errorf("only %d rounds had a change", changed)
	}
}

// TestBendsAgainstAllKnots tries every choice of knots and offsets.
func TestBendsAgainstAllKnots(t *testing.T) {
	r := rand.New(rand.NewSource(3))
	offset, inner, tied := 0, 0, 0
	for round := range 400 {
		s := &Scene{Moves: "glide", TolMS: 0.2, PanTol: 0.1, SlewMSPS: 8, MaxMS: 1.5}
		if round%5 == 4 {
			s.Moves = "cues"
		}
		n := 1 + r.Intn(6)
		c := &Course{Step: 0.1}
		var list []PlainSample
		count, time, at := 1.0, 0.0, 4
		for k := range n {
			x := PlainSample{Count: count, TimeS: time, Cue: r.Intn(8) == 0, AfterWait: k > 0 && r.Intn(10) == 0}
			count += []float64{0.25, 0.25, 0.1}[r.Intn(3)]
			time += []float64{0.0625, 0.03, 0.02}[r.Intn(3)]
			list = append(list, x)
			at = max(0, min(at+r.Intn(7)-3, 15))
			if k > 0 && s.Moves == "glide" { // a path keeps to the slew
				most := int(8*(x.TimeS-list[k-1].TimeS)/0.1 + 1e-9)
				at = max(c.Index[k-1]-most, min(at, c.Index[k-1]+most))
			} else if k > 0 && r.Intn(4) > 0 {
				at = c.Index[k-1]
			}
			c.Index = append(c.Index, at)
			c.Want = append(c.Want, float64(r.Intn(4))/20)
		}
		want, equal := allKnots(s, list, c)
		got := s.bends(list, c)
		if !slices.EqualFunc(got, want, func(a, b Bend) bool { return a.Sample == b.Sample && a.Offset == b.Offset }) {
			t.Fatalf("round %d: %v\nwant %v\n%v %v", round, got, want, c.Index, c.Want)
		}
		inner += max(0, len(got)-2)
		for _, b := range got {
			offset += b.Offset * b.Offset
		}
		if equal > 0 {
			tied++
		}
	}
	if offset < 20 || inner < 100 || tied < 20 {
		t.Errorf("too little to choose: %d offsets, %d inner knots, %d ties", offset, inner, tied)
	}
}

// allKnots is the best choice of knots, found by trying all, and how many others were as short.
func allKnots(s *Scene, list []PlainSample, c *Course) (want []Bend, equal int) {
	n := len(list)
	wantLines, wantOffsets := math.MaxInt, math.MaxInt
	every(n, 3, func(choice []int) { // 0: no knot; 1, 2, 3: offsets 0, -1, 1
		var knots []Bend
		offsets := 0
		for k, v := range choice {
			must := k == 0 || k == n-1 || list[k].Cue || list[k].AfterWait || list[k+1].AfterWait ||
				s.Moves != "glide" && c.Index[k] != c.Index[k-1]
			if v == 0 {
				if must {
					return
				}
				continue
			}
			o := []int{0, -1, 1}[v-1]
			d := c.Delay(k) + float64(o)*s.TolMS
			if o != 0 && (d < -1e-9 || d > s.MaxMS+1e-9 || s.Moves != "glide") {
				return
			}
			offsets += o * o
			knots = append(knots, Bend{k, d, c.Want[k], o})
		}
		for i := 1; i < len(knots); i++ {
			a, b := knots[i-1], knots[i]
			whole := list[b.Sample].Count - list[a.Sample].Count
			last := a.DelayMS
			for k := a.Sample + 1; k <= b.Sample; k++ {
				f := (list[k].Count - list[a.Sample].Count) / whole
				d, pan := (1-f)*a.DelayMS+f*b.DelayMS, (1-f)*a.Pan+f*b.Pan
				if math.Abs(pan-c.Want[k]) > s.PanTol+1e-9 && k < b.Sample {
					return
				}
				if s.Moves != "glide" {
					continue
				}
				if math.Abs(d-c.Delay(k)) > s.TolMS+1e-9 && k < b.Sample ||
					math.Abs(d-last) > 8*(list[k].TimeS-list[k-1].TimeS)+1e-9 {
					return
				}
				last = d
			}
		}
		before := func(a, b []Bend) bool {
			for i := 1; i <= len(a); i++ {
				x, y := a[len(a)-i], b[len(b)-i]
				if x.Sample != y.Sample {
					return x.Sample < y.Sample
				}
				if x.Offset != y.Offset {
					return x.Offset == 0 || x.Offset == -1 && y.Offset == 1
				}
			}
			return false
		}
		switch better := len(knots) < wantLines || len(knots) == wantLines && offsets < wantOffsets; {
		case better:
			wantLines, wantOffsets, want, equal = len(knots), offsets, knots, 0
		case len(knots) == wantLines && offsets == wantOffsets:
			equal++
			if before(knots, want) {
				want = knots
			}
		}
	})
	return want, equal
}
