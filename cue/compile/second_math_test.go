package compile

import (
	"math"
	"sort"
)

// seconds is the time of a moment since the show's beginning.
func (s *plainShow) seconds(movement int, elapsed float64) float64 {
	total := 0.0
	for m := 1; m <= movement; m++ {
		v := s.movements[m-1]
		total += v.wait
		counts := s.length(m)
		if m == movement {
			counts = elapsed
		}
		tempo := v.tempo[0].bpm
		for i, t := range v.tempo {
			from, to := t.at-1, math.Inf(1)
			if i+1 < len(v.tempo) {
				to = v.tempo[i+1].at - 1
			}
			if t.pause > 0 && counts >= t.at-1e-9 { // after that count has sounded
				total += t.pause
			}
			n := math.Min(counts, to) - from // counts that this entry is in force
			if n <= 0 {
				if t.bpm > 0 {
					tempo = t.bpm
				}
				continue
			}
			if t.over > 0 {
				k := (t.bpm - tempo) / t.over
				in := math.Min(n, t.over)
				if k == 0 {
					total += 60 * in / tempo
				} else {
					total += 60 / k * math.Log((tempo+k*in)/tempo)
				}
				n -= in
			}
			if t.bpm > 0 {
				tempo = t.bpm
			}
			total += 60 * n / tempo
		}
	}
	return total
}

// place is where a mic is.
func (s *plainShow) place(m plainMic, movement int, elapsed float64) spot {
	if m.fixed {
		return m.at
	}
	meters := func(d [2]float64) spot {
		deep := 22.5 * 0.0254
		if s.grid28 {
			deep = 640.0 / 28 * 0.0254 // 53 ft 4 in are 28 steps
		}
		return spot{d[0] * 22.5 * 0.0254, d[1] * deep, m.height}
	}
	begin := 0.0
	last := m.dots[0]
	for i, set := range s.sets {
		if set.movement < movement {
			last = m.dots[i]
			continue
		}
		if set.movement > movement || elapsed < begin {
			break
		}
		a, b := meters(last), meters(m.dots[i])
		walk := set.counts - set.hold
		if elapsed < begin+walk {
			part := (elapsed - begin) / walk
			return spot{a.x + part*(b.x-a.x), a.y + part*(b.y-a.y), m.height}
		}
		last = m.dots[i]
		begin += set.counts
	}
	return meters(last)
}

// seats is everybody who counts.
func (s *plainShow) seats() []plainSeat {
	var list []plainSeat
	add := func(q plainSeat) {
		if q.weight > 0 {
			list = append(list, q)
		}
	}
	for _, k := range s.blocks {
		for i := range k.rows {
			t := float64(i) / float64(k.rows-1)
			x, y, z, width := k.fx+t*(k.bx-k.fx), k.fy+t*(k.by-k.fy), k.fz+t*(k.bz-k.fz), k.fwidth+t*(k.bwidth-k.fwidth)
			n := k.seats
			if n == 0 {
				n = int(width/k.spacing + 1e-9) // as many as fit, to a hair too
			}
			for j := range n { // in the middle of equal parts
				add(plainSeat{spot{x + width*((float64(j)+0.5)/float64(n)-0.5), y, z}, k.weight})
			}
		}
	}
	for _, q := range s.surveyed {
		add(q)
	}
	if len(list) > 0 {
		add(plainSeat{s.ref, s.refWeight})
	}
	return list
}

// heard are the stacks that count: no subs.
func (s *plainShow) heard() []plainStack {
	var list []plainStack
	for _, k := range s.stacks {
		if !k.sub {
			k.amplitude, k.delaySI = math.Pow(10, k.trim/20), k.delay/1000
			list = append(list, k)
		}
	}
	return list
}

func azimuth(q, from spot) float64 { return math.Atan2(q.x-from.x, q.y-from.y) }

// gains are the two gains of the mixer's pan law.
func (s *plainShow) gains(p float64) (left, right float64) {
	cl, cr := math.Cos((p+1)*math.Pi/4), math.Sin((p+1)*math.Pi/4)
	ll, lr := (1-p)/2, (1+p)/2
	switch s.law {
	case "constant-power":
		return cl, cr
	case "linear":
		return ll, lr
	}
	return math.Sqrt(math.Max(0, cl*ll)), math.Sqrt(math.Max(0, cr*lr))
}

func faint(g float64) float64 {
	if g < 1e-6 {
		return 0
	}
	return g
}

// sendsAt is the gain of the send to each stack's bus at a place along the row: two neighbors, of power one.
func (s *plainShow) sendsAt(place float64) []float64 {
	stacks := s.heard()
	order := make([]int, len(stacks))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(i, j int) bool {
		return azimuth(stacks[order[i]].at, s.ref) < azimuth(stacks[order[j]].at, s.ref)
	})
	send := make([]float64, len(stacks))
	k := int(place)
	f := place - float64(k)
	send[order[k]] = faint(math.Cos(f * math.Pi / 2))
	if k+1 < len(order) {
		send[order[k+1]] = faint(math.Sin(f * math.Pi / 2))
	}
	return send
}

// tangentPan is the pan that puts the image where the player stands, seen from the reference seat.
func (s *plainShow) tangentPan(p spot) float64 {
	stacks := s.heard()
	l, r := stacks[0].at, stacks[0].at
	for _, k := range stacks {
		if k.at.x < l.x {
			l = k.at
		}
		if k.at.x > r.x {
			r = k.at
		}
	}
	al, ar := azimuth(l, s.ref), azimuth(r, s.ref)
	half, mid := (ar-al)/2, (ar+al)/2
	if !(half > 1e-9 && half < math.Pi/2-1e-9) {
		return 0
	}
	phi := azimuth(p, s.ref) - mid
	for phi > math.Pi {
		phi -= 2 * math.Pi
	}
	for phi <= -math.Pi {
		phi += 2 * math.Pi
	}
	phi = math.Max(-half, math.Min(half, phi))
	k := math.Tan(phi) / math.Tan(half)
	switch s.law {
	case "constant-power":
		return 4 / math.Pi * math.Atan(k)
	case "linear":
		return k
	}
	// The compromise has no closed form: where (r - l)/(r + l) is k, r (1 - k) is l (1 + k).
	lo, hi := -1.0, 1.0
	for range 60 {
		p := (lo + hi) / 2
		if l, r := s.gains(p); r*(1-k) < l*(1+k) {
			lo = p
		} else {
			hi = p
		}
	}
	return lo
}

// onStep is a value on the grid of a step, halves up, and how close it came to the other choice.
func onStep(v, step float64) (rounded, margin float64) {
	return math.Floor(v/step+0.5+1e-9) * step, math.Abs(v/step+0.5-math.Round(v/step+0.5)) * step
}

func panOnStep(p, step float64) (rounded, margin float64) {
	n := math.Round(1 / step)
	r := math.Floor(math.Abs(p)*n+0.5+1e-9) / n
	return math.Copysign(r, p), math.Abs(math.Abs(p)*n+0.5-math.Round(math.Abs(p)*n+0.5)) / n
}
