// Package keeping shows what of a show's files would change, asks about each change, and writes what is accepted.
package keeping

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
)

// Keeper writes changes of levels into the files of a show.
type Keeper struct {
	Command *cobra.Command
	Show    *show.Loaded
	Flags   *verb.ShowFlags
	Path    string // of the score
	Yes     bool   // write without asking
}

// Files are a show's files as they were read.
func Files(s *show.Loaded) keep.EditFiles {
	f := keep.EditFiles{Score: s.Score.File}
	if list := s.Roster.Players; len(list) > 0 {
		f.Roster = list[0].Span.File
	}
	for _, m := range s.Rig.Mics {
		if at := m.Span.File; len(f.Rigs) == 0 || f.Rigs[len(f.Rigs)-1] != at {
			f.Rigs = append(f.Rigs, at)
		}
	}
	return f
}

// Plan is what the files need to keep the changes; what cannot be written is printed.
func (k *Keeper) Plan(changes keep.Changes) []keep.Hunk {
	hunks, left := keep.Plan(Files(k.Show), changes)
	for _, text := range left {
		fmt.Fprintf(k.Command.OutOrStdout(), "Not written: %s\n", text)
	}
	return hunks
}

// Apply offers what keeps the changes.
func (k *Keeper) Apply(changes keep.Changes) error { return k.Offer(k.Plan(changes)) }

// Offer asks about each change and writes those that are accepted, if the show has no errors with them.
func (k *Keeper) Offer(hunks []keep.Hunk) error {
	out := k.Command.OutOrStdout()
	ask := term.NewAsker(k.Command.InOrStdin(), out, k.Yes)
	var accepted []keep.Hunk
	for _, h := range hunks {
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
func (k *Keeper) write(accepted []keep.Hunk) error {
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
	s, problems, err := k.Flags.Load(changed, k.Path)
	if err != nil {
		return err
	}
	if s.Result.Show == nil {
		verb.PrintProblems(k.Command, k.Command.ErrOrStderr(), problems)
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
		fmt.Fprintf(k.Command.OutOrStdout(), "written: %s\n", f.Name)
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
