package main

import (
	"bytes"
	"embed"
	"fmt"
	"os"
	"slices"
	"strconv"
	"strings"
	"text/template"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/publish"
	"backfield/cmd/backfield/term"
	"backfield/layout"
	"backfield/layout/field"
	"backfield/layout/source"
	fields "backfield/layout/table"
	"backfield/layout/unit"
)

//go:embed starter/*.toml
var starters embed.FS

// starter is what a new show is asked about.
type starter struct {
	Name, Field string
	stacks      int
	Packs       int
	Dir         string
}

const (
	fewestPacks, mostPacks = 2, 40
	without                = 4 // players without a mic
)

var stackCounts = []string{"2", "4", "6"}

func newCommand() *cobra.Command {
	var s starter
	var stacks, packs string
	c := &cobra.Command{
		Use:   "new DIR",
		Short: "write a small show to begin with, complete and commented",
		Long: `Writes a small show into a new folder: score, drill, roster, rig and desk, each line explained, which
compile as they are. What no flag says is asked for on a terminal, and takes its default elsewhere.
A folder that has anything in it is left alone. "backfield help new" tells more.
Exit code 0: written; 2: wrong usage, or the folder is not empty; 3: it cannot be written.`,
		Args: exactly(1, "one DIR"),
		RunE: func(c *cobra.Command, args []string) error {
			s.Dir = args[0]
			if err := empty(s.Dir); err != nil {
				return err
			}
			ask := term.NewAsker(c.InOrStdin(), c.ErrOrStderr(), !term.Person(c.InOrStdin()) || !term.Is(c.ErrOrStderr()))
			for _, q := range []struct {
				flag, question string
				value          *string
				check          func(string) error
			}{
				{"name", "Name of the show", &s.Name, checkName},
				{"field", "Field: " + strings.Join(field.Codes(), ", "), &s.Field, func(v string) error { return among(v, field.Codes()) }},
				{"stacks", "Loudspeaker stacks: 2, 4 or 6", &stacks, func(v string) error { return among(v, stackCounts) }},
				{"packs", fmt.Sprintf("Wireless packs: %d to %d", fewestPacks, mostPacks), &packs, checkPacks},
			} {
				if !c.Flags().Changed(q.flag) {
					if err := ask.Put(q.question, q.value, q.check); err != nil {
						return wrong("nobody answers any more: nothing is written; flags say what the questions ask (backfield new --help)")
					}
				} else if err := q.check(*q.value); err != nil {
					return wrong("--%s: %w", q.flag, err)
				}
			}
			s.Name = strings.TrimSpace(s.Name)
			s.stacks, _ = strconv.Atoi(stacks)
			s.Packs, _ = strconv.Atoi(packs)
			files, err := s.files()
			if err != nil {
				return err
			}
			if err := publish.Files(s.Dir, files); err != nil {
				return world(err)
			}
			var names []string
			for _, f := range files {
				names = append(names, f.Name)
			}
			dir := word(s.Dir)
			fmt.Fprintf(c.OutOrStdout(), "written to %s: %s\n", s.Dir, strings.Join(names, ", "))
			fmt.Fprintf(c.ErrOrStderr(), "next:\n    backfield check %s\n    backfield explain %s 3 \"Tpt 1\"\n    backfield run %s --rehearse\n", dir, dir, dir)
			return nil
		},
	}
	f := c.Flags()
	f.StringVar(&s.Name, "name", "New Show", "the show's `NAME`")
	f.StringVar(&s.Field, "field", "college", "the field's `CODE`: "+strings.Join(field.Codes(), ", "))
	f.StringVar(&stacks, "stacks", "2", "`N` loudspeaker stacks: 2, 4 or 6")
	f.StringVar(&packs, "packs", "8", fmt.Sprintf("`N` wireless packs: %d to %d", fewestPacks, mostPacks))
	return c
}

// empty wants a folder that is not there, or has nothing in it.
func empty(dir string) error {
	list, err := os.ReadDir(dir)
	switch {
	case os.IsNotExist(err):
		return nil
	case err != nil:
		if info, statErr := os.Stat(dir); statErr == nil && !info.IsDir() {
			return wrong("%s is a file; name a new folder", dir)
		}
		return world(err)
	case len(list) > 0:
		return wrong("%s has something in it (%s); name a new folder", dir, list[0].Name())
	}
	return nil
}

func checkName(v string) error {
	if strings.TrimSpace(v) == "" || strings.ContainsFunc(v, func(r rune) bool { return r < ' ' || r == 0x7F }) || len(v) > 200 {
		return fmt.Errorf("a name is one line of text")
	}
	return nil
}

func among(v string, list []string) error {
	if !slices.Contains(list, v) {
		return fmt.Errorf("%q is not %s", v, source.OneOf(list))
	}
	return nil
}

func checkPacks(v string) error {
	if n, err := strconv.Atoi(v); err != nil || n < fewestPacks || n > mostPacks {
		return fmt.Errorf("%q is not a whole number from %d to %d", v, fewestPacks, mostPacks)
	}
	return nil
}

// word is an argument as a shell takes it.
func word(s string) string {
	if s == "" || strings.ContainsAny(s, " \t\"'$&;()*?<>|") {
		return strconv.Quote(s)
	}
	return s
}

