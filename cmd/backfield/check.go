package main

import (
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/problemlist"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/verb"
	"backfield/cue/work"
	"backfield/layout/source"
)

func checkCommand() *cobra.Command {
	flags := verb.ShowFlags{LoadOptions: show.LoadOptions{Levels: true}}
	var asJSON, strict, watching bool
	c := &cobra.Command{
		Use:   "check [SHOW]",
		Short: "report every problem in every file of a show",
		Long: `Reads the whole show and lists every problem in every file, as

    file:line:column: error|warning: what; what to do [code]

with the line and a caret under the place. Nothing is written. In a show's folder you can leave SHOW out.

--watch checks now and after every save, until Ctrl-C. With --json it prints a line of JSON for each
problem, between a line that starts the pass and one that ends it (backfield help editors).
Exit code 0: no errors (there may be warnings), 1: errors, 3: the score, or the file
after --venue, cannot be read.`,
		Args: verb.OneShow,
		RunE: func(c *cobra.Command, args []string) error {
			if watching {
				return checkOnSave(c, &flags, verb.Show(args), asJSON)
			}
			s, problems, err := flags.Watched(c, show.Disk{}, verb.Show(args))
			if err != nil {
				return err
			}
			if asJSON {
				if err := verb.WriteJSON(c, problemlist.Rows(problems, s.Idle)); err != nil {
					return err
				}
			} else {
				verb.PrintProblems(c, c.OutOrStdout(), problems)
				verb.Note(c, "%s%s: %s", problemlist.Idle(s.Idle), show.Path(verb.Show(args)),
					problemlist.Tally(problems))
			}
			for _, p := range problems {
				if p.Severity == source.Error || strict {
					return verb.Exit(verb.ExitProblems)
				}
			}
			return nil
		},
	}
	flags.Add(c)
	c.Flags().BoolVar(&asJSON, "json", false, "print a JSON list")
	c.Flags().BoolVar(&strict, "strict", false, "count warnings as errors for the exit code")
	c.Flags().BoolVar(&watching, "watch", false, "check again after every save, until Ctrl-C")
	c.MarkFlagsMutuallyExclusive("strict", "watch")
	return c
}

// checkOnSave checks now and after every save. A file that cannot be read is a problem like any other, since it can be
// fixed while the watch goes on.
func checkOnSave(c *cobra.Command, flags *verb.ShowFlags, arg string, asJSON bool) error {
	flags.Memo = &work.Memo{}
	score := show.Path(arg)
	return follow(c, flags.Named(arg), func(watched []string) ([]string, error) {
		s, problems, err := flags.Load(show.Disk{}, arg)
		if s == nil {
			return nil, err
		}
		files := watched
		if err != nil {
			file := &source.File{Name: score}
			problems = []source.Problem{{Code: "cannot-read", Span: file.Whole(), What: err.Error(),
				Do: "fix it; check tries again after the next save"}}
		} else if files = s.Files; !slices.Equal(files, watched) {
			return files, nil
		}
		if !asJSON {
			fmt.Fprintf(c.OutOrStdout(), "checking %s\n", score)
			verb.PrintProblems(c, c.OutOrStdout(), problems)
			fmt.Fprintf(c.OutOrStdout(), "%schecked %s: %s\n", problemlist.Idle(s.Idle), score,
				problemlist.Tally(problems))
			return files, nil
		}
		return files, verb.Outside(problemlist.WritePass(c.OutOrStdout(), score, problems, s.Idle))
	})
}
