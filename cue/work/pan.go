package work

import (
	"cmp"
	"math"
	"slices"

	"backfield/cue"
	"backfield/cue/timeline"
	"backfield/layout/rig"
	"backfield/layout/sound"
	"backfield/layout/unit"
)

// Pan is how a mic's image gets to its place: a pan, or in a rig with zones a send to each zone. All is as at the cue's
// moment; the stretch has what comes after it.
type Pan struct {
	Tangent sound.Tangent // in stereo
	Zones   sound.Zones   // only with zones: where the player is
	Place   float64       // the place along the row of stacks, with zones
	Sends   []cue.Send
	Manual  bool // set in the rig
	TurnDeg int  // how far the player was turned off the true direction, so that more seats are in time
	Raw     float64
	Value   float64   // rounded to the mixer's step, as it is sent
	Gains   []float64 // the amplitude of the mic at each stack, before rounding
}

// panOf is the pan, or with zones the sends, at the cue's moment.
func panOf(p *micPart, place MicPlace) (x Pan) {
	want := p.stretch.Want[p.lo]
	if p.Rig.Zones {
		x.Zones = p.System.ZoneSends(place.Start.Azimuth(p.Rig.Reference), p.Rig.Reference, p.Score.ZonesMost)
		x.Place = want
		sends := p.row.Sends(want)
		x.Sends = Sends(p.Rig, p.Mixer.Send, sends)
		x.Gains = p.System.Through(sends)
		return x
	}
	x.Tangent = p.System.TangentPan(place.Start, p.Rig.Reference)
	x.Raw, x.Manual = want, p.line.Fixed != nil && p.line.Fixed.Pan != nil
	if p.policy.MovesPan {
		x.TurnDeg = p.stretch.TurnDeg
	}
	x.Value = PanOnGrid(x.Raw, p.Mixer.Pan)
	x.Gains = p.System.Gains(x.Raw)
	return x
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
		if v := amplitudes[i]; v >= quietSend {
			s.LevelDB = cue.Level(unit.Round(max(min(20*math.Log10(v), l.Max), l.Min), l.Step))
		}
		list = append(list, s)
	}
	slices.SortFunc(list, func(a, b cue.Send) int { return cmp.Compare(a.Zone, b.Zone) })
	return list
}

// quietSend is the amplitude below which a send is off.
const quietSend = 1e-6

func (x Pan) notes() []string {
	if x.Zones.Note == "" {
		return nil
	}
	return []string{x.Zones.Note}
}
