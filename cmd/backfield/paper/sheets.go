package paper

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"backfield/cmd/backfield/linechecking"
)

// PrintedSheet is one kind of sheet. Its template is pages/NAME.html, and NAME is the name of its files.
type PrintedSheet struct {
	Name      string
	Title     string
	Landscape bool
	Paged     bool   // it ends its pages itself, and has its own footer
	For       string // who needs it, for the index
	Help      string // what it is, for the help of the command
	Readers   string // who needs it, in a few words, for the help page
	Shows     string // what is on it, for the help page

	// body makes what the template gets as .Body. It is nil if the template needs only the Papers.
	body func(*Papers) (any, error)
}

// File is the name of the HTML file.
func (s PrintedSheet) File() string { return s.Name + ".html" }

// PDF is the name of the PDF file.
func (s PrintedSheet) PDF() string { return s.Name + ".pdf" }

// setupName is the name of the sheet that --setup writes alone.
const setupName = "setup"

// sheets lists every printed sheet, in the order of the index. Everything that prints, lists, describes or tests sheets
// uses this list.
var sheets = []PrintedSheet{
	{
		Name: "run", Title: "Run sheet", Paged: true,
		For:     "the operator",
		Help:    "the run sheet: every cue, what it opens and closes, what to watch",
		Readers: "the operator",
		Shows: "what to do if it howls; every cue by movement: when, what it opens, closes and changes, what to " +
			"watch; a small field with its mics",
		body: func(p *Papers) (any, error) { return p.runPages(), nil },
	},
	{
		Name: "packs", Title: "Pack sheet",
		For:     "the crew with the packs and batteries",
		Help:    "who wears which pack, handovers, batteries, the fewest packs",
		Readers: "the crew",
		Shows: "who wears which pack, space for the frequency, a box for each battery change, handovers, " +
			"the fewest packs that would do",
	},
	{
		Name: setupName, Title: "Setup and strike",
		For:     "the crew that sets up and strikes",
		Help:    "marks of the stacks, patch list, who does what in ten minutes, and the strike",
		Readers: "the crew",
		Shows: "where each stack and fixed mic goes, in yards, feet and steps; the patch list; packs and batteries; " +
			"ten minutes of setup and of strike, with cautions",
		body: func(p *Papers) (any, error) { return p.setup(), nil },
	},
	{
		Name: "linecheck", Title: "Line check", For: "whoever hears every pack before the show",
		Help: "each pack as the line check found it, with boxes", Readers: "the crew",
		Shows: "what `backfield linecheck` found, failed packs first, and boxes to do it by hand, in walking order",
		body:  func(p *Papers) (any, error) { return linechecking.List(p.Show, p.Checked), nil },
	},
	{
		Name: "sections", Title: "Section handouts", Paged: true,
		For:     "the players, one sheet for each section",
		Help:    "a handout for each section",
		Readers: "the players",
		Shows:   "a handout for each section, named on each of its pages: when each mic is heard, in sets and counts",
		body: func(p *Papers) (any, error) {
			var pages []handoutPage
			for _, h := range p.handouts() {
				pages = append(pages, h.pages()...)
			}
			return pages, nil
		},
	},
	{
		Name: "chart", Title: "Mic chart", Landscape: true,
		For:     "the mix engineer and the designer",
		Help:    "when each channel is open, and how many mics are open",
		Readers: "the mix engineer",
		Shows: "a bar while a channel is open, darker and thicker for louder roles; below, how many mics are open " +
			"and what that costs in dB",
		body: func(p *Papers) (any, error) { return p.charts(), nil },
	},
	{
		Name: "pictures", Title: "Field pictures", Landscape: true,
		For:     "everyone, one for each cue",
		Help:    "the field at every cue",
		Readers: "everyone",
		Shows:   "the field at every cue, as `backfield picture` draws it",
		body:    func(p *Papers) (any, error) { return p.pictures() },
	},
	{
		Name: "gains", Title: "Gain sheet",
		For:     "whoever sets the preamps",
		Help:    "each channel's mic, preamp and low cut, with blanks",
		Readers: "the mix engineer",
		Shows: "for each channel: mic, what forte should read, gain and low cut as computed, blanks for what was " +
			"set; how to set them",
		body: func(p *Papers) (any, error) { return p.gains(), nil },
	},
	{
		Name: "readings", Title: "Readings",
		For:     "whoever has the sound level meter",
		Help:    "what to read on site, in order, with blanks",
		Readers: "the mix engineer",
		Shows: "the background and the four readings in their order, with blanks, cautions and the lines for " +
			"`[levels]` (`backfield help rig`)",
		body: func(p *Papers) (any, error) { return p.readings(), nil },
	},
}

// index links the sheets.
var index = PrintedSheet{Name: "index", Title: "Sheets", Help: "links to the sheets", Shows: "links to the others"}

// Names lists the sheets as in a sentence: "run sheet, pack sheet".
func Names() string {
	var names []string
	for _, s := range sheets {
		names = append(names, strings.ToLower(s.Title))
	}
	return strings.Join(names, ", ")
}

// withIndex returns the sheets and their index.
func withIndex() []PrintedSheet { return append(sheets[:len(sheets):len(sheets)], index) }

// Help is one indented line for each page, for the help of the command.
func Help() string {
	var b strings.Builder
	for _, s := range withIndex() {
		fmt.Fprintf(&b, "    %-16s%s\n", s.File(), s.Help)
	}
	return b.String()
}

// Reference is the table of the pages for the help page, in Markdown.
func Reference() string {
	var b strings.Builder
	b.WriteString("| page | for | what is on it |\n| --- | --- | --- |\n")
	for _, s := range withIndex() {
		cells := []string{"|", "`" + s.File() + "`", "|", s.Readers, "|", s.Shows, "|"}
		b.WriteString(strings.Join(slices.DeleteFunc(cells, func(c string) bool { return c == "" }), " ") + "\n")
	}
	return b.String()
}

// Stale lists the PDFs and CSV tables in a folder that an earlier run has left and this run has not written. Someone
// could take them for new. The HTML pages are always written.
func Stale(dir string, fresh []string) []string {
	var old []string
	for _, name := range optional() {
		if _, err := os.Stat(filepath.Join(dir, name)); err == nil && !slices.Contains(fresh, name) {
			old = append(old, name)
		}
	}
	return old
}

// optional lists the names of all files that only some runs write: each sheet's table and PDF, then the other tables.
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
