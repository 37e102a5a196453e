package notes

import (
	"cmp"
	"slices"

	"backfield/cue/clock"
	"backfield/layout/level"
)

// TrackNotes collects the notes of one track of MIDI, in ticks. The zero value is ready.
type TrackNotes struct {
	Name  string
	begun map[[2]uint8][]int // by channel and key: the notes that sound, the oldest first
	list  []clock.PlayedNote
}

// On begins a note of a channel.
func (t *TrackNotes) On(tick int64, channel, key, velocity uint8) {
	if t.begun == nil {
		t.begun = map[[2]uint8][]int{}
	}
	on := [2]uint8{channel, key}
	t.begun[on] = append(t.begun[on], len(t.list))
	at := float64(tick)
	n := clock.PlayedNote{From: at, To: at, Key: float64(key), DynamicsDB: velocityDB(velocity), Marked: true}
	if channel == drums {
		n.Key = clock.Unpitched
	}
	t.list = append(t.list, n)
}

// drums is the channel whose keys are instruments and not pitches, from 0 (General MIDI 1, 1991).
const drums = 9

// Off ends the oldest note of a key; ok is false where none sounds.
func (t *TrackNotes) Off(tick int64, channel, key uint8) (ok bool) {
	on := [2]uint8{channel, key}
	if len(t.begun[on]) == 0 {
		return false
	}
	t.list[t.begun[on][0]].To = float64(tick)
	t.begun[on] = t.begun[on][1:]
	return true
}

// Tracks returns the tracks that have notes as parts, with the places of quarters. What no one ended lasts up to the
// end of its track.
func Tracks(tracks []*TrackNotes, lastTicks []int64, division float64) []clock.MusicPart {
	var list []clock.MusicPart
	for i, t := range tracks {
		for _, on := range t.begun {
			for _, n := range on {
				t.list[n].To = float64(lastTicks[i])
			}
		}
		slices.SortStableFunc(t.list, func(a, b clock.PlayedNote) int {
			return cmp.Or(cmp.Compare(a.From, b.From), cmp.Compare(a.Key, b.Key))
		})
		if len(t.list) > 0 {
			part := clock.MusicPart{Name: t.Name, Notes: t.list}
			list = append(list, part.Placed(func(tick float64) float64 { return tick / division }))
		}
	}
	apart(list)
	return list
}

// velocities are what notation programs commonly play the marks with (assumed; the MIDI 1.0 specification says only that
// 64 lies between mp and mf).
var velocities = []struct {
	velocity float64
	mark     string
}{{33, "pp"}, {49, "p"}, {58, "mp"}, {70, "mf"}, {96, "f"}, {112, "ff"}}

// velocityDB is how loud a velocity is, in dB from forte: straight between the marks, and no more than they say.
func velocityDB(velocity uint8) float64 {
	v, before := float64(velocity), velocities[0]
	beforeDB, _ := level.DynamicsDB(before.mark)
	for _, x := range velocities {
		db, _ := level.DynamicsDB(x.mark)
		if v <= x.velocity {
			if x == before {
				return db
			}
			return beforeDB + (db-beforeDB)*(v-before.velocity)/(x.velocity-before.velocity)
		}
		before, beforeDB = x, db
	}
	return beforeDB
}
