// Package path chooses how a delay moves over a stretch of time in which a channel stays open, and how few straight lines
// say it. It knows numbers only: no seat, no stack, no cue, no count.
package path

import "math"

// The small constants: what still counts as equal, of sums in seconds of the full stand, and of times in ms, slopes and
// other coordinates.
const (
	tie  = 1e-12
	tiny = 1e-9
)

// DelayGrid is the delays that a search tries: N whole multiples of StepMS, the first of them From times StepMS.
type DelayGrid struct {
	StepMS  float64
	From, N int
}

// MS is the delay of index i of the grid, in ms.
func (g DelayGrid) MS(i int) float64 { return float64(g.From+i) * g.StepMS }

// MoveRules say how a delay may move.
type MoveRules struct {
	Jumps    bool    // it stays but for jumps; else it glides
	SlewMSPS float64 // the fastest glide, in ms a second
	Still    float64 // the price of a glide, in seconds of the full stand for a ms
}

// Instant is one sample of a stretch.
type Instant struct {
	WeightS float64 // how long it counts, in seconds
	StepS   float64 // the seconds since the sample before in which a glide may get here
	PriceS  float64 // of a jump at this sample, in seconds of the full stand; infinite where none may be
}

// PathSearch finds the path of a stretch with the greatest sum of the values times their weights, less what the moves
// cost, by dynamic programming (R. Bellman, 1957). It holds scratch space, and serves one goroutine.
type PathSearch struct {
	grid  DelayGrid
	rules MoveRules

	instants []Instant
	values   [][]float64
	best     []float64 // best[k*N+i]: the greatest sum up to sample k, at delay i there
	jumpFrom []int     // by sample: the delay that was best before it

	rising, falling, head, tail []float64

	bands  []band
	coarse *PathSearch
	thin   []float64 // the values of the rough search
}

// Begin begins a stretch.
func (s *PathSearch) Begin(grid DelayGrid, rules MoveRules) {
	s.grid, s.rules = grid, rules
	s.instants, s.values = s.instants[:0], s.values[:0]
}

// Add adds a sample, with the value of each delay of the grid. The values are not copied. Samples with the same values
// may share them: a stretch in which all do takes no search.
func (s *PathSearch) Add(at Instant, values []float64) {
	s.instants, s.values = append(s.instants, at), append(s.values, values)
}

// Path returns the best path as an index of the grid for each sample, and its sum in seconds of the full stand. Of equal
// sums the last sample takes the least delay; before it the smaller step is taken, and of equal steps the lower delay.
func (s *PathSearch) Path() (path []int, sumS float64) {
	if s.same() {
		return s.constant()
	}
	path, sumS, _ = s.over(s.rough())
	return path, sumS
}

// PathOver is Path if its sum is over a limit; ok is false if there is no such path.
func (s *PathSearch) PathOver(limitS float64) (path []int, sumS float64, ok bool) {
	if s.same() {
		path, sumS = s.constant()
		return path, sumS, sumS > limitS
	}
	if s.bound() <= limitS-tiny {
		return nil, 0, false
	}
	path, sumS, ok = s.over(limitS)
	return path, sumS, ok && sumS > limitS
}

// every is how many delays of the grid there are for one of the rough search.
const every = 4

// rough is the sum of the best path over every fourth delay, which the best path over all of them reaches.
func (s *PathSearch) rough() (sumS float64) {
	return s.some(s.rules, func(at Instant) Instant { return at }, func(four []float64) float64 { return four[0] })
}

// bound is a sum that no path exceeds: that of the best path over groups of four delays, each as good as its best one,
// with free moves to every group that a delay of another one may go to.
func (s *PathSearch) bound() (sumS float64) {
	rules := MoveRules{Jumps: s.rules.Jumps, SlewMSPS: 1}
	return s.some(rules, func(at Instant) Instant {
		steps := (s.stepsIn(at.StepS) + every - 1) / every
		at.StepS = (float64(steps) + 0.5) * every * s.grid.StepMS
		return at
	}, func(four []float64) float64 {
		best := four[0]
		for _, v := range four {
			if v > best {
				best = v
			}
		}
		return best
	})
}

