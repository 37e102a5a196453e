package main

import (
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/publish"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/term"
	"backfield/layout/drill"
	"backfield/layout/drill/guess"
	"backfield/layout/field"
	"backfield/layout/source"
	fields "backfield/layout/table"
)

func importCommand() *cobra.Command {
	var m importing
	c := &cobra.Command{
		Use:   "import FILE",
		Short: "read a drill from a spreadsheet of another layout",
		Long: `Reads a sheet of dots (.xlsx or .csv) that is laid out in its own way, shows ten of its dots as they
are understood, and asks. Then it prints the lines that let a score use the sheet as it is, or with -o
writes the drill as sets.csv and dots.csv.

--guess proposes which column is which; --column says it, as [drill.columns] of a score would, and goes
before a guess. On no terminal, and with --yes, nothing is asked. "backfield help import" tells more.
Exit code 0: printed or written, or the answer was no; 1: problems in the sheet, nothing is written;
2: wrong usage; 3: a file cannot be read or written.`,
		Args: exactly(1, "one FILE"),
		RunE: func(c *cobra.Command, args []string) error { return m.run(c, args[0]) },
	}
	f := c.Flags()
	f.BoolVar(&m.guess, "guess", false, "propose which column is which")
	f.StringArrayVar(&m.columns, "column", nil, "`KEY=NAME`: a line of [drill.columns], or sets.KEY=NAME; as often as needed")
	f.StringVar(&m.sets, "sets", "", "the sets and their counts stand in this `FILE`, not with the dots")
	f.StringVar(&m.field, "field", "college", "the field's `CODE`: "+strings.Join(field.Codes(), ", "))
	f.BoolVar(&m.grid28, "grid-28", false, `depth steps are those of grid = "28"`)
	f.StringVarP(&m.dir, "out", "o", "", "write sets.csv and dots.csv into this `DIR`")
	f.BoolVarP(&m.yes, "yes", "y", false, "ask nothing")
	return c
}

type importing struct {
	guess, grid28, yes bool
	columns            []string
	sets, field, dir   string
}

func (m *importing) run(c *cobra.Command, path string) error {
	talk := c.ErrOrStderr()
	ground, ok := field.ByCode(m.field)
	if !ok {
		return wrong("--field: no field %q is known; %s", m.field, source.DidYouMean(m.field, field.Codes(), "it is "+source.OneOf(field.Codes())))
	}
	if m.grid28 {
		ground = ground.Grid28()
	}
	in := drill.Sheets{Together: m.sets == ""}
	var err error
	if in.Dots, err = m.open(path, 2); err != nil {
		return err
	}
	if m.sets != "" {
		if in.Sets, err = m.open(m.sets, 1); err != nil {
			return err
		}
	}
	var p source.Problems
	columns := drill.Columns{}
	if m.guess {
		proposed, missing := guess.Columns(in.Dots, ground, &p)
		if columns = proposed; missing != "" && len(m.columns) == 0 {
			source.Print(talk, p.All())
			fmt.Fprintf(talk, "%s: no guess: %s; say with --column which column is which (backfield help import)\n", path, missing)
			return told(exitProblems)
		}
	}
	if !in.Together { // told by the other sheet
		columns.Movement, columns.Counts, columns.Hold = drill.MovementKey{}, fields.Text{}, fields.Text{}
	}
	if err := m.override(&columns); err != nil {
		return err
	}
	if in.Columns = &columns; m.guess && in.Together && !columns.Movement.Set && !columns.Movement.All.Set {
		columns.Movement.All = fields.Int{V: 1, Set: true}
		fmt.Fprintf(talk, "no column of movements was found: every set is taken to be of movement 1\n")
	}
	p = source.Problems{}
	d := drill.ReadSheets(in, ground, &p)
	d.Check(&p)
	problems := p.All()
	source.Print(talk, problems)
	lines := m.lines(path, &columns)
	if p.Errors() > 0 {
		fmt.Fprintf(talk, "\nread by these lines:\n\n%s\n%s: %s; nothing was written\n", lines, path, tally(problems))
		return told(exitProblems)
	}
	m.show(talk, d, lines)
	if !m.yes && term.Person(c.InOrStdin()) && term.Is(talk) {
		if !term.Yes(c.InOrStdin(), talk, "Are these dots right?") {
			fmt.Fprintln(talk, "nothing was written; --column KEY=NAME says what is otherwise (backfield help import)")
			return nil
		}
	}
	if m.dir == "" {
		fmt.Fprint(c.OutOrStdout(), lines)
		return nil
	}
	sets, dots := d.Sheets()
	if err := publish.Files(m.dir, []publish.File{publish.CSV("sets.csv", sets), publish.CSV("dots.csv", dots)}); err != nil {
		return world(err)
	}
	fmt.Fprintf(c.OutOrStdout(), "written to %s: sets.csv, dots.csv\n", m.dir)
	fmt.Fprintf(talk, "in show.toml: drill = { sets = \"sets.csv\", dots = \"dots.csv\" }\n")
	return nil
}

