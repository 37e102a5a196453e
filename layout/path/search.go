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

	bands  []band // by sample: the delays that are looked at
	coarse *PathSearch
	thin   []float64 // the values of the coarse search
	onward []float64 // of the coarse search: the greatest sum from each sample on, without its own value
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
	groups, _ := s.bound()
	s.look(groups)
	s.keep(s.reached())
	return s.within()
}

// PathOver is Path if its sum is over a limit; ok is false if there is no such path.
func (s *PathSearch) PathOver(limitS float64) (path []int, sumS float64, ok bool) {
	if s.same() {
		path, sumS = s.constant()
		return path, sumS, sumS > limitS
	}
	if _, boundS := s.bound(); boundS <= limitS-tiny || !s.keep(limitS) {
		return nil, 0, false
	}
	path, sumS = s.within()
	return path, sumS, sumS > limitS
}

// within is the best path within the bands; the sum is -Inf if there is none.
func (s *PathSearch) within() (path []int, sumS float64) {
	n, last := s.grid.N, len(s.instants)-1
	s.best = sized(s.best, n*(last+1))
	s.jumpFrom = sized(s.jumpFrom, last+1)
	for k, at := range s.instants {
		row, values, b := s.row(k), s.values[k], s.bands[k]
		if k > 0 {
			s.advance(k, row)
		} else {
			clear(row[b.lo : b.hi+1])
		}
		from, to := 0, n-1 // what will be read
		if k < last && !s.rules.Jumps {
			next, steps := s.bands[k+1], s.steps(k+1)
			from, to = max(next.lo-steps, 0), min(next.hi+steps, n-1)
		}
		for i := from; i < b.lo; i++ {
			row[i] = math.Inf(-1)
		}
		for i := b.lo; i <= b.hi; i++ {
			row[i] += at.WeightS * values[i]
		}
		for i := b.hi + 1; i <= to; i++ {
			row[i] = math.Inf(-1)
		}
	}
	path = make([]int, last+1)
	path[last] = first(s.row(last))
	for k := last; k > 0; k-- {
		path[k-1] = s.before(k, path[k])
	}
	return path, s.row(last)[path[last]]
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
	at, sumS := s.Stay()
	path = make([]int, len(s.instants))
	for k := range path {
		path[k] = at
	}
	return path, sumS
}

// Stay returns the delay, as an index of the grid, with the greatest sum of those that stay at one delay; of equal ones
// the least.
func (s *PathSearch) Stay() (i int, sumS float64) {
	sums := make([]float64, s.grid.N)
	for k := 0; k < len(s.instants); {
		values, weightS := s.values[k], 0.0
		for ; k < len(s.instants) && &s.values[k][0] == &values[0]; k++ {
			weightS += s.instants[k].WeightS
		}
		for i, v := range values {
			sums[i] += weightS * v
		}
	}
	at := first(sums)
	return at, sums[at]
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
	if price == 0 {
		s.nearby(before, row, steps)
		return
	}
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
