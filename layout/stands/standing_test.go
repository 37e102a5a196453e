package stands

import (
	"math"
	"sort"
	"sync"

	"backfield/layout"
	"backfield/layout/sound"
)

// The delay of a player who stands, from exact needs in seconds: no grid, no margin, and the reference seat in the window.
// Shows are not compiled by it. The table of help zones and the benchmarks against C, numpy and plain loops measure it.

// Aim is what a delay is chosen by. The window is fusion with precedence kept: a loudspeaker between 0 and
// WindowS behind the player's own sound (H. Haas, Acustica 1, 1951).
type Aim struct {
	WindowS float64
	LeadS   float64
	Free    bool // most-seats need not serve the reference seat
}

// slack is the tolerance of comparisons between times, in seconds.
const slack = 1e-9

// standing is listeners to players who stand, with the first arrivals by pan step.
type standing struct {
	*Listeners
	level    [][]float64 // of each stack at each seat: its energy there at amplitude 1
	arrive   [][]float64 // of each stack at each seat: when it is heard there, in seconds, with no channel delay
	arrivals []arrivalRow
}

func stand(l *Listeners) *standing {
	n := len(l.System.Stacks)
	s := &standing{l, make([][]float64, n), make([][]float64, n), make([]arrivalRow, 2*l.steps+1)}
	for i, k := range l.System.Stacks {
		s.level[i], s.arrive[i] = make([]float64, len(l.x)), make([]float64, len(l.x))
		for j := range l.x {
			d := k.At.Distance(layout.Point{X: l.x[j], Y: l.y[j], Z: l.z[j]})
			s.arrive[i][j] = l.System.LatencyS + k.DelayS + d/l.System.SpeedMPS
		}
	}
	for j := range l.x {
		for _, a := range arrivalsAt(l.System, layout.Point{X: l.x[j], Y: l.y[j], Z: l.z[j]}) {
			s.level[a.stack][j] = a.level
		}
	}
	return s
}

type arrivalRow struct {
	once  sync.Once
	heard *Heard
}

// Heard is what seats hear first of a mic that is fed to the stacks in one way: for each seat the seconds from
// the mic to the first loudspeaker sound, +Inf where no stack reaches it.
type Heard struct {
	FirstS    []float64
	Reference sound.Arrival
}

// AtPan is what is heard at pan step k, which is the pan k/steps.
func (l *standing) AtPan(k int) *Heard {
	row := &l.arrivals[k+l.steps]
	row.once.Do(func() { row.heard = l.Through(l.System.Gains(float64(k) / float64(l.steps))) })
	return row.heard
}

// Through is what is heard of a mic that reaches the stacks with amplitudes g.
func (l *standing) Through(g []float64) *Heard {
	h := &Heard{FirstS: make([]float64, len(l.x)), Reference: l.System.First(l.Reference, g)}
	var carry []int
	for i, v := range g {
		if v > 0 {
			carry = append(carry, i)
		}
	}
	loudest, first := make([]float64, len(l.x)), h.FirstS
	for _, i := range carry {
		v, level := g[i]*g[i], l.level[i][:len(loudest)]
		for j, most := range loudest {
			loudest[j] = max(most, v*level[j])
		}
	}
	for j := range first {
		first[j] = math.Inf(1)
	}
	for _, i := range carry {
		v, level, arrive, loudest := g[i]*g[i], l.level[i][:len(first)], l.arrive[i][:len(first)], loudest[:len(first)]
		for j, before := range first {
			if t := arrive[j]; t < before-1e-12 && sound.Significant(v*level[j], loudest[j]) {
				first[j] = t
			}
		}
	}
	return h
}

// Needs fills q with each seat's need: the input delay in seconds that lets the player at p and the first
// loudspeaker arrive together; -Inf at a seat that no stack reaches. It returns the least and the greatest need of
// the n seats that are reached.
func (l *standing) Needs(h *Heard, p layout.Point, q []float64) (lo, hi float64, n int) {
	lo, hi = math.Inf(1), math.Inf(-1)
	sPerM := 1 / l.System.SpeedMPS
	x, y, z, first := l.x[:len(q)], l.y[:len(q)], l.z[:len(q)], h.FirstS[:len(q)]
	for j := range q {
		dx, dy, dz := p.X-x[j], p.Y-y[j], p.Z-z[j]
		v := math.Sqrt(dx*dx+dy*dy+dz*dz)*sPerM - first[j]
		if q[j] = v; !reached(v) {
			continue
		}
		if n++; v < lo {
			lo = v
		}
		if v > hi {
			hi = v
		}
	}
	return lo, hi, n
}

// needAt is the reference seat's need, in seconds; false where no stack reaches it.
func (l *standing) needAt(h *Heard, p layout.Point) (reference float64, ok bool) {
	return p.Distance(l.Reference)/l.System.SpeedMPS - h.Reference.TimeS, h.Reference.OK
}

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
	l *standing

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
func (l *standing) DelayChooser() *DelayChooser {
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
		return a.LeadS + chooses[policy](c, a), true
	}
	return chooses[policy](c, a), true
}

// chooses is what each policy's term says, without the lead; reference asks no seat.
var chooses = map[*Policy]func(c *DelayChooser, a Aim) (delayS float64){
	MostSeats:  mostSeats,
	Joint:      mostSeats,
	LeastError: func(c *DelayChooser, _ Aim) float64 { return c.order().median() },
	NeverEarly: func(c *DelayChooser, _ Aim) float64 { return c.hi },
}

func mostSeats(c *DelayChooser, a Aim) float64 {
	delayS, _ := c.order().mostSeats(c.reference, c.reached, a)
	return delayS
}

// Joint searches pan and delay together for the most seats in the window: of the pan steps that allowed lets
// through, the one whose best delay has the largest weight; of equal ones the step nearest to from, the true
// direction's, then the smallest |k|, then the smaller k. ok is false where no step reaches a seat.
func (c *DelayChooser) Joint(p layout.Point, from int, allowed func(k int) bool, a Aim) (k int, ok bool) {
	best := -1.0
	for n := -c.l.steps; n <= c.l.steps; n++ {
		if n != from && !allowed(n) {
			continue
		}
		c.hear(c.l.AtPan(n), p)
		if c.n == 0 {
			continue
		}
		_, weight := c.order().mostSeats(c.reference, c.reached, a)
		if weight > best+slack || weight > best-slack && nearer(n, k, from) {
			best, k, ok = max(weight, best), n, true
		}
	}
	return k, ok
}

func nearer(a, b, from int) bool {
	switch {
	case abs(a-from) != abs(b-from):
		return abs(a-from) < abs(b-from)
	case abs(a) != abs(b):
		return abs(a) < abs(b)
	}
	return a < b
}
