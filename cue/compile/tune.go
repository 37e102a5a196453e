package compile

import (
	"fmt"
	"math"

	"backfield/cue"
	"backfield/layout"
	"backfield/layout/sound"
	"backfield/layout/stand"
)

// Tuning is what a search over the stacks found, beside what the rig does now and what zone sends would do.
type Tuning struct {
	Before, After, Zones Served
	Changes              []StackChange
	Places               int // how many snapshots of mics were looked at
	Tried                int // settings
}

// Served is how a rig serves the stand: the share of seats inside the window, each mic with the delay that serves
// most, and how far the image lies from the player, both the mean over all snapshots' open worn mics.
type Served struct{ Inside, ImageErrorDeg float64 }

// StackChange is one stack's setting before and after.
type StackChange struct {
	Name                    string
	DelayMS, NewDelayMS     float64
	Left, Right             float64
	NewLeft, NewRight       float64
	DelayMoved, WeightMoved bool
}

// What the search may set, and how long it goes on. A stack that speaks much later than its neighbours is heard
// as an echo near it, so delays end at 20 ms; and a stack keeps more of its own side than of the other, or left
// and right would trade places.
var (
	tuneDelaysMS = []float64{0, 2, 4, 6, 8, 10, 12, 14, 16, 18, 20}
	tuneWeights  = []float64{0, 0.35, 0.7, 1}
)

const (
	tuneRounds   = 4
	tuneSeats    = 300 // looked at while searching; before and after are told for all
	tunePlaces   = 250
	tuneImageDeg = 3 // degrees that the image may move further off: more seats in time are not worth more
)

// Tune searches output delays and left/right weights of the stacks, one after the other and round again, for
// more seats inside the window over the whole show. It changes nothing. progress is told from 0 to 1.
func (r *Result) Tune(progress func(float64)) (Tuning, error) {
	if r.Show == nil || len(r.Rig.Seats()) == 0 {
		return Tuning{}, fmt.Errorf("tuning needs a stand: add [[stand]] to the rig")
	}
	if r.Rig.Zones {
		return Tuning{}, fmt.Errorf("this rig feeds its stacks by zones: there are no left and right to tune")
	}
	places := r.places()
	if len(places) == 0 {
		return Tuning{}, fmt.Errorf("no cue opens a worn mic")
	}
	seats := r.Rig.Seats()
	few, some := thin(seats, tuneSeats), thin(places, tunePlaces)
	system := r.Rig.System(r.Desk.Law)
	t := Tuning{Places: len(places), Before: r.served(system, seats, places, false), Zones: r.served(system, seats, places, true)}

	best := r.served(system, few, some, false)
	limit := best.ImageErrorDeg + tuneImageDeg
	steps, step := tuneRounds*len(system.Stacks)*2, 0
	for range tuneRounds {
		improved := false
		for i := range system.Stacks {
			k := &system.Stacks[i]
			try := func(candidate sound.Stack) {
				before := *k
				*k = candidate
				t.Tried++
				if v := r.served(system, few, some, false); v.Inside > best.Inside+1e-6 && v.ImageErrorDeg <= limit {
					best, improved = v, true
				} else {
					*k = before
				}
			}
			for _, ms := range tuneDelaysMS {
				c := *k
				if c.DelayS = ms / 1000; c != *k {
					try(c)
				}
			}
			step++
			progress(float64(step) / float64(steps))
			for _, left := range tuneWeights {
				for _, right := range tuneWeights {
					c := *k
					if c.Left, c.Right = left, right; c != *k && left+right > 0 && keepsSide(c) {
						try(c)
					}
				}
			}
			step++
			progress(float64(step) / float64(steps))
		}
		if !improved {
			break
		}
	}
	progress(1)
	t.After = r.served(system, seats, places, false)
	for i, was := range r.Rig.Spoken() {
		is := system.Stacks[i]
		c := StackChange{Name: was.Name, DelayMS: 1000 * was.DelayS, NewDelayMS: tidy(1000 * is.DelayS), Left: was.Left, Right: was.Right, NewLeft: is.Left, NewRight: is.Right}
		c.DelayMoved = c.NewDelayMS != tidy(c.DelayMS)
		c.WeightMoved = c.Left != c.NewLeft || c.Right != c.NewRight
		t.Changes = append(t.Changes, c)
	}
	return t, nil
}

func keepsSide(k sound.Stack) bool {
	switch {
	case k.At.X < -0.5:
		return k.Left >= k.Right
	case k.At.X > 0.5:
		return k.Right >= k.Left
	}
	return true
}

// places lists where worn mics are while open: the middle of the way of each snapshot.
func (r *Result) places() []layout.Point {
	var list []layout.Point
	for i, pc := range r.pieces {
		for _, w := range r.works[i] {
			if w.Kind != cue.Worn {
				continue
			}
			for n := range r.spans[pc.cue].tracks {
				if t := &r.spans[pc.cue].tracks[n]; t.line == w.line {
					list = append(list, t.at[(pc.lo+min(pc.hi, len(t.at)-1))/2])
				}
			}
		}
	}
	return list
}

// thin takes evenly spread items, at most n.
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

// served is how some seats are served over some places, each with its own pan or sends and the delay that serves
// most.
func (r *Result) served(system *sound.System, seats []stand.Seat, places []layout.Point, zones bool) Served {
	e := &engine{system: system, steps: int(math.Round(1 / r.Desk.Pan.Step)), aim: stand.Aim{WindowS: r.Score.WindowMS / 1000, LeadS: r.Score.LeadMS / 1000, Free: r.Score.Free}}
	e.listeners = stand.New(seats, r.Rig.Reference, system, e.steps)
	all := make([]Served, len(places))
	e.each(len(places), func(h *hand, i int) {
		p := places[i]
		var heard *stand.Heard
		var g []float64
		if zones {
			g = system.Through(system.ZoneSends(p.Azimuth(r.Rig.Reference), r.Rig.Reference, r.Score.ZonesMost).Send)
			heard = e.listeners.Through(g)
		} else {
			pan := r.panOnDesk(r.withinWidth(system.TangentPan(p, r.Rig.Reference).Pan))
			g = system.Gains(pan)
			heard = e.listeners.AtPan(int(math.Round(pan * float64(e.steps))))
		}
		all[i].ImageErrorDeg = e.listeners.ImageErrorDeg(g, p)
		if delay, ok := h.delay.Raw(heard, p, stand.MostSeats, e.aim); ok {
			if f, ok := h.delay.Fit(heard, []layout.Point{p}, delay, e.aim.WindowS); ok {
				all[i].Inside = f.Inside
			}
		}
	})
	var mean Served
	for _, v := range all {
		mean.Inside += v.Inside / float64(len(all))
		mean.ImageErrorDeg += v.ImageErrorDeg / float64(len(all))
	}
	return mean
}
