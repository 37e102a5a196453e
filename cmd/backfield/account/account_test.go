// Package account compares how every output says what a cue changes: the run sheet, the page, the picture, the run's
// status, screen and page, diff and report. It has only tests.
package account

import (
	"compress/gzip"
	"encoding/json"
	"flag"
	"html"
	"io/fs"
	"net/http/httptest"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/txtar"

	"backfield/cmd/backfield/console"
	"backfield/cmd/backfield/page"
	"backfield/cmd/backfield/paper"
	"backfield/cmd/backfield/picture"
	"backfield/cmd/backfield/show"
	"backfield/cue"
	"backfield/cue/diff"
	"backfield/cue/step"
	"backfield/layout/source"
	"backfield/osc/glance"
	"backfield/osc/journal"
	"backfield/osc/run"
)

var update = flag.Bool("update", false, "write the outputs into the archive")

const archive = "testdata/cues.txtar"

// begun is the start of every run in these tests.
var begun = time.Date(2026, 9, 12, 20, 30, 0, 0, time.UTC)

// files are the files of the show in the archive.
type files map[string][]byte

func (f files) Read(path string) ([]byte, error) {
	if data, ok := f[path]; ok {
		return data, nil
	}
	return nil, fs.ErrNotExist
}

// sides are the outputs of one cue, in the order of the archive.
var sides = []struct {
	name string
	of   func(t *testing.T, o *outputs, i int) string // "" if the output does not mention the cue
	live bool                                         // an output of a run, which shows what the operator has changed
}{
	{name: "run sheet", of: runSheet},
	{name: "run.csv", of: runTable},
	{name: "page", of: pageSays},
	{name: "picture", of: captions},
	{name: "status", of: status, live: true},
	{name: "screen", of: screen, live: true},
	{name: "run's page", of: runPage, live: true},
	{name: "diff", of: difference},
}

// outputs are made once from the show.
type outputs struct {
	s      *show.Loaded
	rows   []string   // of the run sheet, as text
	table  [][]string // run.csv, the head first
	view   page.ShowView
	before []run.View // for each snapshot, the run just before it
}

