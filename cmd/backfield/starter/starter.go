// Package starter writes a small show to begin with: its files, complete and commented, by a few answers. It asks
// nothing and writes nothing to the disk.
package starter

import (
	"bytes"
	"embed"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"text/template"

	"backfield/cmd/backfield/publish"
	"backfield/layout"
	"backfield/layout/field"
	"backfield/layout/table"
	"backfield/layout/unit"
)

//go:embed *.toml
var templates embed.FS

// NewShow is what a new show is made of.
type NewShow struct {
	Name   string // its title, one line of text
	Field  string // a code of layout/field
	Grid28 bool   // 28 steps in depth reach the hash; for a high-school field
	Stacks int    // loudspeaker stacks: one of StackCounts
	Packs  int    // wireless packs: FewestPacks to MostPacks
	Dir    string // the folder that it will be in, as a shell takes it: comments name it in commands
}

// How many wireless packs a new show may have.
const FewestPacks, MostPacks = 2, 40

const guards = 4 // players without a mic

// StackCounts are the numbers of stacks that it may have.
var StackCounts = []string{"2", "4", "6"}

// CheckName refuses a title that is not one line of text.
func CheckName(v string) error {
	if strings.TrimSpace(v) == "" || strings.ContainsFunc(v, func(r rune) bool { return r < ' ' || r == 0x7F }) ||
		len(v) > 200 {
		return fmt.Errorf("a name must be one line of text")
	}
	return nil
}

// CheckPacks refuses an answer that is not a number of packs.
func CheckPacks(v string) error {
	if n, err := strconv.Atoi(v); err != nil || n < FewestPacks || n > MostPacks {
		return fmt.Errorf("%q is not a whole number from %d to %d", v, FewestPacks, MostPacks)
	}
	return nil
}

// wearer is one player of the new show.
type wearer struct{ name, section string }

// The voices in the order in which packs are given out: of ten, four trumpets, three baritones, two mellophones and a
// tuba.
var voices = []wearer{{"Tpt", "trumpet"}, {"Bari", "baritone"}, {"Mello", "mellophone"}, {"Tpt", "trumpet"},
	{"Tuba", "tuba"},
	{"Bari", "baritone"}, {"Tpt", "trumpet"}, {"Mello", "mellophone"}, {"Bari", "baritone"}, {"Tpt", "trumpet"}}

// players are those with a pack, section by section, and then those without.
func (s *NewShow) players() []wearer {
	count := map[string]int{}
	var list []wearer
	for i := range s.Packs {
		v := voices[i%len(voices)]
		count[v.name]++
		list = append(list, wearer{fmt.Sprintf("%s %d", v.name, count[v.name]), v.section})
	}
	order := []string{"trumpet", "mellophone", "baritone", "tuba"}
	slices.SortStableFunc(list, func(a, b wearer) int {
		return slices.Index(order, a.section) - slices.Index(order,
			b.section)
	})
	for i := range guards {
		list = append(list, wearer{fmt.Sprintf("Guard %d", i+1), "guard"})
	}
	return list
}

