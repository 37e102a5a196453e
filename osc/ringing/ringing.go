// Package ringing says which open mics of a live run are close to feedback, by estimate: from the loop of each mic over the
// show, and from where the faders are.
package ringing

import (
	"cmp"
	"math"
	"slices"
	"sort"
	"sync/atomic"

	"backfield/layout/level"
	"backfield/osc/run"
)

// MicLoops is a mic's loop over the show, by band, with its fader at 0 dB.
type MicLoops struct {
	AtS    []float64        // ascending, from the first downbeat
	Loops  []level.Energies // at those times
	TakeDB float64          // give or take of a margin that this mic sets
}

// at is the loop at a time of the show: that of the latest time before it, or the first.
func (m *MicLoops) at(showS float64) *level.Energies {
	return &m.Loops[max(sort.Search(len(m.AtS), func(i int) bool { return m.AtS[i] > showS })-1, 0)]
}

// LoopTable is the loops of a show's mics by name, and the margin that is wanted. The zero LoopTable says nothing until Fill. A
// run may ask it from any goroutine.
type LoopTable struct{ filled atomic.Pointer[knownLoops] }

type knownLoops struct {
	mics      map[string]MicLoops
	wantedDB  float64
	unwatched string
}

// Fill gives the table its loops, once they are computed: no mics as long as they are not. Each mic needs at least one.
func (t *LoopTable) Fill(mics map[string]MicLoops, wantedDB float64) {
	t.filled.Store(&knownLoops{mics: mics, wantedDB: wantedDB})
}

// Refuse says that there will be no loops, and why.
func (t *LoopTable) Refuse(why string) { t.filled.Store(&knownLoops{unwatched: why}) }

// mostNamed is how many mics are worth naming.
const mostNamed = 3

// Look says how close the open mics are to feedback at a time of the show, with their faders where the rows have them: nil
// before Fill. The total is band by band the energy sum over all of them, as in level.LoopGains.
func (t *LoopTable) Look(showS float64, rows []run.ChannelRow) *run.FeedbackView {
	f := t.filled.Load()
	if f == nil {
		return nil
	}
	type openMic struct {
		name  string
		loop  float64 // in its greatest band
		takes float64
	}
	var total level.Energies
	var open []openMic
	for i := range rows {
		m, known := f.mics[rows[i].Player]
		db := faderDB(&rows[i])
		if !known || math.IsInf(db, -1) {
			continue
		}
		up, most := level.Energy(db), 0.0
		for b, e := range m.at(showS) {
			total[b] += up * e
			most = max(most, up*e)
		}
		open = append(open, openMic{rows[i].Player, most, m.TakeDB})
	}
	v := &run.FeedbackView{WantedDB: f.wantedDB, Unwatched: f.unwatched}
	marginDB := -level.Decibels(slices.Max(total[:]))
	if marginDB >= f.wantedDB {
		return v
	}
	slices.SortStableFunc(open, func(a, b openMic) int { return cmp.Compare(b.loop, a.loop) })
	v.MarginDB, v.TakeDB = marginDB, open[0].takes
	for _, m := range open[:min(mostNamed, len(open))] {
		v.First = append(v.First, m.name)
	}
	return v
}

// faderDB is where a channel's fader is, as far as is known: -Inf for a closed one.
func faderDB(r *run.ChannelRow) float64 {
	closed := !r.ShowOpen
	if r.MuteKnown {
		closed = r.Muted
	}
	switch {
	case closed:
		return math.Inf(-1)
	case r.LevelKnown:
		return float64(r.LevelDB)
	}
	return float64(r.ShowDB)
}