func TestAccount(t *testing.T) {
	data, err := os.ReadFile(archive)
	if err != nil {
		t.Fatal(err)
	}
	old := txtar.Parse(data)
	in := files{}
	for _, f := range old.Files {
		in[f.Name] = f.Data
	}
	o := made(t, in)
	want := &txtar.Archive{Comment: old.Comment}
	for _, f := range old.Files {
		if !strings.Contains(f.Name, ": ") { // a file of the show
			want.Files = append(want.Files, f)
		}
	}
	add := func(name, text string) {
		want.Files = append(want.Files, txtar.File{Name: name, Data: []byte(text)})
		if had := string(in[name]); had != text && !*update {
			t.Errorf("%s is\n%s\nand not\n%s", name, text, had)
		}
	}
	for i := range o.s.Show.Cues {
		for _, side := range sides {
			if text := side.of(t, o, i); text != "" {
				add("cue "+o.s.Show.Cues[i].ID+": "+side.name, text)
			}
		}
	}
	with := held(t, o)
	for _, side := range sides {
		if side.live {
			add("cue 2 with Tpt 2 held: "+side.name, side.of(t, with, 1))
		}
	}
	add("all cues: report", report(t, o))
	if *update {
		if err := os.WriteFile(archive, txtar.Format(want), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if len(want.Files) != len(old.Files) {
		t.Errorf("the archive has %d files, want %d (-update writes it)", len(old.Files), len(want.Files))
	}
}

func made(t *testing.T, in files) *outputs {
	var p source.Problems
	s, err := show.Load(in, "show.toml", show.LoadOptions{}, &p)
	if err != nil || p.Errors() > 0 || s.Show == nil {
		t.Fatal(err, p.All())
	}
	o := &outputs{s: s}
	papers, err := paper.Gather(s, nil)
	if err != nil {
		t.Fatal(err)
	}
	pages, err := papers.Pages()
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range pages {
		if x.Name == "run" {
			o.rows = rows(string(x.HTML))
		}
	}
	for _, x := range papers.Tables() {
		if x.File == "run.csv" {
			o.table = x.Rows
		}
	}
	o.view = viewed(t, s)
	e := started(o, run.Options{})
	for i := range s.Show.Cues {
		o.before = append(o.before, e.View(begun))
		command(t, e, "jump "+s.Show.Cues[i].ID)
	}
	return o
}

// started is a run before its first cue.
func started(o *outputs, options run.Options) *run.Engine {
	plan := run.ShowSetup{Show: o.s.Show, Mixer: o.s.Mixer, Time: show.Timeline{Clock: o.s.Clock}}
	return run.New(plan, options, begun)
}

func command(t *testing.T, e *run.Engine, line string) {
	t.Helper()
	c, err := run.Parse(line)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := e.Do(c, begun); err != nil {
		t.Fatal(line, err)
	}
}

var (
	sheetRow  = regexp.MustCompile(`(?s)<div class="row">.*?<div class="whatcell">(.*?)</div></div>\n`)
	fadeWords = regexp.MustCompile(`<div>((?:fade|out) [^<]*)</div>`)
	tag       = regexp.MustCompile(`<[^>]*>`)
	blankLine = regexp.MustCompile(`\n\s*\n+`)
)

// rows are what each cue does on the run sheet, and how it fades, as text.
func rows(page string) (list []string) {
	for _, r := range sheetRow.FindAllStringSubmatch(page, -1) {
		text := html.UnescapeString(tag.ReplaceAllString(r[1], ""))
		text = strings.TrimSpace(blankLine.ReplaceAllString(text, "\n")) + "\n"
		for _, fade := range fadeWords.FindAllStringSubmatch(r[0], -1) {
			text += fade[1] + "\n"
		}
		list = append(list, text)
	}
	return list
}

func runSheet(t *testing.T, o *outputs, i int) string { return o.rows[i] }

func runTable(t *testing.T, o *outputs, i int) string {
	text := ""
	for _, column := range []string{"opens", "closes", "changes", "sends"} {
		at := slices.Index(o.table[0], column)
		if value := o.table[i+1][at]; value != "" {
			text += column + ": " + value + "\n"
		}
	}
	return text
}

func viewed(t *testing.T, s *show.Loaded) (v page.ShowView) {
	site := page.NewSite(nil, nil, "")
	if err := site.Update(s, nil); err != nil {
		t.Fatal(err)
	}
	reply := httptest.NewRecorder()
	site.Handler(func(string) bool { return true }).ServeHTTP(reply, httptest.NewRequest("GET", "/view", nil))
	unpacked, err := gzip.NewReader(reply.Body)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.NewDecoder(unpacked).Decode(&v); err != nil {
		t.Fatal(err)
	}
	return v
}

func pageSays(t *testing.T, o *outputs, i int) string { return lines(o.view.Cues[i].Says) }

// captions is the text above the field.
func captions(t *testing.T, o *outputs, i int) string {
	d, err := picture.Cue(o.s, o.s.Show.Cues[i].ID, picture.Look{})
	if err != nil {
		t.Fatal(err)
	}
	var list []string
	for _, s := range d.Shapes {
		if s.Class == "caption" {
			list = append(list, s.Text)
		}
	}
	return lines(list)
}

// coming is the cue in a view of the run: the next to press, or the next automatic one.
func (o *outputs) coming(i int) *run.NextCue {
	if v := o.before[i]; o.s.Show.Cues[i].Auto {
		return v.NextAuto
	}
	return o.before[i].Next
}

// status is the lines of the run's status about the cue.
func status(t *testing.T, o *outputs, i int) string {
	var list []string
	for l := range strings.Lines(glance.Status(o.before[i])) {
		if strings.Contains(l, ": cue "+o.s.Show.Cues[i].ID+" at ") {
			list = append(list, strings.TrimSpace(l))
		}
	}
	return lines(list)
}

// screen is the rows of the operator's screen about the cue.
func screen(t *testing.T, o *outputs, i int) string {
	var list []string
	begins := " NEXT "
	if o.s.Show.Cues[i].Auto {
		begins = "AUTO"
	}
	text := strings.TrimSpace(escape.ReplaceAllString(console.Picture(o.before[i], console.ScreenState{}, 120, 30), ""))
	for l := range strings.Lines(text) {
		l = strings.TrimRight(l, " \n")
		at := strings.Index(l, begins)
		switch {
		case at >= 0:
			list = append(list, strings.TrimSpace(l[at:]))
		case len(list) > 0 && l == "":
			return lines(list)
		case len(list) > 0 && begins == " NEXT ": // next to the large digits
			if words := strings.TrimSpace(strings.TrimLeft(l, "█▀▄ ")); words != "" {
				list = append(list, words)
			}
		}
	}
	return lines(list)
}

var escape = regexp.MustCompile("\x1b\\[[0-9;]*m")

// runPage is what the run's page gets about the cue's changes. The page shows each list under a heading.
func runPage(t *testing.T, o *outputs, i int) string {
	data, err := json.Marshal(o.coming(i))
	if err != nil {
		t.Fatal(err)
	}
	var all map[string]any
	if err := json.Unmarshal(data, &all); err != nil {
		t.Fatal(err)
	}
	// these say when the cue comes, not what it changes
	for _, name := range []string{"id", "at", "name", "counts", "in_s", "auto"} {
		delete(all, name)
	}
	for name, v := range all {
		if list, ok := v.([]any); v == nil || ok && len(list) == 0 || v == 0.0 {
			delete(all, name)
		}
	}
	data, err = json.MarshalIndent(all, "", "  ")
	if err != nil {
		t.Fatal(err)
	}
	return string(data) + "\n"
}

// difference is the diff between the show and one in which the cue changes nothing.
func difference(t *testing.T, o *outputs, i int) string {
	old, now := *o.s.Show, *o.s.Show
	now.Cues = slices.Clone(now.Cues[:i+1])
	old.Cues = slices.Clone(now.Cues)
	was := &old.Cues[i]
	was.Also, was.Channels = nil, slices.Clone(was.Channels)
	for c := range was.Channels {
		if i == 0 {
			was.Channels[c].Open, was.Channels[c].Role, was.Channels[c].LevelDB = false, "", cue.Silent
		} else {
			was.Channels[c] = old.Cues[i-1].Channels[c]
		}
	}
	var b strings.Builder
	diff.Compare(&old, &now).Text(&b)
	return b.String()
}

// held is the outputs of a run with Tpt 2 held before cue 2, which changes its level.
func held(t *testing.T, o *outputs) *outputs {
	e := started(o, run.Options{})
	command(t, e, "jump 1")
	command(t, e, "hold Tpt 2")
	with := *o
	with.before = slices.Clone(o.before)
	with.before[1] = e.View(begun)
	return &with
}

// report is the report of a run with a nudge for every player. It names the cues in which each is open.
func report(t *testing.T, o *outputs) string {
	var entries []journal.Entry
	e := started(o, run.Options{Record: func(e journal.Entry) { entries = append(entries, e) }})
	command(t, e, "jump 1")
	for _, p := range o.s.Roster.Players {
		command(t, e, "nudge "+p.Name+" -1")
	}
	r := journal.NewReport(entries, func(name string) []string { return step.OpenIn(o.s.Show, name) })
	return r.String() + "\n"
}

// lines joins lines of text; "" for none.
func lines(list []string) string {
	if len(list) == 0 {
		return ""
	}
	return strings.Join(list, "\n") + "\n"
}
