package paper

import (
	"bytes"
	"flag"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"backfield/cmd/backfield/show"
	"backfield/cue/sheet"
	"backfield/layout/source"
)

var update = flag.Bool("update", false, "write the golden pages")

// memory is a folder of files in memory.
type memory map[string]string

func (m memory) Read(path string) ([]byte, error) {
	if text, ok := m[path]; ok {
		return []byte(text), nil
	}
	return nil, fs.ErrNotExist
}

func gathered(t *testing.T, rd show.Reader, path string, plan *sheet.Batteries) *Papers {
	t.Helper()
	var p source.Problems
	s, err := show.Load(rd, path, show.LoadOptions{}, &p)
	if err != nil {
		t.Fatal(err)
	}
	if s.Show == nil {
		var b strings.Builder
		source.Print(&b, p.All())
		t.Fatal(b.String())
	}
	papers, err := Gather(s, plan)
	if err != nil {
		t.Fatal(err)
	}
	return papers
}

func pagesOf(t *testing.T, p *Papers) map[string]PrintedPage {
	t.Helper()
	list, err := p.Pages()
	if err != nil {
		t.Fatal(err)
	}
	links, err := p.Index(list, true)
	if err != nil {
		t.Fatal(err)
	}
	all := map[string]PrintedPage{}
	for _, x := range append(list, links) {
		all[x.Name] = x
	}
	return all
}

