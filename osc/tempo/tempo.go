// Package tempo estimates how fast the ensemble plays from when the operator pressed go.
package tempo

import (
	"math"
	"slices"

	"backfield/osc/journal"
)

const (
	MostPresses = 8 // that the tempo is computed from; older ones are no longer needed

	// Slowest and Fastest are the limits of a rate, as a share of the written tempo.
	Slowest = 0.5
	Fastest = 2.0

	minApartS    = 2.0 // closer presses say too little: a thumb is off by a tenth of a second
	currentVotes = 1   // how many pairs of presses the tempo so far counts for
)

// Rate estimates the rate, as a share of the written tempo, from the presses of one movement: the median of the slopes
// of all pairs of presses far enough from each other (Theil-Sen: H. Theil, 1950; P. K. Sen, JASA 63, 1968). The rate so
// far has one vote. Of two middle slopes the nearer one to the rate so far counts. So one late press of three or more
// moves the tempo little, and never doubles it.
func Rate(presses []journal.Press, rate float64) float64 {
	slopes := slices.Repeat([]float64{rate}, currentVotes)
	for i := range presses {
		for j := i + 1; j < len(presses); j++ {
			planned := presses[j].PlannedS - presses[i].PlannedS
			played := presses[j].At.Sub(presses[i].At).Seconds()
			if planned >= minApartS && played > 0 {
				slopes = append(slopes, min(max(planned/played, Slowest), Fastest))
			}
		}
	}
	slices.Sort(slopes)
	lower, upper := slopes[(len(slopes)-1)/2], slopes[len(slopes)/2]
	if math.Abs(upper-rate) < math.Abs(lower-rate) {
		return upper
	}
	return lower
}
