package step

import (
	"math"

	"backfield/cue"
)

// How far a value at the end of a path may be from the next cue's, which is rounded to the mixer's step, and be the same:
// half of the coarsest steps with which values glide.
const (
	sameDelayMS = 0.1
	samePan     = 0.05
	samePlace   = 1e-3
	tiny        = 1e-6
)

// arrived is a channel where its path has brought it when the next cue comes: at its last knot. Where the path goes on
// from there, it has the next cue's values.
func arrived(was, is *cue.Channel) *cue.Channel {
	if !was.Open || !is.Open || was.Player != is.Player || len(was.Glide) == 0 {
		return was
	}
	end := *was
	last := was.Glide[len(was.Glide)-1]
	if end.DelayMS = last.DelayMS; math.Abs(end.DelayMS-is.DelayMS) <= sameDelayMS+tiny {
		end.DelayMS = is.DelayMS
	}
	if last.LevelDB != nil {
		end.LevelDB = *last.LevelDB
	}
	if last.Place == nil || is.Place == nil {
		if end.Pan = last.Pan; math.Abs(end.Pan-is.Pan) <= samePan+tiny {
			end.Pan = is.Pan
		}
		return &end
	}
	if end.Place = last.Place; math.Abs(*last.Place-*is.Place) <= samePlace {
		end.Place, end.Sends = is.Place, is.Sends
	}
	return &end
}
