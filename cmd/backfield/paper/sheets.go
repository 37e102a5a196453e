package paper

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// PrintedSheet is one printed sheet. Its template is pages/NAME.html, and NAME is the name of its files.
type PrintedSheet struct {
	Name      string
	Title     string
	Landscape bool
	For       string // who needs it, for the index
	Help      string // what it is, for the help of the command
	Readers   string // who needs it, in a word, for the reference page
	Shows     string // what is on it, for the reference page

	// body makes what the template gets as .Body; nil where the template needs nothing but the papers.
	body func(*Papers) (any, error)
}

// File is the page's file name.
func (s PrintedSheet) File() string { return s.Name + ".html" }

// PDF is the file name of the page as PDF.
func (s PrintedSheet) PDF() string { return s.Name + ".pdf" }

// sheets are all that is printed, in the order of the index. Whatever prints, lists, describes or tests sheets goes
// through this list.
var sheets = []PrintedSheet{
	{
		Name: "run", Title: "Run sheet",
		For:     "who presses go",
		Help:    "the run sheet: every cue, what it opens and closes, what to watch",
		Readers: "who presses go",
		Shows: "every cue: where, its name, who opens, closes and moves, what goes by itself, what to watch; " +
			"a small field with who is open",
	},
	{
		Name: "packs", Title: "Pack sheet",
		For:     "who hands out packs and batteries",
		Help:    "who wears which pack, handovers, batteries, how few packs would do",
		Readers: "the crew",
		Shows: "who wears what, room for the frequency, a box for each change of batteries, handovers, " +
			"how few packs would do",
	},
	{
		Name: "sections", Title: "Section handouts",
		For:     "the players, a sheet for each section",
		Help:    "a handout for each section",
		Readers: "the players",
		Shows:   "a handout for each section: when each mic is heard, in sets and counts",
		body:    func(p *Papers) (any, error) { return p.handouts(), nil },
	},
	{
		Name: "chart", Title: "Mic chart", Landscape: true,
		For:     "who mixes, and who writes the score",
		Help:    "when each channel is open, and how many are",
		Readers: "who mixes",
		Shows: "a bar wherever a channel is open, the louder the darker and thicker; below, how many are open " +
			"and what that costs",
		body: func(p *Papers) (any, error) { return p.charts(), nil },
	},
	{
		Name: "pictures", Title: "Field pictures", Landscape: true,
		For:     "who wants to see it, one for each cue",
		Help:    "the field at every cue",
		Readers: "all",
		Shows:   "the field at every cue, as `backfield picture` draws it",
		body:    func(p *Papers) (any, error) { return p.pictures() },
	},
}

// index links the sheets.
var index = PrintedSheet{Name: "index", Title: "Papers", Help: "links to them", Shows: "links to the others"}

// Names lists the sheets in words, as in a sentence: "run sheet, pack sheet".
func Names() string {
	var names []string
	for _, s := range sheets {
		names = append(names, strings.ToLower(s.Title))
	}
	return strings.Join(names, ", ")
}

// withIndex are the sheets and their index.
func withIndex() []PrintedSheet { return append(sheets[:len(sheets):len(sheets)], index) }

// Help is a line on each page for the help of the command, each indented and ended.
func Help() string {
	var b strings.Builder
	for _, s := range withIndex() {
		fmt.Fprintf(&b, "    %-16s%s\n", s.File(), s.Help)
	}
	return b.String()
}

// Reference is the table of the pages for the reference page, in Markdown.
func Reference() string {
	var b strings.Builder
	b.WriteString("| page | for whom | what is on it |\n| --- | --- | --- |\n")
	for _, s := range withIndex() {
		cells := []string{"|", "`" + s.File() + "`", "|", s.Readers, "|", s.Shows, "|"}
		b.WriteString(strings.Join(slices.DeleteFunc(cells, func(c string) bool { return c == "" }), " ") + "\n")
	}
	return b.String()
}

// Stale lists the files in a folder that an earlier run has left of the papers and that are not among the fresh ones:
// they would be taken for new. The pages themselves are always written, so they are PDFs and tables.
func Stale(dir string, fresh []string) []string {
	var old []string
	for _, name := range optional() {
		if _, err := os.Stat(filepath.Join(dir, name)); err == nil && !slices.Contains(fresh, name) {
			old = append(old, name)
		}
	}
	return old
}

// optional are the names of all files that some runs write and others do not: each sheet's table and PDF, then the
// other tables.
func optional() []string {
	var names []string
	for _, s := range sheets {
		names = append(names, s.Name+".csv", s.PDF())
	}
	for _, t := range tables {
		if name := t.name + ".csv"; !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	return names
}
