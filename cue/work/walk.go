package work

import (
	"fmt"
	"math"

	"backfield/cue/clock"
	"backfield/cue/timeline"
	"backfield/layout"
)

// sampleCounts is the time between two samples of a walk, in counts.
const sampleCounts = 0.25

// Track is the path of one open line through a cue's span, at the span's samples. It ends early if the mic goes to
// another player, who has a cue of their own.
type Track struct {
	Line  int
	At    []layout.Point
	PathS []float64 // how long the player's own sound takes to the reference seat, in seconds
	Want  []float64 // the wanted pan, within the width limit; with zones the azimuth in radians
}

// CueSpan is the time from one cue to the next, which is cut into snapshots.
type CueSpan struct {
	Samples []clock.Moment
	Cuts    []Cut
	Tracks  []Track // by line, ascending
}

// Cut is a moment at which one snapshot may end, at the sample End, and the next begin, at the sample Next: a whole
// count after the cue or after a movement's downbeat. The two differ only at a downbeat.
type Cut struct{ End, Next int }

// CuePiece is the part of a cue's span that one snapshot covers, from sample Lo to sample Hi. N is 0 for the cue itself
// and the number of the waypoint otherwise.
type CuePiece struct{ Cue, N, Lo, Hi int }

// ID is the id of a piece: "12" for the cue itself, "12.1" for its first waypoint.
func (p CuePiece) ID(cues []timeline.TimedCue) string {
	id := cues[p.Cue].Cue.ID.V
	if p.N == 0 {
		return id
	}
	return fmt.Sprintf("%s.%d", id, p.N)
}

// Walk samples every cue's open lines, and finds the pan that each wants at every sample.
func Walk(s *CompileSetup, c *clock.Clock, lines *timeline.Lines, cues []timeline.TimedCue) []CueSpan {
	spans := make([]CueSpan, len(cues))
	type job struct{ cue, track int }
	var jobs []job
	for i := range cues {
		x := &spans[i]
		to := c.End()
		if i+1 < len(cues) {
			to = cues[i+1].At
		}
		x.Samples = c.Samples(cues[i].At, to, sampleCounts)
		x.Cuts = cuts(x.Samples)
		for _, l := range timeline.Sorted(cues[i].Open) {
			jobs = append(jobs, job{i, len(x.Tracks)})
			x.Tracks = append(x.Tracks, Track{Line: l})
		}
	}
	s.each(len(jobs), func(h *scratch, n int) {
		x := &spans[jobs[n].cue]
		t := &x.Tracks[jobs[n].track]
		s.fillTrack(h, lines, x.Samples, t, cues[jobs[n].cue].Open[t.Line].Name)
	})
	return spans
}

// cuts lists the samples on whole counts, the end of the span included.
func cuts(samples []clock.Moment) []Cut {
	var list []Cut
	last := len(samples) - 1
	from := samples[0].Elapsed // of the cue, or of the latest downbeat
	for i := 1; i <= last; i++ {
		switch n := samples[i].Elapsed - from; {
		case samples[i].Movement != samples[i-1].Movement:
			list = append(list, Cut{i - 1, i})
			from = samples[i].Elapsed
		case i == last:
			list = append(list, Cut{i, i})
		case math.Abs(n-math.Round(n)) < 1e-9 && samples[i+1].Movement == samples[i].Movement:
			list = append(list, Cut{i, i})
		}
	}
	return list
}

// fillTrack fills one track.
func (s *CompileSetup) fillTrack(h *scratch, lines *timeline.Lines, samples []clock.Moment, t *Track, name string) {
	l := &lines.List[t.Line]
	for i, m := range samples {
		if l.Fixed == nil && i > 0 {
			if w := l.Holder(m); w == nil || w.Player != name {
				break
			}
		}
		at, _ := lines.Where(l, m)
		if i > 0 && at == t.At[i-1] {
			t.At, t.PathS, t.Want = append(t.At, at), append(t.PathS, t.PathS[i-1]), append(t.Want, t.Want[i-1])
			continue
		}
		t.At = append(t.At, at)
		t.PathS = append(t.PathS, at.Distance(s.Rig.Reference)/s.System.SpeedMPS)
		t.Want = append(t.Want, s.want(h, at))
	}
}

