// Package tune searches for settings of the stacks that put more seats in time without an echo. It changes nothing.
package tune

import (
	"fmt"
	"slices"

	"backfield/cue/compile"
	"backfield/layout/rig"
	"backfield/layout/sound"
	"backfield/layout/stands"
)

// Tuning is what a search over the stacks found: how the show is for the seats as the rig is, with the changes, and with
// a bus for each stack.
type Tuning struct {
	Before, After, Zones SeatScore
	Changes              []StackChange
	Pairs, Tried         int // pairs of stacks, and settings that were tried
}

// Better reports whether the changes put more seats in time without an echo.
func (t *Tuning) Better() bool { return len(t.Changes) > 0 && t.After.NoEcho > t.Before.NoEcho }

// StackChange is a stack whose settings change, before and after.
type StackChange struct{ Was, Is rig.Stack }

// What the search may set, and how long it goes on. Near a stack that is much later than those beside it, it is heard
// as an echo, so delays end at 20 ms. No stack gets louder than it is, since people may be near it. A stack keeps at
// least as much of its own side as of the other, or left and right would trade places.
var (
	delaysMS = []float64{0, 2, 4, 6, 8, 10, 12, 14, 16, 18, 20}
	lowerDB  = []float64{0, 3, 6, 9}
	weights  = []float64{0, 0.35, 0.7, 1}
)

const (
	rounds    = 4
	fewSeats  = 300 // for the search; before and after are measured with the whole show at all seats
	fewPlaces = 250
	imageDeg  = 3     // how much farther off the image may get, in degrees
	leastGain = 0.002 // what a change of a pair must gain of all seats
)

// search is one search over the stacks.
type search struct {
	*compile.Result
	rig    rig.Rig // with the settings being tried
	seats  []stands.Seat
	places []micMoment

	tuning Tuning
	best   SeatScore // at the few seats and places
	limit  float64   // of the image's error, in degrees
}

// Search looks for output delays, trims and left/right weights of the stacks that put more seats in time without an
// echo over the whole show. It takes the stacks in pairs of mirror images, whose settings stay mirror images; it leaves
// a stack without one as it is. progress is called with 0 to 1. The error says why there is nothing to search.
func Search(r *compile.Result, progress func(float64)) (Tuning, error) {
	switch {
	case r.Show == nil || len(r.Rig.Seats()) == 0:
		return Tuning{}, fmt.Errorf("tune needs stands: add [[stands]] or seats to the rig")
	case r.Rig.Zones:
		return Tuning{}, fmt.Errorf("this rig has zones: there is no left and right to tune")
	}
	x := &search{Result: r, rig: *r.Rig, seats: thin(r.Rig.Seats(), fewSeats), places: thin(placesOf(r), fewPlaces)}
	x.rig.Stacks = slices.Clone(r.Rig.Stacks)
	pairs := mirrored(x.rig.Stacks)
	switch {
	case len(x.places) == 0:
		return Tuning{}, fmt.Errorf("no cue opens a worn mic")
	case len(pairs) == 0:
		return Tuning{}, fmt.Errorf("no two stacks are mirror images (as far left of the 50 as right of it): " +
			"tune sets such pairs only")
	}
	x.tuning.Pairs = len(pairs)
	x.best = x.some()
	x.limit = x.best.ImageErrorDeg + imageDeg
	x.rounds(pairs, func(part float64) { progress(0.8 * part) })
	for i := range x.rig.Stacks {
		if was, is := r.Rig.Stacks[i], x.rig.Stacks[i]; was.Loudspeaker != is.Loudspeaker {
			x.tuning.Changes = append(x.tuning.Changes, StackChange{was, is})
		}
	}
	x.tuning.Before = whole(r)
	progress(0.85)
	x.tuning.After = x.with(&x.rig)
	progress(0.95)
	x.tuning.Zones = x.with(r.Rig.AsZones())
	progress(1)
	return x.tuning, nil
}

