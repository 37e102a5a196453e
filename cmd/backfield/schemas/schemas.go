// Package schemas makes the JSON Schemas (2020-12) of a show's files. The keys come from the structs that the files are
// read into, the descriptions from the help pages. The schemas are also files in this folder, so that the first line of
// a show's file can name one before the command is built. A test compares the two.
package schemas

import (
	"bytes"
	"encoding/json"
	"strings"

	"backfield/cue/score"
	"backfield/cue/tonight"
	"backfield/layout/rig"
	"backfield/layout/sound"
	"backfield/layout/table"
	"backfield/osc/mixer"
	"backfield/osc/presses"
)

var schemas = []struct {
	name, page, title string
	of                any
	optional          bool // no key is required, since the file is laid over another one
}{
	{"score", "score", "a score (show.toml)", score.ScoreFile{}, false},
	{"rig", "rig", "a rig (rig.toml)", rig.RigFile{}, false},
	{"mixer", "mixer", "a mixer (mixer.toml)", mixer.FileKeys{}, false},
	{"remote", "midi", "a footswitch and an outside time (remote.toml)", presses.RemoteKeys{}, false},
	{"tonight", "tonight", "one night, laid over a show (tonight.toml)", tonight.NightKeys{}, false},
	{"venue", "rig", "a venue, laid over a rig", rig.RigFile{}, true},
}

// choices are the values that a string may have, by the help page and the path of its key. As the first part of a path,
// "*" means any table.
var choices = map[string][]string{
	"mixer pan_law": sound.LawNames(),
}

// Names lists the schemas by name.
func Names() []string {
	var names []string
	for _, x := range schemas {
		names = append(names, x.name)
	}
	return names
}

// Of returns the schema of that name as indented JSON. ok is false if there is none.
func Of(name string) (data []byte, ok bool) {
	for _, x := range schemas {
		if x.name != name {
			continue
		}
		notes := notesOf(x.page)
		s := table.SchemaOf(x.of, func(path string, s *table.Schema) {
			s.Description = describe(notes, path)
			if s.Description == "" {
				s.Description = "backfield help " + x.page
			}
			if words := choicesOf(x.page, path); words != nil {
				s.Choose(words)
			}
		})
		if x.optional {
			s.Optional()
		}
		s.Title, s.Description = "Backfield: "+x.title, "backfield help "+x.page
		var b bytes.Buffer
		e := json.NewEncoder(&b)
		e.SetEscapeHTML(false)
		e.SetIndent("", "  ")
		if err := e.Encode(s); err != nil {
			panic(err) // a schema has only strings and numbers
		}
		return b.Bytes(), true
	}
	return nil, false
}

func choicesOf(page, path string) []string {
	if words := choices[page+" "+path]; words != nil {
		return words
	}
	_, key, _ := strings.Cut(path, ".")
	return choices[page+" *."+key]
}
