package liverun

import (
	"backfield/layout/source"
	"backfield/osc/ringing"
)

// fillRings computes how close each mic is to feedback over the show, beside the run: a go does not wait for it. Without
// readings of noise and brass that means nothing, and nothing is computed.
func (r *LiveRun) fillRings() {
	if levels := &r.show.Rig.Levels; levels.Noise == nil || levels.Brass == nil {
		return
	}
	go func() {
		var reported source.Problems // check reports them
		l := r.show.Loudness(&reported)
		if l == nil || !l.Measured.Calibrated() {
			return
		}
		mics := map[string]ringing.MicLoops{}
		for _, t := range l.LoopTracks() {
			mics[t.Name] = ringing.MicLoops{AtS: t.AtS, Loops: t.Loops, TakeDB: t.TakeDB}
		}
		r.rings.Fill(mics, r.show.Score.Goals.MarginDB)
	}()
}
