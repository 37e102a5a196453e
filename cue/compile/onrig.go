package compile

import (
	"backfield/cue/timeline"
	"backfield/cue/work"
	"backfield/layout/rig"
)

// AllLines asks OnRig for every line.
const AllLines = -1

// OnRig is the show with paths of its own for another rig, of one line or of all. It has no snapshots: Show is still that
// of the show's own rig.
func (r *Result) OnRig(other *rig.Rig, line int) *Result {
	x := *r
	x.Rig = other
	if send := &x.Mixer.Send; other.Zones && send.Step == 0 { // a mixer for stereo need not say
		send.Min, send.Max, send.Step = -80, 10, 0.1
	}
	if pan := &x.Mixer.Pan; !other.Zones && pan.Step == 0 { // and one for zones has perhaps no pan
		pan.Min, pan.Max, pan.Step = -1, 1, 0.01
	}
	if line != AllLines {
		x.Cues = make([]timeline.TimedCue, len(r.Cues))
		for i, c := range r.Cues {
			if open, ok := c.Open[line]; ok {
				c.Open = map[int]timeline.Opening{line: open}
			} else {
				c.Open = nil
			}
			x.Cues[i] = c
		}
	}
	x.Setup = work.NewCompileSetup(&x.Files, r.Setup.Lanes, nil, false)
	x.Derivations = work.Compute(x.Setup, x.Clock, x.Lines, x.Cues, nil)
	return &x
}
