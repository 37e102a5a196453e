package mixerverbs

import (
	"fmt"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/journalfile"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/verb"
	"backfield/cue/step"
	"backfield/osc/journal"
)

// Report is the verb that prints how a run went.
func Report() *cobra.Command {
	var flags verb.ShowFlags
	var score string
	c := &cobra.Command{
		Use:   "report JOURNAL",
		Short: "print from a journal how a run went",
		Long: `Reads a journal that backfield run has written and prints when each cue went against plan, at which
tempo, what else was done, what went wrong, and what was nudged. With --show it names the cues of the
score that the nudges belong to.
Exit code 0: printed, 1: the show has errors, 3: a file could not be read.`,
		Args: verb.Exactly(1, "one JOURNAL"),
		RunE: func(c *cobra.Command, args []string) error {
			entries, skipped, err := journalfile.Read(args[0])
			if err != nil {
				return verb.Outside(err)
			}
			for _, s := range skipped {
				verb.Note(c, "%s: %v", args[0], s)
			}
			if len(entries) == 0 {
				return verb.Wrong("%s has nothing of a run in it", args[0])
			}
			var openIn func(name string) []string
			if score != "" {
				s, _, err := flags.Compiled(c, show.Disk{}, score)
				if err != nil {
					return err
				}
				if other := journalfile.TitleOfAnother(entries, s.Show.Title); other != "" {
					verb.Note(c, "the journal is of %q, and %s is %q, whose cues are listed", other, score,
						s.Show.Title)
				}
				openIn = func(name string) []string { return step.OpenIn(s.Show, name) }
			}
			fmt.Fprintln(c.OutOrStdout(), journal.NewReport(entries, openIn))
			return nil
		},
	}
	flags.Add(c)
	c.Flags().StringVar(&score, "show", "", "the `SHOW` that was run, to name the cues that nudges belong to")
	return c
}