// some is the sum of the best path over groups of four delays.
func (s *PathSearch) some(
	rules MoveRules, instant func(at Instant) Instant, value func(four []float64) float64,
) (sumS float64) {
	n := (s.grid.N + every - 1) / every
	if s.coarse == nil {
		s.coarse = &PathSearch{}
	}
	c := s.coarse
	c.Begin(DelayGrid{StepMS: every * s.grid.StepMS, N: n}, rules)
	s.thin = sized(s.thin, n*len(s.instants))
	for k, at := range s.instants {
		at = instant(at)
		if k > 0 && &s.values[k][0] == &s.values[k-1][0] {
			c.Add(at, c.values[k-1])
			continue
		}
		row := s.thin[k*n : (k+1)*n]
		for i := range row {
			row[i] = value(s.values[k][i*every : min((i+1)*every, s.grid.N)])
		}
		c.Add(at, row)
	}
	_, sumS, _ = c.over(math.Inf(-1))
	return sumS
}

// over is the best path of those whose sum is at least a limit; ok is false if there are none. No such path has a
// delay at a sample whose value is so low that the greatest values at all other samples could not make up for it: these
// are left out.
func (s *PathSearch) over(limitS float64) (path []int, sumS float64, ok bool) {
	if !s.findBands(limitS) {
		return nil, 0, false
	}
	n, last := s.grid.N, len(s.instants)-1
	s.best = sized(s.best, n*(last+1))
	s.jumpFrom = sized(s.jumpFrom, last+1)
	for k, at := range s.instants {
		row, values, b := s.row(k), s.values[k], s.bands[k]
		if k > 0 {
			s.advance(k, row)
		} else {
			clear(row)
		}
		for i := range row[:b.lo] {
			row[i] = math.Inf(-1)
		}
		for i := b.lo; i <= b.hi; i++ {
			row[i] += at.WeightS * values[i]
		}
		for i := b.hi + 1; i < n; i++ {
			row[i] = math.Inf(-1)
		}
	}
	path = make([]int, last+1)
	path[last] = first(s.row(last))
	for k := last; k > 0; k-- {
		path[k-1] = s.before(k, path[k])
	}
	sumS = s.row(last)[path[last]]
	return path, sumS, sumS > math.Inf(-1)
}

// band is the delays that are looked at, at a sample.
type band struct {
	lo, hi int
	most   float64 // the greatest value
}

// findBands finds what to look at for paths whose sum is at least a limit; false if there are none.
func (s *PathSearch) findBands(limitS float64) bool {
	s.bands = sized(s.bands, len(s.instants))
	sum := 0.0
	for k, values := range s.values {
		b := band{0, len(values) - 1, 0}
		if k > 0 && &values[0] == &s.values[k-1][0] {
			b = s.bands[k-1]
		} else {
			b.most = values[0]
			for _, v := range values {
				if v > b.most {
					b.most = v
				}
			}
		}
		s.bands[k] = b
		sum += s.instants[k].WeightS * b.most
	}
	slack := sum - limitS
	if slack += tiny * (1 + math.Abs(sum)); slack < 0 {
		return false
	}
	for k, values := range s.values {
		b := &s.bands[k]
		least := b.most - slack/s.instants[k].WeightS
		if math.IsNaN(least) || s.instants[k].WeightS <= 0 {
			continue
		}
		for values[b.lo] < least {
			b.lo++
		}
		for values[b.hi] < least {
			b.hi--
		}
	}
	return true
}

func sized[T any](list []T, n int) []T {
	if cap(list) < n {
		return make([]T, n, n+n/4)
	}
	return list[:n]
}

func (s *PathSearch) row(k int) []float64 { return s.best[k*s.grid.N : (k+1)*s.grid.N] }

// first is the greatest of a list: a later one takes the place of the one before only if it is greater by more than tie.
func first(list []float64) (at int) {
	best := list[0]
	for i, v := range list {
		if v > best+tie {
			at, best = i, v
		}
	}
	return at
}

// same reports whether all samples share their values.
func (s *PathSearch) same() bool {
	for _, v := range s.values {
		if &v[0] != &s.values[0][0] {
			return false
		}
	}
	return true
}

// constant is the best path of a stretch whose samples share their values: it never pays to move.
func (s *PathSearch) constant() (path []int, sumS float64) {
	path = make([]int, len(s.instants))
	for _, at := range s.instants {
		sumS += at.WeightS
	}
	row := sized(s.best, s.grid.N)
	for i, v := range s.values[0] {
		row[i] = sumS * v
	}
	s.best = row
	at := first(row)
	for k := range path {
		path[k] = at
	}
	return path, row[at]
}

