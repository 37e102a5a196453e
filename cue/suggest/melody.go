package suggest

import (
	"math"
	"slices"

	"backfield/cue/clock"
	"backfield/cue/parts"
)

// What makes a line a melody. These are our own rules of thumb.
const (
	movingPitches   = 4       // so many different pitches
	movingPerCount  = 2. / 3  // and so many changes of pitch in a count
	secondPitches   = 3       // a slow line that is doubled has so many pitches
	stillShare      = 0.5     // who changes pitch half as often as another holds or repeats beside them
	turnsShare      = 0.7     // of a line that does not repeat, so many notes have another pitch than the one before
	octave          = 12.     // a line that moves too, but lower by so much, only accompanies
	bassKey         = 52.     // the lowest line is a bass line if its average is under this key, E below middle C
	figureShare     = 0.7     // of a figure, so many notes come again a few counts later
	figureCounts    = 4       // at the most
	sameLineShare   = 0.7     // of a shared line, so many notes begin together; two to one are 2/3
	sameRhythmShare = 0.85    // and so many, where it is shared in rhythm only
	parallelShare   = 0.7     // of a parallel line, so many steps go the same way
	sameOnsetCounts = 1. / 8. // and so close
)

// playedLine is what one player plays in a cue, and what the notes say about who has the melody.
type playedLine struct {
	notes   []clock.PlayedNote // with a pitch
	loudDB  float64            // for most of it, in dB from forte; -Inf where the player rests
	height  float64            // the average key, by how long each note lasts
	pitches int                // different ones
	changes int                // of pitch
	speed   float64            // changes of pitch in a count
	moves   bool               // for most of the cue
	figure  bool               // it says the same few counts again and again
}

// newPlayedLine is what a player plays between two places.
func newPlayedLine(lane *parts.PlayerLane, from, to float64) *playedLine {
	v := &playedLine{loudDB: loudness(lane, from, to)}
	seen := map[float64]bool{}
	weight := 0.0
	for _, n := range lane.Notes {
		if n.Key == clock.Unpitched || n.From < from-1e-6 || n.From > to-1e-6 {
			continue
		}
		if k := len(v.notes) - 1; k >= 0 && n.From < v.notes[k].From+1e-6 { // a chord of those who divide: its highest
			if n.Key > v.notes[k].Key {
				v.notes[k] = n
			}
			continue
		}
		v.notes = append(v.notes, n)
	}
	for k, n := range v.notes {
		if k > 0 && v.notes[k-1].Key != n.Key {
			v.changes++
		}
		v.height += n.Key * (n.To - n.From)
		weight += n.To - n.From
		seen[n.Key] = true
	}
	if len(v.notes) == 0 {
		return v
	}
	if weight > 0 {
		v.height /= weight
	}
	counts := min(v.notes[len(v.notes)-1].To, to) - v.notes[0].From
	v.pitches, v.speed = len(seen), float64(v.changes)/max(counts, 1)
	v.moves = v.pitches >= movingPitches && v.speed > movingPerCount-1e-6 && counts > (to-from)/2
	for period := 1; period <= figureCounts && float64(2*period) <= to-from; period++ {
		v.figure = v.figure || v.repeats(float64(period))
	}
	return v
}

func (v *playedLine) sounds() bool { return !math.IsInf(v.loudDB, -1) }

// repeats reports whether a line says the same so many counts again and again.
func (v *playedLine) repeats(period float64) bool {
	again, all := 0, 0
	for _, n := range v.notes {
		if n.From < v.notes[0].From+period-sameOnsetCounts {
			continue
		}
		all++
		if m := v.at(n.From - period); m != nil && m.Key == n.Key {
			again++
		}
	}
	return all > 0 && float64(again) >= figureShare*float64(all)
}

// at is the note that begins at a place, nil where none does.
func (v *playedLine) at(place float64) *clock.PlayedNote {
	for i := range v.notes {
		if math.Abs(v.notes[i].From-place) < sameOnsetCounts+1e-6 {
			return &v.notes[i]
		}
	}
	return nil
}

// shares reports whether a line goes with another: most of their notes begin together, and both move, or they are in
// unison or parallel.
func (v *playedLine) shares(lead *playedLine) bool {
	together, parallel := v.beside(lead)
	return parallel || v.moves && lead.moves && together >= sameRhythmShare && v.height > lead.height-octave &&
		(lead.figure || !v.figure)
}

