package work

import (
	"backfield/layout"
	"backfield/layout/drill"
	"backfield/layout/sound"
)

// MicPlace is where a mic is in a cue.
type MicPlace struct {
	Dot         string // as written, if the player is on a dot or the mic is fixed; else empty
	Leg         drill.Leg
	UnknownDots bool         // the drill lacks a dot on the way
	Start, End  layout.Point // at the cue's moment and when it ends
	ReferenceM  float64      // from Start to the reference seat
}

func placeOf(p *micPart) MicPlace {
	samples := p.stretch.Samples[p.lo : p.hi+1]
	x := MicPlace{Start: samples[0].At, End: samples[len(samples)-1].At}
	x.ReferenceM = x.Start.Distance(p.Rig.Reference)
	if p.line.Fixed != nil {
		x.Dot = p.line.Fixed.Words
		return x
	}
	player, ok := p.Drill.Player(p.open.Name)
	if !ok {
		return x
	}
	x.Leg = p.Drill.Leg(samples[0].Movement, samples[0].Elapsed)
	for _, m := range samples {
		leg := p.Drill.Leg(m.Movement, m.Elapsed)
		from, to := player.Dots[leg.From], player.Dots[leg.To]
		if !from.Known && !from.Reported || !to.Known && !to.Reported {
			x.UnknownDots = !p.Drill.PartialDots && !p.Drill.PartialSets
		}
	}
	if x.Leg.From == x.Leg.To || x.Leg.Part == 1 {
		x.Dot = player.Words(x.Leg.To)
	}
	return x
}

// facingNotes report places that have no true image: behind the reference seat, and between that seat and the stacks,
// where the loudspeakers are behind the player.
func facingNotes(p *micPart, pan Pan) (notes []string) {
	if p.line.Fixed != nil || pan.Manual {
		return nil
	}
	behind, between := false, false
	for _, k := range p.stretch.Samples[p.lo : p.hi+1] {
		switch p.System.Facing(k.At, p.Rig.Reference) {
		case sound.Behind:
			behind = true
		case sound.Between:
			between = true
		}
	}
	if behind {
		notes = append(notes, "behind the reference seat, where no loudspeaker can put the image; "+
			"it stays at the outermost stack")
	}
	if between {
		notes = append(notes, "between the stacks and the reference seat: the image has the right direction, but is "+
			"behind the player")
	}
	return notes
}
