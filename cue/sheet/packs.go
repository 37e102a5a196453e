package sheet

import (
	"math"
	"slices"

	"backfield/cue"
)

// PackUse is who wears a pack, on which channel, from one time of the show to another.
type PackUse struct {
	Player, Section, Pack string
	Channel               int
	FromS, UntilS         float64
}

// DrillMoment is a time of the show in the words of the drill.
type DrillMoment struct {
	Movement int
	Count    float64
	Set      string // the last one reached by then
}

// DrillPlace is where a player is, in the words of the drill and in meters.
type DrillPlace struct {
	Words  string
	XM, YM float64
}

// Locator answers what the sheets ask the drill and the clock.
type Locator interface {
	// Moment is the count and set at a time of the show.
	Moment(atS float64) DrillMoment
	// Place is where a player is at a time of the show; ok is false if the drill does not know.
	Place(player string, atS float64) (p DrillPlace, ok bool)
}

// apartM is the distance of two places, seen from above, in meters.
func apartM(a, b DrillPlace) float64 { return math.Hypot(a.XM-b.XM, a.YM-b.YM) }

// FarM is the distance between giver and taker from which a handover is marked as far: about 17 steps, or 7 s at a fast
// walk of 1.4 m/s, which is a quarter of the default of check.handover, 30 s.
const FarM = 10.0

// PackHandover is a pack that goes from one player to another, as the roster has it.
type PackHandover struct {
	Pack         string
	Channel      int
	Giver, Taker string
	AtS          float64
	At           DrillMoment
	ClosedS      float64 // when the giver's mic closes for the last time before
	ClosedIn     string  // the snapshot that closes it; "" if it was never open
	OpensS       float64 // when the taker's mic first opens
	OpensIn      string  // the snapshot that opens it; "" if it never opens
	GiverAt      DrillPlace
	TakerAt      DrillPlace
	ApartM       float64 // NaN if a place is unknown
}

// FreeS is the time that the handover may take.
func (h PackHandover) FreeS() float64 { return h.OpensS - h.ClosedS }

// PackHandovers lists the handovers in order of time.
func PackHandovers(s *cue.Show, wears []PackUse, f Locator) []PackHandover {
	list := []PackHandover{}
	bars := Bars(s)
	for i, taker := range wears {
		if i == 0 || wears[i-1].Channel != taker.Channel {
			continue
		}
		giver := wears[i-1]
		h := PackHandover{
			Pack: taker.Pack, Channel: taker.Channel, Giver: giver.Player, Taker: taker.Player,
			AtS: taker.FromS, At: f.Moment(taker.FromS), OpensS: s.EndS,
		}
		for _, b := range bars {
			switch {
			case b.Channel != h.Channel:
			case b.Player == giver.Player && b.FromS < h.AtS:
				h.ClosedS, h.ClosedIn = b.ToS, b.ToCue
			case b.Player == taker.Player && b.FromS >= h.AtS && h.OpensIn == "":
				h.OpensS, h.OpensIn = b.FromS, b.FromCue
			}
		}
		var known, both bool
		h.GiverAt, known = f.Place(giver.Player, h.AtS)
		h.TakerAt, both = f.Place(taker.Player, h.AtS)
		if h.ApartM = math.NaN(); known && both {
			h.ApartM = apartM(h.GiverAt, h.TakerAt)
		}
		list = append(list, h)
	}
	slices.SortStableFunc(list, func(a, b PackHandover) int {
		switch {
		case a.AtS < b.AtS:
			return -1
		case a.AtS > b.AtS:
			return 1
		}
		return 0
	})
	return list
}
