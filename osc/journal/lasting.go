package journal

import (
	"maps"
	"math"
	"strings"
)

const (
	maxChanged  = 500 // players in a report's changes; no show has that many with a mic
	maxChangeDB = 60  // of a level; a journal that somebody has made up may hold more
)

// LastingChange is what a run changed of a player's level, by nudges and at the mixer, so that the show can keep it: a
// trim for the whole show, and nudges in single cues.
type LastingChange struct {
	Name   string
	LastDB float64      // the change at the end of the run
	Held   int          // in how many cues it was LastDB
	Cues   int          // in how many cues the player is open; 0 if the show is not known
	TrimDB float64      // for the whole show; 0 if LastDB did not hold in half of the cues
	Nudges []NudgeOfCue // what single cues need beyond that
}

// NudgeOfCue is a player's nudge in one cue.
type NudgeOfCue struct {
	Cue, Name string
	DB        float64
}

// lastingChanges finds what the run changed, in the order in which the players were first changed. openIn lists the
// cues of the score in which a player is open; it is nil if the show is not known.
func lastingChanges(entries []Entry, openIn func(name string) []string) (list []LastingChange) {
	changes := changesByStep(entries)
	for _, name := range changes.names {
		c := LastingChange{Name: name, LastDB: changes.last[strings.ToLower(name)]}
		if openIn == nil {
			if c.LastDB != 0 {
				list = append(list, c)
			}
			continue
		}
		c.fill(openIn(name), changes.steps[strings.ToLower(name)])
		if c.TrimDB != 0 || len(c.Nudges) > 0 || c.Cues == 0 && c.LastDB != 0 {
			list = append(list, c)
		}
	}
	return list
}

// fill compares the cues in which a player is open. What held at the end, and in half of the cues or more, is a trim:
// the cues before the first change get it too, since nobody had heard the difference there. In a cue that did not run, a
// nudge would have held; what was moved at the mixer may have ended before. Such a cue gets no nudge of its own.
func (c *LastingChange) fill(open []string, steps []stepChange) {
	heard := map[string]bool{}
	for _, id := range open {
		heard[id] = true
	}
	at := map[string]stepChange{}
	for _, s := range steps {
		if heard[s.step] {
			at[s.step] = s
		}
	}
	c.Cues = len(open)
	if len(open) == 0 {
		return
	}
	c.LastDB = 0
	dB, first, nudged := make([]float64, len(open)), len(open), 0.0
	for i, id := range open {
		if s, ran := at[id]; ran {
			dB[i], nudged, c.LastDB = s.dB, s.nudgedDB, s.dB
		} else {
			dB[i] = nudged
		}
		if dB[i] != 0 {
			first = min(first, i)
		}
	}
	for _, v := range dB {
		if v == c.LastDB {
			c.Held++
		}
	}
	if 2*c.Held >= len(dB) {
		c.TrimDB = c.LastDB
	}
	for i := first; i < len(dB); i++ {
		if more, ran := tenth(dB[i]-c.TrimDB), at[open[i]].step != ""; ran && more != 0 {
			c.Nudges = append(c.Nudges, NudgeOfCue{open[i], c.Name, more})
		}
	}
}

// stepChange is how much a player's level was changed at the end of a step.
type stepChange struct {
	step     string
	dB       float64
	nudgedDB float64 // the part of dB that lasts until it is nudged again
}

// runChanges are the changes of each player, by the name in small letters.
type runChanges struct {
	names []string // as first written
	steps map[string][]stepChange
	last  map[string]float64
}

// changesByStep reads from a run's entries what was changed in which step. Where a step was played twice, the later one
// counts.
func changesByStep(entries []Entry) runChanges {
	c := runChanges{steps: map[string][]stepChange{}, last: map[string]float64{}}
	for _, e := range entries {
		if e.State == nil {
			continue
		}
		now, nudged := c.now(e.State)
		for _, name := range c.names {
			key := strings.ToLower(name)
			c.last[key] = tenth(now[key])
			c.steps[key] = append(c.steps[key], stepChange{e.State.Step, c.last[key], tenth(nudged[key])})
		}
	}
	return c
}

// now is what each player's level is changed by in a state, and the nudges' part of that. At several mixers the first one
// counts.
func (c *runChanges) now(state *RunState) (dB, nudged map[string]float64) {
	nudged = map[string]float64{}
	for _, n := range state.Nudges {
		if key := c.key(n.Name); key != "" {
			nudged[key] += n.DB
		}
	}
	dB, moved := maps.Clone(nudged), map[string]bool{}
	for _, m := range state.Manual {
		key := c.key(m.Player)
		if key == "" || moved[key] || m.OffsetDB == 0 {
			continue
		}
		dB[key], moved[key] = dB[key]+m.OffsetDB, true
	}
	return dB, nudged
}

// key is a name in small letters, noted when it is new; empty for one more than maxChanged.
func (c *runChanges) key(name string) string {
	key := strings.ToLower(name)
	if _, known := c.last[key]; known || key == "" {
		return key
	}
	if len(c.names) == maxChanged {
		return ""
	}
	c.names, c.last[key] = append(c.names, name), 0
	return key
}

// tenth rounds to 0.1 dB, which nobody hears. What is no number is 0.
func tenth(dB float64) float64 {
	if math.IsNaN(dB) {
		return 0
	}
	return math.Round(min(max(dB, -maxChangeDB), maxChangeDB)*10) / 10
}
