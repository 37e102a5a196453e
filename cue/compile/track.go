package compile

import (
	"math"
	"runtime"
	"sync"
	"sync/atomic"

	"backfield/cue/clock"
	"backfield/layout"
	"backfield/layout/sound"
	"backfield/layout/stand"
	"backfield/layout/unit"
)

// sampleCounts is how often a walk is looked at.
const sampleCounts = 0.25

// engine is what all numbers of one compile are computed with.
type engine struct {
	system    *sound.System
	listeners *stand.Listeners
	aim       stand.Aim
	steps     int // of the desk's pan, from the middle to one side
	memo      *Memo
}

// hand is one worker's scratch space.
type hand struct {
	pan   *stand.PanChooser
	delay *stand.Chooser
}

func (r *Result) newEngine() *engine {
	e := &engine{
		system: r.Rig.System(r.Desk.Law),
		steps:  int(math.Round(1 / r.Desk.Pan.Step)),
		aim:    stand.Aim{WindowS: r.Score.WindowMS / 1000, LeadS: r.Score.LeadMS / 1000, Free: r.Score.Free},
	}
	seats := r.Rig.Seats()
	r.seats = len(seats)
	if e.memo = r.Memo; e.memo == nil || r.broken {
		e.memo = &Memo{}
	}
	if r.broken {
		seats = nil
	}
	e.listeners = e.memo.begin(basis{e.system, seats, r.Rig.Reference, e.aim, e.steps})
	return e
}

func (e *engine) hand() *hand { return &hand{e.listeners.PanChooser(), e.listeners.Chooser()} }

// each runs do for 0 to n-1, spread over the cores. Every call works for its own index only, so that the
// result does not depend on how many cores there are.
func (e *engine) each(n int, do func(h *hand, i int)) {
	var next atomic.Int64
	var workers sync.WaitGroup
	for range min(n, runtime.GOMAXPROCS(0)) {
		workers.Go(func() {
			h := e.hand()
			for {
				mine := int(next.Add(1)) - 1
				if mine >= n {
					return
				}
				do(h, mine)
			}
		})
	}
	workers.Wait()
}

// track is one open line's way through a cue's span, at the cue's samples. It ends early where the mic
// changes hands: the next holder has a cue of his own.
type track struct {
	line  int
	at    []layout.Point
	pathS []float64 // the player's own way to the reference seat, in seconds
	want  []float64 // the wanted pan, held to the width limit; in zones the azimuth in radians
}

// span is what a cue's snapshots are cut from.
type span struct {
	samples []clock.Moment
	cuts    []cut
	tracks  []track // by line, ascending
}

// cut is a place where one snapshot may end, at the sample end, and the next begin, at the sample next: a
// whole count after the cue or after a movement's downbeat. At a downbeat the two differ.
type cut struct{ end, next int }

// piece is one snapshot's part of a cue's span, from sample lo to sample hi; n is 0 for the cue itself, and
// counts its follow-ons.
type piece struct{ cue, n, lo, hi int }

// walk samples every cue's open lines, and works out what pan each wants when.
func (r *Result) walk(e *engine) []span {
	spans := make([]span, len(r.Cues))
	type job struct{ cue, track int }
	var jobs []job
	for i := range r.Cues {
		s := &spans[i]
		from, to := r.Cues[i].At, r.Clock.End()
		if i+1 < len(r.Cues) {
			to = r.Cues[i+1].At
		}
		s.samples = r.Clock.Samples(from, to, sampleCounts)
		s.cuts = cuts(s.samples)
		for _, l := range sorted(r.Cues[i].open) {
			jobs = append(jobs, job{i, len(s.tracks)})
			s.tracks = append(s.tracks, track{line: l})
		}
	}
	e.each(len(jobs), func(h *hand, n int) {
		s := &spans[jobs[n].cue]
		r.follow(e, h, s.samples, &s.tracks[jobs[n].track], r.Cues[jobs[n].cue].open[s.tracks[jobs[n].track].line].name)
	})
	return spans
}

// cuts lists where the samples lie on whole counts, the end of the span included.
func cuts(samples []clock.Moment) []cut {
	var list []cut
	last := len(samples) - 1
	from := samples[0].Elapsed // of the cue, or of the latest downbeat
	for i := 1; i <= last; i++ {
		switch n := samples[i].Elapsed - from; {
		case samples[i].Movement != samples[i-1].Movement:
			list = append(list, cut{i - 1, i})
			from = samples[i].Elapsed
		case i == last:
			list = append(list, cut{i, i})
		case math.Abs(n-math.Round(n)) < 1e-9 && samples[i+1].Movement == samples[i].Movement:
			list = append(list, cut{i, i})
		}
	}
	return list
}

