package main

import (
	"cmp"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

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
		Use:   "sheet SHOW",
		Short: "write the papers: " + paper.Names(),
		Long: `Writes, into the folder "sheets" beside the score or the one that -o names, pages that print on letter
and A4 and need no other file:

` + paper.Help() + `
and each as PDF, if a Chromium is installed (or named in BACKFIELD_CHROMIUM); else it says that there is
none and writes the pages alone. --csv writes the tables besides. --day and --battery plan the changes
of batteries. The files are replaced together, and only when the show has no errors.
Exit code 0: written, 1: the show has errors, 2: --day or --battery cannot be, 3: a file could not be
read or written, or --pdf and there is no PDF. "backfield help sheet" tells what stands on them.`,
		Args: verb.Exactly(1, "one SHOW"),
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, args[0]) },
	}
	f.show.Add(c)
	c.Flags().StringVarP(&f.dir, "out", "o", "", "write into this `DIR` (default: \"sheets\" beside the score)")
	c.Flags().StringVar(&f.day, "day", "", "the day's `SCHEDULE`, such as \"9:00-12:00,13:00-17:00,20:30 show\"")
	c.Flags().StringVar(&f.battery, "battery", "", "how long a pack runs on fresh batteries, such as \"5h\"")
	c.Flags().StringVar(&f.size, "paper", "letter", "`SIZE` of the PDFs' paper: letter or a4")
	c.Flags().BoolVar(&f.csv, "csv", false, "write the tables as CSV besides")
	c.Flags().BoolVar(&f.needPDF, "pdf", false, "fail where no PDF can be made")
	c.Flags().BoolVar(&f.noPDF, "no-pdf", false, "make no PDF")
	return c
}

// makeSense is an error where the flags do not.
func (f *sheetFlags) makeSense() error {
	switch {
	case f.needPDF && f.noPDF:
		return verb.Usage("--pdf and --no-pdf exclude one another")
	case !slices.Contains(paperSizes, f.size):
		return verb.Wrong("--paper: no size %q; it is %s", f.size, source.OneOf(paperSizes))
	case (f.day == "") != (f.battery == ""):
		return verb.Wrong("--day and --battery go together: " +
			"the day's schedule, and how long a pack runs on fresh batteries")
	}
	return nil
}

// run writes the papers of a show and says what they are.
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
		return verb.World(err)
	}
	files, notes, err := f.files(c, papers)
	if err != nil {
		return err
	}
	dir := cmp.Or(f.dir, filepath.Join(filepath.Dir(show.Path(path)), "sheets"))
	names := publish.Names(files)
	if old := paper.Stale(dir, names); len(old) > 0 {
		text := "still in %s from before, and not of this compile: %s"
		notes = append(notes, fmt.Sprintf(text, dir, strings.Join(old, ", ")))
	}
	if err := publish.Files(dir, files); err != nil {
		return verb.World(err)
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
