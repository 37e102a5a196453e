package main

import (
	"fmt"
	"path/filepath"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/compiled"
	"backfield/cmd/backfield/publish"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/verb"
)

func compileCommand() *cobra.Command {
	flags := verb.ShowFlags{LoadOptions: show.LoadOptions{Levels: true}}
	var dir string
	var asJSON, full bool
	c := &cobra.Command{
		Use:   "compile [SHOW]",
		Short: "compute every channel's state at every cue and write the snapshots",
		Long: `Reads the whole show and writes these files into the folder "compiled" next to the score, or into the
folder after -o:

    snapshots.json   every channel's full state at every cue
    snapshots.csv    the same as a table, a row for each cue and channel
    messages.txt     the OSC messages in the order in which they are sent: the full state of the
                     first cue, then only what changes (--full: full states throughout)

The files are replaced together, and only if the show has no errors. In a show's folder you can leave
SHOW out.
Exit code 0: written, 1: the show has errors, 3: a file could not be read or written.`,
		Args: verb.OneShow,
		RunE: func(c *cobra.Command, args []string) error {
			s, problems, err := flags.Faultless(c, show.Disk{}, verb.Show(args))
			if err != nil {
				return err
			}
			data, err := s.Show.Encode()
			if err != nil {
				return verb.Outside(err)
			}
			if asJSON {
				verb.PrintProblems(c, c.ErrOrStderr(), problems)
				_, err := c.OutOrStdout().Write(data)
				return verb.Outside(err)
			}
			if dir == "" {
				dir = filepath.Join(filepath.Dir(show.Path(verb.Show(args))), "compiled")
			}
			if err := publish.Files(dir, compiled.Files(s, data, full)); err != nil {
				return verb.Outside(err)
			}
			verb.PrintProblems(c, c.ErrOrStderr(), problems)
			if verb.Quiet(c) {
				return nil
			}
			compiled.Summary(c.OutOrStdout(), s, problems)
			fmt.Fprintf(c.OutOrStdout(), "written to %s: snapshots.json, snapshots.csv, messages.txt\n", dir)
			return nil
		},
	}
	flags.Add(c)
	c.Flags().StringVarP(&dir, "out", "o", "", "write into this `DIR` (default: \"compiled\" next to the score)")
	c.Flags().BoolVar(&asJSON, "json", false, "print snapshots.json to stdout and write nothing")
	c.Flags().BoolVar(&full, "full", false, "messages.txt: the full state of every cue, not only what changes")
	return c
}
