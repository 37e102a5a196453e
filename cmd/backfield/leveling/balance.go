// Package leveling has the command that says how loud a show is, and writes where its faders should start.
package leveling

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/keeping"
	"backfield/cmd/backfield/loudness"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/verb"
	"backfield/cue"
	"backfield/cue/balance"
	"backfield/cue/keep"
	"backfield/cue/propose"
	"backfield/layout/source"
)

// Balance is the command.
func Balance() *cobra.Command {
	var flags verb.ShowFlags
	var asJSON, apply, yes, readings bool
	c := &cobra.Command{
		Use:   "balance SHOW [CUE]",
		Short: "estimate if the featured players are heard, and which mics ring first",
		Long: `Estimates how loud each cue is: how far the featured players are over all others, what the others are
made of, which open mics ring first, and where, and where the faders should start. With a CUE it prints
all of that cue. It sends nothing. --apply shows each line of the show's files that would give the
proposed levels, and asks before it writes it.

All of it is an estimate with a give or take of several dB. What means nothing before the noise and the
brass were measured says "measure first". It does not say what is safe: measure where people are.
backfield help balance says what is left out.`,
		Args: showAndCue,
		RunE: func(c *cobra.Command, args []string) error {
			switch {
			case apply && (len(args) == 2 || asJSON):
				return verb.Usage("--apply writes the levels of the whole show: leave out CUE and --json")
			case readings && (len(args) == 2 || asJSON || apply):
				return verb.Usage("--check-readings looks at all readings: leave out CUE and the other flags")
			case yes && !apply:
				return verb.Usage("--yes answers the questions of --apply; add --apply")
			}
			s, _, err := flags.Compiled(c, show.Disk{}, args[0])
			if err != nil {
				return err
			}
			var p source.Problems
			l := s.Loudness(&p)
			if readings {
				return checkReadings(c, s, p.All())
			}
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
					source.DidYouMean(args[1], ids, source.OneOfOr(ids, cue.NoCues)))
			}
			r := loudness.NewReport(s, l, cues)
			if !apply {
				r.AddNear(s, l, cues)
			}
			var plan *propose.LevelPlan
			if !one {
				plan = propose.New(s.Setup, verb.CueIDs(s.Show), cues)
				hunks, left := keep.Plan(keeping.Files(s), plan.Changes)
				r.Propose(plan, hunks, left)
			}
			switch {
			case asJSON:
				return verb.WriteJSON(c, r)
			case apply:
				k := keeping.Keeper{Command: c, Show: s, Flags: &flags, Path: show.Path(args[0]), Yes: yes}
				return applyLevels(&k, l, plan, r.Unreached())
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
	c.Flags().BoolVar(&readings, "check-readings", false, "say which readings of [levels] look wrong")
	c.Flags().BoolVar(&apply, "apply", false, "write the proposed levels into the show's files, after asking")
	c.Flags().BoolVarP(&yes, "yes", "y", false, "write every line of --apply without asking")
	return c
}

// checkReadings says which readings look wrong, and which there are none of.
func checkReadings(c *cobra.Command, s *show.Loaded, problems []source.Problem) error {
	wrong := slices.DeleteFunc(problems, func(p source.Problem) bool {
		return p.Severity != source.Error && !strings.HasPrefix(p.Code, "level-")
	})
	verb.PrintProblems(c, c.OutOrStdout(), wrong)
	for what, read := range [...]bool{s.Rig.Levels.BackgroundDBA != nil, s.Rig.Levels.Noise != nil,
		s.Rig.Levels.Brass != nil} {
		if !read {
			fmt.Fprintf(c.OutOrStdout(), "not read: %s\n", [...]string{"background", "noise", "brass"}[what])
		}
	}
	if len(wrong) > 0 {
		return verb.Exit(verb.ExitProblems)
	}
	fmt.Fprintln(c.OutOrStdout(), "no reading is far from what is usual")
	return nil
}

// applyLevels asks about each line of the proposed levels, and writes it. It says first what these do not reach.
func applyLevels(k *keeping.Keeper, l *balance.Loudness, plan *propose.LevelPlan, unreached []string) error {
	if !l.Measured.Calibrated() {
		return verb.Wrong("nothing is proposed before noise and brass were measured: type both readings in [levels] " +
			"of the rig or the venue")
	}
	for _, text := range unreached {
		fmt.Fprintln(k.Command.OutOrStdout(), "NOT REACHED  "+text)
	}
	if len(plan.Roles)+len(plan.Nudges)+len(plan.Trims) == 0 {
		verb.Note(k.Command, "no role and no cue wants a change of 2 dB or more: nothing was written")
		return nil
	}
	return k.Apply(plan.Changes)
}

// showAndCue requires a SHOW, and takes a CUE after it.
func showAndCue(c *cobra.Command, args []string) error {
	if len(args) < 1 || len(args) > 2 {
		return verb.Usage("balance takes a SHOW, and a CUE if you want all of it")
	}
	return nil
}
