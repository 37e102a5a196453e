package path

import "math"

// leastPlateau is the least number of samples for which it is worth a look whether they can be gone over in one step.
const leastPlateau = 16

// plateau is a stretch of samples in which nothing moves and none must be a knot: somebody stands there.
type plateau struct {
	from, to int
	fresh    bool // worst is up to date
}

// plateaus are those of a trail. All lines that pass one are bounded by its first and its last sample, since what bounds
// their slopes, the same rise over a longer and longer run, only rises or only falls. So a line that has no end to
// improve there goes over it in one step, and standing takes no longer than its samples.
type plateaus struct {
	trail    *Trail
	best     [][3]vertex
	list     []plateau
	of       []int     // by sample: its plateau, -1 for none
	steepest []float64 // by sample: the least of steep from the next one on to its plateau's end
	worst    []vertex  // by sample: the worst of best from it on to that end, less the offset there
}

// plateaus finds those of a trail.
func (t *Trail) plateaus(best [][3]vertex) *plateaus {
	n := len(t.Counts)
	x := &plateaus{trail: t, best: best, of: make([]int, n), steepest: make([]float64, n), worst: make([]vertex, n)}
	for from := 0; from < n; {
		to := from
		for to+1 < n && !t.Forced[from] && !t.Forced[to+1] && t.Counts[to+1] > t.Counts[to] && t.same(to, to+1) {
			to++
		}
		number := -1
		if to-from+1 >= leastPlateau {
			number = len(x.list)
			x.list = append(x.list, plateau{from: from, to: to})
		}
		least := math.Inf(1)
		for k := to; k >= from; k-- {
			x.of[k], x.steepest[k] = number, least
			if k > from && t.DelayMS != nil {
				least = min(least, t.steep(k))
			}
		}
		from = to + 1
	}
	return x
}

// same reports whether two samples have the same values.
func (t *Trail) same(a, b int) bool {
	if t.DelayMS != nil && t.DelayMS[a] != t.DelayMS[b] {
		return false
	}
	for _, c := range t.Others {
		if c.At[a] != c.At[b] {
			return false
		}
	}
	return true
}

// over is the plateau that a line goes over from a sample on, nil for none: it begins there, or the line does just before,
// and no end on it would be reached better than it is.
func (x *plateaus) over(b int, first bool, v vertex) *plateau {
	if x.of[b] < 0 {
		return nil
	}
	p := &x.list[x.of[b]]
	if !first && b != p.from {
		return nil
	}
	if !p.fresh {
		x.refresh(p)
	}
	if v.less(x.worst[b]) {
		return nil
	}
	return p
}

// changed notes that a sample is reached better.
func (x *plateaus) changed(b int) {
	if x.of[b] >= 0 {
		x.list[x.of[b]].fresh = false
	}
}

// refresh finds what is worst from each sample of a plateau on.
func (x *plateaus) refresh(p *plateau) {
	worst := vertex{lines: 1, offsets: -1}
	for k := p.to; k >= p.from; k-- {
		for i, o := range offsets {
			if v := x.best[k][i]; worst.lines > 0 && x.trail.may(k, o) {
				if v.offsets -= abs(o); v.lines == 0 || worst.less(v) {
					worst = v
				}
			}
		}
		x.worst[k] = worst
	}
	p.fresh = true
}
