// Package tune searches for settings of the stacks that put more seats in time. It changes nothing.
package tune

import (
	"fmt"
	"math"

	"backfield/cue"
	"backfield/cue/compile"
	"backfield/cue/work"
	"backfield/layout"
	"backfield/layout/rig"
	"backfield/layout/sound"
	"backfield/layout/stands"
)

// Tuning is what a search over the stacks found, what the rig does now, and what zone sends would do.
type Tuning struct {
	Before, After, Zones SeatScore
	Changes              []StackChange
	Places               int // how many places of mics were used
	Tried                int // how many settings were tried
}

// SeatScore is how well a rig works for the seats: the share of seats in time, with the delay for each mic that has the
// most of them, and how far the image is from the player. Both are means over the open worn mics of all snapshots.
type SeatScore struct{ InTime, ImageErrorDeg float64 }

// StackChange is one stack's setting before and after.
type StackChange struct {
	Name                    string
	DelayMS, NewDelayMS     float64
	Left, Right             float64
	NewLeft, NewRight       float64
	DelayMoved, WeightMoved bool
}

// What the search may set, and how long it goes on. Near a stack that is much later than those beside it, it is heard
// as an echo, so delays end at 20 ms. A stack keeps at least as much of its own side as of the other, or left and right
// would trade places.
var (
	tuneDelaysMS = []float64{0, 2, 4, 6, 8, 10, 12, 14, 16, 18, 20}
	tuneWeights  = []float64{0, 0.35, 0.7, 1}
)

const (
	tuneRounds   = 4
	tuneSeats    = 300 // for the search; before and after are measured at all seats
	tunePlaces   = 250
	tuneImageDeg = 3 // how much farther off the image may get, in degrees, for more seats in time
)

// search is one search over the stacks.
type search struct {
	*compile.Result
	seats, fewSeats   []stands.Seat
	places, fewPlaces []layout.Point
	system            *sound.System // with the settings being tried

	tuning Tuning
	best   SeatScore // at the few seats and places
	limit  float64
}

// Search looks for output delays and left/right weights of the stacks, one stack after another and around again, that
// put more seats in time over the whole show. progress is called with 0 to 1. The error says why there is nothing to
// search.
func Search(r *compile.Result, progress func(float64)) (Tuning, error) {
	if r.Show == nil || len(r.Rig.Seats()) == 0 {
		return Tuning{}, fmt.Errorf("tune needs stands: add [[stands]] or seats to the rig")
	}
	if r.Rig.Zones {
		return Tuning{}, fmt.Errorf("this rig has zones: there is no left and right to tune")
	}
	x := &search{Result: r, seats: r.Rig.Seats(), places: placesOf(r), system: r.Rig.System(r.Mixer.Law)}
	if len(x.places) == 0 {
		return Tuning{}, fmt.Errorf("no cue opens a worn mic")
	}
	x.fewSeats, x.fewPlaces = thin(x.seats, tuneSeats), thin(x.places, tunePlaces)
	x.tuning.Places = len(x.places)
	x.tuning.Before, x.tuning.Zones = x.all(false), x.all(true)
	x.best = x.some()
	x.limit = x.best.ImageErrorDeg + tuneImageDeg
	steps, step := tuneRounds*len(x.system.Stacks)*2, 0
	advance := func() {
		step++
		progress(float64(step) / float64(steps))
	}
	for range tuneRounds {
		improved := false
		for i := range x.system.Stacks {
			improved = x.delays(&x.system.Stacks[i]) || improved
			advance()
			improved = x.weights(&x.system.Stacks[i]) || improved
			advance()
		}
		if !improved {
			break
		}
	}
	progress(1)
	x.tuning.After = x.all(false)
	x.tuning.Changes = changes(r.Rig.MainStacks(), x.system.Stacks)
	return x.tuning, nil
}

// delays tries other output delays of a stack, and reports whether one is better.
func (x *search) delays(k *sound.Loudspeaker) (improved bool) {
	for _, ms := range tuneDelaysMS {
		c := *k
		if c.DelayS = ms / 1000; c != *k {
			improved = x.try(k, c) || improved
		}
	}
	return improved
}

// weights tries other weights of left and right on a stack, and reports whether one is better.
func (x *search) weights(k *sound.Loudspeaker) (improved bool) {
	for _, left := range tuneWeights {
		for _, right := range tuneWeights {
			c := *k
			if c.Left, c.Right = left, right; c != *k && left+right > 0 && keepsSide(c) {
				improved = x.try(k, c) || improved
			}
		}
	}
	return improved
}

