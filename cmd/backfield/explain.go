package main

import (
	"strings"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/explain"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/verb"
)

func explainCommand() *cobra.Command {
	var flags verb.ShowFlags
	var all bool
	c := &cobra.Command{
		Use:   "explain SHOW CUE PLAYER",
		Short: "show how a player's numbers in a cue are computed",
		Long: `Shows in a dozen lines why a player or fixed mic has its level, pan and delay in a cue: the dot, what
each number is made of, what decides the delay, how it is in the stands, and what is sent.
--all shows every step, so that you can check it by hand: the distances, the times, which stack is
heard first, the knots with what is heard at each, three seats, loudness, rounding and limits. PLAYER may also be a channel's number. Put a name with a space in quotes: "Tpt 3".`,
		Args: verb.Exactly(3, "SHOW, CUE and PLAYER (quote a name with a space: \"Tpt 3\")"),
		RunE: func(c *cobra.Command, args []string) error {
			s, _, err := flags.Compiled(c, show.Disk{}, args[0])
			if err != nil {
				return err
			}
			if strings.HasPrefix(args[2], "@") {
				return verb.Usage("explain takes one player or fixed mic, and %s is a section; name one of its players",
					args[2])
			}
			write := explain.Brief
			if all {
				write = explain.Write
			}
			if err := write(c.OutOrStdout(), s, args[1], args[2]); err != nil {
				return verb.With(verb.ExitUsage, err)
			}
			return nil
		},
	}
	flags.Add(c)
	c.Flags().BoolVar(&all, "all", false, "show every step")
	return c
}
