package path

import "math"

// A search over all delays would spend nearly all of its time far from the best path. So a coarse one comes first, over
// groups of delays, each as good as its best one. What it finds is a bound: no path through a group has a greater sum.
// Groups whose bound is below the sum of a path that is known cannot be on the best one, and are left out.

// inGroup is how many delays of the grid there are in a group.
const inGroup = 8

// band is the delays that are looked at, at a sample.
type band struct{ lo, hi int }

// bound searches over groups, with free moves to every group that a delay of another one may go to. It returns the best
// path and its sum, which no path of the stretch exceeds.
func (s *PathSearch) bound() (groups []int, sumS float64) {
	n := (s.grid.N + inGroup - 1) / inGroup
	if s.coarse == nil {
		s.coarse = &PathSearch{}
	}
	c := s.coarse
	c.Begin(DelayGrid{StepMS: inGroup * s.grid.StepMS, N: n}, MoveRules{Jumps: s.rules.Jumps, SlewMSPS: 1})
	s.thin = sized(s.thin, n*len(s.instants))
	for k, at := range s.instants {
		steps := (s.stepsIn(at.StepS) + inGroup - 1) / inGroup
		at.StepS = (float64(steps) + 0.5) * c.grid.StepMS
		if k > 0 && &s.values[k][0] == &s.values[k-1][0] {
			c.Add(at, c.values[k-1])
			continue
		}
		row := s.thin[k*n : (k+1)*n]
		for i := range row {
			row[i] = greatest(s.values[k][i*inGroup : min((i+1)*inGroup, s.grid.N)])
		}
		c.Add(at, row)
	}
	c.bands = sized(c.bands, len(c.instants))
	for k := range c.bands {
		c.bands[k] = band{0, n - 1}
	}
	return c.within()
}

func greatest(list []float64) float64 {
	most := list[0]
	for _, v := range list {
		if v > most {
			most = v
		}
	}
	return most
}

// look looks at the groups of a path, and at those next to them.
func (s *PathSearch) look(groups []int) {
	s.bands = sized(s.bands, len(groups))
	for k, i := range groups {
		s.bands[k] = band{max(i-1, 0) * inGroup, min((i+2)*inGroup, s.grid.N) - 1}
	}
}

// reached is a sum that some path has: the best within the bands, or the best that stays at one delay.
func (s *PathSearch) reached() (sumS float64) {
	if _, sumS = s.within(); !math.IsInf(sumS, -1) {
		return sumS
	}
	_, sumS = s.Stay()
	return sumS
}

// keep leaves out the groups through which no path has at least a sum, after bound; false if that leaves none.
func (s *PathSearch) keep(sumS float64) bool {
	c := s.coarse
	n, last := c.grid.N, len(c.instants)-1
	s.bands, c.onward = sized(s.bands, last+1), sized(c.onward, 2*n)
	onward, through := c.onward[:n], c.onward[n:]
	clear(onward)
	least := sumS - tiny*(1+math.Abs(sumS))
	for k := last; k >= 0; k-- {
		row, lo, hi := c.row(k), n, -1
		for i, v := range onward {
			if row[i]+v >= least {
				lo, hi = min(lo, i), i
			}
		}
		if hi < 0 {
			return false
		}
		s.bands[k] = band{lo * inGroup, min((hi+1)*inGroup, s.grid.N) - 1}
		if k == 0 {
			break
		}
		for i, v := range onward {
			through[i] = v + c.instants[k].WeightS*c.values[k][i]
		}
		c.goOn(k, through, onward)
	}
	return true
}

// goOn fills a list with the greatest sums from sample k on, as they are seen from the sample before.
func (s *PathSearch) goOn(k int, from, list []float64) {
	if !s.rules.Jumps {
		s.nearby(from, list, s.steps(k))
		return
	}
	copy(list, from)
	if price := s.instants[k].PriceS; price < math.MaxFloat64 {
		for i, most := 0, greatest(from)-price; i < len(list); i++ {
			list[i] = max(list[i], most)
		}
	}
}

// nearby fills a list with the greatest of another that is at most so many places off: glide at no price.
func (s *PathSearch) nearby(from, list []float64, steps int) {
	n := len(from)
	s.head, s.tail = sized(s.head, n), sized(s.tail, n)
	head, tail := s.head, s.tail
	windows(from, head, tail, 2*steps+1)
	lastBlock := (n - 1) / (2*steps + 1) * (2*steps + 1)
	for i := range list {
		switch {
		case i < steps:
			list[i] = head[min(i+steps, n-1)]
		case i-steps >= lastBlock:
			list[i] = tail[i-steps]
		default:
			v := tail[i-steps]
			if h := head[min(i+steps, n-1)]; h > v {
				v = h
			}
			list[i] = v
		}
	}
}