// follow fills one track.
func (r *Result) follow(e *engine, h *hand, samples []clock.Moment, t *track, name string) {
	l := &r.lines[t.line]
	for i, m := range samples {
		if l.fixed == nil && i > 0 {
			if w := l.holder(m); w == nil || w.Player != name {
				break
			}
		}
		at, _ := r.where(l, m)
		if i > 0 && at == t.at[i-1] {
			t.at, t.pathS, t.want = append(t.at, at), append(t.pathS, t.pathS[i-1]), append(t.want, t.want[i-1])
			continue
		}
		t.at = append(t.at, at)
		t.pathS = append(t.pathS, at.Distance(r.Rig.Reference)/e.system.SpeedMPS)
		t.want = append(t.want, r.want(e, h, at))
	}
}

// want is the pan that puts a mic's image in its place, held to the width limit; in zones it is the azimuth.
func (r *Result) want(e *engine, h *hand, at layout.Point) float64 {
	if r.Rig.Zones {
		return at.Azimuth(r.Rig.Reference)
	}
	pan := 0.0
	if r.Score.StandFit && e.listeners.Len() > 0 {
		pan = float64(e.memo.pans.get(at, func() int { return h.pan.Fit(at) })) / float64(e.steps)
	} else {
		pan = e.system.TangentPan(at, r.Rig.Reference).Pan
	}
	return r.withinWidth(pan)
}

// withinWidth holds a pan to the score's width limit.
func (r *Result) withinWidth(pan float64) float64 {
	return math.Copysign(min(math.Abs(pan), r.Score.PanWidth), pan)
}

// divide cuts every cue's span into pieces: each goes on by whole counts for as long as every open line's
// acoustic time and pan stay within the tolerance, which is provably the fewest pieces. Where one count is
// already too much, it is cut there.
func (r *Result) divide(spans []span) []piece {
	var all []piece
	for i := range spans {
		s := &spans[i]
		lo, n, from, seen := 0, 0, 0, s.reaches(0)
		for k := 0; r.Score.Follow.On && r.Cues[i].Cue.Follow && k < len(s.cuts); k++ {
			if r.allowed(s, seen, s.cuts[k].end) {
				continue
			}
			at := max(k-1, from) // the last allowed cut, or this one where there is none
			if s.cuts[at].next >= len(s.samples)-1 {
				break
			}
			all = append(all, piece{i, n, lo, s.cuts[at].end})
			lo, n, from = s.cuts[at].next, n+1, at+1
			k, seen = at, s.reaches(lo)
		}
		all = append(all, piece{i, n, lo, len(s.samples) - 1})
	}
	return all
}

// reach is how far one track wanders within a piece, as far as it has been looked at.
type reach struct {
	next           int // the first sample not looked at
	pathLo, pathHi float64
	wantLo, wantHi float64
}

func (s *span) reaches(from int) []reach {
	list := make([]reach, len(s.tracks))
	for i := range list {
		list[i] = reach{from, math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)}
	}
	return list
}

// allowed looks on to sample hi and reports whether all that was looked at may share one snapshot.
func (r *Result) allowed(s *span, seen []reach, hi int) bool {
	swing := 2 * r.Score.Follow.Pan
	if r.Rig.Zones {
		swing = 2 * r.Score.Follow.AngleDeg * math.Pi / 180
	}
	for i, t := range s.tracks {
		w := &seen[i]
		for ; w.next < min(hi+1, len(t.at)); w.next++ {
			w.pathLo, w.pathHi = min(w.pathLo, t.pathS[w.next]), max(w.pathHi, t.pathS[w.next])
			w.wantLo, w.wantHi = min(w.wantLo, t.want[w.next]), max(w.wantHi, t.want[w.next])
		}
		if w.pathHi-w.pathLo > 2*r.Score.Follow.DriftMS/1000+1e-9 || w.wantHi-w.wantLo > swing+1e-9 {
			return false
		}
	}
	return true
}

func extent(v []float64) (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, x := range v {
		lo, hi = min(lo, x), max(hi, x)
	}
	return lo, hi
}

// panOnDesk finishes a pan on the desk's grid, within its limits.
func (r *Result) panOnDesk(pan float64) float64 {
	return unit.RoundSigned(max(min(pan, r.Desk.Pan.Max), r.Desk.Pan.Min), r.Desk.Pan.Step)
}
