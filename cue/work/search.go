package work

import (
	"math"
	"slices"

	"backfield/cue"
	"backfield/layout"
	"backfield/layout/path"
	"backfield/layout/stands"
)

// solve finds the path of a stretch.
func (s *CompileSetup) solve(h *scratch, q *stretchInput) *StretchPath {
	x := &pathSolver{CompileSetup: s, scratch: h, q: q}
	h.needs.LaterMS = q.LaterMS
	best, most, _ := x.path(0, math.Inf(-1))
	if x.turns() {
		for deg := 1; float64(deg) <= s.rules.JointDeg+1e-9; deg++ {
			for _, turn := range []int{-deg, deg} {
				if p, sum, ok := x.path(turn, most+1e-12); ok {
					best, most = p, sum
				}
			}
		}
	}
	x.makeUp(best)
	x.knots(best)
	x.fit(best)
	best.HeldShare = x.held(best)
	return best
}

// pathSolver finds the path of one stretch.
type pathSolver struct {
	*CompileSetup
	*scratch
	q *stretchInput

	turn, turnKept int // of the path being searched, and of that whose needs are kept
	keptN          int // how many are
}

// turns reports whether turning the player may serve more seats.
func (x *pathSolver) turns() bool {
	return !x.rules.Zones && x.q.Pan == nil && x.q.DelayMS == nil &&
		slices.ContainsFunc(x.q.Samples, func(k sampleInput) bool { return k.Policy.MovesPan })
}

// wanted is the pan or the place of every sample. Where the policy is joint, the player is turned by some degrees.
func (x *pathSolver) wanted(turnDeg int) []float64 {
	want := make([]float64, len(x.q.Samples))
	for k := range want {
		at := x.q.Samples[k].At
		switch {
		case x.q.Samples[k].Policy.MovesPan:
			at = turned(at, x.Rig.Reference, turnDeg)
		case k > 0 && at == x.q.Samples[k-1].At && !x.q.Samples[k-1].Policy.MovesPan:
			want[k] = want[k-1]
			continue
		}
		want[k] = x.wantedAt(at)
	}
	if x.rules.Zones && x.rules.ZonesMost == 1 {
		x.oneByOne(want)
	}
	return want
}

func (x *pathSolver) wantedAt(at layout.Point) float64 {
	if x.rules.Zones {
		return x.row.Place(at.Azimuth(x.Rig.Reference))
	}
	if x.q.Pan != nil {
		return *x.q.Pan
	}
	return x.want(x.scratch, at)
}

// turned is a place turned around another, in plan.
func turned(at, around layout.Point, deg int) layout.Point {
	if deg == 0 {
		return at
	}
	az := at.Azimuth(around) + float64(deg)*math.Pi/180
	d := math.Hypot(at.X-around.X, at.Y-around.Y)
	return layout.Point{X: around.X + d*math.Sin(az), Y: around.Y + d*math.Cos(az), Z: at.Z}
}

// oneByOne turns places into those of the nearer stack alone. When another becomes the nearer one, the place goes
// straight there in a second, and the next change waits until that is over.
func (x *pathSolver) oneByOne(want []float64) {
	nearer := func(place float64) float64 {
		k := min(math.Floor(place), float64(max(len(x.row.Order)-2, 0)))
		if place-k <= 0.5+1e-9 {
			return k
		}
		return k + 1
	}
	from, to := nearer(want[0]), nearer(want[0])
	goneS := 1.0 // since the place left from
	for k := range want {
		if k > 0 {
			goneS += x.q.Samples[k].StepS
		}
		if next := nearer(want[k]); goneS >= 1-1e-9 && next != to {
			from, to, goneS = to, next, 0
		}
		want[k] = from + (to-from)*min(goneS, 1)
	}
}

// searched is what the search needs of a sample.
type searched struct {
	gains  []float64
	twin   bool    // all is as at the sample before
	heard  bool    // a stack carries the mic
	want   float64 // in ms, where the policy says it
	b1, b2 float64 // the box's bound on the delay
	bound  bool    // it has one
}

