package stands

import (
	"math"
	"sync"

	"backfield/layout"
)

// energyRow holds, for one pan step, the direction that the stacks' energy comes from at each seat, in plan: a
// unit vector, or zero where there is none. The rough ones are those of the seats that a coarse scan looks at.
type energyRow struct {
	once           sync.Once
	ex, ey         []float64
	roughX, roughY []float64
}

func (l *Listeners) energyAt(k int) *energyRow {
	row := &l.energy[k+l.steps]
	row.once.Do(func() {
		g := l.System.Gains(float64(k) / float64(l.steps))
		row.ex, row.ey = make([]float64, len(l.x)), make([]float64, len(l.x))
		for i, v := range g {
			if v *= v; v == 0 {
				continue
			}
			add(row.ex, v, l.ux[i])
			add(row.ey, v, l.uy[i])
		}
		ey := row.ey[:len(row.ex)]
		for j, x := range row.ex {
			y := ey[j]
			if n := x*x + y*y; n > 0 {
				n = 1 / math.Sqrt(n)
				row.ex[j], ey[j] = x*n, y*n
			}
		}
		row.roughX, row.roughY = some(row.ex, nil), some(row.ey, nil)
	})
	return row
}

// add adds v times each of b to a.
func add(a []float64, v float64, b []float64) {
	b = b[:len(a)]
	for j := range a {
		a[j] += v * b[j]
	}
}

// energyFrom is the energy vector at seat j, in plan, of a mic that reaches the stacks with amplitudes g.
func (l *Listeners) energyFrom(g []float64, j int) (x, y float64) {
	for i, v := range g {
		x, y = x+v*v*l.ux[i][j], y+v*v*l.uy[i][j]
	}
	return x, y
}

// roughSeats is how many seats a coarse scan looks at, at least: every seventh of full stands was as good
// as all of them in every scene tried, every seventh of a few dozen seats was not.
const roughSeats = 300

// some appends the values of the seats that a coarse scan looks at to a list.
func some(values, list []float64) []float64 {
	every := min(7, 1+len(values)/roughSeats)
	for j := 0; j < len(values); j += every {
		list = append(list, values[j])
	}
	return list
}

// PanChooser fits pans for one set of seats; it holds scratch space and serves one goroutine.
type PanChooser struct {
	l             *Listeners
	px, py        []float64 // weighted unit vectors toward the player
	rx, ry        []float64 // the same, of the seats that a coarse scan looks at
	costs, roughs []float64 // by pan step, NaN where not computed yet; the rough ones except for a constant
}

// PanChooser makes one.
func (l *Listeners) PanChooser() *PanChooser {
	steps := 2*l.steps + 1
	return &PanChooser{l: l, px: make([]float64, len(l.x)), py: make([]float64, len(l.x)),
		costs: make([]float64, steps), roughs: make([]float64, steps)}
}

// tie is how close two costs are when they count as equal.
const tie = 1e-12

// Fit returns the pan step whose image is nearest to the player's true direction over all seats: the
// least weighted mean over seats of 1 - cos of the angle between the energy vector and the player, in plan
// (energy vector: M. A. Gerzon, AES preprint 3306, 1992). Of equal costs the smallest |k| is taken, then the
// smaller k. The search looks at every few steps on some of the seats, walks down from each low point there, and
// from where that ends walks down exactly.
func (c *PanChooser) Fit(p layout.Point) int {
	c.aim(p)
	n := c.l.steps
	stride := max(1, n/20)
	best, found := 0, false
	for from := -n; from < n+stride; from += stride {
		k := min(from, n)
		if v := c.rough(k); c.rough(max(from-stride, -n)) < v || c.rough(min(k+stride, n)) < v {
			continue
		}
		k = c.descend(c.descendRough(k))
		if !found || c.better(k, best) {
			best, found = k, true
		}
	}
	return best
}

// aim works out where the player is seen from each seat.
func (c *PanChooser) aim(p layout.Point) {
	x := c.l.x
	y, w, px, py := c.l.y[:len(x)], c.l.w[:len(x)], c.px[:len(x)], c.py[:len(x)]
	for j := range x {
		dx, dy := p.X-x[j], p.Y-y[j]
		f := 0.0
		if plan := dx*dx + dy*dy; plan > 0 {
			f = w[j] / math.Sqrt(plan)
		}
		px[j], py[j] = dx*f, dy*f
	}
	c.rx, c.ry = some(c.px, c.rx[:0]), some(c.py, c.ry[:0])
	for i := range c.costs {
		c.costs[i], c.roughs[i] = math.NaN(), math.NaN()
	}
}

// rough is the cost of a pan step as some of the seats have it, except for a constant.
func (c *PanChooser) rough(k int) float64 {
	v := &c.roughs[k+c.l.steps]
	if math.IsNaN(*v) {
		row := c.l.energyAt(k)
		*v = -dot(c.rx, row.roughX, c.ry, row.roughY)
	}
	return *v
}

// cost is the exact cost of a pan step.
func (c *PanChooser) cost(k int) float64 {
	v := &c.costs[k+c.l.steps]
	if math.IsNaN(*v) {
		row := c.l.energyAt(k)
		*v = 1 - dot(c.px, row.ex, c.py, row.ey)/c.l.total
	}
	return *v
}

// dot sums a*b + c*d in four lanes, which the processor can keep busy at once.
func dot(a, b, c, d []float64) float64 {
	n := len(a)
	b, c, d = b[:n], c[:n], d[:n]
	var s0, s1, s2, s3 float64
	j := 0
	for ; j < n-3; j += 4 {
		s0 += a[j]*b[j] + c[j]*d[j]
		s1 += a[j+1]*b[j+1] + c[j+1]*d[j+1]
		s2 += a[j+2]*b[j+2] + c[j+2]*d[j+2]
		s3 += a[j+3]*b[j+3] + c[j+3]*d[j+3]
	}
	for ; j < n; j++ {
		s0 += a[j]*b[j] + c[j]*d[j]
	}
	return s0 + s1 + s2 + s3
}

// descendRough walks from a step downwards as some of the seats have it.
func (c *PanChooser) descendRough(k int) int {
	for _, dir := range []int{-1, 1} {
		for n := k + dir; n >= -c.l.steps && n <= c.l.steps && c.rough(n) < c.rough(k); n += dir {
			k = n
		}
	}
	return k
}

// descend walks from a step to the bottom of its valley, passing over flat ground.
func (c *PanChooser) descend(k int) int {
	best := k
	for _, dir := range []int{-1, 1} {
		for n := best + dir; n >= -c.l.steps && n <= c.l.steps && c.cost(n) <= c.cost(best)+tie; n += dir {
			if c.better(n, best) {
				best = n
			}
		}
	}
	return best
}

// better reports whether step a is to be preferred to b.
func (c *PanChooser) better(a, b int) bool {
	if ca, cb := c.cost(a), c.cost(b); math.Abs(ca-cb) > tie {
		return ca < cb
	}
	if abs(a) != abs(b) {
		return abs(a) < abs(b)
	}
	return a < b
}

func abs(k int) int {
	if k < 0 {
		return -k
	}
	return k
}