// want is the pan that puts a mic's image in its place, within the width limit; with zones it is the azimuth.
func (s *CompileSetup) want(h *scratch, at layout.Point) float64 {
	if s.Rig.Zones {
		return at.Azimuth(s.Rig.Reference)
	}
	pan := 0.0
	if s.Score.PanByStands && s.Listeners.Len() > 0 {
		pan = float64(s.memo.pans.get(at, func() int { return h.pan.Fit(at) })) / float64(s.steps)
	} else {
		pan = s.System.TangentPan(at, s.Rig.Reference).Pan
	}
	return WithinWidth(pan, s.Score.PanWidth)
}

// WithinWidth limits a pan to a width on either side.
func WithinWidth(pan, width float64) float64 { return math.Copysign(min(math.Abs(pan), width), pan) }

// Divide cuts every cue's span into pieces. Each piece goes on by whole counts for as long as every open line's
// acoustic time and pan stay within the tolerance, which gives the fewest pieces. If even one count is too much, it is
// cut after one count.
func Divide(f *timeline.Files, cues []timeline.TimedCue, spans []CueSpan) []CuePiece {
	var all []CuePiece
	for i := range spans {
		s := &spans[i]
		lo, n, from, seen := 0, 0, 0, s.reaches(0)
		for k := 0; f.Score.Waypoints.On && cues[i].Cue.Waypoints && k < len(s.Cuts); k++ {
			if allowed(f, s, seen, s.Cuts[k].End) {
				continue
			}
			at := max(k-1, from) // the last allowed cut, or this one if there is none
			if s.Cuts[at].Next >= len(s.Samples)-1 {
				break
			}
			all = append(all, CuePiece{i, n, lo, s.Cuts[at].End})
			lo, n, from = s.Cuts[at].Next, n+1, at+1
			k, seen = at, s.reaches(lo)
		}
		all = append(all, CuePiece{i, n, lo, len(s.Samples) - 1})
	}
	return all
}

// reach is how far one track moves within a piece, up to the sample next.
type reach struct {
	next           int // the first sample that does not count yet
	pathLo, pathHi float64
	wantLo, wantHi float64
}

func (s *CueSpan) reaches(from int) []reach {
	list := make([]reach, len(s.Tracks))
	for i := range list {
		list[i] = reach{from, math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)}
	}
	return list
}

// allowed takes in the samples up to hi and reports whether all of them may share one snapshot.
func allowed(f *timeline.Files, s *CueSpan, seen []reach, hi int) bool {
	swing := 2 * f.Score.Waypoints.Pan
	if f.Rig.Zones {
		swing = 2 * f.Score.Waypoints.AngleDeg * math.Pi / 180
	}
	for i := range s.Tracks {
		t, w := &s.Tracks[i], &seen[i]
		for ; w.next < min(hi+1, len(t.At)); w.next++ {
			w.pathLo, w.pathHi = min(w.pathLo, t.PathS[w.next]), max(w.pathHi, t.PathS[w.next])
			w.wantLo, w.wantHi = min(w.wantLo, t.Want[w.next]), max(w.wantHi, t.Want[w.next])
		}
		if w.pathHi-w.pathLo > 2*f.Score.Waypoints.DriftMS/1000+1e-9 || w.wantHi-w.wantLo > swing+1e-9 {
			return false
		}
	}
	return true
}

// extent is the smallest and the largest of some numbers.
func extent(v []float64) (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, x := range v {
		lo, hi = min(lo, x), max(hi, x)
	}
	return lo, hi
}
