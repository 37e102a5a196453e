package main

import (
	"slices"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/loudness"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/verb"
	"backfield/cue/balance"
	"backfield/layout/source"
)

func balanceCommand() *cobra.Command {
	var flags verb.ShowFlags
	var asJSON bool
	c := &cobra.Command{
		Use:   "balance SHOW [CUE]",
		Short: "estimate if the featured players are heard, and which mics ring first",
		Long: `Estimates how loud each cue is: how far the featured players are over all others, what the others are
made of, and which open mics ring first, and where. With a CUE it prints all of that cue. It changes
nothing and sends nothing.

All of it is an estimate with a give or take of several dB. What means nothing before the noise and the
brass were measured says "measure first". It does not say what is safe: measure where people are.
backfield help balance says what is left out.`,
		Args: showAndCue,
		RunE: func(c *cobra.Command, args []string) error {
			s, _, err := flags.Compiled(c, show.Disk{}, args[0])
			if err != nil {
				return err
			}
			var p source.Problems
			l := s.Loudness(&p)
			verb.PrintProblems(c, c.ErrOrStderr(), p.All())
			if l == nil {
				return verb.Exit(verb.ExitProblems)
			}
			var cues []*balance.CueLoudness
			one := len(args) == 2
			if ids := verb.CueIDs(s.Show); !one {
				cues = l.Cues()
			} else if i := slices.Index(ids, args[1]); i >= 0 {
				cues = append(cues, l.Cue(i))
			} else {
				return verb.Wrong("no cue %q; %s", args[1],
					source.DidYouMean(args[1], ids, "the cues are "+source.OneOf(ids)))
			}
			r := loudness.NewReport(s, l, cues)
			switch {
			case asJSON:
				return verb.WriteJSON(c, r)
			case one:
				r.Page(c.OutOrStdout(), &r.Cues[0])
			default:
				r.Table(c.OutOrStdout())
			}
			return nil
		},
	}
	flags.Add(c)
	c.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	return c
}

// showAndCue requires a SHOW, and takes a CUE after it.
func showAndCue(c *cobra.Command, args []string) error {
	if len(args) < 1 || len(args) > 2 {
		return verb.Usage("balance takes a SHOW, and a CUE if you want all of it")
	}
	return nil
}