// Files are the files of the show. An error is a bug in the templates.
func (s *NewShow) Files() ([]publish.OutputFile, error) {
	players := s.players()
	var sections []string
	for _, x := range players[:s.Packs] {
		if name := table.Quote("@" + x.section); !slices.Contains(sections, name) {
			sections = append(sections, name)
		}
	}
	bed := `"@baritone"`
	if slices.Contains(sections, `"@mellophone"`) { // who are few enough for forty packs: fewer mics open
		bed = `"@mellophone"`
	}
	channels := (s.Packs + 1 + 7) / 8 * 8
	data := map[string]any{
		"Name": s.Name, "Field": s.Field, "Grid28": s.Grid28, "Packs": s.Packs, "Dir": s.Dir, "Stacks": s.places(),
		"All": strings.Join(sections, ", "), "Bed": bed,
		"Many": s.Packs > 24, "Channels": channels, "Spare": s.Packs + 1,
	}
	var files []publish.OutputFile
	for _, name := range []string{"show.toml", "rig.toml", "mixer.toml"} {
		t, err := template.New(name).Funcs(template.FuncMap{"quote": table.Quote}).ParseFS(templates, name)
		if err != nil {
			return nil, err
		}
		var b bytes.Buffer
		if err := t.Execute(&b, data); err != nil {
			return nil, err
		}
		files = append(files, publish.OutputFile{Name: name, Data: b.Bytes()})
	}
	roster := [][]string{{"player", "section", "pack", "channel"}}
	for i, x := range players {
		row := []string{x.name, x.section, "", ""}
		if i < s.Packs {
			row[2], row[3] = fmt.Sprintf("P%02d", i+1), strconv.Itoa(i+1)
		}
		roster = append(roster, row)
	}
	sets := [][]string{{"set", "movement", "counts", "hold"}}
	dots := [][]string{{"set", "player", "lateral", "depth"}}
	ground, _ := field.ByCode(s.Field)
	if s.Grid28 {
		ground = ground.Grid28()
	}
	for i, form := range forms {
		label := strconv.Itoa(i + 1)
		sets = append(sets, []string{label, strconv.Itoa(form.movement), strconv.Itoa(form.counts),
			strconv.Itoa(form.hold)})
		for j, x := range players {
			lateral, depth := field.Halves(ground.Dot(form.place(j, len(players))))
			dots = append(dots, []string{label, x.name, lateral, strings.TrimSpace(depth)})
		}
	}
	return append(files, publish.ShowCSV("roster.csv", roster), publish.ShowCSV("sets.csv", sets),
		publish.ShowCSV("dots.csv", dots)), nil
}

type newStack struct {
	Name string
	X    float64
	Trim int
}

// places are the stacks from the audience's left to its right.
func (s *NewShow) places() []newStack {
	names := map[int][]string{2: {"left", "right"}, 4: {"outer left", "inner left", "inner right", "outer right"},
		6: {"far left", "left", "inner left", "inner right", "right", "far right"}}[s.Stacks]
	out := map[int][]float64{2: {20}, 4: {24, 11}, 6: {26, 17, 8}}[s.Stacks]
	var list []newStack
	for i, name := range names {
		at, side := i, -1.0
		if i >= len(out) {
			at, side = len(names)-1-i, 1
		}
		one := newStack{Name: name, X: side * out[at]}
		if len(out) > 1 && at == len(out)-1 {
			one.Trim = -3
		}
		list = append(list, one)
	}
	return list
}

// setForm is one set of the new show: a block of ranks of ten at most, its front rank's middle at x, y, the intervals
// between its players, and how far its wings are swept back for each place from the middle. All in steps.
type setForm struct {
	movement, counts, hold int
	x, y, interval, sweep  float64
}

var forms = []setForm{
	{1, 0, 0, 0, 26, 3, 0},
	{1, 16, 4, 0, 26, 4, 0},    // opens
	{1, 16, 0, -8, 24, 4, 0},   // slides to side 1
	{1, 16, 0, 0, 26, 4, 1},    // a wedge, back in the middle
	{2, 0, 0, 0, 26, 4, 1},     // where movement 2 finds them
	{2, 32, 16, 0, 16, 3.5, 0}, // to the front
}

// place is where the i-th of n players is.
func (f setForm) place(i, n int) layout.Point {
	ranks := (n + 9) / 10
	files := (n + ranks - 1) / ranks
	rank := i / files
	inRank := min(files, n-rank*files)
	file := float64(i%files) - float64(inRank-1)/2
	return layout.Point{X: (f.x + file*f.interval) * unit.StepM, Y: (f.y + float64(rank)*f.interval +
		f.sweep*max(file, -file)) * unit.StepM}
}
