// Package comparing has the command that compares two versions of a show, and what it prints of that.
package comparing

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/problemlist"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/verb"
	"backfield/cue"
	"backfield/cue/causes"
	"backfield/cue/compile"
	"backfield/cue/timeline"
	"backfield/cue/work"
	"backfield/layout/source"
)

// Diff is the command that compares two versions of a show.
func Diff() *cobra.Command {
	var flags verb.ShowFlags
	var against string
	var asJSON, full bool
	c := &cobra.Command{
		Use:   "diff OLD NEW | diff [SHOW] --against GITREV | diff [SHOW] --tonight",
		Short: "list what changes at the mixer between two versions of a show, and why",
		Long: `Compares two versions of a show. Each is a score, a folder with a score, a folder that compile wrote,
or a snapshots.json. With --against it compares the show with itself at an earlier commit. It prints
a line for each edit that changes something, the largest change first: what was edited, and which
cues and mics it changes. If a version is compiled already, its files cannot be compared, and the lines
are by player. It prints nothing if nothing changes at the mixer. With --tonight and one SHOW it compares
the night with the full show: a line for each thing that the file says. Else --tonight holds for both
versions, as --venue and --air do, so both must be scores.
Exit code 0: nothing changed, 1: they differ, 2: they could not be compared.`,
		RunE: func(c *cobra.Command, args []string) error {
			var older, newer comparedSide
			var err error
			flags.Memo = &work.Memo{} // most of the two versions is the same, and of those with an edit taken back
			switch {
			case against != "" && len(args) <= 1:
				if err = verb.OneShow(c, args); err != nil {
					return err
				}
				args = []string{verb.Show(args)}
				older, err = read(&flags, c, show.Commit{Rev: against}, args[0])
			case against == "" && len(args) <= 1 && flags.Tonight != "":
				if err = verb.OneShow(c, args); err != nil {
					return err
				}
				args = []string{verb.Show(args)}
				all := flags
				all.Tonight = ""
				older, err = read(&all, c, show.Disk{}, args[0])
			case against == "" && len(args) == 2:
				older, err = read(&flags, c, show.Disk{}, args[0])
			default:
				return verb.Usage("diff takes two versions, OLD and NEW, or one SHOW with --against")
			}
			if err == nil {
				newer, err = read(&flags, c, show.Disk{}, args[len(args)-1])
			}
			if err != nil {
				return verb.With(verb.ExitUsage, err)
			}
			report := compare(c, older, newer, flags.Memo)
			report.Full = full
			if asJSON {
				err = verb.WriteJSON(c, report)
			} else {
				Print(c, report)
			}
			if err == nil && !report.SameAtMixer() {
				err = verb.Exit(verb.ExitProblems)
			}
			return err
		},
	}
	flags.Add(c)
	c.Flags().StringVar(&against, "against", "", "compare with the show as it was at this `GITREV`")
	c.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	c.Flags().BoolVar(&full, "full", false, "list every channel, cue by cue, the closed ones too")
	return c
}

// comparedSide is one side of a comparison: a compiled show, and the files that it is compiled from if they are there.
type comparedSide struct {
	show *cue.Show
	from *show.Loaded
}

// compare compares two sides, by cause if the files of both are there.
func compare(c *cobra.Command, older, newer comparedSide, memo *work.Memo) *causes.CauseReport {
	if older.from == nil || newer.from == nil {
		return causes.Compiled(older.show, newer.show)
	}
	return Causes(c, older.from, newer.from, memo)
}

// Causes compares two versions of a show by what was edited. It compiles the show with edits taken back, with a progress
// bar. memo may be nil.
func Causes(c *cobra.Command, older, newer *show.Loaded, memo *work.Memo) *causes.CauseReport {
	bar := verb.NewProgressBar(c, "comparing")
	defer bar.End()
	compiled := func(f *timeline.Files, done float64) *cue.Show {
		bar.Show(done)
		var p source.Problems // those of a show that nobody wrote
		return compile.Compile(compile.Input{Files: *f, Memo: memo}, &p).Show
	}
	was := causes.ShowVersion{Files: &older.Input.Files, Show: older.Show}
	is := causes.ShowVersion{Files: &newer.Input.Files, Show: newer.Show}
	var r *causes.CauseReport
	if older.Night == nil && newer.Night != nil {
		r = causes.FindOf(was, is, nightEdits(newer.Night), nightWithout(older, newer), compiled)
	} else {
		r = causes.Find(was, is, compiled)
	}
	r.Messages(otherMessages(older, newer))
	return r
}

// otherMessages counts the messages of the newer show that the older mixer file would write otherwise, and all.
func otherMessages(older, newer *show.Loaded) (differ, of int) {
	for i := range newer.Show.Cues {
		had := map[string]bool{}
		for _, m := range older.Mixer.Messages(nil, &newer.Show.Cues[i]) {
			had[m.String()] = true
		}
		for _, m := range newer.Mixer.Messages(nil, &newer.Show.Cues[i]) {
			of++
			if !had[m.String()] {
				differ++
			}
		}
	}
	return differ, of
}

// Print prints a report: a line for each cause, or with Full every channel, cue by cue.
func Print(c *cobra.Command, r *causes.CauseReport) {
	if r.Full {
		var b strings.Builder
		r.Text(&b)
		verb.PrintLines(c, strings.Split(strings.TrimSuffix(b.String(), "\n"), "\n"), reasons)
		return
	}
	verb.PrintLines(c, r.Lines(), aside)
}

// reasons is where a line of the full text only gives reasons.
func reasons(line string) int {
	if rest := strings.TrimLeft(line, " "); strings.HasPrefix(rest, "why: ") {
		return len(line) - len(rest)
	}
	return len(line)
}

// aside is where a line stops to be what the reader looks for: other causes of the same, and edits without effect.
func aside(line string) int {
	if strings.HasPrefix(line, causes.WithoutEffect) {
		return 0
	}
	if at := strings.LastIndex(line, causes.AlsoBy); at >= 0 {
		return at
	}
	return len(line)
}

// read reads one side of a comparison: a compiled show, or a show to compile.
func read(f *verb.ShowFlags, c *cobra.Command, rd show.Reader, arg string) (comparedSide, error) {
	path := arg
	if info, err := os.Stat(arg); err == nil && info.IsDir() {
		if _, err := os.Stat(filepath.Join(arg, "snapshots.json")); err == nil {
			path = filepath.Join(arg, "snapshots.json")
		}
	}
	if filepath.Ext(path) == ".json" {
		if f.Venue != "" || f.Air != "" || f.Tonight != "" {
			return comparedSide{}, verb.Wrong("%s is already compiled, so --venue, --air and --tonight change "+
				"nothing; leave them out, or name the score that it was compiled from", path)
		}
		data, err := rd.Read(path)
		if err != nil {
			return comparedSide{}, fmt.Errorf("%s %w", path, err)
		}
		s, err := cue.Decode(data)
		if err != nil {
			return comparedSide{}, fmt.Errorf("%s is %w", path, err)
		}
		return comparedSide{show: s}, nil
	}
	s, problems, err := f.Load(rd, path)
	if err != nil {
		return comparedSide{}, err
	}
	if s.Result.Show == nil {
		verb.PrintProblems(c, c.ErrOrStderr(), problems)
		return comparedSide{}, fmt.Errorf("%s: %s; both versions must compile to be compared", show.Path(path),
			problemlist.Tally(problems))
	}
	return comparedSide{s.Result.Show, s}, nil
}