// The run sheet and the pack sheet of the smallest example, whole.
func TestGolden(t *testing.T) {
	p := gathered(t, show.Disk{}, "../../../examples/tiny/show.toml", nil)
	for _, name := range []string{"run", "packs"} {
		got := pagesOf(t, p)[name].HTML
		path := filepath.Join("testdata", "tiny-"+name+".html")
		if *update {
			if err := os.WriteFile(path, got, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(got, want) {
			t.Errorf("%s differs from %s; go test -update writes it", name, path)
		}
	}
}

// vietnamese is a name in letters that few fonts have.
const vietnamese = "Nguyễn Thị Hồng Ước"

// sixty is a show of 60 cues and 30 packs, four of which change hands. Its names are long, or have a meaning in HTML
// and CSS. It has three movements and automatic cues.
func sixty() memory {
	const hostile = `Lanterns <b>&amp; "quotes" \27 </style> 'n' é`
	var score, roster, sets, dots strings.Builder
	fmt.Fprintf(&score, `title = %q
drill = { sets = "sets.csv", dots = "dots.csv" }
roster = "roster.csv"
rig = "rig.toml"
mixer = "mixer.toml"
check.most_open = 40
[mix]
feature = 0
support = -9
`, hostile)
	roster.WriteString("player,section,pack,channel,from\n")
	sets.WriteString("set,movement,counts\n")
	dots.WriteString("set,player,x,y\n")
	var names []string
	for i := range 34 {
		name := fmt.Sprintf("Horn %d", i+1)
		if i == 0 {
			name = "Ada of the First <Row> & Friends"
		}
		if i == 4 {
			name = vietnamese
		}
		section := []string{"high horns", "low horns"}[i%2]
		if i == 29 {
			section = "" // only a warning: the player wears a mic too
		}
		if names = append(names, name); i < 30 {
			fmt.Fprintf(&roster, "%s,%s,P%02d,%d,\n", name, section, i+1, i+1)
		} else {
			fmt.Fprintf(&roster, "%s,%s,P%02d,%d,2:1\n", name, section, i-29, i-29)
		}
	}
	for m := range 3 {
		fmt.Fprintf(&score, "[[movement]]\nname = \"Part %c\"\ntempo = 120\n", 'A'+m)
		for k := range 12 {
			counts := 16
			if k == 0 {
				counts = 0
			}
			set := 12*m + k + 1
			fmt.Fprintf(&sets, "%d,%d,%d\n", set, m+1, counts)
			for i, name := range names {
				fmt.Fprintf(&dots, "%d,%s,%d,%d\n", set, name, (i%12-6)*3+k%4*2, 8+i/12*6+k%3*2)
			}
		}
	}
	for c := range 60 {
		m, k := c/20, c%20
		holder := func(i int) string { // of channel i: four packs change hands before the second movement
			if i %= 30; i < 4 && m > 0 {
				i += 30
			}
			return names[i]
		}
		if m == 1 && k < 5 {
			holder = func(i int) string { return names[4+i%26] } // during the handovers
		}
		var open []string
		for i := range 9 {
			open = append(open, fmt.Sprintf("%q", holder(c*7+i)))
		}
		when := fmt.Sprintf("at = \"%d:%d\"", m+1, 1+8*k)
		if k == 7 {
			when = "after = 8"
		}
		fmt.Fprintf(&score, `[[cue]]
id = "%d%c"
%s
name = "a name that says in plain words what is heard now, number %d"
open.feature = [%s]
open.support = [%s]
fade = 2
`,
			m+1, 'A'+k, when, c+1, strings.Join(open[:3], ", "), strings.Join(open[3:], ", "))
	}
	files := memory{
		"show.toml": score.String(), "roster.csv": roster.String(), "sets.csv": sets.String(), "dots.csv": dots.String(),
	}
	for _, name := range []string{"rig.toml", "mixer.toml"} {
		text, err := os.ReadFile("../../../examples/tiny/" + name)
		if err != nil {
			panic(err)
		}
		files[name] = string(text)
	}
	files["mixer.toml"] = regexp.MustCompile(`(?m)^channels.*$`).ReplaceAllString(files["mixer.toml"], "channels = 64")
	return files
}

// Pages have every cue, need no other file, and escape names.
func TestPages(t *testing.T) {
	var problems source.Problems
	day := sheet.ReadDay(&source.File{Name: "--day", Text: "9:00-12:00,20:30 show"}, 300, &problems)
	plan := sheet.Plan(day, 300, &problems)
	p := gathered(t, sixty(), "show.toml", &plan)
	all := pagesOf(t, p)
	if len(all) != len(sheets)+1 || len(p.Rows) != 60 || len(p.Packs()) != 30 || len(p.Handovers) != 4 {
		t.Fatalf("%d pages, %d rows, %d packs, %d handovers", len(all), len(p.Rows), len(p.Packs()), len(p.Handovers))
	}
	for name, page := range all {
		html := string(page.HTML)
		if m := regexp.MustCompile(`(?i)(src|href)="[^"]*(:|//)|url\(|@import|<script|<link`).FindString(html); m != "" {
			t.Errorf("%s needs another file: %s", name, m)
		}
		if strings.Contains(html, "<Row>") || strings.Contains(html, "<b>&amp;") || strings.Count(html, "</style>") != 1 {
			t.Errorf("%s does not escape a name", name)
		}
		if !strings.Contains(html, p.Mark) {
			t.Errorf("%s lacks the compile's mark", name)
		}
	}
	for _, r := range p.Rows {
		if run := string(all["run"].HTML); !strings.Contains(run, `pt">`+r.ID+`</div>`) {
			t.Errorf("the run sheet lacks cue %s", r.ID)
		}
		if !strings.Contains(string(all["chart"].HTML), ">"+r.ID+"</text>") {
			t.Errorf("the chart lacks cue %s", r.ID)
		}
	}
	if run := string(all["run"].HTML); strings.Count(run, `<div class="self">AUTO</div>`) != 3 {
		t.Errorf("%d automatic cues, want 3", strings.Count(run, `<div class="self">AUTO</div>`))
	}
	for _, w := range p.Wears {
		if packs := string(all["packs"].HTML); !strings.Contains(packs, ">"+w.Pack+"<") {
			t.Errorf("the pack sheet lacks %s", w.Pack)
		}
	}
	handouts := string(all["sections"].HTML)
	sections, players := strings.Count(handouts, `class="page handout"`), strings.Count(handouts, `class="player"`)
	if sections < 3 || sections > 15 || players != 34 {
		t.Errorf("%d sections, %d players", sections, players)
	}
}

// Another night has another mark, and so does a roster with other packs. The same show has the same mark.
func TestMark(t *testing.T) {
	tiny := memory{}
	for _, name := range []string{"show.toml", "sets.csv", "dots.csv", "roster.csv", "rig.toml", "mixer.toml"} {
		text, err := os.ReadFile("../../../examples/tiny/" + name)
		if err != nil {
			t.Fatal(err)
		}
		tiny[name] = string(text)
	}
	mark := func(name, old, new string) string {
		files := memory{}
		for n, text := range tiny {
			if files[n] = text; n == name {
				if files[n] = strings.Replace(text, old, new, 1); files[n] == text {
					t.Fatalf("%s does not hold %q", name, old)
				}
			}
		}
		return gathered(t, files, "show.toml", nil).Mark
	}
	first := mark("", "", "")
	if again := mark("", "", ""); again != first {
		t.Errorf("%s, then %s", first, again)
	}
	if packs := mark("roster.csv", ",P01,", ",P09,"); packs == first {
		t.Error("a pack by another name, and the mark is the same")
	}
	if air := mark("rig.toml", "20 C", "25 C"); air == first {
		t.Error("another air, and the mark is the same")
	}
}

// A show without cues has sheets, and so does one whose cues open nothing.
func TestEmpty(t *testing.T) {
	files := sixty()
	head, _, _ := strings.Cut(files["show.toml"], "[[cue]]")
	for _, cues := range []string{"", "[[cue]]\nid = \"1\"\nat = \"1:1\"\n"} {
		files["show.toml"] = head + cues
		pagesOf(t, gathered(t, files, "show.toml", nil))
	}
}

// A show without a worn mic says so, instead of a blank page.
func TestNoWornMic(t *testing.T) {
	files := sixty()
	head, _, _ := strings.Cut(files["show.toml"], "[[cue]]")
	files["show.toml"] = head
	files["roster.csv"] = regexp.MustCompile(`(?m),P\d+,\d+,.*$`).ReplaceAllString(files["roster.csv"], ",,,")
	pages := pagesOf(t, gathered(t, files, "show.toml", nil))
	for name, want := range map[string]string{
		"packs": "No cue opens a worn mic: no pack is needed", "sections": "No player wears a mic in this show",
	} {
		if text := string(pages[name].HTML); !strings.Contains(text, want) || strings.Contains(text, "Nobody could share") {
			t.Errorf("%s does not say %q:\n%s", name, want, text)
		}
	}
}

// The chart draws when players play under their bars, where the music says it: thicker where louder.
func TestChartShowsWhoPlays(t *testing.T) {
	g := gathered(t, show.Disk{}, filepath.Join("..", "..", "..", "examples", "kites", "show.toml"), nil)
	if len(g.Sounding) == 0 {
		t.Fatal("nobody plays")
	}
	const legend = "under a bar: plays"
	drawn := func() string { return string(pagesOf(t, g)["chart"].HTML) }
	html := drawn()
	lines := regexp.MustCompile(`<rect x="[\d.]+" y="[\d.]+" width="[\d.]+" height="([\d.]+)"/>`)
	soft := lines.FindAllStringSubmatch(html, -1)
	if len(soft) < 2*len(g.Sounding) || !strings.Contains(html, legend) { // on the show's chart and on its movement's
		t.Errorf("%d lines for %d times of playing", len(soft), len(g.Sounding))
	}
	for i := range g.Sounding {
		g.Sounding[i].LoudDB = -16
	}
	if loud := lines.FindAllStringSubmatch(drawn(), -1); len(loud) != len(soft) || loud[0][1] >= soft[0][1] {
		t.Errorf("pp is %s high, forte %s", loud[0][1], soft[0][1])
	}
	if g.Sounding = nil; strings.Contains(drawn(), legend) {
		t.Error("the legend explains lines that are not there")
	}
}

// In the wait between two movements places are unknown. Before it players are on the last dot, after it on the next.
func TestPlacesInWait(t *testing.T) {
	g := &showLocator{s: gathered(t, show.Disk{}, filepath.Join("..", "..", "..", "examples", "kites", "show.toml"), nil).Show}
	first, second := g.s.Clock.Movements[0], g.s.Clock.Movements[1]
	end := first.StartS + first.Tempo.Seconds(first.Counts)
	for atS, want := range map[float64]bool{
		0: true, end - 1: true, end: true, end + 0.5: false,
		second.StartS - 0.5: false, second.StartS: true, second.StartS + 1: true,
	} {
		if _, ok := g.Place("Mello 1", atS); ok != want {
			t.Errorf("at %g s of a wait from %g to %g: known %t", atS, end, second.StartS, ok)
		}
	}
}
