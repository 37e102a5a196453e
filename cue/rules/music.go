package rules

import (
	"fmt"
	"math"
	"slices"

	"backfield/cue/parts"
	"backfield/cue/timeline"
	"backfield/layout/source"
)

// musicRules are the rules about open mics and what their players play. They know only players whose parts are mapped.
var musicRules = []Rule{
	{
		Code: "open-resting", Section: TheScore, ForDesigner: true,
		Help: "a mic stays open over a rest of more than 8 counts: it amplifies feet and breath. Only players\n" +
			"with a part in `[music.parts]`. The warning is at the cue in which the rest begins.",
		Fix:     "a mic is open while its player rests. Close it there, or accept it.",
		EachCue: openResting,
	},
	{
		Code: "opens-late", Section: TheScore, ForDesigner: true,
		Help: "a player's first note is under the fade with which a cue opens their mic, or up to 4 counts\n" +
			"before it. Only players with a part in `[music.parts]`.",
		Fix:     "a first note is cut. Write `open_early`, a shorter `fade`, or move the cue.",
		EachCue: opensLate,
	},
	{
		Code: "closes-early", Section: TheScore, ForDesigner: true,
		Help: "a cue closes a mic up to 4 counts before the end of what its player plays. Only players with a\n" +
			"part in `[music.parts]`.",
		Fix:     "a last note is cut. Move the cue to where the note ends.",
		EachCue: closesEarly,
	},
	{
		Code: "feature-rests", Section: TheScore, ForDesigner: true,
		Help: "a player of the loudest of several roles has nothing to play in the whole cue. Only players with\n" +
			"a part in `[music.parts]`.",
		Fix:     "a featured player rests for the whole cue. Feature somebody else, or accept it.",
		EachCue: featureRests,
	},
}

const (
	longRestCounts = 8    // the longest rest for which it is not worth closing a mic
	cutCounts      = 4    // an opening or closing that is further inside a phrase is meant
	hairCounts     = 0.25 // players are not that exact
)

// cueStretch is what lies of a cue, or of a row of cues, in one movement, in counts elapsed since its downbeat.
type cueStretch struct {
	movement int
	from, to float64
}

// stretch is what lies of the cues from one to another in the movement of the first.
func stretch(x *Compiled, first, last int) cueStretch {
	s := cueStretch{movement: x.Cues[first].At.Movement, from: x.Cues[first].At.Elapsed}
	s.to = x.Clock.Movements[s.movement-1].Counts
	if last+1 < len(x.Cues) && x.Cues[last+1].At.Movement == s.movement {
		s.to = x.Cues[last+1].At.Elapsed
	}
	return s
}

// place is where that is on the music stand.
func place(x *Compiled, movement int, elapsed float64) string {
	if elapsed < -1e-6 {
		return fmt.Sprintf("%s before the downbeat", source.Count(-elapsed, "count"))
	}
	return x.Clock.Movements[movement-1].Music.Place(elapsed)
}

// openIn reports whether a line is open in a cue for the same player as in another.
func openIn(x *Compiled, i, line int, name string) bool {
	if i < 0 || i >= len(x.Cues) {
		return false
	}
	o, open := x.Cues[i].Open[line]
	return open && o.Name == name
}

// laneOf is what the player of an open line plays in the movement of a cue, nil where nobody knows.
func laneOf(x *Compiled, i, line int, name string) *parts.PlayerLane {
	if x.Lines.List[line].Fixed != nil {
		return nil
	}
	return x.Lanes.Of(name, x.Cues[i].At.Movement)
}

// byMessage gathers names that share a message, in order of first mention.
type byMessage struct {
	keys  []string
	names map[string][]string
}

func (b *byMessage) add(key, name string) {
	if b.names == nil {
		b.names = map[string][]string{}
	}
	if b.names[key] == nil {
		b.keys = append(b.keys, key)
	}
	b.names[key] = append(b.names[key], name)
}

// openResting warns about the long rests that begin in a cue while a mic is open, or are under way where it opens.
func openResting(x *Compiled, i int, say Say) {
	c := &x.Cues[i]
	var found byMessage
	for _, line := range timeline.Sorted(c.Open) {
		name := c.Open[line].Name
		lane := laneOf(x, i, line, name)
		if lane == nil {
			continue
		}
		first, last := i, i
		for openIn(x, first-1, line, name) && x.Cues[first-1].At.Movement == c.At.Movement {
			first--
		}
		for openIn(x, last+1, line, name) && x.Cues[last+1].At.Movement == c.At.Movement {
			last++
		}
		open, own := stretch(x, first, last), stretch(x, i, i)
		for _, rest := range lane.Rests(open.from, open.to) {
			if counts := rest.To - rest.From; counts > longRestCounts+1e-6 && rest.From > own.from-1e-6 &&
				rest.From < own.to-1e-6 {
				found.add(fmt.Sprintf("%.4g counts, %s to %s", counts, place(x, open.movement, rest.From),
					place(x, open.movement, rest.To)), name)
			}
		}
	}
	for _, rest := range found.keys {
		say(c.Cue, c.Cue.ID.Span, fmt.Sprintf("cue %q: the mic of %s stays open over a rest of %s", c.Cue.ID.V,
			timeline.Few(found.names[rest]), rest), "close it there in a cue, or accept it")
	}
}

