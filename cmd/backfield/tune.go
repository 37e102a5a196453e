package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/verb"
	"backfield/cue/tune"
)

func tuneCommand() *cobra.Command {
	var flags verb.ShowFlags
	c := &cobra.Command{
		Use:   "tune [SHOW]",
		Short: "search for stack delays and left/right weights with more seats in time",
		Long: `Searches for output delays and left/right weights of the stacks, within bounds, that would have more
seats in time over the whole show. It prints what they gain, next to what zone sends would gain, and the
lines to write into the rig. It changes nothing.

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
			out := c.OutOrStdout()
			fmt.Fprintf(out, "mean over %s of open worn mics, each with the delay that has the most seats in time:\n",
				verb.Plural(t.Places, "place"))
			fmt.Fprintln(out, "                     seats in time   image off by")
			for _, row := range []struct {
				name string
				v    tune.SeatScore
			}{{"as the rig is", t.Before}, {"tuned", t.After}, {"zone sends", t.Zones}} {
				fmt.Fprintf(out, "  %-14s %12.1f %%   %10.1f degrees\n", row.name, 100*row.v.InTime,
					row.v.ImageErrorDeg)
			}
			fmt.Fprintf(out, "%s tried; for zone sends see backfield help zones\n", verb.Plural(t.Tried, "setting"))
			if t.After.InTime <= t.Before.InTime {
				fmt.Fprintln(out, "nothing better found: leave the rig as it is")
				return nil
			}
			fmt.Fprintln(out, "to get there, write this into the rig:")
			for _, k := range t.Changes {
				if !k.DelayMoved && !k.WeightMoved {
					continue
				}
				fmt.Fprintf(out, "\n# [[stack]] %q\n", k.Name)
				if k.DelayMoved {
					fmt.Fprintf(out, "delay = %g # ms; was %g\n", k.NewDelayMS, k.DelayMS)
				}
				if k.WeightMoved {
					fmt.Fprintf(out, "left = %g # was %.2g\nright = %g # was %.2g\n", k.NewLeft, k.Left, k.NewRight,
						k.Right)
				}
			}
			return nil
		},
	}
	flags.Add(c)
	return c
}
