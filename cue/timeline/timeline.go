// Package timeline finds out who is open when. It joins the score, the drill, the roster and the rig into the show's
// clock, the channels with who wears them, and the cues in order of time with what each has open. It computes no
// number of a mixer.
package timeline

import (
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
	Doubt  bool // rig, drill or mixer were read with errors: no number that is computed from them is worth a word
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
	BadRole bool        // the role is not known
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
	f.Drill.Check(p)
	doubt = p.Errors() > before
	checkPlayers(f, p)
	return doubt
}

// checkPlayers holds the drill against the roster.
func checkPlayers(f *Files, p *source.Problems) {
	if len(f.Roster.Players) == 0 {
		return // an empty roster is reported where it is read
	}
	names := f.Roster.Names()
	for i := range f.Drill.Players {
		d := &f.Drill.Players[i]
		if _, ok := f.Roster.Player(d.Name); !ok && !f.Roster.MayHold(d.Name) {
			p.Add(playerNotInRoster(d, names))
		}
	}
	if len(f.Drill.Players) == 0 || f.Drill.PartialDots || f.Drill.PartialSets {
		return
	}
	for _, w := range f.Roster.Wears {
		if _, ok := f.Drill.Player(w.Player); !ok {
			p.Add(noDots(&w))
		}
	}
}
