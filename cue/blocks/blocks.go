// Package blocks says how many seats of each part of the stands are in time, over the whole show.
package blocks

import (
	"fmt"
	"math"
	"sync"

	"backfield/cue"
	"backfield/cue/compile"
	"backfield/cue/work"
	"backfield/layout/field"
	"backfield/layout/rig"
	"backfield/layout/stands"
	"backfield/layout/unit"
)

// mostBlocks is about how many parts a person can tell apart in a lane of the timeline.
const mostBlocks = 8

// mostSteps is about how many moments are computed: more are narrower than a pixel column of a laptop.
const mostSteps = 400

// SeatPart is a part of the stands, from one row to the last. Weights are of the seats in Seats.
type SeatPart struct {
	Name    string
	Seats   []int // of rig.Seats
	Weights []float64
	x       float64 // the middle, toward side 2
}

// Of divides the stands, from side 1 to side 2, one block of the rig after the other. Surveyed seats have a block
// together. A seat in the press box is in none.
func Of(r *rig.Rig) []SeatPart {
	var list []SeatPart
	next := 0 // of rig.Seats, which leaves out seats without weight
	take := func(seats []stands.Seat, name string, parts int) {
		least, most := math.Inf(1), math.Inf(-1)
		for _, s := range seats {
			least, most = min(least, s.At.X), max(most, s.At.X)
		}
		added := make([]SeatPart, parts)
		for _, s := range seats {
			if s.Weight <= 0 {
				continue
			}
			n := 0
			if most > least {
				n = min(int(float64(parts)*(s.At.X-least)/(most-least)), parts-1)
			}
			b := &added[n]
			b.Seats, b.Weights = append(b.Seats, next), append(b.Weights, s.Weight)
			b.x += s.At.X
			next++
		}
		for _, b := range added {
			if len(b.Seats) > 0 {
				b.x /= float64(len(b.Seats))
				b.Name = name + ", " + yardLine(&r.Field, b.x)
				list = append(list, b)
			}
		}
	}
	for i, b := range r.Blocks {
		name := b.Name
		if name == "" {
			name = fmt.Sprintf("stands %d", i+1)
		}
		take(b.List(), name, max(mostBlocks/len(r.Blocks), 1))
	}
	take(r.Surveyed, "surveyed seats", 1)
	return list
}

// yardLine is the yard line, in fives, that a place is opposite to.
func yardLine(f *field.Field, x float64) string {
	n := int(math.Round(math.Abs(x) / (5 * unit.YardM)))
	side := 1
	if x > 0 {
		side = 2
	}
	switch number := f.MiddleYard - 5*n; {
	case n == 0:
		return fmt.Sprintf("at the %d", f.MiddleYard)
	case number <= 0:
		return fmt.Sprintf("side %d, past the goal line", side)
	default:
		return fmt.Sprintf("side %d, at the %d", side, number)
	}
}

// Lane is the share of the seats in time by part and time. Shares are whole percents by part and step, the mean of the
// worn mics that are open then; None where no seat hears one.
type Lane struct {
	StepCounts float64  `json:"step"`
	Names      []string `json:"parts"`
	Shares     [][]int  `json:"shares"`

	Parts []SeatPart `json:"-"`
}

// None is the share where no worn mic is open.
const None = -1

// Compute makes the lane of a show that is so many counts long, for all worn mics, or for the player named. It asks
// stop from time to time, and gives up with false if that says so.
func Compute(r *compile.Result, counts float64, player string, stop func() bool) (*Lane, bool) {
	lane := &Lane{
		StepCounts: max(1, math.Ceil(counts/mostSteps)), Parts: Of(r.Rig), Names: []string{}, Shares: [][]int{},
	}
	if len(lane.Parts) == 0 {
		return lane, true
	}
	for _, p := range lane.Parts {
		lane.Names = append(lane.Names, p.Name)
	}
	steps := int(math.Ceil(counts / lane.StepCounts))
	sums, mics := make([][]float64, len(lane.Parts)), make([]int, steps)
	for b := range sums {
		sums[b] = make([]float64, steps)
	}
	needs := r.Setup.Listeners.SeatNeeds()
	window := r.Setup.Window()
	window.MarginMS = 0 // in time or not, as the seats are drawn
	for _, x := range worn(r, player) {
		if stop() {
			return nil, false
		}
		first, last := x.Samples[0].Counts, x.Samples[len(x.Samples)-1].Counts
		for k, n := 0, int(math.Ceil(first/lane.StepCounts)); n < steps && float64(n)*lane.StepCounts < last; n++ {
			for k+1 < len(x.Samples) && x.Samples[k+1].Counts <= float64(n)*lane.StepCounts {
				k++
			}
			needs.Hear(r.Setup.GainsAt(x.Want[k]), x.Samples[k].At)
			if !needs.Heard {
				continue
			}
			mics[n]++
			for b := range lane.Parts {
				sums[b][n] += lane.Parts[b].share(needs, window, x.SentMS[k])
			}
		}
	}
	for _, sum := range sums {
		shares := make([]int, steps)
		for n := range shares {
			if shares[n] = None; mics[n] > 0 {
				shares[n] = int(math.Round(100 * sum[n] / float64(mics[n])))
			}
		}
		lane.Shares = append(lane.Shares, shares)
	}
	return lane, true
}

// share is the share of a part's seats in time with a delay, by weight.
func (b *SeatPart) share(needs *stands.SeatNeeds, window stands.Window, delayMS float64) float64 {
	inTime, all := 0.0, 0.0
	for i, seat := range b.Seats {
		all += b.Weights[i]
		inTime += b.Weights[i] * window.Share(delayMS-needs.MS[seat])
	}
	return inTime / all
}

// worn are the stretches of worn mics, or of one player's.
func worn(r *compile.Result, player string) (list []*work.MicStretch) {
	seen := map[*work.MicStretch]bool{}
	for i := range r.Derivations {
		for _, d := range r.Derivations[i] {
			if d.Kind == cue.Worn && !seen[d.Stretch] && (player == "" || d.Name == player) {
				seen[d.Stretch] = true
				list = append(list, d.Stretch)
			}
		}
	}
	return list
}

// LaneMemo has the lanes of the show that was asked for last, by player: each is computed once. It is safe for concurrent use.
type LaneMemo struct {
	mu sync.Mutex
	of *compile.Result
	by map[string]*Lane
}

// Get is Compute, or what it found before. Who asks at the same time waits for one lane, not each for its own.
func (l *LaneMemo) Get(r *compile.Result, counts float64, player string, stop func() bool) (lane *Lane, ok bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.of != r {
		l.of, l.by = r, map[string]*Lane{}
	}
	if lane = l.by[player]; lane != nil {
		return lane, true
	}
	if lane, ok = Compute(r, counts, player, stop); ok && len(l.by) < mostLanes {
		l.by[player] = lane
	}
	return lane, ok
}

// mostLanes is how many lanes are kept: one for each player of the largest shows, whatever names are asked for.
const mostLanes = 500