func (m *importing) open(path string, order int) (*source.File, error) {
	raw, err := show.Disk{}.Read(path)
	if err != nil {
		return nil, world(fmt.Errorf("%s %w", path, err))
	}
	f, err := show.Open(path, "drill", raw, fields.CSVLimit)
	if err != nil {
		return nil, world(fmt.Errorf("%s is %w", path, err))
	}
	f.Order, f.Page = order, "drill"
	return f, nil
}

// override lays what the command line says over the guess: as a score would, so that the same is taken and refused.
func (m *importing) override(c *drill.Columns) error {
	var own, sets strings.Builder
	for _, line := range m.columns {
		key, value, ok := strings.Cut(line, "=")
		key, value = strings.TrimSpace(key), strings.TrimSpace(value)
		if !ok || key == "" || strings.ContainsAny(key, " \"'\n[]") {
			return wrong("--column %q: write KEY=NAME, such as player=Performer", line)
		}
		into := &own
		if rest, of := strings.CutPrefix(key, "sets."); of {
			key, into = rest, &sets
		}
		switch key {
		case "header", "last", "hold_after":
		case "movement":
			if strings.Trim(value, "0123456789") != "" {
				value = fields.Quote(value)
			}
		default:
			value = fields.Quote(value)
		}
		fmt.Fprintf(into, "%s = %s\n", key, value)
	}
	text := own.String()
	if sets.Len() > 0 {
		text += "[sets]\n" + sets.String()
	}
	f, err := source.Open("--column", []byte(text), fields.TOMLLimit)
	if err != nil {
		return wrong("--column: %w", err)
	}
	var p source.Problems
	if text != "" {
		fields.Decode(fields.ReadTOML(f, &p), c, &p)
	}
	if list := p.All(); len(list) > 0 {
		return wrong("--column: %s; %s", list[0].What, list[0].Do)
	}
	return nil
}

// lines are those of a score that uses the sheet as it is, from the folder that the sheet is in.
func (m *importing) lines(path string, c *drill.Columns) string {
	var b strings.Builder
	b.WriteString("[drill]\n")
	if m.sets != "" {
		fmt.Fprintf(&b, "sets = %s\n", fields.Quote(filepath.Base(m.sets)))
	}
	fmt.Fprintf(&b, "dots = %s\n\n%s", fields.Quote(filepath.Base(path)), c.TOML())
	return b.String()
}

// show tells what was understood, for someone who knows the drill.
func (m *importing) show(w io.Writer, d *drill.Drill, lines string) {
	fmt.Fprintf(w, "%s, %s in %s, on the %s field\n\n%s\n", plural(len(d.Players), "player"), plural(len(d.Sets), "set"), plural(d.Movements(), "movement"), d.Field.Code, lines)
	var marks []mark
	for i, s := range guess.Sample(d, 10) {
		x := d.Players[s.Player]
		dot := x.Dots[s.Set]
		letter := rune('A' + i)
		marks = append(marks, mark{dot.At, letter})
		fmt.Fprintf(w, "  %c  %s, set %s: %s\n     is %s (x %.2f m, y %.2f m)\n", letter, x.Name, d.Sets[s.Set].Label, dot.Words(), d.Field.Dot(dot.At), dot.At.X, dot.At.Y)
	}
	fmt.Fprintln(w)
	for _, line := range sketch(d.Field, marks) {
		fmt.Fprintln(w, "  "+line)
	}
	fmt.Fprintln(w)
	var counts []string
	for i := range min(len(d.Sets), 10) {
		s := d.Sets[i]
		text := fmt.Sprintf("%s %d", s.Label, s.Counts)
		if s.Hold > 0 {
			text += fmt.Sprintf(" (%d hold)", s.Hold)
		}
		counts = append(counts, text)
	}
	if more := len(d.Sets) - 10; more > 0 {
		counts = append(counts, fmt.Sprintf("%d more", more))
	}
	fmt.Fprintf(w, "counts into each set, the hold in them: %s\n", strings.Join(counts, ", "))
}
