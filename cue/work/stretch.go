package work

import (
	"math"

	"backfield/cue"
	"backfield/cue/clock"
	"backfield/cue/timeline"
	"backfield/layout"
)

// MicStretch is the time for which a channel stays open with one wearer, over cues too, and its path.
type MicStretch struct {
	Line    int
	Name    string
	Cues    [2]int // the first and the last cue that it is open in
	Samples []StretchSample
	*StretchPath
}

// StretchSample is one moment of a stretch: its first and last, every cue, the ends of waits and cuts, and every quarter
// count.
type StretchSample struct {
	clock.Moment
	Cue     int // that it belongs to; the one at a cue belongs to the cue that begins there
	At      layout.Point
	Counts  float64 // since the show's first downbeat
	StepS   float64 // the seconds since the sample before in which the delay may move: without pauses
	WeightS float64 // half of the seconds to both neighbors; pauses count, waits do not
	IsCue   bool    // a cue after the stretch's first is here
	IsWait  bool    // this is one of the two ends of a wait between movements, or of a cut
	Rests   bool    // the player rests, and the mixer's delay clicks: then rests count as closed
	MayJump bool    // the delay may change here, unheard
}

// At is the last sample at a moment or before it, from one on.
func (s *MicStretch) At(from int, m clock.Moment) int {
	for from+1 < len(s.Samples) && !m.Before(s.Samples[from+1].Moment) {
		from++
	}
	return from
}

// Part is the first and the last sample of a cue in the stretch; the last is the next cue's first.
func (s *MicStretch) Part(cue int) (lo, hi int) {
	for lo < len(s.Samples)-1 && s.Samples[lo].Cue < cue {
		lo++
	}
	for hi = lo; hi < len(s.Samples)-1 && s.Samples[hi].Cue == cue; {
		hi++
	}
	return lo, hi
}

// tinyCounts is how close two samples are the same.
const tinyCounts = 1e-9

// findStretches finds the stretches of all lines, by line and time, with their samples.
func findStretches(s *CompileSetup, c *clock.Clock, lines *timeline.Lines, cues []timeline.TimedCue) []*MicStretch {
	var list []*MicStretch
	for l := range lines.List {
		for i := 0; i < len(cues); i++ {
			if _, open := cues[i].Open[l]; !open {
				continue
			}
			x := newStretch(s, c, lines, cues, l, i)
			if s.rules.Moves == cue.Closed && lines.List[l].Fixed == nil {
				x.rest(s.Lanes)
			}
			list = append(list, x)
			i = x.Cues[1]
		}
	}
	return list
}

// newStretch is the stretch that begins with a cue.
func newStretch(
	s *CompileSetup, c *clock.Clock, lines *timeline.Lines, cues []timeline.TimedCue, l, first int,
) *MicStretch {
	line := &lines.List[l]
	x := &MicStretch{Line: l, Name: cues[first].Open[l].Name, Cues: [2]int{first, first}}
	worn, end := line.Holder(cues[first].At), c.End()
	for i := first + 1; i < len(cues); i++ {
		o, open := cues[i].Open[l]
		if !open || o.Name != x.Name || line.Holder(cues[i].At) != worn {
			end = cues[i].At
			break
		}
		x.Cues[1] = i
	}
	if leaves, ok := line.Leaves(worn); ok && leaves.Before(end) {
		end = leaves // within the cue: then the channel stays as it is
	}
	x.sample(c, cues, end)
	for k := range x.Samples {
		at := &x.Samples[k]
		at.At, _ = lines.WhereWorn(line, worn, at.Moment)
	}
	return x
}

// sample lists the moments up to the end of the stretch, with their seconds.
func (s *MicStretch) sample(c *clock.Clock, cues []timeline.TimedCue, end clock.Moment) {
	from, next := cues[s.Cues[0]].At, s.Cues[0]+1
	for _, part := range c.Parts(from, end) {
		m, hi := part.Movement, part.Hi
		movement := &c.Movements[m-1]
		begin := len(s.Samples)
		for e := part.Lo; ; {
			x := StretchSample{Moment: clock.Moment{Movement: m, Elapsed: e}, Counts: part.Before + e}
			if next <= s.Cues[1] && !x.Moment.Before(cues[next].At) {
				x.IsCue = true
				next++
			}
			x.Cue = next - 1
			if k := len(s.Samples); k > begin {
				x.StepS = movement.Tempo.CountedSeconds(e) - movement.Tempo.CountedSeconds(s.Samples[k-1].Elapsed)
				s.Samples[k-1].WeightS += x.StepS / 2
				x.WeightS = x.StepS / 2
			} else if k > 0 {
				x.StepS = max(c.Seconds(x.Moment)-c.Seconds(s.Samples[k-1].Moment), 0)
				s.Samples[k-1].IsWait, x.IsWait = true, true
			}
			s.Samples = append(s.Samples, x)
			if e >= hi-tinyCounts {
				break
			}
			after := (math.Floor(e/sampleCounts+tinyCounts) + 1) * sampleCounts
			if next <= s.Cues[1] && cues[next].At.Movement == m {
				after = min(after, cues[next].At.Elapsed)
			}
			if e = after; e > hi-tinyCounts {
				e = hi
			}
		}
		s.pause(movement.Tempo, s.Samples[begin:])
	}
	if len(s.Samples) == 1 {
		s.Samples[0].WeightS = 1
	}
}

// pause adds the pauses of a movement to the samples at which the path stands still for them.
func (s *MicStretch) pause(tempo clock.Tempo, samples []StretchSample) {
	for _, p := range tempo.Silences() {
		last := len(samples) - 1
		if p.After <= samples[0].Elapsed+tinyCounts || p.After > samples[last].Elapsed+tinyCounts {
			continue // over before the first, or after the last
		}
		k := last
		for samples[k].Elapsed > p.After+tinyCounts {
			k--
		}
		samples[k].WeightS += p.S
	}
}
