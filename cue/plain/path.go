package plain

import (
	"math"
	"slices"
)

// Path computes one stretch: wanted pan or place, the path on its steps, the knots.
func (s *Scene) Path(list []PlainSample) *Course {
	turns := []int{0}
	if !s.Zones && slices.ContainsFunc(list, func(x PlainSample) bool { return x.Policy == "joint" }) {
		for n := 1; float64(n) <= s.AngleDeg+tiny; n++ {
			turns = append(turns, -n, n)
		}
	}
	var best *Course
	for _, turn := range turns {
		c := s.pathTurned(list, turn)
		if best == nil || c.Sum > best.Sum+tie {
			best = c
		}
	}
	best.Bends = s.bends(list, best)
	return best
}

func (s *Scene) pathTurned(list []PlainSample, turn int) *Course {
	c := &Course{TurnDeg: turn, Want: s.wanted(list, turn), Step: grid, Weight: weights(list)}
	if s.Moves != "glide" {
		c.Step = s.StepMS
	}
	var wishes []wish
	for k, x := range list {
		w := s.wishAt(x, c.Want[k])
		wishes = append(wishes, w)
		c.BoxNeed = append(c.BoxNeed, w.box)
	}
	c.From, c.To = s.searchRange(wishes, c.Step)
	values := make([][]float64, len(list))
	for k := range list {
		for i := c.From; i <= c.To; i++ {
			values[k] = append(values[k], c.Weight[k]*wishes[k].value(s, float64(i)*c.Step))
		}
	}
	var found []int
	if s.Moves == "glide" {
		found, c.Sum = glide(values, s.steps(list), still*c.Step)
	} else {
		found, c.Sum = jump(values, s.prices(list))
	}
	for _, i := range found {
		c.Index = append(c.Index, c.From+i)
	}
	return c
}

// weights are the seconds that each sample stands for.
func weights(list []PlainSample) []float64 {
	if len(list) == 1 {
		return []float64{1}
	}
	w := make([]float64, len(list))
	for k := 1; k < len(list); k++ {
		if !list[k].AfterWait {
			half := (list[k].TimeS - list[k-1].TimeS) / 2
			w[k-1] += half
			w[k] += half
		}
	}
	for k, x := range list {
		w[k] += x.PauseS
	}
	return w
}

// wish is what is wanted at one sample.
type wish struct {
	policy      string
	seats       []float64 // needs
	box         float64   // need of the press box by its own rule
	least, most float64   // B1 and B2
	free, bound bool
	aim         float64 // for the policies that want one delay; NaN if nothing is heard
}

func (s *Scene) wishAt(x PlainSample, pan float64) wish {
	gains := s.gains(pan)
	w := wish{policy: x.Policy, seats: s.needs(x.At, gains), box: s.boxNeed(x.At, gains)}
	w.free, w.bound = x.Free, !x.Free && !math.IsNaN(w.box)
	w.least, w.most = max(0, w.box+x.Least), max(0, w.box+x.Most)
	switch x.Policy {
	case "reference":
		w.aim = w.box + s.LeadMS
	case "least-error":
		w.aim = s.LeadMS + s.middleNeed(w.seats)
	case "never-early":
		w.aim = math.Inf(-1)
		for _, n := range w.seats {
			if !math.IsNaN(n) {
				w.aim = max(w.aim, n)
			}
		}
		w.aim += s.TolMS
		if math.IsInf(w.aim, 0) {
			w.aim = math.NaN()
		}
	}
	w.aim = max(0, w.aim)
	return w
}

// middleNeed is the least need of a seat with half of the weight at or under it.
func (s *Scene) middleNeed(needs []float64) float64 {
	all := 0.0
	for i, n := range needs {
		if !math.IsNaN(n) {
			all += s.Seats[i].Weight
		}
	}
	best := math.NaN()
	for _, n := range needs {
		under := 0.0
		for i, m := range needs {
			if m <= n {
				under += s.Seats[i].Weight
			}
		}
		if under >= all/2*(1-1e-12) && !(n >= best) && !math.IsNaN(n) {
			best = n
		}
	}
	return best
}

func (w *wish) seatsDecide() bool { return w.policy == "most-seats" || w.policy == "joint" }

// out is how far outside the press box's bound a delay is, in ms.
func (w *wish) out(d float64) float64 {
	if !w.bound {
		return 0
	}
	return max(0, w.least-d, d-w.most)
}

