package musicverbs

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/keeping"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/verb"
	"backfield/cue"
	"backfield/cue/keep"
	"backfield/cue/suggest"
)

// Suggest is the command that asks about cues, and proposes those of a first score.
func Suggest() *cobra.Command {
	var flags verb.ShowFlags
	var cues, apply, yes bool
	c := &cobra.Command{
		Use:   "suggest [SHOW]",
		Short: "list places where the designer might want another cue",
		Long: `Lists, in order of time: mics that close and open again within a few counts, cues too close together to
press, and mics open so long that their players probably rest. These are questions, not problems.

--cues proposes a whole first score instead, for a show that has no cues yet: from who plays when
([music.parts], backfield help music) and who wears a pack. It prints lines to paste into show.toml.
--apply shows them, asks, and writes them; --yes does not ask.`,
		Args: verb.OneShow,
		RunE: func(c *cobra.Command, args []string) error {
			if (apply || yes) && !cues {
				return verb.Usage("--apply and --yes go with --cues")
			}
			arg := verb.Show(args)
			s, _, err := flags.Compiled(c, show.Disk{}, arg)
			if err != nil {
				return err
			}
			if cues {
				k := keeping.Keeper{Command: c, Show: s, Flags: &flags, Path: show.Path(arg), Yes: yes}
				return firstScore(&k, apply || yes)
			}
			list := suggest.List(s.Result)
			PrintSuggestions(c.OutOrStdout(), list)
			fmt.Fprintln(c.ErrOrStderr(), verb.Plural(len(list), "suggestion"))
			return nil
		},
	}
	flags.Add(c)
	c.Flags().BoolVar(&cues, "cues", false, "propose the cues of a first score, from the parts of the music")
	c.Flags().BoolVar(&apply, "apply", false, "with --cues: ask, and write them into the score")
	c.Flags().BoolVarP(&yes, "yes", "y", false, "with --cues: write them without asking")
	return c
}

// firstScore prints the cues of a first score, or offers to write them.
func firstScore(k *keeping.Keeper, apply bool) error {
	if n := len(k.Show.Score.Cues); n > 0 {
		return verb.Wrong("the score has %s already; a first score is for one that has none", verb.Plural(n, "cue"))
	}
	if k.Show.Result.Setup.Lanes.Empty() {
		return verb.Wrong("nobody knows who plays when: map the parts of the music with backfield parts first")
	}
	list := suggest.FirstScore(k.Show.Result)
	text := suggest.TOML(k.Show.Result, list)
	if apply {
		return k.Offer([]keep.Hunk{keep.Cues(k.Show.Score.File, text)})
	}
	fmt.Fprint(k.Command.OutOrStdout(), text)
	fmt.Fprintf(k.Command.ErrOrStderr(), "%s to paste at the end of show.toml, or use --apply\n",
		verb.Plural(len(list), "cue"))
	return nil
}

// PrintSuggestions lists suggestions, one a line.
func PrintSuggestions(w io.Writer, list []suggest.Suggestion) {
	for _, x := range list {
		fmt.Fprintf(w, "%7s  %s: %s\n", cue.ClockTime(x.TimeS), x.Span.Where(), x.Text)
	}
}
