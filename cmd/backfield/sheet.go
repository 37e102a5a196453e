package main

import (
	"fmt"
	"math"
	"os"
	"os/signal"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/paper"
	"backfield/cmd/backfield/show"
	"backfield/cue"
	"backfield/cue/sheet"
	"backfield/layout/source"
	"backfield/layout/unit"
)

var paperSizes = []string{"letter", "a4"}

func sheetCommand() *cobra.Command {
	var flags showFlags
	var dir, day, battery, size string
	var withCSV, needPDF, noPDF bool
	c := &cobra.Command{
		Use:   "sheet SHOW",
		Short: "write the papers: run sheet, pack sheet, section handouts, mic chart, field pictures",
		Long: `Writes, into the folder "sheets" beside the score or the one that -o names, pages that print on letter
and A4 and need no other file:

    run.html        the run sheet: every cue, what it opens and closes, what to watch
    packs.html      who wears which pack, handovers, batteries, how few packs would do
    sections.html   a handout for each section
    chart.html      when each channel is open, and how many are
    pictures.html   the field at every cue
    index.html      links to them

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
				return wrong("--day and --battery go together: the day's schedule, and how long a pack runs on fresh batteries")
			}
			s, _, err := flags.compiled(c, show.Disk{}, args[0])
			if err != nil {
				return err
			}
			plan, err := planned(c, s.Show, day, battery)
			if err != nil {
				return err
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
			old := stale(dir, files)
			if err := publish(dir, files); err != nil {
				return world(err)
			}
			for _, n := range notes {
				fmt.Fprintln(c.ErrOrStderr(), n)
			}
			if len(old) > 0 {
				fmt.Fprintf(c.ErrOrStderr(), "still in %s from before, and not of this compile: %s\n", dir, strings.Join(old, ", "))
			}
			tellPapers(c, papers)
			var names []string
			for _, f := range files {
				names = append(names, f.name)
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

// planned reads the day and plans its batteries; nil without a day.
func planned(c *cobra.Command, s *cue.Show, day, battery string) (*sheet.Batteries, error) {
	if day == "" {
		return nil, nil
	}
	var p source.Problems
	runs := &source.File{Name: "--battery", Text: battery, Order: 1}
	lifeMin := 0
	lifeS, err := unit.Duration.Read(battery)
	if err == nil {
		var fault *source.Fault
		if lifeMin, fault = sheet.CheckLife(lifeS); fault != nil {
			err = fault
		}
	}
	if err != nil {
		p.Error("bad-battery", source.Span{File: runs, End: len(battery)}, err.Error(), "")
	}
	entries := sheet.ReadDay(&source.File{Name: "--day", Text: day}, s.EndS, &p)
	var plan sheet.Batteries
	if err == nil {
		plan = sheet.Plan(entries, lifeMin, &p)
	}
	if p.Errors() > 0 {
		printProblems(c, c.ErrOrStderr(), p.All())
		return nil, told(exitUsage)
	}
	return &plan, nil
}

// sheets makes all files, the index last, so that it is renamed last. notes say why there is no PDF.
func sheets(c *cobra.Command, p *paper.Papers, size string, withCSV, needPDF, noPDF bool) (files []output, notes []string, err error) {
	var browser *paper.Browser
	if !noPDF {
		if browser, err = paper.FindBrowser(); err != nil {
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
		pdfs, err := browser.Print(ctx, papers, size)
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
			files = append(files, output{papers[i].PDF(), data})
		}
	}
	if withCSV {
		files = append(files, tables(p)...)
	}
	for _, page := range pages {
		files = append(files, output{page.File(), page.HTML})
	}
	return files, notes, nil
}

// stale lists the papers in a folder that are not among the new ones: they would be taken for new.
func stale(dir string, files []output) (names []string) {
	fresh := map[string]bool{}
	for _, f := range files {
		fresh[f.name] = true
	}
	for _, base := range []string{"run", "packs", "sections", "chart", "pictures", "handovers", "sharing", "open", "batteries"} {
		for _, ending := range []string{".csv", ".pdf"} {
			if _, err := os.Stat(filepath.Join(dir, base+ending)); err == nil && !fresh[base+ending] {
				names = append(names, base+ending)
			}
		}
	}
	return names
}

// tellPapers says what a person would look for first.
func tellPapers(c *cobra.Command, p *paper.Papers) {
	out := c.OutOrStdout()
	fmt.Fprintf(out, "%s, %s: %s, %s, %s\n", p.Name(), p.Night(), plural(p.Cues(), "cue"), plural(len(p.Packs()), "pack"), plural(len(p.Handovers), "handover"))
	with := ""
	if n := len(p.Sharing.Meetings); n > 0 {
		with = fmt.Sprintf(", with %s of %g s", plural(n, "handover"), p.Sharing.HandoverS)
	}
	fmt.Fprintf(out, "fewest packs that would do: %d%s\n", len(p.Sharing.Packs), with)
	if b := p.Batteries; b != nil {
		var at []string
		for _, f := range b.Fittings {
			at = append(at, sheet.ClockText(f.AtMin))
		}
		fmt.Fprintf(out, "fresh batteries at %s: %s of batteries for %s\n", strings.Join(at, ", "), plural(p.Sets(), "set"), plural(len(p.Packs()), "pack"))
	}
}

// tables are the papers as CSV.
func tables(p *paper.Papers) []output {
	number := func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
	metres := func(v float64) string {
		if math.IsNaN(v) {
			return "" // a place is not known
		}
		return strconv.FormatFloat(v, 'f', 1, 64)
	}
	seconds := func(v float64) string { return strconv.FormatFloat(v, 'f', 3, 64) }
	run := newTable("cue", "by_itself", "at", "movement", "count", "set", "time_s", "after_s", "name", "fade_s", "opens", "closes", "changes", "sends", "follow_ons", "open", "watch")
	names := func(list []sheet.Mic) string {
		var names []string
		for _, m := range list {
			names = append(names, m.Player)
		}
		return strings.Join(names, "; ")
	}
	for _, r := range p.Rows {
		var changes, follow []string
		for _, x := range r.Changes {
			changes = append(changes, fmt.Sprintf("%s %s to %s dB", x.Player, number(x.WasDB), number(x.LevelDB)))
		}
		changes = append(changes, r.Params...)
		var sends []string
		for _, x := range r.Also {
			sends = append(sends, x.String())
		}
		for _, x := range r.FollowOns {
			follow = append(follow, x.ID+" at "+x.At)
		}
		self := "no"
		if r.Auto {
			self = "yes"
		}
		run.row(r.ID, self, r.At, strconv.Itoa(r.Movement), number(r.Count), r.Set, seconds(r.TimeS), seconds(r.AfterS), r.Name, seconds(r.FadeS), names(r.Opens), names(r.Closes),
			strings.Join(changes, "; "), strings.Join(sends, "; "), strings.Join(follow, "; "), strconv.Itoa(r.Open), strings.Join(r.Watch, "; "))
	}
	packs := newTable("pack", "channel", "player", "section", "from_s", "until_s")
	for _, w := range p.Wears {
		packs.row(w.Pack, strconv.Itoa(w.Channel), w.Player, w.Section, seconds(w.FromS), seconds(w.UntilS))
	}
	handovers := newTable("pack", "channel", "giver", "taker", "at_s", "movement", "count", "set", "giver_at", "taker_at", "apart_m", "closed_in", "opens_in", "free_s")
	for _, h := range p.Handovers {
		handovers.row(h.Pack, strconv.Itoa(h.Channel), h.Giver, h.Taker, seconds(h.AtS), strconv.Itoa(h.At.Movement), number(h.At.Count), h.At.Set, h.GiverAt.Words, h.TakerAt.Words,
			metres(h.ApartM), h.ClosedIn, h.OpensIn, seconds(h.FreeS()))
	}
	bars := newTable("channel", "player", "kind", "role", "from_s", "to_s", "from_cue", "to_cue", "peak_db")
	for _, b := range p.Bars {
		bars.row(strconv.Itoa(b.Channel), b.Player, b.Kind, b.Role, seconds(b.FromS), seconds(b.ToS), b.FromCue, b.ToCue, number(b.PeakDB))
	}
	open := newTable("at_s", "cue", "open", "cost_db")
	for _, s := range p.Steps {
		open.row(seconds(s.AtS), s.Cue, strconv.Itoa(s.Open), strconv.FormatFloat(s.CostDB, 'f', 1, 64))
	}
	sharing := newTable("pack", "player", "from_s", "to_s", "taken_at_s", "taken_from", "apart_m")
	for i, chain := range p.Sharing.Packs {
		for _, need := range chain {
			at, from, apart := "", "", ""
			for _, m := range p.Sharing.Meetings {
				if m.Taker.Player == need.Player {
					at, from, apart = seconds(m.AtS), m.Giver.Player, metres(m.ApartM)
				}
			}
			sharing.row(strconv.Itoa(i+1), need.Player, seconds(need.FromS), seconds(need.ToS), at, from, apart)
		}
	}
	files := []output{{"run.csv", run.done()}, {"packs.csv", packs.done()}, {"handovers.csv", handovers.done()}, {"chart.csv", bars.done()}, {"open.csv", open.done()}, {"sharing.csv", sharing.done()}}
	if p.Batteries != nil {
		batteries := newTable("fresh_at", "when", "ran_min", "sets")
		for _, f := range p.Batteries.Fittings {
			batteries.row(sheet.ClockText(f.AtMin), f.When, strconv.Itoa(f.RanMin), strconv.Itoa(len(p.Packs())))
		}
		files = append(files, output{"batteries.csv", batteries.done()})
	}
	return files
}
