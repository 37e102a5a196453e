package plain

import (
	"math"
	"slices"

	"backfield/layout"
	"backfield/layout/sound"
)

// gains are the amplitudes of the stacks at a wanted pan or place, rounded to no step.
func (s *Scene) gains(pan float64) []float64 {
	list := make([]float64, len(s.Stacks))
	if s.Zones {
		order := s.row()
		k := min(int(math.Floor(pan)), len(order)-1)
		f := pan - float64(k)
		list[order[k]] = s.Stacks[order[k]].Trim * math.Cos(f*math.Pi/2)
		if k+1 < len(order) {
			list[order[k+1]] = s.Stacks[order[k+1]].Trim * math.Sin(f*math.Pi/2)
		}
		return list
	}
	left, right := s.Law.Gains(pan)
	for i, k := range s.Stacks {
		list[i] = k.Trim * (k.Left*left + k.Right*right)
	}
	return list
}

// row is the stacks from left to right by azimuth, equal ones by index.
func (s *Scene) row() []int {
	var order []int
	for i := range s.Stacks {
		order = append(order, i)
	}
	slices.SortStableFunc(order, func(a, b int) int {
		x, y := s.Stacks[a].At.Azimuth(s.Box), s.Stacks[b].At.Azimuth(s.Box)
		switch {
		case x < y:
			return -1
		case x > y:
			return 1
		}
		return 0
	})
	return order
}

// wanted are the pans or places along a stretch. Where the policy is "joint", the player is turned by some degrees.
func (s *Scene) wanted(list []PlainSample, turnDeg int) []float64 {
	var want []float64
	for _, x := range list {
		at := x.At
		if x.Policy == "joint" {
			at = turned(at, s.Box, float64(turnDeg)*math.Pi/180)
		}
		if x.Pan != nil && !s.Zones {
			want = append(want, *x.Pan)
			continue
		}
		want = append(want, s.wantedAt(at))
	}
	if s.Zones && s.MostOne {
		return s.oneByOne(list, want)
	}
	return want
}

func turned(p, about layout.Point, angle float64) layout.Point {
	if angle == 0 {
		return p
	}
	r, az := math.Hypot(p.X-about.X, p.Y-about.Y), p.Azimuth(about)+angle
	return layout.Point{X: about.X + r*math.Sin(az), Y: about.Y + r*math.Cos(az), Z: p.Z}
}

func (s *Scene) wantedAt(p layout.Point) float64 {
	if s.Zones {
		return s.placeAt(p)
	}
	var pan float64
	if s.StandFit && len(s.Seats) > 0 {
		pan = s.standPan(p)
	} else {
		pan = s.system().TangentPan(p, s.Box).Pan
	}
	return max(-s.Width, min(pan, s.Width))
}

// placeAt is the place of a player along the row of stacks.
func (s *Scene) placeAt(p layout.Point) float64 {
	order := s.row()
	if len(order) == 1 {
		return 0
	}
	az := func(k int) float64 { return s.Stacks[order[k]].At.Azimuth(s.Box) }
	last := len(order) - 1
	a := max(az(0), min(p.Azimuth(s.Box), az(last)))
	k := 0
	for k < last-1 && a > az(k+1) {
		k++
	}
	return float64(k) + between(a, az(k), az(k+1))
}

// between is how far a direction is from one stack to its neighbor, 0 to 1.
func between(a, left, right float64) float64 {
	switch span := right - left; {
	case span < tiny:
		return 0
	case span >= math.Pi-tiny:
		if a-left <= right-a {
			return 0
		}
		return 1
	}
	return math.Atan2(math.Sin(a-left), math.Sin(right-a)) / (math.Pi / 2)
}

// oneByOne is the place where one stack alone carries a player: the nearer one, and a second's way to the next.
func (s *Scene) oneByOne(list []PlainSample, want []float64) []float64 {
	nearer := func(place float64) float64 {
		k := min(math.Floor(place), float64(max(len(s.Stacks)-2, 0)))
		if place-k <= 0.5+tiny {
			return k
		}
		return k + 1
	}
	out := []float64{nearer(want[0])}
	from, to, begun := out[0], out[0], math.Inf(-1)
	for k := 1; k < len(list); k++ {
		now := list[k].TimeS
		if now >= begun+1-tiny && nearer(want[k]) != to {
			from, to, begun = to, nearer(want[k]), now
		}
		out = append(out, from+(to-from)*max(0, min(now-begun, 1)))
	}
	return out
}

func (s *Scene) system() *sound.System {
	y := &sound.System{LatencyS: s.LatencyMS / 1000, SpeedMPS: s.SpeedMPS, Law: s.Law}
	for _, k := range s.Stacks {
		y.Stacks = append(y.Stacks, sound.Loudspeaker{At: k.At, Left: k.Left, Right: k.Right, Trim: k.Trim,
			DelayS: k.DelayMS / 1000})
	}
	return y
}

// standPan is the step of 0.01 whose image, where the energy comes from, is least wrong over all seats; of equal ones
// the one nearest to the middle.
func (s *Scene) standPan(p layout.Point) float64 {
	best, least := 0, math.Inf(1)
	for n := range 201 {
		k := (n + 1) / 2 // 0, -1, 1, -2, 2, ...
		if n%2 == 1 {
			k = -k
		}
		if wrong := s.imageError(p, float64(k)/100); wrong < least-tie {
			best, least = k, wrong
		}
	}
	return float64(best) / 100
}

// imageError is the mean over the seats that hear anything of 1 - cos of the angle, in plan, between player and image.
func (s *Scene) imageError(p layout.Point, pan float64) float64 {
	gains := s.gains(pan)
	sum, all := 0.0, 0.0
	for _, seat := range s.Seats {
		var x, y float64
		for i, k := range s.Stacks {
			g := gains[i]
			if math.Abs(g) < quiet {
				continue
			}
			d := k.At.Distance(seat.At)
			flat := math.Hypot(k.At.X-seat.At.X, k.At.Y-seat.At.Y)
			x += g / d * g / d * (k.At.X - seat.At.X) / flat
			y += g / d * g / d * (k.At.Y - seat.At.Y) / flat
		}
		if n := math.Hypot(x, y); n > 0 {
			far := math.Hypot(p.X-seat.At.X, p.Y-seat.At.Y)
			sum += seat.Weight * (1 - (x*(p.X-seat.At.X)+y*(p.Y-seat.At.Y))/n/far)
			all += seat.Weight
		}
	}
	return sum / all // NaN where nobody hears anything, which is never the least
}
