package main

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/verb"
	"backfield/cue"
	"backfield/cue/suggest"
)

func suggestCommand() *cobra.Command {
	var flags verb.ShowFlags
	c := &cobra.Command{
		Use:   "suggest [SHOW]",
		Short: "list places where the designer might want another cue",
		Long: `Lists, in order of time: mics that close and open again within a few counts, cues too close together to
press, and mics open so long that their players probably rest. Backfield does not know the music, so
these are questions, not problems.`,
		Args: verb.OneShow,
		RunE: func(c *cobra.Command, args []string) error {
			s, _, err := flags.Compiled(c, show.Disk{}, verb.Show(args))
			if err != nil {
				return err
			}
			list := suggest.List(s.Result)
			printSuggestions(c.OutOrStdout(), list)
			fmt.Fprintln(c.ErrOrStderr(), verb.Plural(len(list), "suggestion"))
			return nil
		},
	}
	flags.Add(c)
	return c
}

func printSuggestions(w io.Writer, list []suggest.Suggestion) {
	for _, x := range list {
		fmt.Fprintf(w, "%7s  %s: %s\n", cue.ClockTime(x.TimeS), x.Span.Where(), x.Text)
	}
}
