package diff

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"backfield/cue"
	"backfield/cue/step"
)

// version is a cue in one of the two shows.
type version struct {
	*cue.Snapshot
	moves cue.Moves
}

// pathChange is where the paths of a channel are farthest apart, between its cue and the next.
type pathChange struct {
	old, new      cue.Gliding // at that moment
	movement      int
	count         float64
	param         string
	size, atStart float64 // in units, there and at the cue's moment
}

// glideParams are what glides: the value, and how much of it is one unit of size. A unit of place is that from a stack to
// the next.
var glideParams = []struct {
	name string
	unit float64
	of   func(g cue.Gliding) float64
}{
	{ParamDelay, unitDelayMS, func(g cue.Gliding) float64 { return g.DelayMS }},
	{ParamPan, unitPan, func(g cue.Gliding) float64 { return g.Pan }},
	{ParamPlace, 1, func(g cue.Gliding) float64 { return g.Place }},
	{ParamLevel, unitLevelDB, func(g cue.Gliding) float64 { return float64(g.LevelDB) }},
}

// sameGlide is how far two paths may be apart and be the same.
const sameGlide = 1e-6

// pathChanges lists what of a channel's path differs by more after the cue than at its moment, which other words say.
// Paths are compared count by count, as long as both go on: a cue that comes later leaves the path where it is.
func pathChanges(old, new version, c *step.ChannelStep) (list []pathChange) {
	if c.Kind != step.StaysOpen && c.Kind != step.HandsOver || len(c.Was.Glide)+len(c.Is.Glide) == 0 {
		return nil
	}
	for _, p := range glideParams {
		var most pathChange
		for i, k := range bends(old.Snapshot, new.Snapshot, c) {
			x := pathChange{movement: k.Movement, count: k.Count, param: p.name, atStart: most.atStart}
			x.old = old.GlideAtCount(c.Was, k.Movement, k.Count, old.moves)
			x.new = new.GlideAtCount(c.Is, k.Movement, k.Count, new.moves)
			if by := math.Abs(p.of(x.new) - p.of(x.old)); by > sameGlide {
				x.size = by / p.unit
			}
			if i == 0 {
				if old.Movement == new.Movement && old.Count == new.Count { // else the other words are of other counts
					x.atStart = x.size
				}
				most = x
			}
			if x.size > most.size+sameGlide {
				most = x
			}
		}
		// At the cue's moment other words say how far it is off. A tenth of a unit more is not worth a line.
		if most.size > most.atStart && (most.atStart == 0 || most.size > most.atStart+0.1) {
			list = append(list, most)
		}
	}
	return list
}

// bends are the moments at which either path may bend, from the later beginning to the earlier end.
func bends(old, new *cue.Snapshot, c *step.ChannelStep) []cue.Knot {
	before := func(a, b cue.Knot) int {
		switch {
		case a.Movement != b.Movement:
			return a.Movement - b.Movement
		case a.Count < b.Count:
			return -1
		case a.Count > b.Count:
			return 1
		}
		return 0
	}
	begins := func(s *cue.Snapshot) cue.Knot { return cue.Knot{Movement: s.Movement, Count: s.Count} }
	first, last := begins(old), cue.Knot{Movement: math.MaxInt}
	if before(begins(new), first) > 0 {
		first = begins(new)
	}
	list := []cue.Knot{first}
	for _, glide := range [][]cue.Knot{c.Was.Glide, c.Is.Glide} {
		if n := len(glide); n > 0 && before(glide[n-1], last) < 0 {
			last = glide[n-1]
		}
		list = append(list, glide...)
	}
	list = slices.DeleteFunc(list, func(k cue.Knot) bool { return before(k, first) < 0 || before(k, last) > 0 })
	slices.SortStableFunc(list, before)
	return slices.CompactFunc(list, func(a, b cue.Knot) bool { return before(a, b) == 0 })
}

// values are the two values that are farthest apart, rounded to what people set.
func (x pathChange) values() (old, new float64) {
	tenths := func(v float64) float64 { return math.Round(v*10) / 10 }
	for _, p := range glideParams {
		switch {
		case p.name != x.param:
		case p.name == ParamDelay || p.name == ParamLevel:
			return tenths(p.of(x.old)), tenths(p.of(x.new))
		default:
			return hundredths(p.of(x.old)), hundredths(p.of(x.new))
		}
	}
	return 0, 0
}

// words says it: "delay 44.7 -> 49.8 ms (+5.1) at 1:133".
func (x pathChange) words() (what string) {
	switch old, new := x.values(); x.param {
	case ParamDelay:
		what = delayWords(old, new)
	case ParamPan:
		what = panWords(old, new)
	case ParamPlace:
		what = fmt.Sprintf("place %s -> %s along the row of stacks", number(old, 2), number(new, 2))
	case ParamLevel:
		what = levelWords(cue.Level(old), cue.Level(new))
	}
	return fmt.Sprintf("%s at %d:%s", what, x.movement, number(x.count, 0))
}

// pathDiff is all of it as one change of the channel; ok is false if the paths are the same.
func pathDiff(list []pathChange, why []string) (d ParamDiff, ok bool) {
	if len(list) == 0 {
		return d, false
	}
	var words []string
	most := list[0]
	for _, x := range list {
		words = append(words, x.words())
		if x.size > most.size {
			most = x
		}
	}
	old, new := most.values()
	return ParamDiff{
		Param: ParamPath, Of: most.param, Old: cue.Level(old), New: cue.Level(new),
		Words: "path: " + strings.Join(words, ", "), Why: why, Size: most.size,
	}, true
}
