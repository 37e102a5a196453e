package compile

import (
	"math"
	"slices"

	"backfield/cue"
	"backfield/cue/clock"
	"backfield/cue/work"
	"backfield/layout"
	"backfield/layout/stands"
)

// PathSample is a path at one moment. In a show with zones the pans are places along the row of stacks, from 0.
type PathSample struct {
	clock.Moment
	BoxMS            *[2]float64 // the bound that the press box puts on the delay; nil where it does not count
	WantMS, SentMS   float64     // the chosen path, and the lines between its knots
	WantPan, SentPan float64     // in the direction of the player, and the lines between the knots
	Knot             bool
}

// Paths are those of a player or fixed mic, sampled, by the time in which it stays open with one wearer.
func (r *Result) Paths(name string) (paths [][]PathSample) {
	var seen []*work.MicStretch
	for i := range r.Derivations {
		for _, d := range r.Derivations[i] {
			if d.Name == name && !slices.Contains(seen, d.Stretch) {
				seen = append(seen, d.Stretch)
				paths = append(paths, r.pathOf(d.Stretch))
			}
		}
	}
	return paths
}

// pathOf is the path of a stretch. What is sent is what the snapshots say.
func (r *Result) pathOf(x *work.MicStretch) []PathSample {
	channel := slices.IndexFunc(r.Show.Cues[x.Cues[0]].Channels, func(c cue.Channel) bool {
		return c.Channel == r.Lines.List[x.Line].Channel
	})
	list := make([]PathSample, len(x.Samples))
	counts := func(fromS, toS float64) float64 { return r.Clock.Counts(r.Clock.At(fromS), r.Clock.At(toS)) }
	for k, at := range x.Samples {
		s := &r.Show.Cues[at.Cue]
		sent := s.GlideAt(&s.Channels[channel], r.Clock.Seconds(at.Moment), r.Show.Rig.Delay.Moves, counts)
		p := PathSample{
			Moment: at.Moment, BoxMS: r.bound(x, k), WantMS: x.DelayMS[k], SentMS: sent.DelayMS, WantPan: x.Want[k],
			SentPan: sent.Pan,
		}
		if r.Rig.Zones {
			p.SentPan = sent.Place
		}
		list[k] = p
	}
	for _, k := range x.Knots {
		list[k.Sample].Knot = true
	}
	return list
}

// bound is what the press box's bound leaves to the delay at a sample; nil where it does not count.
func (r *Result) bound(x *work.MicStretch, k int) *[2]float64 {
	at := &r.Cues[x.Samples[k].Cue]
	role := at.Open[x.Line].Role
	box, needMS := r.Score.BoxOf(at.Cue, &role), x.NeedMS[k]
	if box.Free || math.IsNaN(needMS) || !math.IsNaN(x.WantMS[k]) {
		return nil
	}
	least, most := box.DelayMS(needMS)
	return &[2]float64{least, most}
}

// MomentHeard is how the seats hear a mic at one moment, along its path.
type MomentHeard struct {
	GapsMS   []float64  // how long after the mic's own sound the loudspeakers arrive, in the order of Rig.Seats
	Echo     []bool     // hears a stack as an echo, in the same order
	Fit      stands.Fit // at this moment
	BoxGapMS float64    // the arrival gap at the press box
}

// HeardAt is how the seats hear the mic of a derivation at a moment of its stretch, with the mic at a given place. Before
// the derivation's cue and after its stretch the numbers are those of its first and last sample. ok is false if no stack
// carries the mic.
func (r *Result) HeardAt(w *work.Derivation, m clock.Moment, at layout.Point) (h MomentHeard, ok bool) {
	x := w.Stretch
	k := x.At(w.Lo, m)
	gains, delayMS := r.Setup.GainsAt(x.Want[k]), x.SentMS[k]
	needs, tally := r.Setup.Listeners.SeatNeeds(), stands.GapTally{}
	needs.LaterMS = 1000 * work.LaterS(r.Rig, &r.Lines.List[w.Line])
	boxMS, _, ok := r.Setup.Listeners.BoxNeedMS(gains, at)
	if !ok {
		return h, false
	}
	h.BoxGapMS = delayMS - boxMS + needs.LaterMS
	needs.Hear(gains, at)
	for j, needMS := range needs.MS {
		h.GapsMS = append(h.GapsMS, delayMS-needMS)
		h.Echo = append(h.Echo, needs.EchoAt(delayMS, j))
	}
	tally.Reset(r.Setup.Window())
	tally.Add(needs, 1, delayMS)
	h.Fit, ok = tally.Fit()
	return h, ok
}