// path is the best path with the player turned by some degrees, and the sum of its values less its moves; ok is false if
// that is not over a limit.
func (x *pathSolver) path(turnDeg int, limit float64) (p *StretchPath, sum float64, ok bool) {
	n := len(x.q.Samples)
	x.turn, x.keptN = turnDeg, 0
	p = &StretchPath{Want: x.wanted(turnDeg), TurnDeg: turnDeg, NeedMS: make([]float64, n), WantMS: make([]float64, n)}
	list := sized(x.searched, n)
	x.searched = list
	low, high := math.Inf(1), math.Inf(-1)
	reach := func(a, b float64) { low, high = min(low, a), max(high, b) }
	for k := range list {
		x.listen(p, k, list)
		at, q := &list[k], &x.q.Samples[k]
		p.Heard = p.Heard || at.heard
		switch {
		case !at.heard:
		case !q.Policy.FromSeats():
			reach(at.want, at.want)
		case at.bound:
			reach(at.b1-besideBoxMS, at.b2+beyondBoxMS)
		default:
			x.needs.Hear(at.gains, q.At)
			w := x.rules.Window
			reach(x.needs.LeastMS+w.LeastMS-w.MarginMS, x.needs.MostMS+w.MostMS+w.MarginMS)
		}
	}
	if x.q.DelayMS != nil {
		p.SceneMS = x.sent(*x.q.DelayMS)
		p.DelayMS = slices.Repeat([]float64{p.SceneMS}, n)
		return p, 0, true
	}
	grid := x.grid(low, high)
	x.search.Begin(grid, path.MoveRules{Jumps: !x.rules.glides(), SlewMSPS: x.rules.SlewMSPS, Still: still})
	x.rows = sized(x.rows, n*grid.N)
	var row []float64
	for k := range list {
		q := &x.q.Samples[k]
		if !list[k].twin {
			row = x.rows[k*grid.N : (k+1)*grid.N]
			x.values(row, grid, k)
		}
		x.search.Add(path.Instant{WeightS: q.WeightS, StepS: q.StepS, PriceS: x.price(q)}, row)
	}
	var found []int
	if ok = math.IsInf(limit, -1); ok {
		found, sum = x.search.Path()
	} else if found, sum, ok = x.search.PathOver(limit); !ok {
		return nil, sum, false
	}
	p.DelayMS = make([]float64, n)
	for k, i := range found {
		p.DelayMS[k] = grid.MS(i)
	}
	if p.SceneMS = x.sent(p.DelayMS[0]); x.jumps() {
		stay, _ := x.search.Stay()
		p.SceneMS = x.sent(grid.MS(stay))
	}
	return p, sum, true
}

// listen fills in what a sample's search needs.
func (x *pathSolver) listen(p *StretchPath, k int, list []searched) {
	q := &x.q.Samples[k]
	if k > 0 {
		b := &x.q.Samples[k-1]
		if q.At == b.At && p.Want[k] == p.Want[k-1] {
			list[k] = list[k-1]
			p.NeedMS[k], p.WantMS[k] = p.NeedMS[k-1], p.WantMS[k-1]
			if list[k].twin = q.Policy == b.Policy && q.Box == b.Box; list[k].twin {
				return
			}
		}
	}
	at := searched{}
	at.gains = x.GainsAt(p.Want[k])
	p.NeedMS[k], _, at.heard = x.Listeners.BoxNeedMS(at.gains, q.At)
	p.NeedMS[k] -= x.q.LaterMS
	p.WantMS[k] = math.NaN()
	if !at.heard {
		p.NeedMS[k] = math.NaN()
		list[k] = at
		return
	}
	if !q.Policy.FromSeats() {
		wanted := p.NeedMS[k]
		if q.Policy.NeedsStands && x.Listeners.Len() > 0 {
			x.needs.Hear(at.gains, q.At)
			wanted = q.Policy.WantMS(x.needs, x.rules.KnotMS)
		}
		if q.Policy.PlusLead || !q.Policy.NeedsStands {
			wanted += x.rules.LeadMS
		}
		p.WantMS[k] = wanted
		at.want = max(0, wanted)
	}
	if at.bound = !q.Box.Free; at.bound {
		at.b1, at.b2 = q.Box.DelayMS(p.NeedMS[k])
	}
	list[k] = at
}

