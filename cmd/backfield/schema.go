package main

import (
	"bytes"
	"encoding/json"
	"regexp"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"backfield/cue"
	"backfield/cue/score"
	"backfield/layout/osctype"
	"backfield/layout/rig"
	"backfield/layout/sound"
	"backfield/layout/source"
	fields "backfield/layout/table"
	"backfield/osc/desk"
)

// The schemas of the files lie in schemas/ as well, where a file's first line can name one that is there before the
// command is built; a test keeps them what `schema` prints.
var schemas = []struct {
	name, page, title string
	of                any
	optional          bool // whether nothing must be there, as in what is laid over another file
}{
	{"score", "score", "a score (show.toml)", score.File{}, false},
	{"rig", "rig", "a rig (rig.toml)", rig.File{}, false},
	{"desk", "desk", "a desk (desk.toml)", desk.File{}, false},
	{"venue", "rig", "a venue, laid over a rig", rig.File{}, true},
}

// choices are the words that a string may be, by the page and path of its key. "*" stands for any of the user's names,
// or as the first part for any table.
var choices = map[string][]string{
	"desk pan_law": sound.LawNames(), "desk delay.unit": desk.DelayUnits(), "desk mute.type": osctype.LettersByKind(),
	"desk *.type": osctype.Letters(osctype.Number), "desk *.scale": {"amplitude"},
}

func schemaCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "schema FILE",
		Short: "print the JSON Schema of a file, for editors",
		Long: `Prints the JSON Schema (2020-12) of one of the TOML files of a show: score, rig, desk or venue. An
editor that knows TOML schemas then completes keys, shows what they mean, and marks what no file may
have. See backfield help editors.`,
		Args:      exactly(1, "one of "+strings.Join(schemaNames(), ", ")),
		ValidArgs: schemaNames(),
		RunE: func(c *cobra.Command, args []string) error {
			data, ok := schemaOf(args[0])
			if !ok {
				return wrong("no file %q has a schema; %s", args[0], source.DidYouMean(args[0], schemaNames(), "it is "+source.OneOf(schemaNames())))
			}
			_, err := c.OutOrStdout().Write(data)
			return world(err)
		},
	}
}

func schemaNames() []string {
	var names []string
	for _, x := range schemas {
		names = append(names, x.name)
	}
	return names
}

// schemaOf is the schema of a file of that name as JSON.
func schemaOf(name string) (data []byte, ok bool) {
	for _, x := range schemas {
		if x.name != name {
			continue
		}
		told := tellings(x.page)
		s := fields.SchemaOf(x.of, func(path string, s *fields.Schema) {
			s.Description = telling(told, path)
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

// keyNote is what a reference page tells of a key: in which tables, in the page's own words.
type keyNote struct {
	tables []string // none for the file itself
	key    string
	text   string
}

var (
	headed  = regexp.MustCompile("`\\[+([a-z_.]+)\\]+`")
	bullet  = regexp.MustCompile("^- ((?:`[a-z_.]+`(?:, )?)+)  (.*)$")
	keySpan = regexp.MustCompile("`([a-z_.]+)`")
)

// parameters are the tables that "all" stands for on the page of the desk.
var parameters = []string{cue.ParamMute, cue.ParamLevel, cue.ParamSend, cue.ParamDelay, cue.ParamPan, "param"}

// tellings reads a page: its lists ("- `key`  words") and its tables ("| `key` | what | default |"), under headings
// that name the tables that they are about, or with a column that does.
func tellings(topic string) []keyNote {
	text, err := pages.ReadFile("help/" + topic + ".md")
	if err != nil {
		panic(err) // the pages are part of the binary
	}
	var list, headings []keyNote
	var tables, head []string
	names := func(heading string) (tables []string) {
		for _, m := range headed.FindAllStringSubmatch(heading, -1) {
			tables = append(tables, m[1])
		}
		return tables
	}
	open := false // whether a list's entry goes on
	for line := range strings.Lines(string(text)) {
		line = strings.TrimRight(line, "\n")
		entry := bullet.FindStringSubmatch(line)
		cells := strings.Split(strings.Trim(line, "| "), " | ")
		switch {
		case strings.HasPrefix(line, "## "):
			tables, open = names(line), false
			if _, what, ok := strings.Cut(line, "`: "); ok && len(tables) == 1 {
				headings = append(headings, keyNote{nil, tables[0], what})
			}
		case entry != nil:
			for _, m := range keySpan.FindAllStringSubmatch(entry[1], -1) {
				list = append(list, keyNote{tables, m[1], entry[2]})
			}
			open = true
		case open && strings.HasPrefix(line, "  "):
			last := &list[len(list)-1].text
			*last += " " + strings.TrimSpace(line)
		case strings.HasPrefix(line, "| key "):
			head, open = cells, false
		case strings.HasPrefix(line, "| `") && len(cells) == len(head):
			in := slices.Clone(tables)
			for i, name := range head {
				switch {
				case name == "in" && cells[i] == "all":
					in = parameters
				case name == "in":
					in = strings.Split(cells[i], ", ")
				}
			}
			words := cells[slices.Index(head, "what")]
			if i := slices.Index(head, "default"); i >= 0 && cells[i] != "none: required" {
				words += ". Default: " + cells[i] + "."
			}
			for _, m := range keySpan.FindAllStringSubmatch(cells[0], -1) {
				list = append(list, keyNote{in, m[1], words})
			}
		default:
			open = false
		}
	}
	return append(list, headings...)
}

// telling is what is told of the key at a path: under its whole path, or under its last part where its table is told of;
// of a part of something told of, what is told of the whole.
func telling(list []keyNote, path string) string {
	path = strings.ReplaceAll(path, ".*", "")
	dot := strings.LastIndexByte(path, '.')
	first, rest, _ := strings.Cut(path, ".")
	above, last := path[:max(dot, 0)], path[dot+1:]
	in := func(x keyNote, table string) bool { return slices.Contains(x.tables, table) }
	ways := []func(x keyNote) bool{
		func(x keyNote) bool { return x.key == path && (len(x.tables) == 0 || in(x, first) || rest != "") },
		func(x keyNote) bool { return rest != "" && x.key == rest && in(x, first) },
		func(x keyNote) bool { return rest != "" && x.key == last && in(x, above) },
		func(x keyNote) bool {
			return rest != "" && x.key == last && in(x, above[strings.LastIndexByte(above, '.')+1:])
		},
		func(x keyNote) bool { return rest != "" && x.key == last && in(x, first) },
	}
	for _, way := range ways {
		if i := slices.IndexFunc(list, way); i >= 0 {
			return strings.ReplaceAll(list[i].text, "`", "")
		}
	}
	if rest == "" {
		return ""
	}
	return telling(list, above)
}
