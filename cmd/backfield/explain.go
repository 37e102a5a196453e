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
	c := &cobra.Command{
		Use:   "explain SHOW CUE PLAYER",
		Short: "show how a player's numbers in a cue are computed",
		Long: `Shows how the level, mute, pan and delay of one player or fixed mic in one cue are computed, step by
step, so that you can check them by hand: the dot, the distances, the times, which stack is heard
first, what decides the path, its knots with what is heard at each, three seats, rounding and limits.
PLAYER may also be a channel's number. Put a name with a space in quotes: "Tpt 3".`,
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
			if err := explain.Write(c.OutOrStdout(), s, args[1], args[2]); err != nil {
				return verb.With(verb.ExitUsage, err)
			}
			return nil
		},
	}
	flags.Add(c)
	return c
}