// advance fills a row with the best sums up to the sample before, as they get to sample k.
func (s *PathSearch) advance(k int, row []float64) {
	before := s.row(k - 1)
	if !s.rules.Jumps {
		steps, b := s.steps(k), s.bands[k]
		lo, hi := max(b.lo-steps, 0), min(b.hi+steps, len(row)-1)+1
		s.glide(before[lo:hi], row[lo:hi], steps)
		return
	}
	copy(row, before)
	if price := s.instants[k].PriceS; price < math.MaxFloat64 {
		s.jumpFrom[k] = first(before)
		for i, most := 0, before[s.jumpFrom[k]]-price; i < len(row); i++ {
			if most > row[i]+tie {
				row[i] = most
			}
		}
	}
}

// steps is how many steps of the grid a glide may take to sample k.
func (s *PathSearch) steps(k int) int { return s.stepsIn(s.instants[k].StepS) }

func (s *PathSearch) stepsIn(seconds float64) int {
	return min(int(math.Floor(s.rules.SlewMSPS*seconds/s.grid.StepMS+tiny)), s.grid.N-1)
}

// glide fills a row with the greatest of the sums before that are at most so many steps off, each less the price of
// those steps. A price that is even in steps makes it two greatest values over sliding windows, one of the sums that
// rise by it and one of those that fall; those take three comparisons each, however long the window is (M. van Herk,
// Pattern Recognition Letters 13, 1992; J. Gil and M. Werman, IEEE PAMI 15, 1993).
func (s *PathSearch) glide(before, row []float64, steps int) {
	if steps <= 0 {
		copy(row, before)
		return
	}
	n, price := len(before), s.rules.Still*s.grid.StepMS
	s.rising, s.falling = sized(s.rising, n), sized(s.falling, n)
	s.head, s.tail = sized(s.head, n), sized(s.tail, n)
	rising, falling := s.rising, s.falling
	for i, v := range before {
		x := price * float64(i)
		rising[i], falling[i] = v+x, v-x
	}
	head, tail := s.head, s.tail
	windows(rising, head, tail, steps+1)
	for i := range row { // from lower delays
		v := head[i]
		if i >= steps {
			if t := tail[i-steps]; t > v {
				v = t
			}
		}
		row[i] = v - price*float64(i)
	}
	windows(falling, head, tail, steps+1)
	lastBlock := (n - 1) / (steps + 1) * (steps + 1)
	for i := range row { // from higher ones
		v := tail[i]
		if i < lastBlock {
			if h := head[min(i+steps, n-1)]; h > v {
				v = h
			}
		}
		if v += price * float64(i); v > row[i] {
			row[i] = v
		}
	}
}

// windows cuts a list into blocks and fills head with the greatest from the beginning of each one's block to it, and
// tail with the greatest from it to its block's end.
func windows(list, head, tail []float64, block int) {
	head, tail = head[:len(list)], tail[:len(list)]
	for lo := 0; lo < len(list); lo += block {
		hi := min(lo+block, len(list))
		most := list[lo]
		for i := lo; i < hi; i++ {
			if v := list[i]; v > most {
				most = v
			}
			head[i] = most
		}
		most = list[hi-1]
		for i := hi - 1; i >= lo; i-- {
			if v := list[i]; v > most {
				most = v
			}
			tail[i] = most
		}
	}
}

// before is the delay at the sample before k of the best path that has delay i at k.
func (s *PathSearch) before(k, i int) int {
	row := s.row(k - 1)
	if s.rules.Jumps {
		price := s.instants[k].PriceS
		if from := s.jumpFrom[k]; price < math.MaxFloat64 && row[from]-price > row[i]+tie {
			return from
		}
		return i
	}
	price := s.rules.Still * s.grid.StepMS
	at, most := i, row[i]
	for d := 1; d <= s.steps(k); d++ {
		cost := price * float64(d)
		if j := i - d; j >= 0 && row[j]-cost > most+tie {
			at, most = j, row[j]-cost
		}
		if j := i + d; j < len(row) && row[j]-cost > most+tie {
			at, most = j, row[j]-cost
		}
	}
	return at
}
