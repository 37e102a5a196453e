package show

import (
	"path/filepath"
	"slices"

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

// ReadNames reads the names of the show whose score is at path, as far as its files can be read. It compiles nothing,
// so that it is done while somebody waits with a finger on a key.
func ReadNames(rd Reader, path string) (n Names) {
	var p source.Problems // check reports whatever is wrong
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

// kinds are the files of a show by keys that only they have.
var kinds = []struct {
	name string
	keys []string
}{
	{"score", []string{"drill", "movement", "cue"}},
	{"rig", []string{"stack", "reference", "stands", "field", "air"}},
	{"mixer file", []string{"level", "mute", "pan_law", "keepalive", "echo"}},
}

// KindOf is what kind of file of a show a path names: "score", "rig", "mixer file" or "sheet"; "" where that cannot be
// known, or the file cannot be read.
func KindOf(rd Reader, path string) string {
	switch filepath.Ext(path) {
	case ".csv", ".xlsx":
		return "sheet"
	}
	file, err := named(rd, path, "score")
	if err != nil {
		return ""
	}
	var p source.Problems // whoever reads the file for real reports them
	root := table.ReadTOML(file, &p)
	for _, kind := range kinds {
		if slices.ContainsFunc(kind.keys, func(key string) bool { return root.Get(key) != nil }) {
			return kind.name
		}
	}
	return ""
}

// MixerOf says whether the file at path is a score, and if so the path of the mixer file that it names, "" for none.
// The error is for a file that cannot be read.
func MixerOf(rd Reader, path string) (isScore bool, mixer string, err error) {
	file, err := named(rd, path, "score")
	if err != nil {
		return false, "", err
	}
	var p source.Problems // whoever reads the file for real reports them
	root := table.ReadTOML(file, &p)
	if root.Get("drill") == nil && root.Get("movement") == nil {
		return false, "", nil
	}
	name := root.Get("mixer")
	if name == nil || name.Kind != table.String || name.Text == "" {
		return true, "", nil
	}
	if filepath.IsAbs(name.Text) {
		return true, name.Text, nil
	}
	return true, filepath.Join(filepath.Dir(path), name.Text), nil
}
