package path

import "math"

// Coordinate is something that glides with the delay, such as the pan: its wanted value at each sample, and how far off a
// straight line may be.
type Coordinate struct {
	At        []float64
	Tolerance float64
}

// Trail is the path of a stretch that straight lines are to say.
type Trail struct {
	Counts []float64 // of each sample; the lines are straight in these
	StepS  []float64 // the seconds since the sample before in which the delay may move
	Forced []bool    // the samples that must be knots; the first and the last always are

	DelayMS     []float64 // nil if the delay does not glide
	ToleranceMS float64   // how far off the delay may be, at the knots too
	MaxMS       float64   // the longest delay of the mixer
	SlewMSPS    float64   // the fastest glide

	Others []Coordinate
}

// TrailKnot is an end of a straight line: the sample, and by how many tolerances its delay is off, -1, 0 or 1.
type TrailKnot struct{ Sample, Offset int }

// vertex is how a knot is best reached.
type vertex struct {
	lines, offsets int // lines is 0 where it is not reached
	from, offset   int // the knot before
}

// less puts fewer lines first, then fewer offsets.
func (v vertex) less(w vertex) bool {
	return w.lines == 0 || v.lines < w.lines || v.lines == w.lines && v.offsets < w.offsets
}

// offsets are tried in this order.
var offsets = [3]int{0, -1, 1}

// Knots says the trail with the fewest straight lines that stay within the tolerances at every sample and never move the
// delay faster than the slew from a sample to the next. Of these it takes the one with the fewest knots off the path,
// then, from the end, no offset before -1 before +1, each knot before as early as can be, and there its offset in the
// same order. It is a shortest path over all samples and offsets; the lines from one knot are found by the range of
// slopes that the samples passed leave (H. Imai and M. Iri, Computer Vision, Graphics and Image Processing 36, 1986).
func (t *Trail) Knots() []TrailKnot {
	last := len(t.Counts) - 1
	if last <= 0 {
		return []TrailKnot{{}}[:last+1]
	}
	best := make([][3]vertex, last+1)
	flat := t.plateaus(best)
	for i, o := range offsets {
		if t.may(0, o) {
			best[0][i] = vertex{lines: 1, offsets: abs(o)}
		}
	}
	for a := range last {
		for i, o := range offsets {
			if v := best[a][i]; v.lines > 0 {
				t.lines(a, o, vertex{lines: v.lines + 1, offsets: v.offsets, from: a, offset: i}, best, flat)
			}
		}
	}
	end := 0
	for i := range offsets {
		if v := best[last][i]; v.lines > 0 && v.less(best[last][end]) {
			end = i
		}
	}
	knots := make([]TrailKnot, best[last][end].lines)
	for k, n := last, len(knots)-1; n >= 0; n-- {
		v := best[k][end]
		knots[n] = TrailKnot{k, offsets[end]}
		k, end = v.from, v.offset
	}
	return knots
}

func abs(o int) int {
	if o < 0 {
		return -o
	}
	return o
}

// may reports whether a knot may be at a sample with an offset.
func (t *Trail) may(k, offset int) bool {
	if offset == 0 {
		return true
	}
	if t.DelayMS == nil || t.ToleranceMS <= 0 {
		return false
	}
	v := t.ms(k, offset)
	return v >= -tiny && v <= t.MaxMS+tiny
}

// ms is the delay of a knot.
func (t *Trail) ms(k, offset int) float64 {
	if t.DelayMS == nil {
		return 0
	}
	return t.DelayMS[k] + float64(offset)*t.ToleranceMS
}

// slopes is a range of slopes.
type slopes struct{ lo, hi float64 }

var anySlope = slopes{math.Inf(-1), math.Inf(1)}

// through narrows the range to lines that pass within a tolerance of a value that is so much higher and later.
func (s *slopes) through(rise, tolerance, run float64) {
	s.lo, s.hi = max(s.lo, (rise-tolerance)/run), min(s.hi, (rise+tolerance)/run)
}

func (s slopes) has(slope float64) bool { return slope >= s.lo && slope <= s.hi }

// lines tries all lines from a knot, as v says how their ends are reached, and keeps what is better. It goes over a
// plateau in one step if that has nothing to improve.
func (t *Trail) lines(a, offset int, v vertex, best [][3]vertex, flat *plateaus) {
	delay, others := anySlope, make([]slopes, len(t.Others))
	for i := range others {
		others[i] = anySlope
	}
	steepest := math.Inf(1) // of the delay, that the slew allows
	from := t.ms(a, offset)
	for b := a + 1; b < len(t.Counts); b++ {
		run := t.Counts[b] - t.Counts[a]
		if t.DelayMS != nil {
			steepest = min(steepest, t.steep(b))
		}
		if p := flat.over(b, b == a+1, v); p != nil {
			steepest = min(steepest, flat.steepest[b])
			if p.to == len(t.Counts)-1 || !t.narrow(a, b, from, run, &delay, others) ||
				!t.narrow(a, p.to, from, t.Counts[p.to]-t.Counts[a], &delay, others) {
				return
			}
			b = p.to
			continue
		}
		if t.straight(a, b, run, others) {
			for i, o := range offsets {
				if t.DelayMS != nil && !t.rises(t.ms(b, o)-from, run, b == a+1, t.StepS[b], delay, steepest) {
					continue
				}
				next := v
				next.offsets += abs(o)
				if t.may(b, o) && next.less(best[b][i]) {
					best[b][i] = next
					flat.changed(b)
				}
			}
		}
		if b == len(t.Counts)-1 || t.Forced[b] || !t.narrow(a, b, from, run, &delay, others) {
			return
		}
	}
}

// steep is the steepest slope that the slew allows from the sample before.
func (t *Trail) steep(b int) float64 {
	return (t.SlewMSPS*t.StepS[b] + tiny) / (t.Counts[b] - t.Counts[b-1])
}

// straight reports whether the other coordinates are straight enough from a to b.
func (t *Trail) straight(a, b int, run float64, others []slopes) bool {
	if b == a+1 {
		return true
	}
	for i, c := range t.Others {
		if !others[i].has((c.At[b] - c.At[a]) / run) {
			return false
		}
	}
	return true
}

// rises reports whether the delay may rise so much in a run of counts. From a sample to the next, the seconds say so: the
// ends of a wait between movements are on the same count.
func (t *Trail) rises(rise, run float64, next bool, stepS float64, delay slopes, steepest float64) bool {
	if next {
		return math.Abs(rise) <= t.SlewMSPS*stepS+tiny
	}
	slope := rise / run
	return delay.has(slope) && math.Abs(slope) <= steepest
}

// narrow takes in sample b, which a line from a will pass, and reports whether any line still may.
func (t *Trail) narrow(a, b int, fromMS, run float64, delay *slopes, others []slopes) bool {
	if run <= 0 { // only at the end of a movement, where a knot is forced
		return false
	}
	if t.DelayMS != nil {
		delay.through(t.DelayMS[b]-fromMS, t.ToleranceMS+tiny, run)
		if delay.lo > delay.hi {
			return false
		}
	}
	for i, c := range t.Others {
		others[i].through(c.At[b]-c.At[a], c.Tolerance+tiny, run)
		if others[i].lo > others[i].hi {
			return false
		}
	}
	return true
}
