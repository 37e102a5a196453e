package work

import (
	"cmp"
	"math"
	"slices"

	"backfield/cue"
	"backfield/cue/timeline"
	"backfield/layout/rig"
	"backfield/layout/sound"
	"backfield/layout/stands"
	"backfield/layout/unit"
)

// Pan is how a mic's image gets to its place: a pan, or in a rig with zones a send to each zone.
type Pan struct {
	// the range of the wanted pan within the piece, after the width limit; with zones the range of the azimuth
	WantMin, WantMax float64
	Tangent          sound.Tangent // at the piece's first moment, in stereo
	Zones            sound.Zones   // only with zones
	Sends            []cue.Send
	Manual           bool // set in the rig
	Joint            bool // moved off the true direction so that more seats are in time
	Raw              float64
	Value            float64   // rounded to the mixer's step, as it is sent
	Gains            []float64 // the amplitude of the mic at each stack
}

// panOf chooses the pan, or with zones the sends, from the middle of the range wanted along the path. It also returns
// what the listeners hear with it.
func panOf(p *micPart, policy *stands.Policy, place MicPlace) (x Pan, heard *stands.Heard) {
	x.WantMin, x.WantMax = extent(p.track.Want[p.lo:p.hi])
	middle := (x.WantMin + x.WantMax) / 2
	if p.Rig.Zones {
		x.Zones = p.System.ZoneSends(middle, p.Rig.Reference, p.Score.ZonesMost)
		x.Sends = Sends(p.Rig, p.Mixer.Send, x.Zones.Send)
		x.Gains = p.System.Through(x.Zones.Send)
		return x, p.Listeners.Through(x.Gains)
	}
	x.Tangent = p.System.TangentPan(place.Start, p.Rig.Reference)
	x.Raw = middle
	switch mic := p.line.Fixed; {
	case mic != nil && mic.Pan != nil:
		x.Raw, x.Manual = *mic.Pan, true
		x.WantMin, x.WantMax = x.Raw, x.Raw
	case policy.MovesPan:
		x.Raw, x.Joint = jointPan(p, x.Raw)
	}
	x.Value = PanOnGrid(x.Raw, p.Mixer.Pan)
	x.Gains = p.System.Gains(x.Value)
	return x, p.Listeners.AtPan(int(math.Round(x.Value * float64(p.steps))))
}

// jointPan is the pan near the wanted one with the most seats in time, judged at the middle of the path, and whether it
// is a different one.
func jointPan(p *micPart, want float64) (pan float64, moved bool) {
	at := p.path[len(p.path)/2]
	t := p.System.TangentPan(at, p.Rig.Reference)
	if t.Note != "" {
		return want, false
	}
	from := int(math.Round(PanOnGrid(want, p.Mixer.Pan) * float64(p.steps)))
	allowed := func(k int) bool {
		pan := float64(k) / float64(p.steps)
		return math.Abs(pan) <= p.Score.PanWidth+1e-9 && pan >= p.Mixer.Pan.Min-1e-9 && pan <= p.Mixer.Pan.Max+1e-9 &&
			math.Abs(p.System.Image(t, pan)-t.Phi) <= p.Score.JointDeg*math.Pi/180+1e-12
	}
	if k, ok := p.delay.Joint(at, from, allowed, p.aim); ok {
		return float64(k) / float64(p.steps), k != from
	}
	return want, false
}

// PanOnGrid rounds a pan to the mixer's step, within its limits.
func PanOnGrid(pan float64, l timeline.Limits) float64 {
	return unit.RoundSigned(max(min(pan, l.Max), l.Min), l.Step)
}

// Sends are a mic's levels on the buses of the zones, from its amplitudes there, rounded to the mixer's step; off for a
// zone that does not carry it.
func Sends(r *rig.Rig, l timeline.Limits, amplitudes []float64) []cue.Send {
	var list []cue.Send
	for i, k := range r.MainStacks() {
		s := cue.Send{Zone: k.Zone, LevelDB: cue.Silent}
		if v := amplitudes[i]; v > 0 {
			s.LevelDB = cue.Level(unit.Round(max(min(20*math.Log10(v), l.Max), l.Min), l.Step))
		}
		list = append(list, s)
	}
	slices.SortFunc(list, func(a, b cue.Send) int { return cmp.Compare(a.Zone, b.Zone) })
	return list
}

func (x Pan) notes() []string {
	if x.Zones.Note == "" {
		return nil
	}
	return []string{x.Zones.Note}
}
