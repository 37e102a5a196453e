package stand

import (
	"math"
	"sync"

	"backfield/layout"
	"backfield/layout/sound"
)

// energyRow holds, for one pan step, the direction that the stacks' energy comes from at each seat, in plan: a
// unit vector, or zero where there is none.
type energyRow struct {
	once   sync.Once
	ex, ey []float64
}

func (l *Listeners) energyAt(k int) *energyRow {
	row := &l.energy[k+l.steps]
	row.once.Do(func() {
		g := l.System.Gains(float64(k) / float64(l.steps))
		row.ex, row.ey = make([]float64, len(l.x)), make([]float64, len(l.x))
		for j := range l.x {
			x, y := l.energyFrom(g, j)
			if n := math.Hypot(x, y); n > 0 {
				row.ex[j], row.ey[j] = x/n, y/n
			}
		}
	})
	return row
}

// energyFrom is the energy vector at seat j, in plan, of a mic that reaches the stacks with amplitudes g. A stack
// straight above is from no side.
func (l *Listeners) energyFrom(g []float64, j int) (x, y float64) {
	for i := range g {
		if g[i] == 0 {
			continue
		}
		at := &l.System.Stacks[i].At
		dx, dy := at.X-l.x[j], at.Y-l.y[j]
		if plan := math.Hypot(dx, dy); plan > 0 {
			v := sound.LevelAt(g[i], l.dist[i][j])
			x, y = x+v*dx/plan, y+v*dy/plan
		}
	}
	return x, y
}

// PanChooser fits pans for one stand; it holds scratch space and serves one goroutine.
type PanChooser struct {
	l      *Listeners
	px, py []float64 // weighted unit vectors towards the player
	costs  []float64 // by pan step, NaN where not worked out yet
}

// PanChooser makes one.
func (l *Listeners) PanChooser() *PanChooser {
	return &PanChooser{l: l, px: make([]float64, len(l.x)), py: make([]float64, len(l.x)), costs: make([]float64, 2*l.steps+1)}
}

// tie is how close two costs are when they count as equal.
const tie = 1e-12

// Fit returns the pan step whose image lies nearest to the player's true direction over the whole stand: the
// least weighted mean over seats of 1 - cos of the angle between the energy vector and the player, in plan
// (energy vector: M. A. Gerzon, AES preprint 3306, 1992). Of equal costs the smallest |k| is taken, then the
// smaller k. The search walks down exactly from each low point of a coarse scan.
func (c *PanChooser) Fit(p layout.Point) int {
	c.aim(p)
	n := c.l.steps
	for i := range c.costs {
		c.costs[i] = math.NaN()
	}
	stride := max(1, n/20)
	coarse := make([]float64, 0, 2*n/stride+1)
	var at []int
	for k := -n; ; k += stride {
		k = min(k, n)
		at = append(at, k)
		coarse = append(coarse, c.rough(k))
		if k == n {
			break
		}
	}
	best := 0
	for i, v := range coarse {
		if (i == 0 || v <= coarse[i-1]) && (i == len(coarse)-1 || v <= coarse[i+1]) {
			if k := c.descend(at[i]); c.better(k, best) {
				best = k
			}
		}
	}
	return best
}

// aim works out where the player is seen from each seat.
func (c *PanChooser) aim(p layout.Point) {
	for j := range c.px {
		dx, dy := p.X-c.l.x[j], p.Y-c.l.y[j]
		c.px[j], c.py[j] = 0, 0
		if plan := math.Sqrt(dx*dx + dy*dy); plan > 0 {
			c.px[j], c.py[j] = c.l.w[j]*dx/plan, c.l.w[j]*dy/plan
		}
	}
}

// roughSeats is how many seats the coarse scan looks at, at least: every seventh of a full stand was as good
// as all of them in every scene tried, every seventh of a few dozen seats was not.
const roughSeats = 300

func (c *PanChooser) rough(k int) float64 {
	row := c.l.energyAt(k)
	every := min(7, 1+len(c.px)/roughSeats)
	sum := 0.0
	for j := 0; j < len(c.px); j += every {
		sum += c.px[j]*row.ex[j] + c.py[j]*row.ey[j]
	}
	return -sum
}

// cost is the exact cost of a pan step.
func (c *PanChooser) cost(k int) float64 {
	if v := c.costs[k+c.l.steps]; !math.IsNaN(v) {
		return v
	}
	row := c.l.energyAt(k)
	v := 1 - dot(c.px, row.ex, c.py, row.ey)/c.l.total
	c.costs[k+c.l.steps] = v
	return v
}

// dot sums a*b + c*d in four lanes, which the processor can keep busy at once.
func dot(a, b, c, d []float64) float64 {
	n := len(a)
	b, c, d = b[:n], c[:n], d[:n]
	var s0, s1, s2, s3 float64
	j := 0
	for ; j+4 <= n; j += 4 {
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
