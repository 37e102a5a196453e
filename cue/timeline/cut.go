package timeline

import (
	"fmt"
	"math"
	"slices"

	"backfield/cue/clock"
	"backfield/cue/score"
	"backfield/layout/source"
	"backfield/layout/unit"
)

// ScoreCut is a part of the show that is not played tonight.
type ScoreCut struct {
	clock.TimeCut
	Resumes string // where the show goes on, as a count is written: "set 17"
	Text    string // as written: "set 14 .. set 17"
	At      source.Span
}

func (f *Files) cuts() []clock.TimeCut {
	var list []clock.TimeCut
	for _, x := range f.Cuts {
		list = append(list, x.TimeCut)
	}
	return list
}

// jumpM is how far a player may be from one side of a joint to the other without a word about it.
const jumpM = 1.0

// Played are the cues that are played where the show has cuts. Those in a cut are gone, except for the last of each where
// none goes at the joint itself: that one goes there, so that what is open after the joint is what the score has open.
func Played(f *Files, c *clock.Clock, lines *Lines, cues []TimedCue, p *source.Problems) []TimedCue {
	if len(c.Cuts) == 0 {
		return cues
	}
	var list []TimedCue
	for i := range cues {
		x := cues[i]
		cut, gone := c.CutAt(x.At)
		toEnd := !cut.To.Before(c.Last())
		if gone && (toEnd || i+1 < len(cues) && !cut.To.Before(cues[i+1].At)) {
			continue
		}
		if gone {
			x.moveTo(cut.To, f.resumes(cut.To), lines)
		}
		list = append(list, x)
	}
	if len(list) == 0 && len(cues) > 0 {
		p.Add(allCut(f.Cuts))
		return nil
	}
	f.automatic(c, list, p)
	for _, cut := range c.Cuts {
		f.reportJumps(cut, lines, list, p)
	}
	return list
}

// resumes is where the show goes on after a cut, as it is written.
func (f *Files) resumes(to clock.Moment) string {
	for _, x := range f.Cuts {
		if x.To == to {
			return x.Resumes
		}
	}
	return fmt.Sprintf("%d:%.4g", to.Movement, to.Count())
}

// moveTo lets a cue go at another moment, with what it has open: a player who has changed packs by then is followed.
func (x *TimedCue) moveTo(at clock.Moment, text string, lines *Lines) {
	q := *x.Cue
	q.At.V, q.Auto, q.AfterCounts = text, false, 0
	open := map[int]Opening{}
	for _, l := range Sorted(x.Open) {
		o := x.Open[l]
		if lines.List[l].Fixed != nil {
			open[l] = o
		} else if now, ok := lines.LineOf(o.Name, at); ok {
			open[now] = o
		}
	}
	x.Cue, x.At, x.Open = &q, at, open
}

// automatic looks at automatic cues over a joint. One whose cue before is cut waits for a press.
func (f *Files) automatic(c *clock.Clock, list []TimedCue, p *source.Problems) {
	before := map[string]*score.Cue{} // the cue that each comes after, by id
	for i := 1; i < len(f.Score.Cues); i++ {
		before[f.Score.Cues[i].ID.V] = &f.Score.Cues[i-1]
	}
	for i := range list {
		x := &list[i]
		if !x.Cue.Auto {
			continue
		}
		was := before[x.Cue.ID.V]
		if i == 0 || was == nil || list[i-1].Cue.ID.V != was.ID.V {
			q := *x.Cue
			q.Auto = false
			x.Cue = &q
			p.Add(pressedTonight(x.Cue, was, f.cutBefore(c, x.At)))
			continue
		}
		counts := c.Counts(list[i-1].At, x.At)
		if math.Abs(counts-x.Cue.AfterCounts) > 1e-6 {
			p.Add(soonerTonight(x.Cue, was, counts, f.cutBefore(c, x.At)))
		}
	}
}

// cutBefore is the last cut before a moment.
func (f *Files) cutBefore(c *clock.Clock, at clock.Moment) ScoreCut {
	var found ScoreCut
	for _, x := range f.Cuts {
		if !at.Before(x.To) && !x.To.Before(found.To) {
			found = x
		}
	}
	return found
}

// reportJumps says whose mics are open over a joint, where the player is somewhere else after it.
func (f *Files) reportJumps(cut clock.TimeCut, lines *Lines, list []TimedCue, p *source.Problems) {
	before := -1
	for i := range list {
		if list[i].At.Before(cut.To) {
			before = i
		}
	}
	if before < 0 || cut.To == (clock.Moment{}) {
		return
	}
	after := before // what is open when the show goes on
	if before+1 < len(list) && list[before+1].At == cut.To {
		after++
	}
	var jumps []string
	for _, l := range Sorted(list[before].Open) {
		o, still := list[after].Open[l]
		line := &lines.List[l]
		if !still || o.Name != list[before].Open[l].Name || line.Fixed != nil {
			continue
		}
		d, ok := f.Drill.Player(o.Name)
		if !ok {
			continue
		}
		from, ok1 := d.At(f.Drill, cut.From.Movement, cut.From.Elapsed)
		to, ok2 := d.At(f.Drill, cut.To.Movement, cut.To.Elapsed)
		if distM := math.Hypot(to.X-from.X, to.Y-from.Y); ok1 && ok2 && distM > jumpM {
			jumps = append(jumps, fmt.Sprintf("%s by %.0f steps", o.Name, distM/unit.StepM))
		}
	}
	if len(jumps) > 0 {
		p.Add(jumpsAtJoint(f.at(cut), f.resumes(cut.To), jumps))
	}
}

// at is what was written of a cut.
func (f *Files) at(cut clock.TimeCut) ScoreCut {
	k := slices.IndexFunc(f.Cuts, func(x ScoreCut) bool { return x.To == cut.To })
	return f.Cuts[max(k, 0)]
}

func allCut(cuts []ScoreCut) source.Problem {
	return source.ErrorAt("nothing-left", cuts[0].At, "the cuts leave no cue of the show", "cut less")
}

func pressedTonight(q, was *score.Cue, cut ScoreCut) source.Problem {
	return source.WarningAt("cut-auto", cut.At,
		fmt.Sprintf("automatic cue %q waits for a press tonight: cue %q, which it comes after, is cut", q.ID.V,
			was.ID.V),
		"press go for it")
}

func soonerTonight(q, was *score.Cue, counts float64, cut ScoreCut) source.Problem {
	return source.WarningAt("cut-auto", cut.At,
		fmt.Sprintf("automatic cue %q goes %s after cue %q instead of %s: the rest is cut", q.ID.V,
			source.Count(counts, "count"), was.ID.V, source.Count(q.AfterCounts, "count")), "listen for it")
}

func jumpsAtJoint(cut ScoreCut, resumes string, jumps []string) source.Problem {
	return source.WarningAt("cut-open", cut.At,
		fmt.Sprintf("open mics jump at %s, where the show goes on after the cut: %s", resumes, Few(jumps)),
		"hush before the joint and unhush after it, or cut where these mics are closed")
}
