package liverun

import (
	"fmt"
	"path/filepath"

	"backfield/layout/source"
	"backfield/osc/ringing"
)

// fillRings computes how close each mic is to feedback over the show, beside the run: a go does not wait for it. Without
// readings of noise and brass that means nothing, and nothing is computed. Where they are typed and cannot be used, every
// screen says so in the row that is theirs: an empty one would look like enough margin.
func (r *LiveRun) fillRings() {
	if levels := &r.show.Rig.Levels; levels.Noise == nil || levels.Brass == nil {
		return
	}
	wantedDB := r.show.Score.Goals.MarginDB
	r.rings.Fill(nil, wantedDB)
	go func() {
		var found source.Problems
		l := r.show.Loudness(&found)
		if l == nil || !l.Measured.Calibrated() {
			r.reportUnwatched(found.All())
			return
		}
		mics := map[string]ringing.MicLoops{}
		for _, t := range l.LoopTracks() {
			mics[t.Name] = ringing.MicLoops{AtS: t.AtS, Loops: t.Loops, TakeDB: t.TakeDB}
		}
		r.rings.Fill(mics, wantedDB)
	}()
}

// reportUnwatched says why feedback is not watched: the first reason on the screens, which have a row for it, and all of
// them without a screen.
func (r *LiveRun) reportUnwatched(found []source.Problem) {
	first := true
	for _, x := range found {
		if x.Severity != source.Error && x.Code != "level-noise" && x.Code != "level-unused" {
			continue // it is about a reading that is used
		}
		why := fmt.Sprintf("%s: %s; %s", filepath.Base(x.Span.Where()), x.What, x.Do)
		if first {
			r.rings.Refuse(why)
		}
		if first = false; r.o.Plain {
			r.notices.Say("FEEDBACK IS NOT WATCHED, and NEAR FEEDBACK is never said: " + why)
		}
	}
}
