package sheet

import (
	"math"
	"slices"

	"backfield/cue"
)

// Wear is one player with one pack on one channel, from one time of the show to another.
type PackUse struct {
	Player, Section, Pack string
	Channel               int
	FromS, UntilS         float64
}

// Moment is a time in the drill's words.
type DrillMoment struct {
	Movement int
	Count    float64
	Set      string // reached at or before it
}

// Place is where a player is, in the drill's words and in metres.
type DrillPlace struct {
	Words  string
	XM, YM float64
}

// Field is what the papers ask of the drill and of the clock.
type Locator interface {
	// Moment says where in the show a time is.
	Moment(atS float64) DrillMoment
	// Place says where a player is then; ok is false where the drill does not know.
	Place(player string, atS float64) (p DrillPlace, ok bool)
}

// apartM is how far two places are from one another in plan, in metres.
func apartM(a, b DrillPlace) float64 { return math.Hypot(a.XM-b.XM, a.YM-b.YM) }

// FarM is the distance between giver and taker over which a handover is said to be far: some 17 steps, 7 s at a
// hurried walk of 1.4 m/s, which is a quarter of the 30 s that check.handover has by itself.
const FarM = 10.0

// Handover is a pack that the roster lets change hands.
type PackSwap struct {
	Pack         string
	Channel      int
	Giver, Taker string
	AtS          float64
	At           DrillMoment
	ClosedS      float64 // when the giver's mic has closed for the last time before it
	ClosedIn     string  // the snapshot that closes it; "" where he was never open
	OpensS       float64 // when the taker's opens first
	OpensIn      string  // "" where it never does
	GiverAt      DrillPlace
	TakerAt      DrillPlace
	ApartM       float64 // NaN where a place is not known
}

// FreeS is the time that the handover may take.
func (h PackSwap) FreeS() float64 { return h.OpensS - h.ClosedS }

// Handovers lists the packs that change hands, in order of time.
func PackSwaps(s *cue.Show, wears []PackUse, f Locator) []PackSwap {
	list := []PackSwap{}
	bars := Bars(s)
	for i, taker := range wears {
		if i == 0 || wears[i-1].Channel != taker.Channel {
			continue
		}
		giver := wears[i-1]
		h := PackSwap{
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
	slices.SortStableFunc(list, func(a, b PackSwap) int {
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
