package stands

import (
	"cmp"
	"math"
	"slices"
	"sort"

	"backfield/layout"
)

// Aim is what a delay is chosen by. The window is fusion with precedence kept: a loudspeaker between 0 and
// WindowS behind the player's own sound (H. Haas, Acustica 1, 1951).
type Aim struct {
	WindowS float64
	LeadS   float64
	Free    bool // most-seats need not serve the reference seat
}

// slack is the tolerance of comparisons between times, in seconds.
const slack = 1e-9

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

// count is how many of the needs, which come first, are as asked.
func (s *sorted) count(are func(q float64) bool) int {
	return sort.Search(len(s.need), func(i int) bool { return !are(s.need[i].q) })
}

// window is which needs a delay serves: those of s.need[late:early] are inside the window, those before late hear
// the loudspeaker too late, and those from early on ahead of the player.
func (s *sorted) window(delayS, windowS float64) (late, early int) {
	late = s.count(func(q float64) bool { return delayS-q > windowS+slack })
	return late, s.count(func(q float64) bool { return delayS-q >= -slack })
}

// mostSeats returns the first of the candidate delays, ascending, that has the largest weight of seats in
// the window, and that weight. The optimum is where some seat enters the window, so the candidates are the
// seats' own needs and the reference seat's. A window that slides over the sorted needs weighs them all.
func (s *sorted) mostSeats(reference float64, ok bool, a Aim) (delayS, weight float64) {
	own, lo, hi := max(0, reference), 0.0, math.Inf(1)
	if ok && !a.Free {
		lo, hi = own, max(0, reference+a.WindowS)
	}
	weigh := func(tau float64) float64 {
		late, early := s.window(tau, a.WindowS)
		return s.before[early] - s.before[late]
	}
	delayS, weight = lo, -1.0
	first := s.count(func(q float64) bool { return q < lo })
	if ok && !a.Free || first > 0 { // lo is the reference seat's, or what is left of needs below 0
		weight = weigh(lo)
	}
	list, before := s.need, s.before[:len(s.need)+1]
	out, in := s.window(lo, a.WindowS) // needs up to in are not early, needs up to out are already late
	for _, n := range list[first:] {
		tau := n.q
		if tau > hi {
			break
		}
		for in < len(list) && list[in].q <= tau+slack {
			in++
		}
		for out < len(list) && list[out].q < tau-a.WindowS-slack {
			out++
		}
		if v := before[in] - before[out]; v > weight+1e-9 {
			weight, delayS = v, tau
		}
	}
	if ok && a.Free {
		if v := weigh(own); v > weight+1e-9 || v > weight-1e-9 && own < delayS {
			weight, delayS = v, own
		}
	}
	return delayS, max(weight, 0)
}

// median is the lower weighted median: the first need with at least half of the weight at or before it.
func (s *sorted) median() float64 {
	half := s.before[len(s.need)] / 2 * (1 - 1e-12)
	return s.need[sort.Search(len(s.need)-1, func(i int) bool { return s.before[i+1] >= half })].q
}

// fit is how a delay serves the seats.
func (s *sorted) fit(delayS, windowS float64) Fit {
	n := len(s.need)
	late, early := s.window(delayS, windowS)
	total := s.before[n]
	f := Fit{Inside: (s.before[early] - s.before[late]) / total, Early: (total - s.before[early]) / total,
		Late: s.before[late] / total}
	if early < n {
		f.WorstEarlyMS = 1000 * (s.need[n-1].q - delayS)
	}
	if late > 0 {
		f.WorstLateMS = 1000 * (delayS - s.need[0].q - windowS)
	}
	half := total / 2 * (1 - 1e-12)
	f.MedianMS = 1000 * (delayS - s.need[sort.Search(n-1, func(i int) bool { return total-s.before[i+1] < half })].q)
	return f
}

// DelayChooser chooses delays for one set of seats; it holds scratch space and serves one goroutine. What the seats
// need is kept until another mic or another place is asked about.
type DelayChooser struct {
	l *Listeners

	heard     *Heard // what q and reference were computed for
	at        layout.Point
	q         []float64
	reference float64
	reached   bool // a stack reaches the reference seat
	lo, hi    float64
	n         int  // how many seats a stack reaches, of needs from lo to hi
	inOrder   bool // s holds q

	s     sorted
	tally tally
}

// DelayChooser makes one.
func (l *Listeners) DelayChooser() *DelayChooser {
	return &DelayChooser{l: l, q: make([]float64, len(l.x))}
}

// hear works out what every seat needs.
func (c *DelayChooser) hear(h *Heard, p layout.Point) {
	if c.heard == h && c.at == p {
		return
	}
	c.reference, c.reached = c.l.needAt(h, p)
	c.lo, c.hi, c.n = c.l.Needs(h, p, c.q)
	c.heard, c.at, c.inOrder = h, p, false
}

// order sorts what was heard.
func (c *DelayChooser) order() *sorted {
	if !c.inOrder {
		c.s.fill(c.q, c.l.w, c.lo, c.hi, c.n)
		c.inOrder = true
	}
	return &c.s
}

// Raw returns the delay in seconds that a policy wants, before any limit or rounding; ok is false where
// nobody who matters to it is reached by a stack. Without seats every policy wants what the reference seat needs.
func (c *DelayChooser) Raw(h *Heard, p layout.Point, policy *Policy, a Aim) (delayS float64, ok bool) {
	if !policy.NeedsStands || len(c.q) == 0 {
		reference, ok := c.l.needAt(h, p)
		return reference + a.LeadS, ok
	}
	c.hear(h, p)
	if c.n == 0 {
		return 0, false
	}
	if policy.PlusLead {
		return a.LeadS + policy.choose(c, a), true
	}
	return policy.choose(c, a), true
}