// rounds goes through the pairs, around and around, until nothing gets better.
func (x *search) rounds(pairs [][2]int, progress func(float64)) {
	for round := range rounds {
		improved := false
		for i, p := range pairs {
			improved = x.delaysAndTrims(p) || improved
			improved = x.weights(p) || improved
			progress(float64(round*len(pairs)+i+1) / float64(rounds*len(pairs)))
		}
		if !improved {
			break
		}
	}
	progress(1)
}

// delaysAndTrims tries other output delays and trims of a pair together, and reports whether one is better: a softer
// stack may be later without being an echo.
func (x *search) delaysAndTrims(pair [2]int) (improved bool) {
	now := x.setting(pair)
	for _, ms := range delaysMS {
		for _, down := range lowerDB {
			now.delayMS, now.trimDB = ms, x.leastTrimDB(pair)-down
			improved = x.try(pair, now) || improved
		}
	}
	return improved
}

// leastTrimDB is the trim in the rig of the softer stack of a pair.
func (x *search) leastTrimDB(pair [2]int) float64 {
	return min(x.Rig.Stacks[pair[0]].TrimDB, x.Rig.Stacks[pair[1]].TrimDB)
}

// weights tries other weights of left and right on a pair, and reports whether one is better.
func (x *search) weights(pair [2]int) (improved bool) {
	now := x.setting(pair)
	for _, own := range weights {
		for _, other := range weights {
			if pair[0] == pair[1] && own != other || own < other || own == 0 {
				continue
			}
			now.own, now.other = own, other
			improved = x.try(pair, now) || improved
		}
	}
	return improved
}

// try sets a pair, and keeps that if it is better.
func (x *search) try(pair [2]int, s pairSetting) (better bool) {
	before := [2]rig.Stack{x.rig.Stacks[pair[0]], x.rig.Stacks[pair[1]]}
	x.set(pair, s)
	if x.rig.Stacks[pair[0]] == before[0] && x.rig.Stacks[pair[1]] == before[1] {
		return false
	}
	x.tuning.Tried++
	if v := x.some(); v.NoEcho > x.best.NoEcho+leastGain && v.ImageErrorDeg <= x.limit {
		x.best = v
		return true
	}
	x.rig.Stacks[pair[0]], x.rig.Stacks[pair[1]] = before[0], before[1]
	return false
}

// pairSetting is what both stacks of a pair have: the weight of the side that a stack is on is own.
type pairSetting struct{ delayMS, trimDB, own, other float64 }

// setting is that of a pair's left stack.
func (x *search) setting(pair [2]int) pairSetting {
	k := x.rig.Stacks[pair[0]]
	return pairSetting{1000 * k.DelayS, k.TrimDB, k.Left, k.Right}
}

// set sets both stacks of a pair.
func (x *search) set(pair [2]int, s pairSetting) {
	left, right := &x.rig.Stacks[pair[0]], &x.rig.Stacks[pair[1]]
	for _, k := range []*rig.Stack{left, right} {
		k.DelayS, k.TrimDB, k.Trim = s.delayMS/1000, s.trimDB, sound.Gain(s.trimDB)
	}
	left.Left, left.Right = s.own, s.other
	if right != left {
		right.Left, right.Right = s.other, s.own
	}
}

// mirrored lists the pairs of stacks that are mirror images, as indices of the left one and the right one. A stack on the
// 50 is its own mirror image. Subs do not count.
func mirrored(stacks []rig.Stack) (pairs [][2]int) {
	const nearM = 0.5
	near := func(a, b float64) bool { return a-b <= nearM && b-a <= nearM }
	taken := map[int]bool{}
	for i, a := range stacks {
		if a.Sub || a.At.X > nearM {
			continue
		}
		for j, b := range stacks {
			image := near(b.At.X, -a.At.X) && near(b.At.Y, a.At.Y) && near(b.At.Z, a.At.Z)
			if on50 := a.At.X >= -nearM; on50 {
				image = i == j
			}
			if !b.Sub && !taken[j] && image {
				taken[j] = true
				pairs = append(pairs, [2]int{i, j})
				break
			}
		}
	}
	return pairs
}
