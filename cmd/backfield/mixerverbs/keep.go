package mixerverbs

import (
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/problemlist"
	"backfield/cmd/backfield/publish"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/term"
	"backfield/cmd/backfield/verb"
	"backfield/cue/keep"
	"backfield/layout/source"
	"backfield/osc/journal"
)

// keeper writes into the files of a show what a run changed.
type keeper struct {
	c     *cobra.Command
	show  *show.Loaded
	flags *verb.ShowFlags
	path  string // of the score
	yes   bool   // write without asking
}

// plan is what the files need to keep the changes; what cannot be written is printed.
func (k *keeper) plan(changes []journal.LastingChange) []keep.Hunk {
	var trims []keep.Trim
	var nudges []keep.KeptNudge
	for _, c := range changes {
		if c.TrimDB != 0 {
			trims = append(trims, keep.Trim{Name: c.Name, DB: c.TrimDB})
		}
		for _, n := range c.Nudges {
			nudges = append(nudges, keep.KeptNudge{Cue: n.Cue, Name: n.Name, DB: n.DB})
		}
	}
	hunks, left := keep.Plan(k.files(), trims, nudges)
	for _, text := range left {
		fmt.Fprintf(k.c.OutOrStdout(), "Not written: %s\n", text)
	}
	return hunks
}

// files are the show's files as they were read.
func (k *keeper) files() keep.EditFiles {
	f := keep.EditFiles{Score: k.show.Score.Cues[0].Span.File}
	if list := k.show.Roster.Players; len(list) > 0 {
		f.Roster = list[0].Span.File
	}
	for _, m := range k.show.Rig.Mics {
		if at := m.Span.File; len(f.Rigs) == 0 || f.Rigs[len(f.Rigs)-1] != at {
			f.Rigs = append(f.Rigs, at)
		}
	}
	return f
}

// list prints the lines that keep the changes.
func (k *keeper) list(changes []journal.LastingChange) {
	out := k.c.OutOrStdout()
	fmt.Fprintln(out, "To keep it, use --apply instead of --show, or change these lines:")
	for _, h := range k.plan(changes) {
		fmt.Fprint(out, "\n", h.Diff())
	}
}

// apply asks about each change and writes those that are accepted, if the show has no errors with them.
func (k *keeper) apply(changes []journal.LastingChange) error {
	out := k.c.OutOrStdout()
	ask := term.NewAsker(k.c.InOrStdin(), out, k.yes)
	var accepted []keep.Hunk
	for _, h := range k.plan(changes) {
		fmt.Fprint(out, "\n", h.Diff())
		yes, err := ask.Yes("Write it?")
		if err != nil {
			fmt.Fprintln(out, "The input has ended: nothing was written. --yes writes every change.")
			return nil
		}
		if yes {
			accepted = append(accepted, h)
		}
	}
	if len(accepted) == 0 {
		fmt.Fprintln(out, "Nothing was written.")
		return nil
	}
	return k.write(accepted)
}

// write compiles the show with the changes and then writes the files.
func (k *keeper) write(accepted []keep.Hunk) error {
	changed := changedFiles{}
	var order []*source.File
	for _, h := range accepted {
		if _, again := changed[h.File.Name]; again {
			continue
		}
		raw, err := show.Disk{}.Read(h.File.Name)
		if err != nil {
			return verb.Outside(fmt.Errorf("%s %w", h.File.Name, err))
		}
		mark, found := strings.CutSuffix(string(raw), h.File.Text)
		if !found || mark != "" && mark != "\uFEFF" {
			return verb.Outside(fmt.Errorf("%s has changed, or is not in UTF-8: nothing was written", h.File.Name))
		}
		changed[h.File.Name] = []byte(mark + keep.Apply(h.File, accepted))
		order = append(order, h.File)
	}
	s, problems, err := k.flags.Load(changed, k.path)
	if err != nil {
		return err
	}
	if s.Result.Show == nil {
		verb.PrintProblems(k.c, k.c.ErrOrStderr(), problems)
		return verb.Wrong("the show would have %s: nothing was written", problemlist.Tally(problems))
	}
	for _, f := range order {
		path, err := filepath.EvalSymlinks(f.Name)
		if err != nil {
			return verb.Outside(err)
		}
		file := publish.OutputFile{Name: filepath.Base(path), Data: changed[f.Name]}
		if err := publish.Files(filepath.Dir(path), []publish.OutputFile{file}); err != nil {
			return verb.Outside(err)
		}
		fmt.Fprintf(k.c.OutOrStdout(), "written: %s\n", f.Name)
	}
	return nil
}

// changedFiles reads a show's files as they would be.
type changedFiles map[string][]byte

// Read gives a changed file, or the one on the disk.
func (f changedFiles) Read(path string) ([]byte, error) {
	if data, ok := f[path]; ok {
		return data, nil
	}
	return show.Disk{}.Read(path)
}