// try sets a stack to a candidate, and keeps it if that is better.
func (x *search) try(k *sound.Loudspeaker, candidate sound.Loudspeaker) (better bool) {
	before := *k
	*k = candidate
	x.tuning.Tried++
	if v := x.some(); v.InTime > x.best.InTime+1e-6 && v.ImageErrorDeg <= x.limit {
		x.best = v
		return true
	}
	*k = before
	return false
}

func (x *search) some() SeatScore { return measure(x.Result, x.system, x.fewSeats, x.fewPlaces, false) }

func (x *search) all(zones bool) SeatScore {
	return measure(x.Result, x.system, x.seats, x.places, zones)
}

// changes lists the stacks' settings before and after.
func changes(before []rig.Stack, after []sound.Loudspeaker) []StackChange {
	var list []StackChange
	for i, was := range before {
		is := after[i]
		c := StackChange{
			Name: was.Name, DelayMS: 1000 * was.DelayS, NewDelayMS: wholeMS(1000 * is.DelayS),
			Left: was.Left, Right: was.Right, NewLeft: is.Left, NewRight: is.Right,
		}
		c.DelayMoved = c.NewDelayMS != wholeMS(c.DelayMS)
		c.WeightMoved = c.Left != c.NewLeft || c.Right != c.NewRight
		list = append(list, c)
	}
	return list
}

// wholeMS rounds a delay in ms to six decimals, so that delays computed in two ways compare as equal.
func wholeMS(ms float64) float64 { return math.Round(ms*1e6) / 1e6 }

func keepsSide(k sound.Loudspeaker) bool {
	switch {
	case k.At.X < -0.5:
		return k.Left >= k.Right
	case k.At.X > 0.5:
		return k.Right >= k.Left
	}
	return true
}

// placesOf lists where the open worn mics are: in each cue, at the middle of the walk.
func placesOf(r *compile.Result) []layout.Point {
	var list []layout.Point
	for i := range r.Cues {
		for _, w := range r.Derivations[i] {
			if w.Kind == cue.Worn {
				list = append(list, w.Stretch.Samples[(w.Lo+w.Hi)/2].At)
			}
		}
	}
	return list
}

// thin keeps at most n evenly spread items.
func thin[T any](list []T, n int) []T {
	if len(list) <= n {
		return list
	}
	out := make([]T, n)
	for i := range out {
		out[i] = list[i*len(list)/n]
	}
	return out
}

// measure is how well a system works for some seats over some places, each with its own pan or sends and the delay that
// has the most seats in time.
func measure(r *compile.Result, system *sound.System, seats []stands.Seat, places []layout.Point,
	zones bool) SeatScore {
	ref, score := r.Rig.Reference, r.Score
	aim := stands.Aim{WindowS: score.WindowMS / 1000, LeadS: score.LeadMS / 1000, Free: score.Free}
	steps := work.PanSteps(r.Mixer.Pan)
	listeners := stands.New(seats, ref, system, steps)
	all := make([]SeatScore, len(places))
	work.Each(listeners, len(places), func(_ *stands.PanChooser, delay *stands.DelayChooser) func(i int) {
		return func(i int) {
			p := places[i]
			var heard *stands.Heard
			var g []float64
			if zones {
				g = system.Through(system.ZoneSends(p.Azimuth(ref), ref, score.ZonesMost).Send)
				heard = listeners.Through(g)
			} else {
				pan := work.WithinWidth(system.TangentPan(p, ref).Pan, score.PanWidth)
				pan = work.PanOnGrid(pan, r.Mixer.Pan)
				g = system.Gains(pan)
				heard = listeners.AtPan(int(math.Round(pan * float64(steps))))
			}
			all[i].ImageErrorDeg = listeners.ImageErrorDeg(g, p)
			if delayS, ok := delay.Raw(heard, p, stands.MostSeats, aim); ok {
				if f, ok := delay.Fit(heard, []layout.Point{p}, delayS, aim.WindowS); ok {
					all[i].InTime = f.Inside
				}
			}
		}
	})
	var mean SeatScore
	for _, v := range all {
		mean.InTime += v.InTime / float64(len(all))
		mean.ImageErrorDeg += v.ImageErrorDeg / float64(len(all))
	}
	return mean
}
