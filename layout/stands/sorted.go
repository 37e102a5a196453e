package stands

import (
	"cmp"
	"math"
	"slices"
	"sort"
)

// sorted is the seats that a stack reaches, by need, with the weights' running sums; scratch space that is used again.
type sorted struct {
	need   []need
	before []float64 // before[i] is the weight of the first i

	bin, starts []int32
}

// need is a time in seconds and the weight of the seat that it belongs to.
type need struct{ q, w float64 }

func byTime(a, b need) int { return cmp.Compare(a.q, b.q) }

// reached is false for the -Inf of a seat that no stack reaches.
func reached(q float64) bool { return q >= -math.MaxFloat64 }

// crowded is how many needs in one bin are left to the library: insertion is quadratic.
const crowded = 32

// fill sorts needs, of which lo and hi are the least and the greatest and n are reached, with their weights. The needs
// of the stands are spread evenly enough that a counting sort into a few bins for each leaves next to nothing to do:
// some eight times faster than comparing them all. Equal needs keep the order of the seats.
func (s *sorted) fill(q, w []float64, lo, hi float64, n int) {
	const bins = 3 // for each
	s.need, s.before = sized(s.need, n), sized(s.before, n+1)
	s.bin, s.starts = sized(s.bin, len(q)), sized(s.starts, bins*n+1)
	perBin := float64(bins*n-1) / (hi - lo)
	if !(perBin <= math.MaxFloat64) {
		perBin = 0 // all at one time
	}
	bin, starts := s.bin[:len(q)], s.starts
	clear(starts)
	for j, v := range q {
		if reached(v) {
			b := int32((v - lo) * perBin)
			bin[j] = b
			starts[b+1]++
		}
	}
	at, fullest := int32(0), int32(0)
	for b, count := range starts {
		fullest = max(fullest, count)
		at += count
		starts[b] = at
	}
	list, w := s.need, w[:len(q)]
	for j, v := range q {
		if reached(v) {
			at := &starts[bin[j]]
			list[*at] = need{v, w[j]}
			*at++
		}
	}
	if fullest > crowded {
		from := int32(0)
		for _, to := range starts[:bins*n] { // of each bin, its end by now
			if to-from > crowded {
				slices.SortStableFunc(list[from:to], byTime)
			}
			from = to
		}
	}
	most := math.Inf(-1) // of those before: nearly all are in order by now
	for i, x := range list {
		if x.q >= most {
			most = x.q
			continue
		}
		j := i
		for ; j > 0 && list[j-1].q > x.q; j-- {
			list[j] = list[j-1]
		}
		list[j] = x
	}
	sum, before := 0.0, s.before[:len(list)+1]
	before[0] = 0
	for i, x := range list {
		sum += x.w
		before[i+1] = sum
	}
}

// sized is a slice of n elements, the old one where it is long enough.
func sized[T any](list []T, n int) []T { return slices.Grow(list[:0], n)[:n] }

// median is the lower weighted median: the first need with at least half of the weight at or before it.
func (s *sorted) median() float64 {
	half := s.before[len(s.need)] / 2 * (1 - 1e-12)
	return s.need[sort.Search(len(s.need)-1, func(i int) bool { return s.before[i+1] >= half })].q
}
