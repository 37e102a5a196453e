package main

import (
	"encoding/json"
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/problemlist"
	"backfield/cmd/backfield/show"
	"backfield/cue/work"
	"backfield/layout/source"
)

func checkCommand() *cobra.Command {
	var flags showFlags
	var asJSON, strict, watching bool
	c := &cobra.Command{
		Use:   "check SHOW",
		Short: "report every problem in every file of a show",
		Long: `Reads the whole show and reports every problem in every file, as

    file:line:column: error|warning: what; what to do [code]

with the line and a caret under the place. Nothing is written.

--watch does so now and after every save, until Ctrl-C. With --json it then prints a line of JSON for
each problem, between a line that begins and one that ends the pass, for an editor to read (backfield
help editors).
Exit code 0: no errors (warnings may be there), 1: errors, 3: the score, or the venue
after --venue, cannot be read.`,
		Args: exactly(1, "one SHOW"),
		RunE: func(c *cobra.Command, args []string) error {
			if watching {
				return checkOnSave(c, &flags, args[0], asJSON)
			}
			_, problems, err := flags.watched(c, show.Disk{}, args[0])
			if err != nil {
				return err
			}
			if asJSON {
				if err := writeJSON(c, problemlist.Rows(problems)); err != nil {
					return err
				}
			} else {
				printProblems(c, c.OutOrStdout(), problems)
				aside(c, "%s: %s", show.Path(args[0]), problemlist.Tally(problems))
			}
			for _, p := range problems {
				if p.Severity == source.Error || strict {
					return told(exitProblems)
				}
			}
			return nil
		},
	}
	flags.add(c)
	c.Flags().BoolVar(&asJSON, "json", false, "print a JSON list")
	c.Flags().BoolVar(&strict, "strict", false, "let warnings count as errors for the exit code")
	c.Flags().BoolVar(&watching, "watch", false, "check again after every save, until Ctrl-C")
	c.MarkFlagsMutuallyExclusive("strict", "watch")
	return c
}

// checkOnSave checks now and after every save. What can be mended while it goes on is a problem like any other.
func checkOnSave(c *cobra.Command, flags *showFlags, arg string, asJSON bool) error {
	flags.Memo = &work.Memo{}
	score := show.Path(arg)
	return follow(c, flags.named(arg), func(watched []string) ([]string, error) {
		s, problems, err := flags.load(show.Disk{}, arg)
		if s == nil {
			return nil, err
		}
		files := watched
		if err != nil {
			file := &source.File{Name: score}
			problems = []source.Problem{{Code: "cannot-read", Span: file.Whole(), What: err.Error(), Do: "mend it; check goes on with the next save"}}
		} else if files = s.Files; !slices.Equal(files, watched) {
			return files, nil
		}
		if !asJSON {
			fmt.Fprintf(c.OutOrStdout(), "checking %s\n", score)
			printProblems(c, c.OutOrStdout(), problems)
			fmt.Fprintf(c.OutOrStdout(), "checked %s: %s\n", score, problemlist.Tally(problems))
			return files, nil
		}
		return files, world(problemlist.WritePass(c.OutOrStdout(), score, problems))
	})
}

func writeJSON(c *cobra.Command, v any) error {
	e := json.NewEncoder(c.OutOrStdout())
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return world(e.Encode(v))
}
