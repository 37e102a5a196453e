package main

import (
	"fmt"
	"io"

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
			printTuning(c.OutOrStdout(), &t)
			return nil
		},
	}
	flags.Add(c)
	return c
}

// printTuning writes what a search found, and the lines for the rig.
func printTuning(out io.Writer, t *tune.Tuning) {
	fmt.Fprintln(out, "the whole show, each open worn mic for as long as it is open:")
	fmt.Fprintln(out, "                 seats in time   no echo   press box, ms after   image off by")
	for _, row := range []struct {
		name string
		v    tune.SeatScore
	}{{"as the rig is", t.Before}, {"tuned", t.After}, {"zone sends", t.Zones}} {
		box := "-"
		if b := row.v.BoxMS; b != nil {
			box = fmt.Sprintf("%.1f to %.1f", b[0], b[1])
		}
		fmt.Fprintf(out, "  %-13s %11.1f %% %7.1f %% %21s %6.1f degrees\n",
			row.name, 100*row.v.InTime, 100*row.v.NoEcho, box, row.v.ImageErrorDeg)
	}
	fmt.Fprintf(out, "%s of %s tried; for zone sends see backfield help zones\n", verb.Plural(t.Tried, "setting"),
		verb.Plural(t.Pairs, "pair"))
	if !t.Better() {
		fmt.Fprintln(out, "nothing better found: leave the rig as it is")
		return
	}
	fmt.Fprintln(out, "to get there, write this into the rig:")
	for _, c := range t.Changes {
		was, is := c.Was, c.Is
		fmt.Fprintf(out, "\n# [[stack]] %q\n", was.Name)
		for _, k := range []struct {
			key, unit string
			was, is   float64
		}{
			{"delay", "ms; ", 1000 * was.DelayS, 1000 * is.DelayS}, {"trim", "dB; ", was.TrimDB, is.TrimDB},
			{"left", "", was.Left, is.Left}, {"right", "", was.Right, is.Right},
		} {
			if k.was != k.is {
				fmt.Fprintf(out, "%s = %.6g # %swas %.3g\n", k.key, k.is, k.unit, k.was)
			}
		}
	}
}
