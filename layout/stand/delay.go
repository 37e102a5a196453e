package stand

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"backfield/layout"
	"backfield/layout/source"
)

// Policy is a way to choose a delay for a stand.
type Policy string

// The policies.
const (
	Reference  Policy = "reference"   // the reference seat's need, and a lead
	MostSeats  Policy = "most-seats"  // the delay that puts most seats inside the window
	LeastError Policy = "least-error" // the median need, and a lead
	NeverEarly Policy = "never-early" // no loudspeaker is ever ahead of the player, at any seat
	Joint      Policy = "joint"       // most-seats, and a pan nearby that does better still
)

// Policies lists the policies' names.
var Policies = []string{string(Reference), string(MostSeats), string(LeastError), string(NeverEarly), string(Joint)}

// CheckPolicy reports a policy that there is not, at its place; true for one that there is.
func CheckPolicy(name string, at source.Span, p *source.Problems) bool {
	if slices.Contains(Policies, name) {
		return true
	}
	p.Error("bad-choice", at, fmt.Sprintf("no policy %q is known", name), source.DidYouMean(name, Policies, "it is "+source.OneOf(Policies)))
	return false
}

// Aim is what a delay is chosen by. The window is fusion with precedence kept: a loudspeaker between 0 and
// WindowS behind the player's own sound (H. Haas, Acustica 1, 1951).
type Aim struct {
	WindowS float64
	LeadS   float64
	Free    bool // most-seats need not serve the reference seat
}

// slack is the tolerance of comparisons between times, in seconds.
const slack = 1e-9

// sorted is the seats by need, with the weights' running sums; scratch space that is used again.
type sorted struct {
	need   []need
	before []float64 // before[i] is the weight of the first i

	unsorted []need
	starts   []int32
}

// need is a time in seconds and the weight of the seat that it belongs to.
type need struct{ q, w float64 }

func byTime(a, b need) int { return cmp.Compare(a.q, b.q) }

func (s *sorted) fill(q, w []float64) {
	s.unsorted = s.unsorted[:0]
	for j, v := range q {
		if !math.IsInf(v, -1) {
			s.unsorted = append(s.unsorted, need{v, w[j]})
		}
	}
	s.sort()
	s.before = append(s.before[:0], 0)
	sum := 0.0
	for _, n := range s.need {
		sum += n.w
		s.before = append(s.before, sum)
	}
}

// crowded is how many needs in one bin are left to the library: insertion is quadratic.
const crowded = 32

// sort puts unsorted into need, by time. The needs of a stand lie evenly enough that a counting sort into as
// many bins as there are seats leaves next to nothing to do: some five times faster than comparing them all.
// Equal needs keep the order of the seats.
func (s *sorted) sort() {
	n := len(s.unsorted)
	s.need = slices.Grow(s.need[:0], n)[:n]
	if n == 0 {
		return
	}
	lo, hi := s.unsorted[0].q, s.unsorted[0].q
	for _, x := range s.unsorted {
		lo, hi = min(lo, x.q), max(hi, x.q)
	}
	perBin := float64(n-1) / (hi - lo)
	if math.IsInf(perBin, 1) || math.IsNaN(perBin) {
		perBin = 0 // all at one time
	}
	s.starts = slices.Grow(s.starts[:0], n+1)[:n+1]
	clear(s.starts)
	for _, x := range s.unsorted {
		s.starts[int((x.q-lo)*perBin)+1]++
	}
	for b := 1; b <= n; b++ {
		s.starts[b] += s.starts[b-1]
	}
	for _, x := range s.unsorted {
		b := int((x.q - lo) * perBin)
		s.need[s.starts[b]] = x
		s.starts[b]++
	}
	from := int32(0)
	for _, to := range s.starts[:n] { // of each bin, its end by now
		if to-from > crowded {
			slices.SortStableFunc(s.need[from:to], byTime)
		}
		from = to
	}
	for i := 1; i < n; i++ {
		x, j := s.need[i], i
		for ; j > 0 && s.need[j-1].q > x.q; j-- {
			s.need[j] = s.need[j-1]
		}
		s.need[j] = x
	}
}

// mostSeats returns the first of the candidate delays, ascending, that has the largest weight of seats in
// the window, and that weight. The optimum lies where some seat enters the window, so the candidates are the
// seats' own needs and the reference seat's. A window that slides over the sorted needs weighs them all.
func (s *sorted) mostSeats(reference float64, ok bool, a Aim) (delayS, weight float64) {
	lo, hi := 0.0, math.Inf(1)
	if ok && !a.Free {
		lo, hi = max(0, reference), max(0, reference+a.WindowS)
	}
	best, at := math.Inf(-1), lo
	in, out := 0, 0 // needs up to in are not early, needs up to out are already late
	weigh := func(tau float64) {
		if tau < lo || tau > hi {
			return
		}
		for in < len(s.need) && s.need[in].q <= tau+slack {
			in++
		}
		for out < len(s.need) && s.need[out].q < tau-a.WindowS-slack {
			out++
		}
		if v := s.before[in] - s.before[out]; v > best+1e-9 {
			best, at = v, tau
		}
	}
	own := max(0, reference)
	pending := ok
	for _, n := range s.need {
		tau := max(0, n.q)
		if pending && own <= tau {
			weigh(own)
			pending = false
		}
		weigh(tau)
	}
	if pending {
		weigh(own)
	}
	return at, max(best, 0)
}

// median is the lower weighted median: the first need with at least half of the weight at or before it.
func (s *sorted) median() float64 {
	half := s.before[len(s.need)] / 2 * (1 - 1e-12)
	for i, n := range s.need {
		if s.before[i+1] >= half {
			return n.q
		}
	}
	return 0
}

// Chooser chooses delays for one stand; it holds scratch space and serves one goroutine. What the seats need is kept
// until another mic or another place is asked about.
type Chooser struct {
	l *Listeners

	heard     *Heard // what q and reference were worked out for
	at        layout.Point
	q         []float64
	reference float64
	reached   bool // a stack reaches the reference seat
	inOrder   bool // s holds q

	s     sorted
	tally tally
}

// Chooser makes one.
func (l *Listeners) Chooser() *Chooser { return &Chooser{l: l, q: make([]float64, len(l.x))} }

// hear works out what every seat needs.
func (c *Chooser) hear(h *Heard, p layout.Point) {
	if c.heard == h && c.at == p {
		return
	}
	c.reference, c.reached = c.l.Needs(h, p, c.q)
	c.heard, c.at, c.inOrder = h, p, false
}

// order sorts what was heard; false where no stack reaches any seat.
func (c *Chooser) order() bool {
	if !c.inOrder {
		c.s.fill(c.q, c.l.w)
		c.inOrder = true
	}
	return len(c.s.need) > 0
}

// Raw returns the delay in seconds that a policy wants, before any limit or rounding; ok is false where
// nobody who matters to it is reached by a stack.
func (c *Chooser) Raw(h *Heard, p layout.Point, policy Policy, a Aim) (delayS float64, ok bool) {
	if policy == Reference || len(c.q) == 0 {
		reference, ok := c.l.Needs(h, p, nil)
		return reference + a.LeadS, ok
	}
	c.hear(h, p)
	switch policy {
	case NeverEarly:
		most := math.Inf(-1)
		for _, q := range c.q {
			most = max(most, q)
		}
		return most, !math.IsInf(most, -1)
	case LeastError:
		if !c.order() {
			return 0, false
		}
		return a.LeadS + c.s.median(), true
	}
	if !c.order() {
		return 0, false
	}
	delayS, _ = c.s.mostSeats(c.reference, c.reached, a)
	return delayS, true
}
