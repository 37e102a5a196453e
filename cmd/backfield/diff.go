package main

import (
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/problemlist"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/verb"
	"backfield/cue"
	"backfield/cue/diff"
)

func diffCommand() *cobra.Command {
	var flags verb.ShowFlags
	var against string
	var asJSON, full bool
	c := &cobra.Command{
		Use:   "diff OLD NEW | diff [SHOW] --against GITREV",
		Short: "list what changes at the mixer between two versions of a show, and why",
		Long: `Compares two versions of a show. Each is a score, a folder with a score, a folder that compile wrote,
or a snapshots.json. With --against it compares the show with itself at an earlier commit. It prints
nothing if nothing changes at the mixer. --venue and --air hold for both versions, so both must be scores.
Exit code 0: nothing changed, 1: they differ, 2: they could not be compared.`,
		RunE: func(c *cobra.Command, args []string) error {
			var older, newer *cue.Show
			var err error
			switch {
			case against != "" && len(args) <= 1:
				if err = verb.OneShow(c, args); err != nil {
					return err
				}
				args = []string{verb.Show(args)}
				older, err = readVersion(&flags, c, show.Commit{Rev: against}, args[0])
			case against == "" && len(args) == 2:
				older, err = readVersion(&flags, c, show.Disk{}, args[0])
			default:
				return verb.Usage("diff takes two versions, OLD and NEW, or one SHOW with --against")
			}
			if err == nil {
				newer, err = readVersion(&flags, c, show.Disk{}, args[len(args)-1])
			}
			if err != nil {
				return verb.With(verb.ExitUsage, err)
			}
			report := diff.Compare(older, newer)
			report.Full = full
			if asJSON {
				err = verb.WriteJSON(c, report)
			} else {
				report.Text(c.OutOrStdout())
			}
			if err == nil && !report.SameAtMixer() {
				err = verb.Exit(verb.ExitProblems)
			}
			return err
		},
	}
	flags.Add(c)
	c.Flags().StringVar(&against, "against", "", "compare with the show as it was at this `GITREV`")
	c.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	c.Flags().BoolVar(&full, "full", false, "list closed channels one by one too")
	return c
}

// readVersion reads one side of a comparison: a compiled show, or a show to compile.
func readVersion(f *verb.ShowFlags, c *cobra.Command, rd show.Reader, arg string) (*cue.Show, error) {
	path := arg
	if info, err := os.Stat(arg); err == nil && info.IsDir() {
		if _, err := os.Stat(filepath.Join(arg, "snapshots.json")); err == nil {
			path = filepath.Join(arg, "snapshots.json")
		}
	}
	if filepath.Ext(path) == ".json" {
		if f.Venue != "" || f.Air != "" {
			return nil, verb.Wrong("%s is already compiled, so --venue and --air change nothing; leave them out, or "+
				"name the score that it was compiled from", path)
		}
		data, err := rd.Read(path)
		if err != nil {
			return nil, fmt.Errorf("%s %w", path, err)
		}
		s, err := cue.Decode(data)
		if err != nil {
			return nil, fmt.Errorf("%s is %w", path, err)
		}
		return s, nil
	}
	s, problems, err := f.Load(rd, path)
	if err != nil {
		return nil, err
	}
	if s.Result.Show == nil {
		verb.PrintProblems(c, c.ErrOrStderr(), problems)
		return nil, fmt.Errorf("%s: %s; both versions must compile to be compared", show.Path(path),
			problemlist.Tally(problems))
	}
	return s.Result.Show, nil
}
