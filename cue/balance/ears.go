package balance

import (
	"math"

	"backfield/cue/clock"
	"backfield/layout"
	"backfield/layout/drill"
	"backfield/layout/level"
)

// earWalk is a cue at every quarter count, with the ears of players and of the rig's `people`.
type earWalk struct {
	cue     int
	dosed   [2]int   // the seats at which doses are looked for
	names   []string // of the ears: the players of the drill first, then the people
	players int      // how many of them are players
	moments []earMoment
}

// earMoment is one of them.
type earMoment struct {
	at      clock.Moment
	atS     float64 // the show's time
	holdS   float64 // until the next
	leg     drill.Leg
	facing  level.Facing // of those for whom the cue says nothing
	playing *level.Playing
	ears    []layout.Point
	here    []bool // false: the player has no dot on the way

	sounding *level.Sounding // of playing, while it is heard
}

// walk prepares a cue.
func (l *Loudness) walk(i int, dosed [2]int) *earWalk {
	w, people := &earWalk{cue: i, dosed: dosed}, l.x.Rig.People
	var marchers []int
	for k := range l.players {
		if l.players[k].marcher != nil {
			marchers = append(marchers, k)
			w.names = append(w.names, l.players[k].name)
		}
	}
	w.players = len(marchers)
	for j := range people {
		w.names = append(w.names, people[j].Name)
	}
	for sample, at := range l.x.Spans[i].Samples {
		m := earMoment{at: at, atS: l.x.Clock.Seconds(at), holdS: l.holdS(i, sample), leg: l.leg(at),
			facing: l.setFacing(i, at), ears: make([]layout.Point, 0, len(w.names)),
			here: make([]bool, 0, len(w.names))}
		m.playing, _ = l.scene(i, at, nil)
		for _, k := range marchers {
			ear, here := l.dot(k, i, m.leg)
			ear.Z = level.EarHeightM
			m.ears, m.here = append(m.ears, ear), append(m.here, here)
		}
		for j := range people {
			m.ears, m.here = append(m.ears, people[j].At), append(m.here, true)
		}
		w.moments = append(w.moments, m)
	}
	return w
}

// ownStep is how many quarter counts are between the moments that are always computed; a power of 2.
const ownStep = 4

// bent is how far halfway between two moments may be off a straight line, as a part of the energy, for a curve through
// their neighbors to be good enough. It is then well within 0.01 dB.
const bent = 0.001

// own is the A-weighted energy of everybody's own sound, by moment and ear. While all walk straight on it changes smoothly.
// So it is computed every ownStep moments, and in between wherever it is bent.
func (w *earWalk) own() [][]float64 {
	o := &ownSearch{moments: w.moments, energies: make([][]float64, len(w.moments))}
	for i := range o.energies {
		o.energies[i] = make([]float64, len(w.moments[i].ears))
	}
	for first := 0; first < len(w.moments); {
		last := first
		for last+1 < len(w.moments) && w.moments[last].goesOnTo(&w.moments[last+1]) {
			last++
		}
		o.straightOn(first, last)
		first = last + 1
	}
	return o.energies
}

// goesOnTo reports whether nobody turns, stops or sets off between two moments.
func (m *earMoment) goesOnTo(next *earMoment) bool {
	return m.at.Movement == next.at.Movement && m.leg.From == next.leg.From && m.leg.To == next.leg.To &&
		m.facing == next.facing
}

// ownSearch fills in energies by moment and ear.
type ownSearch struct {
	moments  []earMoment
	energies [][]float64
}

// hear computes an ear at a moment.
func (o *ownSearch) hear(i, ear int) {
	if m := &o.moments[i]; m.here[ear] {
		o.energies[i][ear] = m.sounding.OwnA(m.ears[ear])
	}
}

// straightOn fills in moments between which all walk straight on.
func (o *ownSearch) straightOn(first, last int) {
	for ear := range o.energies[first] {
		even := last - (last-first)%ownStep // the last of the moments that are evenly spaced
		for i := first; i <= last; i++ {
			if i > even || (i-first)%ownStep == 0 {
				o.hear(i, ear)
			}
		}
		for half := ownStep / 2; half > 0; half /= 2 {
			for i := first + half; i < even; i += 2 * half {
				if i-3*half < first || i+3*half > even || !o.curve(i, half, ear) {
					o.hear(i, ear)
				}
			}
		}
	}
}

// curve fills in a moment from the two at half the distance of their neighbors on both sides: the cubic through all four.
// It reports whether that is good enough.
func (o *ownSearch) curve(i, half, ear int) bool {
	before, a := o.energies[i-3*half][ear], o.energies[i-half][ear]
	b, after := o.energies[i+half][ear], o.energies[i+3*half][ear]
	line := (a + b) / 2
	bends := [2]float64{(before - 2*a + b) / 8, (a - 2*b + after) / 8}
	o.energies[i][ear] = line - (bends[0]+bends[1])/2
	return max(math.Abs(bends[0]), math.Abs(bends[1])) <= bent*line
}
