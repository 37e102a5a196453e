// Package clock is the show's time: counts to seconds through steps, ramps and pauses of the tempo, and the
// grammar of moments ("1:33", "set 7 + 4"). It knows no cue.
package clock

import (
	"math"
	"slices"
	"sort"
)

// Change is one entry of a movement's tempo. At is a count from 1. BPM 0 leaves the tempo as it is; Over is
// the length of the ramp to it, in counts; PauseS adds seconds once the count At has sounded.
type Change struct {
	At, BPM, Over, PauseS float64
}

// Tempo turns counts elapsed since a movement's downbeat into seconds. The zero Tempo is not usable.
type Tempo struct {
	pieces []tempoPiece
	pauses []timedPause
	cuts   []tempoCut // in order, separate
}

// tempoCut is a part of a movement that is not played, in counts elapsed since the downbeat.
type tempoCut struct{ from, to float64 }

// tempoPiece is a stretch from one count to the next piece's: tempo b0 at its beginning, growing by k a count.
type tempoPiece struct {
	from, t0, b0, k float64
}

// timedPause is silence of s seconds once a count has sounded, with the counts elapsed before it.
type timedPause struct{ after, s float64 }

// NewTempo makes a Tempo of changes in order of At, the first of which is at 1 with a BPM and no ramp, and
// no two of which overlap; the reader of the score has seen to that.
func NewTempo(changes []Change) Tempo {
	t := Tempo{pieces: []tempoPiece{{b0: changes[0].BPM}}}
	for i, c := range changes {
		if c.PauseS > 0 {
			t.pauses = append(t.pauses, timedPause{c.At, c.PauseS})
		}
		if i == 0 || c.BPM == 0 {
			continue
		}
		from := c.At - 1
		b0 := t.bpm(from)
		if c.Over > 0 {
			t.add(tempoPiece{from: from, b0: b0, k: (c.BPM - b0) / c.Over})
		}
		t.add(tempoPiece{from: from + c.Over, b0: c.BPM})
	}
	slices.SortStableFunc(t.pauses, func(a, b timedPause) int { return cmpFloat(a.after, b.after) })
	return t
}

func cmpFloat(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// add begins a new piece; its start time is the end of the one before.
func (t *Tempo) add(p tempoPiece) {
	last := t.pieces[len(t.pieces)-1]
	p.t0 = last.t0 + last.seconds(p.from-last.from)
	if p.from == last.from { // a change at the very count that the last one began on replaces it
		t.pieces = t.pieces[:len(t.pieces)-1]
	}
	t.pieces = append(t.pieces, p)
}

// seconds is the time that n counts take from the beginning of the piece: (60/k) ln((b0 + k n)/b0), which is
// 60 n/b0 without a ramp. The tempo runs linearly in counts; computed values in testdata/published/tempo_ramps.csv.
func (p tempoPiece) seconds(n float64) float64 {
	if p.k == 0 {
		return 60 * n / p.b0
	}
	return 60 / p.k * math.Log1p(p.k*n/p.b0)
}

func (t Tempo) at(elapsed float64) tempoPiece {
	i := sort.Search(len(t.pieces), func(i int) bool { return t.pieces[i].from > elapsed })
	return t.pieces[max(i-1, 0)]
}

func (t Tempo) bpm(elapsed float64) float64 {
	p := t.at(elapsed)
	return p.b0 + p.k*(elapsed-p.from)
}

// BPM is the tempo in beats a minute, elapsed counts after the downbeat.
func (t Tempo) BPM(elapsed float64) float64 { return t.bpm(elapsed) }

// CountedSeconds is Seconds without the pauses.
func (t Tempo) CountedSeconds(elapsed float64) float64 { return t.less(elapsed, t.counted) }

func (t Tempo) counted(elapsed float64) float64 {
	p := t.at(elapsed)
	return p.t0 + p.seconds(elapsed-p.from)
}

// less is a time without what is cut of it.
func (t Tempo) less(elapsed float64, seconds func(float64) float64) float64 {
	s := seconds(elapsed)
	for _, x := range t.cuts {
		if elapsed > x.from {
			s -= seconds(min(elapsed, x.to)) - seconds(x.from)
		}
	}
	return s
}

// plays reports whether something is played of the counts from one to another.
func (t Tempo) plays(from, to float64) bool {
	for _, x := range t.cuts {
		if x.from <= from+tiny && to <= x.to+tiny {
			return false
		}
	}
	return true
}

// Silence is a pause of S seconds, once the count After has sounded: until then After counts have elapsed.
type Silence struct{ After, S float64 }

// Silences lists the pauses that are played, in order.
func (t Tempo) Silences() []Silence {
	var list []Silence
	for _, p := range t.pauses {
		cut := func(x tempoCut) bool { return p.after > x.from+tiny && p.after <= x.to+tiny }
		if !slices.ContainsFunc(t.cuts, cut) {
			list = append(list, Silence{p.after, p.s})
		}
	}
	return list
}

// Seconds is the time from the downbeat to elapsed counts after it, pauses included: a pause after count n
// is over when count n+1 sounds.
func (t Tempo) Seconds(elapsed float64) float64 { return t.less(elapsed, t.withPauses) }

func (t Tempo) withPauses(elapsed float64) float64 {
	s := t.counted(elapsed)
	for _, q := range t.pauses {
		if elapsed >= q.after-1e-9 {
			s += q.s
		}
	}
	return s
}

// Steady lists the tempos that are played for a while, in order: those between which there are ramps or steps.
func (t Tempo) Steady() (bpm []float64) {
	for i, p := range t.pieces {
		to := math.Inf(1)
		if i+1 < len(t.pieces) {
			to = t.pieces[i+1].from
		}
		if n := len(bpm); p.k == 0 && t.plays(p.from, to) && (n == 0 || bpm[n-1] != p.b0) {
			bpm = append(bpm, p.b0)
		}
	}
	return bpm
}
