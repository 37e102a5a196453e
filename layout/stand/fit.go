package stand

import (
	"math"
	"slices"

	"backfield/layout"
)

// Fit is how well a delay serves the stand: shares of the seats' weight that hear the loudspeaker inside the
// window, ahead of the player (early), or more than the window behind him (late), the worst of either in
// milliseconds (late beyond the window's end), and the median lateness. Where a player walks it is over all
// seats and all moments looked at.
type Fit struct {
	Inside, Early, Late       float64
	WorstEarlyMS, WorstLateMS float64
	MedianMS                  float64
}

// tally adds up a Fit over moments.
type tally struct {
	inside, early, late   float64
	worstEarly, worstLate float64
	all                   []need
}

func (t *tally) reset() { *t = tally{all: t.all[:0]} }

// add takes the needs of all seats at one place, their weights, how long he is there, and the delay that is
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
		t.all = append(t.all, need{lateness, weight})
	}
}

// fit is the result; ok is false when no seat was counted.
func (t *tally) fit() (f Fit, ok bool) {
	total := t.inside + t.early + t.late
	if total == 0 {
		return f, false
	}
	return Fit{t.inside / total, t.early / total, t.late / total, 1000 * t.worstEarly, 1000 * t.worstLate, 1000 * median(t.all, total)}, true
}

// Fit is how a delay serves the stand over a player's way, where each place counts as often as it is listed.
func (c *Chooser) Fit(h *Heard, way []layout.Point, delayS, windowS float64) (Fit, bool) {
	if len(way) > 0 && !slices.ContainsFunc(way, func(p layout.Point) bool { return p != way[0] }) { // he stands
		c.hear(h, way[0])
		if c.n == 0 {
			return Fit{}, false
		}
		return c.order().fit(delayS, windowS), true
	}
	c.tally.reset()
	for i := 0; i < len(way); {
		n := i + 1
		for n < len(way) && way[n] == way[i] {
			n++
		}
		c.hear(h, way[i])
		c.tally.add(c.q, c.l.w, float64(n-i), delayS, windowS)
		i = n
	}
	return c.tally.fit()
}

// median is the lower weighted median by a histogram: the bin that holds it is found first, and only that
// bin's values are sorted.
func median(all []need, total float64) float64 {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, n := range all {
		lo, hi = min(lo, n.q), max(hi, n.q)
	}
	const bins = 512
	width := (hi - lo) / bins
	if width == 0 {
		return lo
	}
	var weight [bins + 1]float64
	for _, n := range all {
		weight[int((n.q-lo)/width)] += n.w
	}
	half, sum, bin := total/2*(1-1e-12), 0.0, 0
	for ; bin < bins && sum+weight[bin] < half; bin++ {
		sum += weight[bin]
	}
	var inside []need
	for _, n := range all {
		if int((n.q-lo)/width) == bin {
			inside = append(inside, n)
		}
	}
	slices.SortFunc(inside, byTime)
	for _, n := range inside {
		if sum += n.w; sum >= half {
			return n.q
		}
	}
	return inside[len(inside)-1].q
}
