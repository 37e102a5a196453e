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
	var flags verb.ShowFlags
	var dir string
	var asJSON, full bool
	c := &cobra.Command{
		Use:   "compile SHOW",
		Short: "compute every channel's state at every cue and write the snapshots",
		Long: `Reads the whole show and writes, into the folder "compiled" beside the score or the one that -o names:

    snapshots.json   every channel's full state at every cue
    snapshots.csv    the same as a table, a row per cue and channel
    messages.txt     the OSC messages in the order they are sent: the full state of the first
                     cue, then only what changes (--full: full states throughout)

The files are replaced together, and only when the show has no errors.
Exit code 0: written, 1: the show has errors, 3: a file could not be read or written.`,
		Args: verb.Exactly(1, "one SHOW"),
		RunE: func(c *cobra.Command, args []string) error {
			s, problems, err := flags.Faultless(c, show.Disk{}, args[0])
			if err != nil {
				return err
			}
			data, err := s.Show.Encode()
			if err != nil {
				return verb.World(err)
			}
			if asJSON {
				verb.PrintProblems(c, c.ErrOrStderr(), problems)
				_, err := c.OutOrStdout().Write(data)
				return verb.World(err)
			}
			if dir == "" {
				dir = filepath.Join(filepath.Dir(show.Path(args[0])), "compiled")
			}
			if err := publish.Files(dir, compiled.Files(s, data, full)); err != nil {
				return verb.World(err)
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
	c.Flags().StringVarP(&dir, "out", "o", "", "write into this `DIR` (default: \"compiled\" beside the score)")
	c.Flags().BoolVar(&asJSON, "json", false, "print snapshots.json to stdout and write nothing")
	c.Flags().BoolVar(&full, "full", false, "messages.txt: the full state of every cue, not only what changes")
	return c
}
