package stands

import "math"

// Window says which arrival gaps are in time, in ms. A gap counts in part within the margin on either side of an edge, so
// that no seat decides anything by being just at one.
type Window struct{ LeastMS, MostMS, MarginMS float64 }

// Share is how much a gap counts: the share of the shifts, even over the margin to either side, with which it is in time.
func (w Window) Share(gapMS float64) float64 {
	if w.MarginMS <= 0 {
		if gapMS >= w.LeastMS-tinyMS && gapMS <= w.MostMS+tinyMS {
			return 1
		}
		return 0
	}
	return w.ramp(gapMS-w.LeastMS) - w.ramp(gapMS-w.MostMS)
}

func (w Window) ramp(ms float64) float64 { return max(0, min((ms+w.MarginMS)/(2*w.MarginMS), 1)) }

// Share is the share of the seats in time with a delay, by weight.
func (s *SeatNeeds) Share(w Window, delayMS float64) float64 {
	if !s.Heard || s.l.total == 0 {
		return 0
	}
	sum := 0.0
	for j, need := range s.MS {
		sum += s.l.w[j] * w.Share(delayMS-need)
	}
	return sum / s.l.total
}

// InTime fills a list with the share of the seats in time, by weight, at delays of (from + i) steps. The share is a sum
// of straight lines that bend four times for each seat. So the bends are collected by delay and added up twice, which
// takes as long for a thousand delays as for one.
func (s *SeatNeeds) InTime(w Window, stepMS float64, from int, share []float64) {
	if !s.Heard {
		clear(share)
		return
	}
	if w.MarginMS <= 0 {
		s.inTimeSharp(w, stepMS, from, share)
		return
	}
	bends := [4]float64{w.LeastMS - w.MarginMS, w.LeastMS + w.MarginMS, w.MostMS - w.MarginMS, w.MostMS + w.MarginMS}
	var steps [4]int
	whole := true
	for i, b := range bends {
		n := math.Round((b - bends[0]) / stepMS)
		whole = whole && math.Abs((b-bends[0])/stepMS-n) < 1e-9
		steps[i] = int(n)
	}
	perStep := stepMS / (2 * w.MarginMS * s.l.total)
	if whole {
		s.inTimeWhole(bends[0], steps, stepMS, from, perStep, share)
		return
	}
	bend := s.bends(len(share) + 1)
	value, slope := 0.0, 0.0
	for i, b := range bends {
		m := perStep
		if i == 1 || i == 2 {
			m = -perStep
		}
		for j, need := range s.MS {
			weight := m * s.l.w[j]
			u := (need+b)/stepMS - float64(from)
			if !(u > 0) {
				value -= weight * u
				slope += weight
				continue
			}
			if k := int(u); k+1 < len(share) {
				f := u - float64(k)
				bend[k+1] += weight * (1 - f)
				bend[k+2] += weight * f
			}
		}
	}
	share[0] = value
	for i := 1; i < len(share); i++ {
		slope += bend[i]
		value += slope
		share[i] = value
	}
}

// bends is the cleared list of the bends.
func (s *SeatNeeds) bends(n int) []float64 {
	s.kinks = sized(s.kinks, n)
	clear(s.kinks)
	return s.kinks
}

// inTimeWhole is InTime where a seat's four bends are whole steps from each other, as they nearly always are: then one
// bend of each seat says where the others are. Seats that bend last before the first delay are in time at none.
func (s *SeatNeeds) inTimeWhole(
	firstMS float64, steps [4]int, stepMS float64, from int, perStep float64, share []float64,
) {
	before := steps[3] + 1 // the list begins so many steps before the first delay
	n := before + len(share)
	bend := s.bends(n + 2)
	perMS, shift := 1/stepMS, firstMS/stepMS-float64(from)+float64(before)
	w := s.l.w[:len(s.MS)]
	last := float64(n)
	for j, need := range s.MS {
		u := need*perMS + shift
		if !(u > 0 && u < last) {
			continue
		}
		k := int(u)
		f := (u - float64(k)) * w[j]
		pair := bend[k+1 : k+3 : k+3]
		pair[0] += w[j] - f
		pair[1] += f
	}
	value, slope := 0.0, 0.0
	for i := 1; i < n; i++ {
		slope += bend[i]
		if k := i - steps[1]; k > 0 {
			slope -= bend[k]
		}
		if k := i - steps[2]; k > 0 {
			slope -= bend[k]
		}
		if k := i - steps[3]; k > 0 {
			slope += bend[k]
		}
		value += slope
		if i >= before {
			share[i-before] = value * perStep
		}
	}
}

// inTimeSharp is InTime without a margin, by definition.
func (s *SeatNeeds) inTimeSharp(w Window, stepMS float64, from int, share []float64) {
	change := s.bends(len(share) + 1)
	for j, need := range s.MS {
		lo := int(math.Ceil((need+w.LeastMS-tinyMS)/stepMS)) - from
		hi := int(math.Floor((need+w.MostMS+tinyMS)/stepMS)) - from
		if lo, hi = max(lo, 0), min(hi, len(share)-1); lo <= hi {
			change[lo] += s.l.w[j]
			change[hi+1] -= s.l.w[j]
		}
	}
	sum := 0.0
	for i := range share {
		sum += change[i]
		share[i] = sum / s.l.total
	}
}
