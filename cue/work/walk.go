package work

import (
	"math"

	"backfield/cue/clock"
	"backfield/cue/timeline"
	"backfield/layout"
)

// sampleCounts is the time between two samples of a walk, in counts.
const sampleCounts = 0.25

// Track is the walk of one open line through a cue's span, at the span's samples. It ends early if the mic goes to
// another player, who has a cue of their own.
type Track struct {
	Line int
	At   []layout.Point
}

// CueSpan is the time from one cue to the next.
type CueSpan struct {
	Samples []clock.Moment
	Tracks  []Track // by line, ascending
}

// Walk samples every cue's open lines.
func Walk(c *clock.Clock, lines *timeline.Lines, cues []timeline.TimedCue) []CueSpan {
	spans := make([]CueSpan, len(cues))
	for i := range cues {
		x := &spans[i]
		to := c.End()
		if i+1 < len(cues) {
			to = cues[i+1].At
		}
		x.Samples = c.Samples(cues[i].At, to, sampleCounts)
		for _, l := range timeline.Sorted(cues[i].Open) {
			t := Track{Line: l}
			t.walk(lines, x.Samples, cues[i].Open[l].Name)
			x.Tracks = append(x.Tracks, t)
		}
	}
	return spans
}

func (t *Track) walk(lines *timeline.Lines, samples []clock.Moment, name string) {
	l := &lines.List[t.Line]
	for i, m := range samples {
		if l.Fixed == nil && i > 0 {
			if w := l.Holder(m); w == nil || w.Player != name {
				return
			}
		}
		at, _ := lines.Where(l, m)
		t.At = append(t.At, at)
	}
}

// want is the pan that puts a mic's image in its place, within the width limit.
func (s *CompileSetup) want(h *scratch, at layout.Point) float64 {
	pan := 0.0
	if s.Score.PanByStands && s.Listeners.Len() > 0 {
		pan = float64(s.memo.pans.get(at, func() int { return h.pan.Fit(at) })) / panSteps
	} else {
		pan = s.System.TangentPan(at, s.Rig.Reference).Pan
	}
	return WithinWidth(pan, s.Score.PanWidth)
}

// WithinWidth limits a pan to a width on either side.
func WithinWidth(pan, width float64) float64 { return math.Copysign(min(math.Abs(pan), width), pan) }
