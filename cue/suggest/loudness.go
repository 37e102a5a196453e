package suggest

import (
	"cmp"
	"math"
	"slices"

	"backfield/cue/parts"
)

const (
	turnDB     = 8.0 // two marks: a player who changes by so much in the middle of a phrase may need another role
	turnCounts = 8   // where the new loudness lasts so long, and so did the old one
)

// loudness is how loudly a player plays for most of the time between two places, in dB from forte; -Inf where the player
// rests. The rest of a note over the beginning does not count.
func loudness(lane *parts.PlayerLane, from, to float64) float64 {
	type part struct{ db, counts float64 }
	var list []part
	all := 0.0
	for _, n := range lane.Notes {
		begins, ends := max(n.From, from), min(n.To, to)
		if ends < begins+1e-6 || n.From < from-1e-6 && n.To < from+cutCounts+1e-6 {
			continue
		}
		list = append(list, part{n.DynamicsDB, ends - begins})
		all += ends - begins
	}
	slices.SortStableFunc(list, func(a, b part) int { return cmp.Compare(b.db, a.db) })
	louder := 0.0
	for _, p := range list {
		if louder += p.counts; 2*louder > all-1e-6 {
			return p.db
		}
	}
	return math.Inf(-1)
}

// turns are the counts in the middle of a phrase from which its player is louder or softer by two marks, for long.
func turns(lane *parts.PlayerLane, p phrase) (times []float64) {
	type steady struct{ from, to, db float64 }
	var list []steady
	for _, n := range lane.Notes {
		if n.From < p.from-1e-6 || n.From > p.to-1e-6 {
			continue
		}
		if k := len(list) - 1; k >= 0 && math.Abs(n.DynamicsDB-list[k].db) < standsOutDB-1e-6 {
			list[k].to = max(list[k].to, n.To)
			continue
		}
		list = append(list, steady{n.From, n.To, n.DynamicsDB})
	}
	list = slices.DeleteFunc(list, func(s steady) bool { return s.to-s.from < turnCounts-1e-6 })
	for k := 1; k < len(list); k++ {
		if math.Abs(list[k].db-list[k-1].db) > turnDB-1e-6 {
			times = append(times, math.Floor(list[k].from+1e-6))
		}
	}
	return times
}

// addTurns adds cues where somebody becomes much louder or softer in the middle of a phrase. What changes nothing is
// taken out later.
func (x *firstScore) addTurns(number int, list []phrase, times []float64, end float64) []float64 {
	for _, p := range list {
		lane := x.lanes[x.Roster.Players[p.player].Name]
		for _, at := range turns(lane, p) {
			near := func(t float64) bool { return t <= at && at <= t+autoCounts || math.Abs(t-at) <= togetherCounts }
			if at > p.opens && at < end-togetherCounts && !slices.ContainsFunc(times, near) {
				times = append(times, at)
			}
		}
	}
	slices.Sort(times)
	return times
}
