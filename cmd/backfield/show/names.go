package show

import (
	"path/filepath"

	"backfield/cue/roster"
	"backfield/cue/score"
	"backfield/layout/rig"
	"backfield/layout/source"
	"backfield/layout/table"
)

// Names are what somebody who types a command may name of a show. Cues have their names beside their ids.
type Names struct {
	Cues []NamedCue
	Mics []string // players who wear one and fixed mics
}

// NamedCue is a cue of the score.
type NamedCue struct{ ID, Name string }

// ReadNames reads the names of the show whose score is at path, as far as its files can be read. It compiles nothing, so
// that it is done while somebody waits with a finger on a key.
func ReadNames(rd Reader, path string) (n Names) {
	var p source.Problems // whatever is wrong, check tells
	l := loader{rd: rd, p: &p, dir: filepath.Dir(path)}
	file, err := named(rd, path, "score")
	if err != nil {
		return n
	}
	sc := score.Read(file, &p)
	for _, c := range sc.Cues {
		if c.ID.V != "" {
			n.Cues = append(n.Cues, NamedCue{c.ID.V, c.Name.V})
		}
	}
	seen := map[string]bool{}
	add := func(name string) {
		if name != "" && !seen[name] {
			seen[name] = true
			n.Mics = append(n.Mics, name)
		}
	}
	for _, w := range roster.Read(l.open(sc.Roster, "roster", table.CSVLimit), &p).Wears {
		add(w.Player)
	}
	for _, m := range rig.Read(l.open(sc.Rig, "rig", table.TOMLLimit), nil, &p).Mics {
		add(m.Name)
	}
	return n
}
