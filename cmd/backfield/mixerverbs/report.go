package mixerverbs

import (
	"fmt"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/journalfile"
	"backfield/cmd/backfield/keeping"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/verb"
	"backfield/cue/step"
	"backfield/osc/journal"
)

// Report is the verb that prints how a run went, and writes into the show what the run changed.
func Report() *cobra.Command {
	var flags verb.ShowFlags
	var score, apply string
	var yes bool
	c := &cobra.Command{
		Use:   "report JOURNAL",
		Short: "print from a journal how a run went, and keep what it changed",
		Long: `Reads a journal that backfield run has written and prints when each cue went against plan, at which
tempo, what else was done, what went wrong, and what was nudged or moved at the mixer. With --show it
lists the lines of the show's files that would keep the nudges and moves: a trim if one held for the
show, else nudges in the cues. --apply shows each of these changes and asks before it writes it.
Of a folder it takes the newest journal, and says which; with --apply you must name one of several.
Exit code 0: printed, 1: the show has errors, 2: the changes would break the show and none was written,
3: a file could not be read or written.`,
		Args: verb.Exactly(1, "one JOURNAL"),
		RunE: func(c *cobra.Command, args []string) error {
			path, err := journalOf(c, args[0], apply != "")
			if err != nil {
				return err
			}
			entries, skipped, err := journalfile.Read(path)
			if err != nil {
				return verb.Outside(err)
			}
			for _, s := range skipped {
				verb.Note(c, "%s: %v", path, s)
			}
			if len(entries) == 0 {
				return verb.Wrong("%s has nothing of a run in it", path)
			}
			if apply != "" {
				score = apply
			}
			if yes && apply == "" {
				return verb.Usage("--yes answers the questions of --apply; add --apply SHOW")
			}
			var openIn func(name string) []string
			var s *show.Loaded
			if score != "" {
				if s, _, err = flags.Compiled(c, show.Disk{}, score); err != nil {
					return err
				}
				if other := journalfile.TitleOfAnother(entries, s.Show.Title); other != "" {
					verb.Note(c, "the journal is of %q, and %s is %q, whose cues are listed", other, score,
						s.Show.Title)
				}
				openIn = func(name string) []string { return step.OpenIn(s.Show, name) }
			}
			r := journal.NewReport(entries, openIn)
			fmt.Fprintln(c.OutOrStdout(), r)
			if len(r.Changes) == 0 {
				return nil
			}
			k := keeping.Keeper{Command: c, Show: s, Flags: &flags, Path: show.Path(score), Yes: yes}
			switch {
			case apply != "":
				return k.Apply(kept(r.Changes))
			case s == nil:
				fmt.Fprintln(c.OutOrStdout(), "To keep it, use --apply SHOW; --show SHOW lists the lines.")
			default:
				listKept(&k, r.Changes)
			}
			return nil
		},
	}
	flags.Add(c)
	c.Flags().StringVar(&score, "show", "", "the `SHOW` that was run, to list the lines that keep what was changed")
	c.Flags().StringVar(&apply, "apply", "", "the `SHOW` that was run, to write these lines into its files")
	c.Flags().BoolVarP(&yes, "yes", "y", false, "write every change of --apply without asking")
	return c
}

// mostListed is how many journals of a folder are listed.
const mostListed = 9

// journalOf is the path of the journal that is meant: of a folder, the newest one. What is to be written into a show must
// not come from a guess: then several are an error that lists them.
func journalOf(c *cobra.Command, path string, exact bool) (string, error) {
	if info, err := os.Stat(path); err != nil || !info.IsDir() {
		return path, nil // reading it says what is wrong
	}
	list, err := journalfile.In(path)
	if err != nil {
		return "", verb.Outside(err)
	}
	if len(list) == 0 {
		return "", verb.Wrong("%s is a folder without a journal in it; name a journal, such as journals/FILE.jsonl",
			path)
	}
	var lines []string
	for _, j := range list[:min(len(list), mostListed)] {
		lines = append(lines, fmt.Sprintf("\n  %s   %s", j.Path, j.Words(time.Now())))
	}
	if n := len(list) - len(lines); n > 0 {
		lines = append(lines, fmt.Sprintf("\n  and %d older", n))
	}
	if exact && len(list) > 1 {
		return "", verb.Wrong("%s has more than one journal; name the one to apply:%s", path, strings.Join(lines, ""))
	}
	verb.Note(c, "%s is a folder; its newest journal:%s", path, lines[0])
	if len(lines) > 1 {
		verb.Note(c, "others in it:%s", strings.Join(lines[1:], ""))
	}
	return list[0].Path, nil
}
