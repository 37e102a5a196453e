package schemas

import (
	"regexp"
	"slices"
	"strings"

	"backfield/cmd/backfield/help"
	"backfield/cue"
)

// keyNote is the text about a key on a help page, and the tables that it is about.
type keyNote struct {
	tables []string // empty for the top level of the file
	key    string
	text   string
}

var (
	headed  = regexp.MustCompile("`\\[+([a-z_.]+)\\]+`")
	bullet  = regexp.MustCompile("^- ((?:`[a-z_.]+`(?:, )?)+)  (.*)$")
	keySpan = regexp.MustCompile("`([a-z_.]+)`")
)

// parameters are the tables that "all" means on the help page "mixer".
var parameters = []string{cue.ParamMute, cue.ParamLevel, cue.ParamSend, cue.ParamDelay, cue.ParamPan, "param"}

// noteReader reads the notes of a page, line by line.
type noteReader struct {
	notes, headings []keyNote
	tables          []string // named in the heading
	columns         []string // of the current Markdown table
	part            string   // the key that the Markdown table is about, as in "| key of `scale` |"; "" for none
	inEntry         bool     // the last note continues on the next line if that is indented
}

// notesOf reads a help page: its lists ("- `key`  text") and its tables ("| `key` | what it is | default |"). The
// heading above, or a column "used in", names the tables of the file that a note is about.
func notesOf(topic string) []keyNote {
	text, err := help.Page(topic)
	if err != nil {
		panic(err) // the pages are part of the binary
	}
	var r noteReader
	for line := range strings.Lines(text) {
		r.line(strings.TrimRight(line, "\n"))
	}
	return append(r.notes, r.headings...)
}

func (r *noteReader) line(line string) {
	continues := r.inEntry
	r.inEntry = false
	entry := bullet.FindStringSubmatch(line)
	cells := strings.Split(strings.Trim(line, "| "), " | ")
	switch {
	case strings.HasPrefix(line, "## "):
		r.heading(line)
	case entry != nil:
		r.add(r.tables, entry[1], entry[2])
		r.inEntry = true
	case continues && strings.HasPrefix(line, "  "):
		r.notes[len(r.notes)-1].text += " " + strings.TrimSpace(line)
		r.inEntry = true
	case strings.HasPrefix(line, "| key "):
		r.columns = cells
		r.part = keySpan.FindString(cells[0])
	case strings.HasPrefix(line, "| `") && len(cells) == len(r.columns):
		r.row(cells)
	}
}

// heading reads the tables that a heading names, and its text if it describes a single table.
func (r *noteReader) heading(line string) {
	r.tables = nil
	for _, m := range headed.FindAllStringSubmatch(line, -1) {
		r.tables = append(r.tables, m[1])
	}
	if _, what, ok := strings.Cut(line, "`: "); ok && len(r.tables) == 1 {
		r.headings = append(r.headings, keyNote{nil, r.tables[0], what})
	}
}

// row reads a row of a Markdown table.
func (r *noteReader) row(cells []string) {
	in := r.tables
	if r.part != "" {
		in = []string{strings.Trim(r.part, "`")}
	}
	if i := slices.Index(r.columns, "used in"); i >= 0 {
		if in = strings.Split(cells[i], ", "); cells[i] == "all" {
			in = parameters
		}
	}
	words := cells[slices.Index(r.columns, "what it is")]
	if i := slices.Index(r.columns, "default"); i >= 0 && cells[i] != "none: required" {
		words += ". Default: " + cells[i] + "."
	}
	r.add(in, cells[0], words)
}

// add adds the same text for each key that keys names.
func (r *noteReader) add(tables []string, keys, words string) {
	for _, m := range keySpan.FindAllStringSubmatch(keys, -1) {
		r.notes = append(r.notes, keyNote{tables, m[1], words})
	}
}

// describe finds the text about the key at a path. It looks for the whole path, then for the last part in the key's
// table. Without a note of its own, a key gets the text of the key that it is a part of.
func describe(list []keyNote, path string) string {
	path = strings.ReplaceAll(path, ".*", "")
	dot := strings.LastIndexByte(path, '.')
	first, rest, _ := strings.Cut(path, ".")
	above, last := path[:max(dot, 0)], path[dot+1:]
	in := func(x keyNote, table string) bool { return slices.Contains(x.tables, table) }
	matches := []func(x keyNote) bool{
		func(x keyNote) bool { return x.key == path && (len(x.tables) == 0 || in(x, first) || rest != "") },
		func(x keyNote) bool { return rest != "" && x.key == rest && in(x, first) },
		func(x keyNote) bool { return rest != "" && x.key == last && in(x, above) },
		func(x keyNote) bool {
			return rest != "" && x.key == last && in(x, above[strings.LastIndexByte(above, '.')+1:])
		},
		func(x keyNote) bool { return rest != "" && x.key == last && in(x, first) },
	}
	for _, match := range matches {
		if i := slices.IndexFunc(list, match); i >= 0 {
			return strings.ReplaceAll(list[i].text, "`", "")
		}
	}
	if rest == "" {
		return ""
	}
	return describe(list, above)
}