// value is what a delay is worth for one second.
func (w *wish) value(s *Scene, d float64) float64 {
	switch {
	case w.seatsDecide():
		return s.served(w.seats, d) - over*w.out(d)
	case math.IsNaN(w.aim):
		return 0
	case w.policy == "never-early" && d < w.aim:
		return -100 * (w.aim - d)
	}
	return -math.Abs(d - w.aim)
}

// searchRange is the first and last step of the search.
func (s *Scene) searchRange(wishes []wish, step float64) (from, to int) {
	low, high := math.Inf(1), math.Inf(-1)
	reach := func(a, b float64) {
		if !math.IsNaN(a) && !math.IsNaN(b) {
			low, high = min(low, a), max(high, b)
		}
	}
	for _, w := range wishes {
		switch {
		case !w.seatsDecide():
			reach(w.aim, w.aim)
		case w.free:
			for _, n := range w.seats {
				reach(n+earliest-s.MarginMS, n+s.WindowMS+s.MarginMS)
			}
		default:
			reach(w.least-25, w.most+40)
		}
	}
	if high < 0 || math.IsInf(low, 0) {
		return 0, 0
	}
	top := int(math.Floor(s.MaxMS/step + 1e-9))
	from = max(0, int(math.Floor(low/step)))
	to = min(top, int(math.Ceil(high/step)))
	if from > to {
		return top, top
	}
	return from, to
}

// steps is how many steps the path may move up to each sample.
func (s *Scene) steps(list []PlainSample) []int {
	n := make([]int, len(list))
	for k := 1; k < len(list); k++ {
		n[k] = int(math.Floor(s.SlewMSPS*(list[k].TimeS-list[k-1].TimeS)/grid + 1e-9))
	}
	return n
}

// glide is the best path of a mixer that glides. values are by sample and step, price that of one step.
func glide(values [][]float64, steps []int, price float64) (path []int, sum float64) {
	n := len(values[0])
	sums := [][]float64{values[0]}
	before := make([][]int, len(values))
	for k := 1; k < len(values); k++ {
		sums = append(sums, make([]float64, n))
		before[k] = make([]int, n)
		for i := range n {
			from, best := i, sums[k-1][i]
			for m := 1; m <= steps[k] && m < n; m++ {
				for _, j := range []int{i - m, i + m} {
					if j >= 0 && j < n && sums[k-1][j]-price*float64(m) > best+tie {
						from, best = j, sums[k-1][j]-price*float64(m)
					}
				}
			}
			before[k][i], sums[k][i] = from, best+values[k][i]
		}
	}
	return backward(sums[len(sums)-1], before)
}

// backward follows a search from the best last step, of equal ones the least.
func backward(last []float64, before [][]int) (path []int, sum float64) {
	i := leastBest(last)
	sum = last[i]
	path = make([]int, len(before))
	for k := len(before) - 1; k >= 0; k-- {
		path[k] = i
		if k > 0 {
			i = before[k][i]
		}
	}
	return path, sum
}

func leastBest(list []float64) int {
	best := 0
	for i := range list {
		if list[i] > list[best]+tie {
			best = i
		}
	}
	return best
}

// prices are what a change at each sample costs a mixer that jumps: infinite where it may not.
func (s *Scene) prices(list []PlainSample) []float64 {
	p := make([]float64, len(list))
	for k := range list {
		p[k] = math.Inf(1)
		if s.DipS > 0 {
			p[k] = s.DipS
		}
		if s.Moves == "cues" && list[k].Cue && k > 0 {
			p[k] = click
		}
	}
	return p
}

// jump is the best path of a mixer that jumps.
func jump(values [][]float64, prices []float64) (path []int, sum float64) {
	n := len(values[0])
	sums := [][]float64{values[0]}
	before := make([][]int, len(values))
	for k := 1; k < len(values); k++ {
		sums = append(sums, make([]float64, n))
		before[k] = make([]int, n)
		top := leastBest(sums[k-1])
		for i := range n {
			from, best := i, sums[k-1][i]
			if sums[k-1][top]-prices[k] > best+tie {
				from, best = top, sums[k-1][top]-prices[k]
			}
			before[k][i], sums[k][i] = from, best+values[k][i]
		}
	}
	return backward(sums[len(sums)-1], before)
}