// beside is the share of notes of two lines that begin together, and whether they go up and down together.
func (v *playedLine) beside(lead *playedLine) (together float64, parallel bool) {
	steps, same, both := 0, 0, 0
	var last, lastLead float64
	for _, n := range v.notes {
		m := lead.at(n.From)
		if m == nil {
			continue
		}
		if both > 0 && m.Key != lastLead {
			steps++
			if n.Key != last && (n.Key > last) == (m.Key > lastLead) {
				same++
			}
		}
		both++
		last, lastLead = n.Key, m.Key
	}
	together = float64(2*both) / float64(len(v.notes)+len(lead.notes))
	return together, together >= sameLineShare && steps > 0 && float64(same) >= parallelShare*float64(steps)
}

// doubles reports whether two play mostly the same notes, in unison or octaves.
func (v *playedLine) doubles(other *playedLine) bool {
	same := 0
	for _, n := range v.notes {
		if m := other.at(n.From); m != nil && math.Mod(math.Abs(n.Key-m.Key), octave) < 0.5 {
			same++
		}
	}
	return 2*same >= len(v.notes)+len(other.notes)-same
}

// turns reports whether most notes of a line have another pitch than the one before: it does not repeat.
func (v *playedLine) turns() bool { return float64(v.changes) >= turnsShare*float64(len(v.notes)-1) }

// still reports whether a line holds or repeats while another moves.
func (v *playedLine) still(lead *playedLine) bool { return v.speed <= stillShare*lead.speed }

// melody is who of several has the melody, -1 where that is not clear: the highest line that moves while the others
// hold, repeat, accompany from far below, or share it. A bass line is no melody. What says the same few counts again and
// again is one only where nothing else moves. A softer line is not clear, nor is one beside a slow line that is higher or
// doubled.
func melody(voices []*playedLine) (lead int, why string) {
	bass := bassLines(voices)
	lead = highest(voices, bass)
	if lead < 0 {
		return -1, ""
	}
	l := voices[lead]
	why = "moves while the others hold or repeat"
	others := false
	for i, v := range voices {
		if i == lead || len(v.notes) == 0 {
			continue
		}
		along := v.joins(l, bass[i])
		others = others || !along
		switch {
		case v.loudDB > l.loudDB+standsOutDB-1e-6:
			return -1, ""
		case along || bass[i]:
		case second(voices, i, lead, bass):
			return -1, ""
		case v.still(l):
		case v.figure && !l.figure:
			why = "the melody; the others hold, or repeat a figure"
		case v.height <= l.height-octave:
			why = "the highest line that moves"
		default:
			return -1, ""
		}
	}
	if !others {
		return -1, "" // all play the same line
	}
	return lead, why
}

// highest is the highest line that moves and is no bass line, and no figure unless all that move are; -1 if none does.
// One that is still beside a richer line, less than an octave below, gives way to that.
func highest(voices []*playedLine, bass []bool) int {
	lead := -1
	for i, v := range voices {
		richer := func(w *playedLine) bool {
			return w.moves && !w.figure && v.still(w) && w.pitches >= 2*v.pitches && w.height > v.height-octave
		}
		if bass[i] || !v.moves || slices.ContainsFunc(voices, richer) {
			continue
		}
		if lead < 0 || voices[lead].figure && !v.figure ||
			voices[lead].figure == v.figure && v.height > voices[lead].height {
			lead = i
		}
	}
	return lead
}

// second reports whether a line may be the melody too, however slow it is: one that is higher than the lead or doubled,
// and does not repeat.
func second(voices []*playedLine, i, lead int, bass []bool) bool {
	v, l := voices[i], voices[lead]
	if !v.turns() {
		return false
	}
	doubled := false
	for k, w := range voices {
		doubled = doubled || k != i && !bass[k] && v.doubles(w)
	}
	return doubled && v.pitches >= secondPitches || v.height > l.height && v.pitches >= movingPitches
}

// joins reports whether a line goes with the lead. A bass line does only where it plays the same notes.
func (v *playedLine) joins(lead *playedLine, bass bool) bool {
	return v.shares(lead) && (!bass || v.doubles(lead))
}

// bassLines are the players of the bass line: the lowest one, if it is low, and who plays the same that low.
func bassLines(voices []*playedLine) []bool {
	bass := make([]bool, len(voices))
	lowest, sound := -1, 0
	for i, v := range voices {
		if len(v.notes) == 0 {
			continue
		}
		sound++
		if lowest < 0 || v.height < voices[lowest].height {
			lowest = i
		}
	}
	if sound < 2 || voices[lowest].height >= bassKey {
		return bass
	}
	for i, v := range voices {
		bass[i] = i == lowest || len(v.notes) > 0 && v.height < bassKey && v.doubles(voices[lowest])
	}
	return bass
}
