package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/importer"
	"backfield/cmd/backfield/problemlist"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/term"
	"backfield/cmd/backfield/verb"
	"backfield/layout/drill"
	"backfield/layout/field"
	"backfield/layout/rows"
	"backfield/layout/source"
)

func importCommand() *cobra.Command {
	var m importing
	c := &cobra.Command{
		Use:   "import FILE",
		Short: "read a drill from a spreadsheet in another layout",
		Long: `Reads a sheet of dots (.xlsx or .csv) in any layout, shows how it reads ten of the dots, and asks you
whether that is right. Then it prints the lines that let a score use the sheet as it is. With -o it
writes the drill as sets.csv and dots.csv instead.

--guess proposes which column is which. --column sets it, as [drill.columns] in a score does, and wins
over a guess; --word says what a staff's own word means. Without a terminal, or with --yes, it does not ask.
Exit code 0: printed or written, or you answered no; 1: problems in the sheet, nothing is written;
2: wrong usage; 3: a file cannot be read or written.`,
		Args: verb.Exactly(1, "one FILE"),
		RunE: func(c *cobra.Command, args []string) error { return m.run(c, args[0]) },
	}
	f := c.Flags()
	f.BoolVar(&m.guess, "guess", false, "propose which column is which")
	f.StringArrayVar(&m.columns, "column", nil, "`KEY=NAME`: a line of [drill.columns], or sets.KEY=NAME; repeat for "+
		"more")
	f.StringArrayVar(&m.words, "word", nil, "`WORD=MEANING`: a line of [drill.words], such as \"Left=side 1\"")
	f.StringVar(&m.sets, "sets", "", "the sets and their counts are in this `FILE`, not with the dots")
	f.StringVar(&m.field, "field", "college", "the field's `CODE`: "+strings.Join(field.Codes(), ", "))
	f.BoolVar(&m.grid28, "grid-28", false, `count depth steps as grid = "28" does`)
	f.StringVarP(&m.dir, "out", "o", "", "write sets.csv and dots.csv into this `DIR`")
	f.BoolVarP(&m.yes, "yes", "y", false, "do not ask")
	return c
}

type importing struct {
	guess, grid28, yes bool
	columns, words     []string
	sets, field, dir   string
}

func (m *importing) run(c *cobra.Command, path string) error {
	talk := c.ErrOrStderr()
	ground, err := importer.Ground(m.field, m.grid28)
	if err != nil {
		return verb.Wrong("--field: %w", err)
	}
	in, err := m.sheets(path)
	if err != nil {
		return err
	}
	words, err := importer.Words(m.words)
	if err != nil {
		return verb.Wrong("%w", err)
	}
	asks := !m.yes && term.CanAnswer(c.InOrStdin()) && term.IsTerminal(talk)
	put := term.NewAsker(c.InOrStdin(), talk, !asks).Put
	words, ground = importer.AskWords(in.Dots, ground, words, put)
	if err := m.layout(talk, path, &in, ground); err != nil {
		importer.Again(talk, words)
		return err
	}
	d, p := importer.Read(in, ground)
	if asks && importer.AskDepthFrom(in.Columns, p.All(), ground, put) {
		d, p = importer.Read(in, ground)
	}
	problems := p.All()
	source.Print(talk, importer.ForFlags(problems))
	lines := importer.Lines(path, m.sets, m.dir, in.Columns, words)
	if p.Errors() > 0 && !m.guess && len(m.columns) == 0 && p.Has(in.Dots, "missing-column") {
		fmt.Fprintf(talk, "\nnothing was written; to have the columns proposed: backfield import %s --guess\n",
			verb.Quoted(path))
		return verb.Exit(verb.ExitProblems)
	}
	if p.Errors() > 0 {
		fmt.Fprintf(talk, "\nread with these lines:\n\n%s\n%s: %s; nothing was written\n", lines, path,
			problemlist.Tally(problems))
		return verb.Exit(verb.ExitProblems)
	}
	importer.Describe(talk, d, lines)
	fmt.Fprint(talk, problemlist.Idle(p.AllIdle()))
	if asks && !importer.Agreed(func(q string) bool { return term.AskYes(c.InOrStdin(), talk, q) }, talk, m.dir) {
		return nil
	}
	if m.dir == "" {
		fmt.Fprint(c.OutOrStdout(), lines)
		return nil
	}
	return m.write(c, d)
}

// sheets opens the sheet of dots, and the one of sets if there is one.
func (m *importing) sheets(path string) (in drill.Sheets, err error) {
	in.Together = m.sets == ""
	if in.Dots, err = show.OpenSheet(path, 2); err == nil && !in.Together {
		in.Sets, err = show.OpenSheet(m.sets, 1)
	}
	return in, verb.Outside(err)
}

// layout is which column is which: as guessed, and as the flags say. Where a sheet of the same workbook has the sets, they
// are read from there.
func (m *importing) layout(talk io.Writer, path string, in *drill.Sheets, ground field.Field) error {
	columns := rows.Columns{}
	if err := importer.Override(&columns, m.columns); err != nil {
		return verb.Wrong("%w", err)
	}
	if m.guess {
		var sure bool
		if columns, sure = importer.Guess(talk, path, in.Dots, ground, columns, len(m.columns) == 0); !sure {
			return verb.Exit(verb.ExitProblems)
		}
		if importer.GuessSets(talk, in, &columns) {
			var err error
			if in.Sets, err = show.OpenSheet(path, 1); err != nil {
				return verb.Outside(err)
			}
			m.sets, in.Together = path, false
		}
	}
	in.Columns, in.Guessed = &columns, m.guess
	return importer.Settle(talk, in, m.columns, m.guess)
}

// write writes the drill into the folder of the flags.
func (m *importing) write(c *cobra.Command, d *drill.Drill) error {
	kept, err := importer.Write(m.dir, d)
	if err != nil {
		return verb.Outside(err)
	}
	fmt.Fprintf(c.OutOrStdout(), "written to %s: sets.csv, dots.csv\n", m.dir)
	importer.Next(c.ErrOrStderr(), kept)
	return nil
}
