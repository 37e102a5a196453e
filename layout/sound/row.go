package sound

import (
	"math"
	"slices"

	"backfield/layout"
)

// StackRow is the stacks of a rig with zones in a row from left to right, as seen from the reference seat.
type StackRow struct {
	Order []int     // indices into the system's stacks
	Az    []float64 // of each in order, in radians
}

// Row puts the stacks in a row by azimuth; equal ones by index.
func (s *System) Row(r layout.Point) StackRow {
	row := StackRow{Order: make([]int, len(s.Stacks)), Az: make([]float64, len(s.Stacks))}
	for i := range row.Order {
		row.Order[i] = i
	}
	az := func(i int) float64 { return s.Stacks[i].At.Azimuth(r) }
	slices.SortStableFunc(row.Order, func(a, b int) int {
		switch {
		case az(a) < az(b):
			return -1
		case az(a) > az(b):
			return 1
		}
		return 0
	})
	for k, i := range row.Order {
		row.Az[k] = az(i)
	}
	return row
}

// Place is where along the row a direction is: the number of the stack to the left, from 0, and how far on to the next
// one, 0 to 1. Sends of the cosine and the sine of that part of a right angle are those of pairwise amplitude panning
// (see ZoneSends) in that direction. Outside the row it is the outermost stack. Of two stacks half a circle apart or
// more the nearer one carries the player alone.
func (r StackRow) Place(az float64) float64 {
	last := len(r.Az) - 1
	if last < 1 {
		return 0
	}
	az = min(max(az, r.Az[0]), r.Az[last])
	k := 0
	for k < last-1 && az > r.Az[k+1] {
		k++
	}
	left, right := az-r.Az[k], r.Az[k+1]-az
	switch span := r.Az[k+1] - r.Az[k]; {
	case span < 1e-9:
		return float64(k)
	case span >= math.Pi-1e-9 && left <= right:
		return float64(k)
	case span >= math.Pi-1e-9:
		return float64(k + 1)
	}
	return float64(k) + math.Atan2(math.Sin(left), math.Sin(right))/(math.Pi/2)
}

// Sends are the amplitudes of the sends that a place stands for, by stack of the system. Their powers add up to 1.
func (r StackRow) Sends(place float64) []float64 {
	sends := make([]float64, len(r.Order))
	if len(sends) == 0 {
		return sends
	}
	last := len(sends) - 1
	k := int(max(0, min(math.Floor(place), float64(last))))
	f := max(0, min(place-float64(k), 1))
	if k == last || f == 0 {
		sends[r.Order[k]] = 1
		return sends
	}
	sends[r.Order[k]], sends[r.Order[k+1]] = math.Cos(f*math.Pi/2), math.Sin(f*math.Pi/2)
	return sends
}
