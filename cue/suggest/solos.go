package suggest

import (
	"slices"

	"backfield/cue/clock"
	"backfield/cue/parts"
)

const (
	louderDB   = 3.0 // others who get louder by so much, or enter, may end a solo
	evenDB     = 1.0 // as loud as the soloist, where a hairpin is on its way
	aheadCount = 8   // how far on the loudness of the others is looked at
)

// endSolos copies the lanes of a movement, and ends the solos that nothing in the music ends: where there is one player
// to a part, few write "tutti". A solo up to the last note of the movement is over after a rest of more than 8 counts,
// where somebody else is called solo, and where others enter or get louder so that most are as loud as the soloist.
func (x *firstScore) endSolos(movement int) {
	x.lanes = map[string]*parts.PlayerLane{}
	var all []*parts.PlayerLane
	for _, player := range x.Roster.Players {
		if lane := x.Setup.Lanes.Of(player.Name, movement); lane != nil {
			own := &parts.PlayerLane{Notes: slices.Clone(lane.Notes), Runs: lane.Runs}
			x.lanes[player.Name] = own
			all = append(all, own)
		}
	}
	ends := make([][]int, len(all)) // by lane: the notes that end a solo; the lanes stay whole until all are found
	for i, lane := range all {
		if n := len(lane.Notes); n > 0 && lane.Notes[n-1].Solo {
			ends[i] = soloEnds(lane, slices.Delete(slices.Clone(all), i, i+1))
		}
	}
	for i, lane := range all {
		for _, from := range ends[i] {
			for k := from; k < len(lane.Notes) && (k == from || !lane.Notes[k].Called); k++ {
				lane.Notes[k].Solo = false
			}
		}
	}
}

// soloEnds are the first notes after the solos of a lane, by index.
func soloEnds(lane *parts.PlayerLane, others []*parts.PlayerLane) (ends []int) {
	solo, since := false, 0.0
	for k, n := range lane.Notes {
		switch {
		case n.Called:
			solo, since = true, n.From
		case !solo:
		case n.From > lane.Notes[k-1].To+openRestCounts+1e-6, n.From > since+togetherCounts &&
			(anotherCalled(others, lane.Notes[k-1].From, n.From) || drowned(n, others)):
			solo = false
			ends = append(ends, k)
		}
	}
	return ends
}

// anotherCalled reports whether somebody is called solo after a place, up to another.
func anotherCalled(others []*parts.PlayerLane, after, to float64) bool {
	return slices.ContainsFunc(others, func(lane *parts.PlayerLane) bool {
		return slices.ContainsFunc(lane.Notes, func(n clock.PlayedNote) bool {
			return n.Called && n.From > after+1e-6 && n.From < to+1e-6
		})
	})
}

// drowned reports whether from a note of the soloist on most of those who play are as loud, half of whom have just
// entered or become louder.
func drowned(n clock.PlayedNote, others []*parts.PlayerLane) bool {
	sound, even, rose := 0, 0, 0
	for _, lane := range others {
		next := slices.IndexFunc(lane.Notes, func(o clock.PlayedNote) bool { return o.From > n.From-1e-6 })
		if next < 0 || lane.Notes[next].From > n.From+aheadCount-1e-6 {
			continue
		}
		sound++
		o := lane.Notes[next]
		if o.DynamicsDB > n.DynamicsDB-evenDB-1e-6 {
			even++
		}
		if next == 0 || o.From > lane.Notes[next-1].To+openRestCounts-1e-6 ||
			o.DynamicsDB > lane.Notes[next-1].DynamicsDB+louderDB-1e-6 {
			rose++
		}
	}
	return 2*even > sound && 2*rose >= sound
}
