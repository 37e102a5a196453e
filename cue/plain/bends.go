package plain

import "math"

// levelTol is the tolerance of a level between knots, in dB.
const levelTol = 0.5

// bendCost is the price of knots: lines first, then knots that are off by a tolerance.
type bendCost struct{ lines, offsets int }

func (a bendCost) less(b bendCost) bool {
	return a.lines < b.lines || a.lines == b.lines && a.offsets < b.offsets
}

// forced are the samples that must be knots.
func (s *Scene) forced(list []PlainSample, c *Course) []bool {
	f := make([]bool, len(list))
	for k := range list {
		f[k] = k == 0 || k == len(list)-1 || list[k].Cue ||
			s.Moves != "glide" && c.Index[k] != c.Index[k-1]
		if list[k].AfterWait {
			f[k-1], f[k] = true, true
		}
	}
	return f
}

// vertices are the offsets that each sample may have, in the order 0, -1, 1.
func (s *Scene) vertices(c *Course, k int) []int {
	if s.Moves != "glide" || s.TolMS == 0 {
		return []int{0}
	}
	offsets := []int{0}
	if c.Delay(k)-s.TolMS >= -tiny {
		offsets = append(offsets, -1)
	}
	if c.Delay(k)+s.TolMS <= s.MaxMS+tiny {
		offsets = append(offsets, 1)
	}
	return offsets
}

// bends are the fewest knots.
func (s *Scene) bends(list []PlainSample, c *Course) []Bend {
	forced := s.forced(list, c)
	type vertex struct{ k, offset int }
	size := func(offset int) int { return offset * offset }
	best := map[vertex]bendCost{}
	reaches := func(a, b vertex) bool {
		for k := a.k + 1; k < b.k; k++ {
			if forced[k] {
				return false
			}
		}
		return s.line(list, c, a.k, b.k, s.delayAt(c, a.k, a.offset), s.delayAt(c, b.k, b.offset))
	}
	for _, o := range s.vertices(c, 0) {
		best[vertex{0, o}] = bendCost{0, size(o)}
	}
	lines := map[[2]vertex]bool{}
	for k := 1; k < len(list); k++ {
		for _, o := range s.vertices(c, k) {
			b, found := vertex{k, o}, false
			for j := k - 1; j >= 0; j-- {
				for _, p := range s.vertices(c, j) {
					a := vertex{j, p}
					from, ok := best[a]
					if !ok || !reaches(a, b) {
						continue
					}
					lines[[2]vertex{a, b}] = true
					if x := (bendCost{from.lines + 1, from.offsets + size(o)}); !found || x.less(best[b]) {
						best[b], found = x, true
					}
				}
				if forced[j] {
					break
				}
			}
		}
	}
	at := vertex{len(list) - 1, 0}
	for _, o := range s.vertices(c, at.k) {
		v := vertex{at.k, o}
		if x, ok := best[v]; ok && x.less(best[at]) {
			at = v
		}
	}
	bends := []Bend{{at.k, s.delayAt(c, at.k, at.offset), c.Want[at.k], at.offset}}
	for at.k > 0 {
		at = func() vertex {
			for j := range at.k {
				for _, p := range s.vertices(c, j) {
					a := vertex{j, p}
					from, ok := best[a]
					if ok && lines[[2]vertex{a, at}] &&
						(bendCost{from.lines + 1, from.offsets + size(at.offset)}) == best[at] {
						return a
					}
				}
			}
			panic("plain: a knot that no knot leads to")
		}()
		bends = append([]Bend{{at.k, s.delayAt(c, at.k, at.offset), c.Want[at.k], at.offset}}, bends...)
	}
	return bends
}

func (s *Scene) delayAt(c *Course, k, offset int) float64 {
	return c.Delay(k) + float64(offset)*s.TolMS
}

// line reports whether a knot at sample a, with one delay, may be followed by one at b with another.
func (s *Scene) line(list []PlainSample, c *Course, a, b int, from, to float64) bool {
	glides := s.Moves == "glide"
	part := func(k int) float64 {
		if k == a {
			return 0
		} else if k == b {
			return 1
		}
		return (list[k].Count - list[a].Count) / (list[b].Count - list[a].Count)
	}
	on := func(x, y, part float64) float64 { return x + (y-x)*part }
	for k := a + 1; k <= b; k++ {
		if k < b {
			if glides && math.Abs(on(from, to, part(k))-c.Delay(k)) > s.TolMS+tiny ||
				math.Abs(on(c.Want[a], c.Want[b], part(k))-c.Want[k]) > s.PanTol+tiny ||
				math.Abs(on(list[a].LevelDB, list[b].LevelDB, part(k))-list[k].LevelDB) > levelTol+tiny {
				return false
			}
		}
		move := math.Abs(to-from) * (part(k) - part(k-1))
		if glides && move > s.SlewMSPS*(list[k].TimeS-list[k-1].TimeS)+tiny {
			return false
		}
	}
	return true
}
