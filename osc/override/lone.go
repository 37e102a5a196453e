package override

import (
	"slices"

	"backfield/cue"
)

// Lone is a channel that is open while every other one of the show is closed.
type Lone struct {
	Channel int // the show's, also if a spare stands in for it
	levelDB cue.Level
	role    string
}

// Alone is a channel with the level that it has in the nearest cue which opens it, from a step on, else before it. It is
// nil for a channel that no cue opens.
func Alone(cues []cue.Snapshot, step, channel int) *Lone {
	look := func(s *cue.Snapshot) *Lone {
		if i := slices.IndexFunc(s.Channels, is(channel)); i >= 0 && s.Channels[i].Open {
			return &Lone{channel, s.Channels[i].LevelDB, s.Channels[i].Role}
		}
		return nil
	}
	for i := step; i < len(cues); i++ {
		if x := look(&cues[i]); x != nil {
			return x
		}
	}
	for i := min(step, len(cues)) - 1; i >= 0; i-- {
		if x := look(&cues[i]); x != nil {
			return x
		}
	}
	return nil
}