// grid is the delays that the search tries, of those from low to high.
func (x *pathSolver) grid(low, high float64) path.DelayGrid {
	step := x.rules.grid()
	most := int(math.Floor(x.rules.MaxMS/step + 1e-9))
	if high < low { // nothing is heard
		return path.DelayGrid{StepMS: step, From: x.least(), N: 1}
	}
	from, to := max(x.least(), int(math.Floor(low/step))), min(most, int(math.Ceil(high/step)))
	switch {
	case from <= to:
		return path.DelayGrid{StepMS: step, From: from, N: to - from + 1}
	case high < 0:
		return path.DelayGrid{StepMS: step, From: x.least(), N: 1}
	}
	return path.DelayGrid{StepMS: step, From: max(most, 0), N: 1}
}

// least is the first index of the grid that the mixer can do.
func (x *pathSolver) least() int {
	return max(0, int(math.Ceil(x.rules.MinMS/x.rules.grid()-1e-9)))
}

// values are what each delay of the grid is worth at a sample.
func (x *pathSolver) values(row []float64, grid path.DelayGrid, k int) {
	q, at := &x.q.Samples[k], &x.searched[k]
	switch {
	case !at.heard:
		clear(row)
	case !q.Policy.FromSeats():
		for i := range row {
			d := grid.MS(i) - at.want
			if row[i] = -math.Abs(d); q.Policy.Longest && d < 0 {
				row[i] *= tooEarly
			}
		}
	default:
		x.needs.Hear(at.gains, q.At)
		x.needs.InTime(x.rules.Window, grid.StepMS, grid.From, row)
		x.keep(k)
		if !at.bound {
			return
		}
		for i := range row {
			d := grid.MS(i)
			if out := max(at.b1-d, d-at.b2); out > 0 {
				row[i] -= over * out
			}
		}
	}
}

// jumps reports whether the delay may change within the stretch.
func (x *pathSolver) jumps() bool {
	return x.rules.moves() || slices.ContainsFunc(x.q.Samples, func(k sampleInput) bool { return k.MayJump })
}

// price is what a jump at a sample costs.
func (x *pathSolver) price(q *sampleInput) float64 {
	switch {
	case q.MayJump:
		return 0
	case q.IsCue && x.rules.Moves == cue.AtCues:
		return click
	case x.rules.DipS > 0:
		return x.rules.DipS
	}
	return math.Inf(1)
}

// keptBytes is how much memory each worker may keep needs in for the fit, so that they are not found twice. A show for
// 100,000 seats must fit into a small laptop.
const keptBytes = 32 << 20

// keep keeps the needs of a sample.
func (x *pathSolver) keep(k int) {
	if x.turnKept = x.turn; (x.keptN+1)*x.Listeners.KeptBytes() <= keptBytes {
		if x.keptN == len(x.kept) {
			x.kept = append(x.kept, keptNeeds{})
		}
		x.kept[x.keptN].sample = k
		x.needs.Keep(&x.kept[x.keptN].Kept)
		x.keptN++
	}
}

// keptNeeds are the needs of a sample.
type keptNeeds struct {
	stands.Kept
	sample int
}

// hear has the needs at a sample.
func (x *pathSolver) hear(p *StretchPath, k int) {
	if x.turnKept == p.TurnDeg {
		list := x.kept[:x.keptN] // by sample
		i, ok := slices.BinarySearchFunc(list, k, func(n keptNeeds, k int) int { return n.sample - k })
		if ok {
			x.needs.Recall(&list[i].Kept)
			return
		}
	}
	x.needs.Hear(x.GainsAt(p.Want[k]), x.q.Samples[k].At)
}
