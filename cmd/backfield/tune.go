package main

import (
	"github.com/spf13/cobra"

	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/verb"
	"backfield/cue/tune"
)

func tuneCommand() *cobra.Command {
	var flags verb.ShowFlags
	c := &cobra.Command{
		Use:   "tune [SHOW]",
		Short: "search for stack settings with more seats in time and no echo",
		Long: `Searches for output delays, trims and left/right weights of the stacks with which more seats are in
time without an echo, over the whole show. The two stacks of a left and right pair always get the same.
It prints what that gains, next to what zone sends would gain, and the lines to write into the rig. It
changes nothing.

The search knows arrival times and levels. It does not know coverage, feedback or what the front rows
hear, so listen before you keep the result.`,
		Args: verb.OneShow,
		RunE: func(c *cobra.Command, args []string) error {
			s, _, err := flags.Compiled(c, show.Disk{}, verb.Show(args))
			if err != nil {
				return err
			}
			bar := verb.NewProgressBar(c, "searching")
			t, err := tune.Search(s.Result, bar.Show)
			bar.End()
			if err != nil {
				return verb.Wrong("%w", err)
			}
			t.Text(c.OutOrStdout())
			return nil
		},
	}
	flags.Add(c)
	return c
}
