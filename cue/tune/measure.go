package tune

import (
	"math"

	"backfield/cue"
	"backfield/cue/compile"
	"backfield/cue/work"
	"backfield/layout"
	"backfield/layout/rig"
	"backfield/layout/stands"
)

// SeatScore is how a show is for the seats, and how far the image is from the player in degrees. The shares and the image
// are means over the open worn mics, each counting for as long as it is open.
type SeatScore struct {
	cue.FitFigures
	ImageErrorDeg float64
}

// micMoment is a worn mic at one moment.
type micMoment struct {
	at      layout.Point
	want    float64     // the wanted pan or place along the row of stacks
	delay   *work.Delay // for the bound at the press box
	weightS float64
}

// placesOf lists where the open worn mics are, every quarter count.
func placesOf(r *compile.Result) []micMoment {
	var list []micMoment
	for i := range r.Cues {
		for _, w := range r.Derivations[i] {
			if w.Kind != cue.Worn {
				continue
			}
			for k := w.Lo; k < len(w.Stretch.Samples) && w.Stretch.Samples[k].Cue == i; k++ {
				s := w.Stretch.Samples[k]
				list = append(list, micMoment{s.At, w.Stretch.Want[k], &w.Delay, s.WeightS})
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

// gridMS is the step of the delays that are tried at a place.
const gridMS = 0.1

// some is how the settings being tried are for the few seats at the few places, each with the delay that a path would
// take if the player stood there.
func (x *search) some() SeatScore {
	system := x.rig.System(x.Mixer.Law)
	listeners := stands.New(x.seats, x.rig.Reference, system, 0)
	window := stands.Window{MostMS: x.Score.WindowMS, MarginMS: x.Score.MarginMS}
	all := make([]SeatScore, len(x.places))
	work.Spread(len(x.places), func() func(i int) {
		needs, tally, share := listeners.SeatNeeds(), &stands.GapTally{}, []float64(nil)
		return func(i int) {
			p := x.places[i]
			g := system.Gains(p.want)
			all[i].ImageErrorDeg = listeners.ImageErrorDeg(g, p.at)
			boxMS, _, ok := listeners.BoxNeedMS(g, p.at)
			if !ok {
				return
			}
			needs.Hear(g, p.at)
			b1, b2 := p.delay.Box.DelayMS(boxMS)
			if p.delay.Box.Free {
				b1, b2 = max(0, needs.LeastMS), max(0, needs.MostMS+window.MostMS)
			}
			b1, b2 = min(b1, x.Mixer.Delay.Max), min(b2, x.Mixer.Delay.Max)
			from, to := int(math.Ceil(b1/gridMS-1e-9)), int(math.Floor(b2/gridMS+1e-9))
			if to < from { // the bound is narrower than the grid
				to = from
			}
			share = append(share[:0], make([]float64, to-from+1)...)
			needs.InTime(window, gridMS, from, share)
			best := 0
			for d, v := range share {
				if v > share[best]+1e-12 {
					best = d
				}
			}
			tally.Reset(window)
			tally.Add(needs, 1, float64(from+best)*gridMS)
			if f, ok := tally.Fit(); ok {
				all[i].InTime, all[i].NoEcho = f.Inside, f.NoEcho
			}
		}
	})
	var mean SeatScore
	total := 0.0
	for i, v := range all {
		w := x.places[i].weightS
		total += w
		mean.InTime += w * v.InTime
		mean.NoEcho += w * v.NoEcho
		mean.ImageErrorDeg += w * v.ImageErrorDeg
	}
	mean.InTime, mean.NoEcho, mean.ImageErrorDeg = mean.InTime/total, mean.NoEcho/total, mean.ImageErrorDeg/total
	return mean
}

// with is how the whole show is with another rig, with paths of its own.
func (x *search) with(other *rig.Rig) SeatScore { return whole(x.OnRig(other, compile.AllLines)) }

// imagePlaces is at how many moments of the show the image is measured.
const imagePlaces = 500

// whole is how a whole show is for all seats.
func whole(r *compile.Result) (v SeatScore) {
	box, total := [2]float64{math.Inf(1), math.Inf(-1)}, 0.0
	for i := range r.Cues {
		end := r.Clock.End()
		if i+1 < len(r.Cues) {
			end = r.Cues[i+1].At
		}
		openS := max(r.Clock.Seconds(end)-r.Clock.Seconds(r.Cues[i].At), 0)
		for _, w := range r.Derivations[i] {
			if w.Kind != cue.Worn {
				continue
			}
			if w.Fit != nil {
				v.InTime, v.NoEcho, total = v.InTime+openS*w.Fit.Inside, v.NoEcho+openS*w.Fit.NoEcho, total+openS
			}
			if w.BoxMS != nil {
				box[0], box[1] = min(box[0], w.BoxMS[0]), max(box[1], w.BoxMS[1])
			}
		}
	}
	v.InTime, v.NoEcho = v.InTime/total, v.NoEcho/total
	if box[0] <= box[1] {
		v.BoxMS = &box
	}
	v.ImageErrorDeg = imageError(r.Setup, thin(placesOf(r), imagePlaces))
	return v
}

// imageError is how far the image is from the player, in degrees, as a mean over moments and seats.
func imageError(s *work.CompileSetup, list []micMoment) float64 {
	deg := make([]float64, len(list))
	work.Spread(len(list), func() func(i int) {
		return func(i int) { deg[i] = s.Listeners.ImageErrorDeg(s.GainsAt(list[i].want), list[i].at) }
	})
	sum, total := 0.0, 0.0
	for i, x := range list {
		sum, total = sum+x.weightS*deg[i], total+x.weightS
	}
	return sum / total
}