// opensLate warns about first notes that are not heard whole.
func opensLate(x *Compiled, i int, say Say) {
	c := &x.Cues[i]
	early := timeline.EarlyMics(x.Files, x.Clock, x.Lines, x.Cues, i)
	var found byMessage
	for _, line := range timeline.Sorted(c.Open) {
		name := c.Open[line].Name
		lane := laneOf(x, i, line, name)
		if lane == nil || openIn(x, i-1, line, name) {
			continue
		}
		opensS := x.Clock.Seconds(c.At)
		fullS := opensS + x.Clock.Span(c.At, c.Cue.FadeCounts)
		if k := slices.IndexFunc(early, func(m timeline.EarlyMic) bool { return m.Line == line }); k >= 0 {
			opensS, fullS = early[k].TimeS, early[k].TimeS+early[k].FadeS
		}
		run, ok := lane.Next(c.At.Elapsed - cutCounts)
		if !ok || run.To < c.At.Elapsed+1e-6 {
			run, ok = lane.Next(c.At.Elapsed)
		}
		beginsS := parts.SecondsOf(x.Clock, c.At.Movement, run.From)
		if !ok || run.From < c.At.Elapsed-cutCounts-1e-6 || beginsS > fullS-hairCounts*x.Clock.Span(c.At, 1) {
			continue
		}
		key := "under the fade, at "
		if beginsS < opensS-1e-3 {
			key = "before that, at "
		}
		counts := math.Ceil(c.At.Elapsed - run.From + c.Cue.FadeCounts - 1e-6)
		found.add(fmt.Sprintf("%s%s\x00%g", key, place(x, c.At.Movement, run.From), max(counts, 1)), name)
	}
	for _, key := range found.keys {
		var where, counts string
		for k := range key {
			if key[k] == 0 {
				where, counts = key[:k], key[k+1:]
			}
		}
		fix := "write open_early = " + counts + ", or move the cue"
		if i == 0 { // the clock opens mics early only from the cue before
			fix = "no cue comes before it, so open_early has no effect: move the cue, or press go before that note"
		}
		say(c.Cue, c.Cue.ID.Span, fmt.Sprintf("cue %q opens the mic of %s, and the first note is %s", c.Cue.ID.V,
			timeline.Few(found.names[key]), where), fix)
	}
}

// closesEarly warns about last notes that a cue cuts.
func closesEarly(x *Compiled, i int, say Say) {
	if i == 0 {
		return
	}
	c, before := &x.Cues[i], &x.Cues[i-1]
	var found byMessage
	for _, line := range timeline.Sorted(before.Open) {
		name := before.Open[line].Name
		lane := laneOf(x, i, line, name)
		if lane == nil || openIn(x, i, line, name) {
			continue
		}
		run, ok := lane.Playing(c.At.Elapsed)
		left, began := run.To-c.At.Elapsed, run.From < c.At.Elapsed-1e-6
		if ok && began && left > hairCounts && left < cutCounts+1e-6 {
			found.add(fmt.Sprintf("%.3g counts before their last note ends, at %s", left,
				place(x, c.At.Movement, run.To)), name)
		}
	}
	for _, where := range found.keys {
		say(c.Cue, c.Cue.ID.Span, fmt.Sprintf("cue %q closes the mic of %s %s", c.Cue.ID.V,
			timeline.Few(found.names[where]), where), "move the cue to there, or keep the mic open")
	}
}

// featureRests warns about players of the loudest of several roles who rest for the whole cue.
func featureRests(x *Compiled, i int, say Say) {
	c := &x.Cues[i]
	front, softer := math.Inf(-1), false
	for line, o := range c.Open {
		if x.Lines.List[line].Fixed == nil {
			softer = softer || !math.IsInf(front, -1) && o.Role.LevelDB != front
			front = max(front, o.Role.LevelDB)
		}
	}
	if !softer {
		return
	}
	own := stretch(x, i, i)
	var names []string
	for _, line := range timeline.Sorted(c.Open) {
		o := c.Open[line]
		lane := laneOf(x, i, line, o.Name)
		if lane == nil || o.Role.LevelDB != front {
			continue
		}
		if run, ok := lane.Next(own.from); !ok || run.From > own.to-1e-6 {
			names = append(names, o.Name)
		}
	}
	if len(names) > 0 && own.to > own.from+1e-6 {
		say(c.Cue, c.Cue.ID.Span, fmt.Sprintf("cue %q features %s, with nothing to play from %s to %s", c.Cue.ID.V,
			timeline.Few(names), place(x, own.movement, own.from), place(x, own.movement, own.to)),
			"feature who plays there, or accept it")
	}
}
