package main

import (
	"fmt"
	"os"
	"os/signal"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/chromium"
	"backfield/cmd/backfield/paper"
	"backfield/cmd/backfield/publish"
	"backfield/cmd/backfield/show"
	"backfield/layout/source"
)

var paperSizes = []string{"letter", "a4"}

func sheetCommand() *cobra.Command {
	var flags showFlags
	var dir, day, battery, size string
	var withCSV, needPDF, noPDF bool
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
		Args: exactly(1, "one SHOW"),
		RunE: func(c *cobra.Command, args []string) error {
			switch {
			case needPDF && noPDF:
				return usage("--pdf and --no-pdf exclude one another")
			case !slices.Contains(paperSizes, size):
				return wrong("--paper: no size %q; it is %s", size, source.OneOf(paperSizes))
			case (day == "") != (battery == ""):
				return wrong("--day and --battery go together: " +
					"the day's schedule, and how long a pack runs on fresh batteries")
			}
			s, _, err := flags.compiled(c, show.Disk{}, args[0])
			if err != nil {
				return err
			}
			var p source.Problems
			plan := paper.Plan(day, battery, s.Show.EndS, &p)
			if p.Errors() > 0 {
				printProblems(c, c.ErrOrStderr(), p.All())
				return told(exitUsage)
			}
			papers, err := paper.Gather(s, plan)
			if err != nil {
				return world(err)
			}
			if dir == "" {
				dir = filepath.Join(filepath.Dir(show.Path(args[0])), "sheets")
			}
			files, notes, err := sheets(c, papers, size, withCSV, needPDF, noPDF)
			if err != nil {
				return err
			}
			names := publish.Names(files)
			old := paper.Stale(dir, names)
			if err := publish.Files(dir, files); err != nil {
				return world(err)
			}
			for _, n := range notes {
				fmt.Fprintln(c.ErrOrStderr(), n)
			}
			if len(old) > 0 {
				fmt.Fprintf(c.ErrOrStderr(), "still in %s from before, and not of this compile: %s\n", dir, strings.Join(old, ", "))
			}
			for _, line := range papers.Summary() {
				fmt.Fprintln(c.OutOrStdout(), line)
			}
			fmt.Fprintf(c.OutOrStdout(), "written to %s, compile %s: %s\n", dir, papers.Mark, strings.Join(names, ", "))
			return nil
		},
	}
	flags.add(c)
	c.Flags().StringVarP(&dir, "out", "o", "", "write into this `DIR` (default: \"sheets\" beside the score)")
	c.Flags().StringVar(&day, "day", "", "the day's `SCHEDULE`, such as \"9:00-12:00,13:00-17:00,20:30 show\"")
	c.Flags().StringVar(&battery, "battery", "", "how long a pack runs on fresh batteries, such as \"5h\"")
	c.Flags().StringVar(&size, "paper", "letter", "`SIZE` of the PDFs' paper: letter or a4")
	c.Flags().BoolVar(&withCSV, "csv", false, "write the tables as CSV besides")
	c.Flags().BoolVar(&needPDF, "pdf", false, "fail where no PDF can be made")
	c.Flags().BoolVar(&noPDF, "no-pdf", false, "make no PDF")
	return c
}

// sheets makes all files, the index last, so that it is renamed last. notes say why there is no PDF.
func sheets(
	c *cobra.Command, p *paper.Papers, size string, withCSV, needPDF, noPDF bool,
) (files []publish.File, notes []string, err error) {
	var browser *chromium.Browser
	if !noPDF {
		if browser, err = chromium.Find(); err != nil {
			if needPDF {
				return nil, nil, world(fmt.Errorf("no PDF: %w", err))
			}
			notes = append(notes, fmt.Sprintf("no PDF: %v; print the pages from any browser", err))
		}
	}
	pages, err := p.Pages(browser != nil)
	if err != nil {
		return nil, nil, world(err)
	}
	papers := pages[:len(pages)-1] // the index is for screens
	if browser != nil {
		ctx, stop := signal.NotifyContext(c.Context(), os.Interrupt) // so that the browser is ended and cleaned up after
		defer stop()
		pdfs, err := paper.Print(ctx, browser, papers, size)
		switch {
		case err != nil && (needPDF || ctx.Err() != nil):
			return nil, nil, world(err)
		case err != nil:
			notes = append(notes, fmt.Sprintf("no PDF: %v", err))
			if pages, err = p.Pages(false); err != nil {
				return nil, nil, world(err)
			}
		}
		for i, data := range pdfs {
			files = append(files, publish.File{Name: papers[i].PDF(), Data: data})
		}
	}
	if withCSV {
		for _, t := range p.Tables() {
			files = append(files, publish.CSV(t.File, t.Rows))
		}
	}
	for _, page := range pages {
		files = append(files, publish.File{Name: page.File(), Data: page.HTML})
	}
	return files, notes, nil
}
