// Package musicverbs has the commands that read the music of a show and write into its score.
package musicverbs

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/keeping"
	"backfield/cmd/backfield/problemlist"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/verb"
	"backfield/cue/keep"
	"backfield/cue/parts"
	"backfield/layout/source"
)

// Parts is the command that maps the parts of the music to players.
func Parts() *cobra.Command {
	var flags verb.ShowFlags
	var yes bool
	c := &cobra.Command{
		Use:   "parts [SHOW]",
		Short: "say who plays which part of the music",
		Long: `Lists the parts of the show's music (MusicXML or MIDI) and who plays them. For parts that the score does
not map yet, it guesses from the names of parts and sections, shows the lines, and asks. If you answer
yes, it writes them into show.toml, under [music.parts]. Comments stay as they are. While the show has
errors it lists them too, and prints the lines for you to paste.

--yes writes without asking. See backfield help music.
Exit code 0: listed, or written; 1: problems in the show; 2: wrong usage; 3: a file cannot be read or
written.`,
		Args: verb.OneShow,
		RunE: func(c *cobra.Command, args []string) error {
			arg := verb.Show(args)
			s, problems, err := flags.Watched(c, show.Disk{}, arg)
			if err != nil {
				return err
			}
			out := c.OutOrStdout()
			list := parts.Listed(s.Score, s.Roster)
			if s.Result.Show == nil {
				return guessOnly(c, arg, list, problems)
			}
			flags.Mention(c, problems, arg)
			if len(list) == 0 {
				return verb.Wrong("no movement takes its tempo from a file of music with notes; " +
					`write tempo = { music = "FILE" }`)
			}
			lines := listParts(out, list)
			if len(lines) == 0 {
				return nil
			}
			h, err := keep.Parts(s.Score.File, lines)
			if err != nil {
				return verb.Wrong("%w", err)
			}
			k := keeping.Keeper{Command: c, Show: s, Flags: &flags, Path: show.Path(arg), Yes: yes}
			return k.Offer([]keep.Hunk{h})
		},
	}
	flags.Add(c)
	c.Flags().BoolVarP(&yes, "yes", "y", false, "write the guess without asking")
	return c
}

// guessOnly prints the parts of a show that has errors, with the lines to paste. Nothing is written then: nobody could
// see whether the show compiles with them.
func guessOnly(c *cobra.Command, arg string, list []parts.Guessed, problems []source.Problem) error {
	verb.PrintProblems(c, c.ErrOrStderr(), problems)
	out := c.OutOrStdout()
	if len(list) > 0 {
		if lines := listParts(out, list); len(lines) > 0 {
			fmt.Fprintf(out, "\n[music.parts]\n%s\n", strings.Join(lines, "\n"))
		}
	}
	fmt.Fprintf(c.ErrOrStderr(), "%s: %s; nothing was written\n", show.Path(arg), problemlist.Tally(problems))
	return verb.Exit(verb.ExitProblems)
}

// listParts prints the parts and who plays them, and returns the lines for those that are guessed.
func listParts(out io.Writer, list []parts.Guessed) (lines []string) {
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "PART\tNOTES\tPLAYED BY")
	for _, g := range list {
		who := strings.Join(g.Names, ", ")
		switch {
		case g.Asked && who == "":
			who = "? no section has that name: write " + keep.PartLine(g.Part, []string{"PLAYER"})
		case g.Asked:
			who += "   (a guess)"
			lines = append(lines, keep.PartLine(g.Part, g.Names))
		case who == "":
			who = "nobody"
		}
		fmt.Fprintf(w, "%s\t%d\t%s\n", g.Part, g.Notes, who)
	}
	w.Flush()
	return lines
}
