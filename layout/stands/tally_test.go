package stands

import (
	"slices"

	"backfield/layout"
)

// Fit is how well a delay works for the stands over a player's path, where each place counts as often as it is listed.
// ok is false when no seat was counted.
func (c *DelayChooser) Fit(h *Heard, way []layout.Point, delayS, windowS float64) (f Fit, ok bool) {
	if len(way) > 0 && !slices.ContainsFunc(way, func(p layout.Point) bool { return p != way[0] }) { // no walk
		c.hear(h, way[0])
		if c.n == 0 {
			return f, false
		}
		return c.order().fit(delayS, windowS), true
	}
	c.tally.reset()
	c.along(h, way, func(times float64) { c.tally.add(c.q, c.l.w, times, delayS, windowS) })
	bin, before := c.tally.middle()
	c.along(h, way, func(times float64) { c.tally.collect(c.q, c.l.w, times, delayS, bin) })
	return c.tally.fit(before)
}

// along has the needs at each place of a way in turn, and how often it is listed there.
func (c *DelayChooser) along(h *Heard, way []layout.Point, do func(times float64)) {
	for i := 0; i < len(way); {
		n := i + 1
		for n < len(way) && way[n] == way[i] {
			n++
		}
		c.hear(h, way[i])
		do(float64(n - i))
		i = n
	}
}

// tally adds up a Fit over places. The median is found by a histogram, so that the lateness of every seat at every
// place need not be in memory at once: what is in its bin is collected in a second round, and only that is sorted.
type tally struct {
	inside, early, late   float64
	worstEarly, worstLate float64
	weight                [2 * binsPerS * reachS]float64 // by lateness
	collected             []need
}

// The histogram's bins: half a millisecond each, over sounds that are up to a second apart, as 340 m make them. What
// is further off is put into the outermost.
const binsPerS, reachS = 2000, 1

func binOf(latenessS float64) int {
	return max(0, min(int((latenessS+reachS)*binsPerS), 2*binsPerS*reachS-1))
}

func (t *tally) reset() { *t = tally{collected: t.collected[:0]} }

// add takes the needs of all seats at one place, their weights, how long the player is there, and the delay that is
// sent.
func (t *tally) add(q, w []float64, times, delayS, windowS float64) {
	for j, n := range q {
		if !reached(n) {
			continue
		}
		lateness, weight := delayS-n, w[j]*times
		switch {
		case lateness < -slack:
			t.early += weight
			t.worstEarly = max(t.worstEarly, -lateness)
		case lateness > windowS+slack:
			t.late += weight
			t.worstLate = max(t.worstLate, lateness-windowS)
		default:
			t.inside += weight
		}
		t.weight[binOf(lateness)] += weight
	}
}

// half is the weight that the lower weighted median has at or before it.
func (t *tally) half() float64 { return (t.inside + t.early + t.late) / 2 * (1 - 1e-12) }

// middle is the bin of the median, and the weight before it.
func (t *tally) middle() (bin int, before float64) {
	for ; bin < len(t.weight)-1 && before+t.weight[bin] < t.half(); bin++ {
		before += t.weight[bin]
	}
	return bin, before
}

// collect keeps what is in one bin at one place.
func (t *tally) collect(q, w []float64, times, delayS float64, bin int) {
	for j, n := range q {
		if reached(n) && binOf(delayS-n) == bin {
			t.collected = append(t.collected, need{delayS - n, w[j] * times})
		}
	}
}

// fit is the result, once the needs in the median's bin are collected.
func (t *tally) fit(before float64) (f Fit, ok bool) {
	total := t.inside + t.early + t.late
	if total == 0 {
		return f, false
	}
	slices.SortFunc(t.collected, byTime)
	middle := 0.0
	for _, n := range t.collected {
		middle = n.q
		if before += n.w; before >= t.half() {
			break
		}
	}
	return Fit{Inside: t.inside / total, Early: t.early / total, Late: t.late / total,
		WorstEarlyMS: 1000 * t.worstEarly, WorstLateMS: 1000 * t.worstLate, MedianMS: 1000 * middle}, true
}
