package timeline

import (
	"math"

	"backfield/cue/clock"
)

// EarlyMic is a mic that a cue opens before its count, or that it cannot open as early as the score says.
type EarlyMic struct {
	Line   int
	Counts float64 // by how much the score wants it open before the cue
	From   clock.Moment
	Count  float64 // of the cue's movement, from 1; under 1 in the wait before its downbeat
	TimeS  float64 // when it opens; the cue's own time if it opens with the cue
	FadeS  float64 // at the written tempo
	Cut    string  // why it is not as early as it should be, "" if it is
}

// EarlyMics lists what a cue opens before its count, by line. Such a mic is closed in the cue before. It opens
// by the clock, by as many counts before the cue as the score says, but not before the cue before. What is left of the
// time to a downbeat is in the wait before it, at the tempo of the downbeat.
func EarlyMics(f *Files, c *clock.Clock, lines *Lines, cues []TimedCue, i int) []EarlyMic {
	var list []EarlyMic
	q := &cues[i]
	for _, l := range Sorted(q.Open) {
		o := q.Open[l]
		x := EarlyMic{Line: l, Counts: f.Score.EarlyOf(q.Cue, &o.Role), Count: q.At.Count(), TimeS: c.Seconds(q.At)}
		if x.Counts <= 0 {
			continue
		}
		if i == 0 {
			x.From, x.Cut = q.At, "no cue comes before it"
			list = append(list, x)
			continue
		}
		before := &cues[i-1]
		if was, open := before.Open[l]; open && was.Name == o.Name {
			continue
		} else if open {
			x.From, x.Cut = q.At, was.Name+" has the channel open until then"
			list = append(list, x)
			continue
		}
		x.open(f, c, lines, q, before)
		list = append(list, x)
	}
	return list
}

// open finds when a mic opens that is closed in the cue before.
func (x *EarlyMic) open(f *Files, c *clock.Clock, lines *Lines, q, before *TimedCue) {
	cueS, beforeS := x.TimeS, c.Seconds(before.At)
	from, inWait := c.Earlier(q.At, x.Counts)
	x.From, x.TimeS, x.Count = from, c.Seconds(from), from.Count()-inWait
	if inWait > 0 {
		x.TimeS -= c.Span(x.From, inWait)
		x.From = c.At(x.TimeS)
	}
	if x.TimeS < beforeS-1e-9 {
		x.From, x.TimeS, x.Count = before.At, beforeS, before.At.Count()
		if before.At.Movement != q.At.Movement {
			x.Count = 1 - (c.Movements[q.At.Movement-1].StartS-beforeS)/c.Span(clock.Moment{Movement: q.At.Movement}, 1)
		}
		x.Cut = "it cannot open before cue " + before.Cue.ID.V
	}
	if line := &lines.List[x.Line]; line.Fixed == nil {
		if w := line.Holder(x.From); w == nil || w.Player != q.Open[x.Line].Name {
			x.From, x.TimeS, x.Count = q.At, cueS, q.At.Count()
			x.Cut = "somebody else wears the pack until then"
			return
		}
	}
	x.FadeS = math.Min(c.Span(x.From, q.Cue.FadeCounts), cueS-x.TimeS)
}
