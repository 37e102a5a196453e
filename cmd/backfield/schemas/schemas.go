// Package schemas makes the JSON Schemas (2020-12) of a show's files: their keys from the structs that the files are read
// into, the words about them from the reference pages. The schemas are in this folder as files too, so that the first line
// of a show's file can name one before the command is built; a test keeps them what the package makes.
package schemas

import (
	"bytes"
	"encoding/json"
	"strings"

	"backfield/cue/score"
	"backfield/layout/rig"
	"backfield/layout/sound"
	"backfield/layout/table"
	"backfield/osc/mixer"
)

var schemas = []struct {
	name, page, title string
	of                any
	optional          bool // whether nothing must be there, as in what is laid over another file
}{
	{"score", "score", "a score (show.toml)", score.File{}, false},
	{"rig", "rig", "a rig (rig.toml)", rig.File{}, false},
	{"mixer", "mixer", "a mixer (mixer.toml)", mixer.File{}, false},
	{"venue", "rig", "a venue, laid over a rig", rig.File{}, true},
}

// choices are the words that a string may be, by the page and path of its key. "*" stands for any of the user's names,
// or as the first part for any table.
var choices = map[string][]string{
	"mixer pan_law": sound.LawNames(),
}

// Names lists the names of the files that have a schema.
func Names() []string {
	var names []string
	for _, x := range schemas {
		names = append(names, x.name)
	}
	return names
}

// Of is the schema of the file of that name, as indented JSON.
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
			panic(err) // it is made of strings and numbers
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
