package sound

import (
	"math"
	"slices"

	"backfield/layout"
)

// Zones is the working of the sends to stacks that hang on a bus of their own each.
type Zones struct {
	PlayerAz    float64 // radians, seen from the reference seat in plan
	HeldAz      float64 // the same, held to the outermost stacks
	Left, Right int     // the stacks on either side of the player, by azimuth; equal where one carries the player alone
	LeftAz      float64
	RightAz     float64
	Clamped     bool // the player is outside the stacks' span
	Send        []float64
	Note        string
}

// ZoneSends returns the send amplitudes that put a player seen at azimuth az from the reference seat r in the true
// direction: pairwise amplitude panning between the two nearest stacks (V. Pulkki, Virtual Sound Source Positioning
// Using Vector Base Amplitude Panning, JAES 45(6), 1997), power-normalized, so that the handover as the player walks
// past a stack keeps the power. With most 1, the stack nearest in azimuth carries the player alone.
func (s *System) ZoneSends(az float64, r layout.Point, most int) Zones {
	z := Zones{PlayerAz: az, Send: make([]float64, len(s.Stacks))}
	if len(s.Stacks) == 0 {
		z.Note = "no stack"
		return z
	}
	order := make([]int, len(s.Stacks))
	at := make([]float64, len(s.Stacks))
	for i, k := range s.Stacks {
		order[i], at[i] = i, k.At.Azimuth(r)
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case at[a] < at[b]:
			return -1
		case at[a] > at[b]:
			return 1
		}
		return 0
	})
	first, last := order[0], order[len(order)-1]
	held := min(max(az, at[first]), at[last])
	z.HeldAz, z.Clamped = held, held != az
	n := 1
	for n < len(order)-1 && at[order[n]] < held {
		n++
	}
	z.Left, z.Right = order[max(n-1, 0)], order[min(n, len(order)-1)]
	z.LeftAz, z.RightAz = at[z.Left], at[z.Right]
	left, right := pair(held-z.LeftAz, z.RightAz-held)
	switch span := z.RightAz - z.LeftAz; {
	case z.Left == z.Right || span < 1e-9:
		left, right = 1, 0
	case span >= math.Pi-1e-9:
		z.Note = "the stacks on either side of the player are half a circle apart seen from the reference seat: " +
			"the nearer " +
			"one carries the player alone"
		left, right = alone(held-z.LeftAz, z.RightAz-held)
	case most == 1:
		left, right = alone(held-z.LeftAz, z.RightAz-held)
	}
	if right < quiet {
		z.Right, z.RightAz, right = z.Left, z.LeftAz, left
	}
	if left < quiet {
		z.Left, z.LeftAz, left = z.Right, z.RightAz, right
	}
	z.Send[z.Right] = right
	z.Send[z.Left] = left
	return z
}

// pair is the two-dimensional VBAP of a direction a right of the left stack and b left of the right one: from
// p = g1 l1 + g2 l2 follows g1 : g2 = sin b : sin a.
func pair(a, b float64) (left, right float64) {
	left, right = math.Sin(b), math.Sin(a)
	n := math.Hypot(left, right)
	if n == 0 {
		return 1, 0
	}
	return left / n, right / n
}

func alone(a, b float64) (left, right float64) {
	if a <= b {
		return 1, 0
	}
	return 0, 1
}

// Through returns the amplitude with which sends reach the air: each with its stack's trim; values below 1e-6
// are 0.
func (s *System) Through(sends []float64) []float64 {
	g := make([]float64, len(sends))
	for i, v := range sends {
		if v *= s.Stacks[i].Trim; v >= quiet {
			g[i] = v
		}
	}
	return g
}