// wearer is one player of the new show.
type wearer struct{ name, section string }

// The voices in the order in which packs are given out: of ten, four trumpets, three baritones, two mellophones and a
// tuba.
var voices = []wearer{{"Tpt", "trumpet"}, {"Bari", "baritone"}, {"Mello", "mellophone"}, {"Tpt", "trumpet"}, {"Tuba", "tuba"},
	{"Bari", "baritone"}, {"Tpt", "trumpet"}, {"Mello", "mellophone"}, {"Bari", "baritone"}, {"Tpt", "trumpet"}}

// players are those with a pack, section by section, and then those without.
func (s *starter) players() []wearer {
	count := map[string]int{}
	var list []wearer
	for i := range s.Packs {
		v := voices[i%len(voices)]
		count[v.name]++
		list = append(list, wearer{fmt.Sprintf("%s %d", v.name, count[v.name]), v.section})
	}
	order := []string{"trumpet", "mellophone", "baritone", "tuba"}
	slices.SortStableFunc(list, func(a, b wearer) int { return slices.Index(order, a.section) - slices.Index(order, b.section) })
	for i := range without {
		list = append(list, wearer{fmt.Sprintf("Guard %d", i+1), "guard"})
	}
	return list
}

// files are those of the show.
func (s *starter) files() ([]publish.File, error) {
	players := s.players()
	var sections []string
	for _, x := range players[:s.Packs] {
		if name := fields.Quote("@" + x.section); !slices.Contains(sections, name) {
			sections = append(sections, name)
		}
	}
	bed := `"@baritone"`
	if slices.Contains(sections, `"@mellophone"`) { // who are few enough for forty packs: fewer mics open
		bed = `"@mellophone"`
	}
	channels := (s.Packs + 1 + 7) / 8 * 8
	data := map[string]any{
		"Name": s.Name, "Field": s.Field, "Packs": s.Packs, "Dir": word(s.Dir), "Stacks": s.places(),
		"All": strings.Join(sections, ", "), "Bed": bed,
		"Many": s.Packs > 24, "Channels": channels, "Spare": s.Packs + 1,
	}
	var files []publish.File
	for _, name := range []string{"show.toml", "rig.toml", "desk.toml"} {
		t, err := template.New(name).Funcs(template.FuncMap{"quote": fields.Quote}).ParseFS(starters, "starter/"+name)
		if err != nil {
			return nil, err
		}
		var b bytes.Buffer
		if err := t.Execute(&b, data); err != nil {
			return nil, err
		}
		files = append(files, publish.File{Name: name, Data: b.Bytes()})
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
	for i, form := range starterForms {
		label := strconv.Itoa(i + 1)
		sets = append(sets, []string{label, strconv.Itoa(form.movement), strconv.Itoa(form.counts), strconv.Itoa(form.hold)})
		for j, x := range players {
			lateral, depth := field.Halves(ground.Dot(form.place(j, len(players))))
			dots = append(dots, []string{label, x.name, lateral, strings.TrimSpace(depth)})
		}
	}
	return append(files, publish.CSV("roster.csv", roster), publish.CSV("sets.csv", sets), publish.CSV("dots.csv", dots)), nil
}

type starterStack struct {
	Name string
	X    float64
	Trim int
}

// places are the stacks from the audience's left to its right.
func (s *starter) places() []starterStack {
	names := map[int][]string{2: {"left", "right"}, 4: {"outer left", "inner left", "inner right", "outer right"},
		6: {"far left", "left", "inner left", "inner right", "right", "far right"}}[s.stacks]
	out := map[int][]float64{2: {20}, 4: {24, 11}, 6: {26, 17, 8}}[s.stacks]
	var list []starterStack
	for i, name := range names {
		at, side := i, -1.0
		if i >= len(out) {
			at, side = len(names)-1-i, 1
		}
		stack := starterStack{Name: name, X: side * out[at]}
		if len(out) > 1 && at == len(out)-1 {
			stack.Trim = -3
		}
		list = append(list, stack)
	}
	return list
}

// form is one set of the new show: a block of ranks of ten at most, its front rank's middle at x, y, the intervals
// between its players, and how far its wings are swept back for each place from the middle. All in steps.
type form struct {
	movement, counts, hold int
	x, y, interval, sweep  float64
}

var starterForms = []form{
	{1, 0, 0, 0, 26, 3, 0},
	{1, 16, 4, 0, 26, 4, 0},   // opens
	{1, 16, 0, -8, 24, 4, 0},  // slides to side 1
	{1, 16, 0, 0, 28, 4, 1},   // a wedge, back in the middle
	{2, 0, 0, 0, 28, 4, 1},    // where movement 2 finds them
	{2, 24, 8, 0, 16, 3.5, 0}, // to the front
}

// place is where the i-th of n players stands.
func (f form) place(i, n int) layout.Point {
	ranks := (n + 9) / 10
	files := (n + ranks - 1) / ranks
	rank := i / files
	inRank := min(files, n-rank*files)
	file := float64(i%files) - float64(inRank-1)/2
	return layout.Point{X: (f.x + file*f.interval) * unit.StepM, Y: (f.y + float64(rank)*f.interval + f.sweep*max(file, -file)) * unit.StepM}
}
