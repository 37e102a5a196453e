package schemas

import (
	"regexp"
	"slices"
	"strings"

	"backfield/cmd/backfield/help"
	"backfield/cue"
)

// keyNote is what a reference page says of a key: in which tables, in the page's own words.
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

// parameters are the tables that "all" stands for on the page of the mixer.
var parameters = []string{cue.ParamMute, cue.ParamLevel, cue.ParamSend, cue.ParamDelay, cue.ParamPan, "param"}

// noteReader reads the notes of a page, line by line.
type noteReader struct {
	notes, headings []keyNote
	tables          []string // that the heading names
	columns         []string // of the Markdown table that is being read
	inEntry         bool     // the last note goes on in the next line, if that is indented
}

// notesOf reads a page: its lists ("- `key`  words") and its tables ("| `key` | what | default |"), under headings that
// name the tables that they are about, or with a column that does.
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
	goesOn := r.inEntry
	r.inEntry = false
	entry := bullet.FindStringSubmatch(line)
	cells := strings.Split(strings.Trim(line, "| "), " | ")
	switch {
	case strings.HasPrefix(line, "## "):
		r.heading(line)
	case entry != nil:
		r.add(r.tables, entry[1], entry[2])
		r.inEntry = true
	case goesOn && strings.HasPrefix(line, "  "):
		r.notes[len(r.notes)-1].text += " " + strings.TrimSpace(line)
		r.inEntry = true
	case strings.HasPrefix(line, "| key "):
		r.columns = cells
	case strings.HasPrefix(line, "| `") && len(cells) == len(r.columns):
		r.row(cells)
	}
}

// heading takes the tables that a heading names, and the words of one that describes a single table.
func (r *noteReader) heading(line string) {
	r.tables = nil
	for _, m := range headed.FindAllStringSubmatch(line, -1) {
		r.tables = append(r.tables, m[1])
	}
	if _, what, ok := strings.Cut(line, "`: "); ok && len(r.tables) == 1 {
		r.headings = append(r.headings, keyNote{nil, r.tables[0], what})
	}
}

// row takes a row of a Markdown table.
func (r *noteReader) row(cells []string) {
	in := r.tables
	if i := slices.Index(r.columns, "in"); i >= 0 {
		if in = strings.Split(cells[i], ", "); cells[i] == "all" {
			in = parameters
		}
	}
	words := cells[slices.Index(r.columns, "what")]
	if i := slices.Index(r.columns, "default"); i >= 0 && cells[i] != "none: required" {
		words += ". Default: " + cells[i] + "."
	}
	r.add(in, cells[0], words)
}

// add notes the same words of each key that a text names.
func (r *noteReader) add(tables []string, keys, words string) {
	for _, m := range keySpan.FindAllStringSubmatch(keys, -1) {
		r.notes = append(r.notes, keyNote{tables, m[1], words})
	}
}

// describe is what the notes say of the key at a path: under its whole path, or under its last part where its table is
// listed; of a part of something that is listed, what is said of the whole.
func describe(list []keyNote, path string) string {
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
	return describe(list, above)
}
