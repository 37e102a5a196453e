package timeline

import (
	"slices"
	"strings"

	"backfield/layout/source"
	"backfield/layout/table"
)

// CheckParts checks the names of those who play a part of the music, who play or rest in a cue, and of whom it states
// the dynamics or the facing.
func CheckParts(f *Files, p *source.Problems) {
	for _, x := range f.Score.Parts {
		for _, name := range x.Names {
			f.checkPart(name, p)
		}
	}
	for i := range f.Score.Cues {
		c := &f.Score.Cues[i]
		for _, name := range slices.Concat(c.Plays, c.Rests) {
			f.checkPart(name, p)
		}
		for _, x := range c.Dynamics {
			f.checkPart(x.Of, p)
		}
		for _, x := range c.Facing {
			f.checkPart(x.Of, p)
		}
		for _, name := range c.Rests {
			k := slices.IndexFunc(c.Plays, func(other table.Text) bool { return name.Set && other.V == name.V })
			if k >= 0 {
				p.Add(playsAndRests(c, name, c.Plays[k].Span))
			}
		}
	}
}

// checkPart checks that a name is a player's, or an @section of the roster.
func (f *Files) checkPart(name table.Text, p *source.Problems) {
	section, isSection := strings.CutPrefix(name.V, "@")
	_, isPlayer := f.Roster.Player(name.V)
	sections := f.Roster.Sections()
	switch {
	case !name.Set || isPlayer || isSection && slices.Contains(sections, section):
	case f.Roster.MayHold(strings.TrimPrefix(name.V, "@")):
	case isSection:
		p.Add(unknownSection(name, sections))
	default:
		p.Add(unknownPart(name, f.Roster.Names()))
	}
}
