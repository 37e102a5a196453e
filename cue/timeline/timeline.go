// Package timeline finds out who is open when. It joins the score, the drill, the roster and the rig into the show's
// clock, the channels with who wears them, and the cues in order of time with what each has open. It computes no
// number of a mixer.
package timeline

import (
	"cmp"
	"slices"

	"backfield/cue"
	"backfield/cue/clock"
	"backfield/cue/roster"
	"backfield/cue/score"
	"backfield/layout/drill"
	"backfield/layout/rig"
	"backfield/layout/sound"
	"backfield/layout/source"
	"backfield/layout/table"
)

// Files is a show as its files say it.
type Files struct {
	Score  *score.Score
	Drill  *drill.Drill
	Roster *roster.Roster
	Rig    *rig.Rig
	Mixer  MixerSpec
	Cuts   []ScoreCut // what is not played tonight
	Night  bool       // a night is laid over the show: what is left idle by it is no mistake
	Doubt  bool       // rig, drill or mixer were read with errors: no number that is computed from them is worth a word
}

// Limits are what a mixer parameter can hold: its range, and the step of its grid.
type Limits struct{ Min, Max, Step float64 }

// MixerSpec is what the numbers depend on of the mixer: pan -1 to 1, delay in ms, level in dB.
type MixerSpec struct {
	Channels          int
	Law               sound.Law
	Pan, Delay, Level Limits
	Send              Limits // of a channel to a zone

	Moves cue.Moves // how the delay may change while the channel is open

	Params []Param // the mixer's own

	CeilingDB func(channel int) float64 // the highest level of a channel; nil where Level.Max is all there is to say
	CheckRaw  CheckRaw                  // nil where nobody knows
}

// MostDB is the highest level that the mixer may be sent on a channel.
func (d *MixerSpec) MostDB(channel int) float64 {
	if d.CeilingDB == nil {
		return d.Level.Max
	}
	return min(d.Level.Max, d.CeilingDB(channel))
}

// CheckRaw compares an extra message of a cue with what the mixer can be sent. That it stores or recalls a scene goes
// to warn, since a cue may accept it.
type CheckRaw func(
	raw cue.Extra, address table.Text, p *source.Problems, warn func(at source.Span, what, do string),
)

// Param is one of the mixer's own parameters: what a channel has of it that nobody sets, and its limits in its own
// unit.
type Param struct {
	cue.MixerParam
	Limits
	Default float64
}

// Placed is a cue whose moment is known.
type Placed struct {
	Cue *score.Cue
	At  clock.Moment
}

// TimedCue is a cue in its place in time, with what is open in it, by line.
type TimedCue struct {
	Placed
	Open map[int]Opening
}

// Opening is one line open in one cue.
type Opening struct {
	Role    score.Role
	NudgeDB float64
	Params  []Chosen
	Name    string      // of the player or fixed mic
	At      source.Span // where the score opened it
	ByName  bool        // and not through a group
	BadRole bool        // the role is not known, or its level could not be read
}

// Chosen is what a cue sets one of the mixer's own parameters to, on one line.
type Chosen struct {
	Name   string
	Value  table.Setting
	ByName bool // and not through a group
}

// CheckFiles compares the files with one another. It reports whether the drill has errors, after which no number is
// worth a word.
func CheckFiles(f *Files, p *source.Problems) (doubt bool) {
	before := p.Errors()
	var strangers []string
	for i := range f.Drill.Players {
		if name := f.Drill.Players[i].Name; isStranger(f, name) {
			strangers = append(strangers, name)
		}
	}
	f.Drill.Check(strangers, p)
	doubt = p.Errors() > before
	checkPlayers(f, strangers, p)
	return doubt
}

// isStranger reports whether the roster lacks a player of the drill. An empty roster is reported where it is read.
func isStranger(f *Files, name string) bool {
	_, ok := f.Roster.Player(name)
	return !ok && len(f.Roster.Players) > 0 && !f.Roster.MayHold(name)
}

// checkPlayers holds the drill against the roster. Where the roster has a name twice, one of the two is most likely the
// player that it lacks and that has the most dots, and that is one mistake. So is a name of the roster that has no dots,
// where one like it has dots and is not in the roster.
func checkPlayers(f *Files, unknown []string, p *source.Problems) {
	var strangers []*drill.Marcher
	for _, name := range unknown {
		d, _ := f.Drill.Player(name)
		strangers = append(strangers, d)
	}
	slices.SortStableFunc(strangers, func(a, b *drill.Marcher) int { return cmp.Compare(b.Known(), a.Known()) })
	for n := f.Roster.Twice; n > 0 && len(strangers) > 0 && 2*strangers[0].Known() > len(f.Drill.Sets); n-- {
		strangers = strangers[1:]
	}
	names := f.Roster.Names()
	free := slices.DeleteFunc(slices.Clone(names), func(name string) bool { _, ok := f.Drill.Player(name); return ok })
	for _, d := range strangers {
		near := source.Nearest(d.Name, free)
		if near == "" {
			near = source.Nearest(d.Name, names)
		}
		free = slices.DeleteFunc(free, func(name string) bool { return name == near })
		p.Add(playerNotInRoster(d, f.Roster, near))
	}
	if len(f.Drill.Players) == 0 || f.Drill.PartialDots || f.Drill.PartialSets {
		return
	}
	for _, w := range f.Roster.Wears {
		if slices.Contains(free, w.Player) {
			p.Add(noDots(&w))
		}
	}
}
