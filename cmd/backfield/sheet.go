package main

import (
	"cmp"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/linechecking"
	"backfield/cmd/backfield/paper"
	"backfield/cmd/backfield/publish"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/verb"
	"backfield/layout/source"
)

var paperSizes = []string{"letter", "a4"}

func sheetCommand() *cobra.Command {
	var f sheetFlags
	c := &cobra.Command{
		Use:   "sheet [SHOW]",
		Short: "write pages to print: " + paper.Names(),
		Long: `Writes pages into the folder "sheets" next to the score, or into the folder after -o. They print on
letter and A4 paper and need no other file:

` + paper.Help() + `
Each is written as PDF too, if Chromium is installed or BACKFIELD_CHROMIUM names one. --csv also writes
the tables. --setup writes only setup.html. --day and --battery plan battery changes. The files are replaced together, and only if the
show has no errors. In a show's folder you can leave SHOW out. See backfield help sheet.
Exit code 0: written, 1: the show has errors, 2: --day or --battery is wrong, 3: a file could not be
read or written, or --pdf was given and there is no PDF.`,
		Args: verb.OneShow,
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, verb.Show(args)) },
	}
	f.show.Add(c)
	c.Flags().StringVarP(&f.dir, "out", "o", "", "write into this `DIR` (default: \"sheets\" next to the score)")
	c.Flags().StringVar(&f.day, "day", "", "the day's `SCHEDULE`, such as \"9:00-12:00,13:00-17:00,20:30 show\"")
	c.Flags().StringVar(&f.battery, "battery", "", "how long a pack runs on fresh batteries, such as \"5h\"")
	c.Flags().BoolVar(&f.setup, "setup", false, "write only the sheet for setup and strike")
	c.Flags().StringVar(&f.size, "paper", "letter", "`SIZE` of the PDFs' paper: letter or a4")
	c.Flags().BoolVar(&f.csv, "csv", false, "also write the tables as CSV")
	c.Flags().BoolVar(&f.needPDF, "pdf", false, "fail if no PDF can be made")
	c.Flags().BoolVar(&f.noPDF, "no-pdf", false, "make no PDF")
	return c
}

// makeSense refuses flags that do not fit together.
func (f *sheetFlags) makeSense() error {
	switch {
	case f.needPDF && f.noPDF:
		return verb.Usage("--pdf and --no-pdf exclude each other")
	case f.setup && f.csv:
		return verb.Usage("--setup writes one sheet, and --csv the tables; leave one out")
	case !slices.Contains(paperSizes, f.size):
		return verb.Wrong("--paper: no size %q; use %s", f.size, source.OneOf(paperSizes))
	case (f.day == "") != (f.battery == ""):
		return verb.Wrong("--day and --battery go together: " +
			"the day's schedule, and how long a pack runs on fresh batteries")
	}
	return nil
}

// run writes the sheets of a show and lists them.
func (f *sheetFlags) run(c *cobra.Command, path string) error {
	if err := f.makeSense(); err != nil {
		return err
	}
	s, _, err := f.show.Compiled(c, show.Disk{}, path)
	if err != nil {
		return err
	}
	var p source.Problems
	plan := paper.Plan(f.day, f.battery, s.Show.EndS, &p)
	if p.Errors() > 0 {
		verb.PrintProblems(c, c.ErrOrStderr(), p.All())
		return verb.Exit(verb.ExitUsage)
	}
	papers, err := paper.Gather(s, plan)
	if err != nil {
		return verb.Outside(err)
	}
	record, bad, err := linechecking.ReadRecord(show.Path(path))
	if err != nil {
		return verb.Outside(err)
	}
	papers.Checked = record
	files, notes, err := f.files(c, papers)
	if err != nil {
		return err
	}
	notes = append(notes, bad...)
	dir := cmp.Or(f.dir, filepath.Join(filepath.Dir(show.Path(path)), "sheets"))
	names := publish.Names(files)
	if old := paper.Stale(dir, names); len(old) > 0 && !f.setup { // the others are not written again
		text := "left in %s from an earlier compile: %s"
		notes = append(notes, fmt.Sprintf(text, dir, strings.Join(old, ", ")))
	}
	if err := publish.Files(dir, files); err != nil {
		return verb.Outside(err)
	}
	for _, n := range notes {
		fmt.Fprintln(c.ErrOrStderr(), n)
	}
	for _, line := range papers.Summary() {
		fmt.Fprintln(c.OutOrStdout(), line)
	}
	fmt.Fprintf(c.OutOrStdout(), "written to %s, compile %s: %s\n", dir, papers.Mark, strings.Join(names, ", "))
	return nil
}
