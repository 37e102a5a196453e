package main

import (
	"cmp"
	"errors"
	"fmt"
	"os"
	"os/signal"
	"path/filepath"
	"slices"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/comparing"
	"backfield/cmd/backfield/compiled"
	"backfield/cmd/backfield/problemlist"
	"backfield/cmd/backfield/publish"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/verb"
	"backfield/cmd/backfield/watch"
	"backfield/cue/work"
	"backfield/layout/source"
)

func watchCommand() *cobra.Command {
	flags := verb.ShowFlags{LoadOptions: show.LoadOptions{Levels: true}}
	var dir string
	c := &cobra.Command{
		Use:   "watch [SHOW]",
		Short: "recompile on every save and list what changed",
		Long: `Compiles the show now and after every save of any of its files, and writes the snapshots as compile does.
It lists what changed at the mixer since the last good compile, or what is wrong. A save with errors
leaves the last good files as they are. A warning is printed when it is new and when it is gone; in
between it is counted. In a show's folder you can leave SHOW out. Ctrl-C ends it.`,
		Args: verb.OneShow,
		RunE: func(c *cobra.Command, args []string) error {
			if dir == "" {
				dir = filepath.Join(filepath.Dir(show.Path(verb.Show(args))), "compiled")
			}
			w := watching{c: c, flags: &flags, arg: verb.Show(args), dir: dir}
			return w.run()
		},
	}
	flags.Add(c)
	c.Flags().StringVarP(&dir, "out", "o", "", "write into this `DIR` (default: \"compiled\" next to the score)")
	return c
}

type watching struct {
	c     *cobra.Command
	flags *verb.ShowFlags
	arg   string
	dir   string
	good  *show.Loaded     // the last one that compiled
	known []source.Problem // the warnings that were printed and are not gone
}

func (w *watching) run() error {
	w.flags.Memo = &work.Memo{}
	return follow(w.c, w.flags.Named(w.arg), w.once)
}

// follow calls once now, and again whenever a file has changed, until Ctrl-C. See watch.Follow. It ends if the output
// cannot be written.
func follow(c *cobra.Command, files []string, once func(watched []string) ([]string, error)) error {
	// Only here is Ctrl-C the normal end. Every other command must stop at once, above all send.
	ctx, stop := signal.NotifyContext(c.Context(), os.Interrupt)
	defer stop()
	written := func(watched []string) ([]string, error) {
		now, err := once(watched)
		return now, cmp.Or(err, unwritten(c.OutOrStdout()))
	}
	err := watch.Follow(ctx, files, written, func(err error) { fmt.Fprintf(c.ErrOrStderr(), "backfield: %v\n", err) })
	if coded := (*verb.Failure)(nil); errors.As(err, &coded) {
		return err
	}
	return verb.Outside(err)
}

// once compiles and writes, and returns the files that matter now. Only a mistake on the command line is an
// error here: what is wrong in the files can be fixed while the watch goes on.
func (w *watching) once(watched []string) ([]string, error) {
	out, talk := w.c.OutOrStdout(), w.c.ErrOrStderr()
	s, problems, err := w.flags.Load(show.Disk{}, w.arg)
	if s == nil {
		return nil, err
	}
	if err != nil {
		fmt.Fprintf(talk, "backfield: %v; the last good files stay\n", err)
		return watched, nil
	}
	files := s.Files
	if !slices.Equal(files, watched) {
		return files, nil // they are read again once they are watched
	}
	fresh, gone := problemlist.News(w.known, problems)
	verb.PrintProblems(w.c, talk, fresh)
	if s.Result.Show == nil {
		// a warning that is missing now may only be hidden by the errors
		w.known = append(w.known, problemlist.Warnings(fresh)...)
		fmt.Fprintf(talk, "%s: %s; the last good files stay\n", show.Path(w.arg), problemlist.Tally(problems))
		return files, nil
	}
	w.known = problemlist.Warnings(problems)
	data, err := s.Show.Encode()
	if err == nil {
		err = publish.Files(w.dir, compiled.Files(s, data, false))
	}
	if err != nil {
		fmt.Fprintf(talk, "backfield: %v; the last good files stay\n", err)
		return files, nil
	}
	if w.good == nil {
		compiled.Summary(out, s, problems)
		fmt.Fprintf(out, "written to %s; watching %s\n", w.dir, verb.Plural(len(files), "file"))
	} else {
		w.count(len(fresh), gone)
		if report := comparing.Causes(w.c, w.good, s, w.flags.Memo); report.SameAtMixer() {
			fmt.Fprintln(out, "saved: nothing changed at the mixer")
		} else {
			comparing.Print(w.c, report)
			fmt.Fprintf(out, "written to %s\n", w.dir)
		}
	}
	w.good = s
	return files, nil
}

// count prints how many warnings there are after a save, if there are any or were.
func (w *watching) count(fresh int, gone []source.Problem) {
	if len(w.known) == 0 && len(gone) == 0 {
		return
	}
	talk := w.c.ErrOrStderr()
	for _, g := range gone {
		fmt.Fprintf(talk, "gone: %s [%s]\n", g.What, g.Code)
	}
	text := "check: " + problemlist.Tally(w.known)
	if fresh > 0 {
		text += fmt.Sprintf(", %d new", fresh)
	}
	if len(gone) > 0 {
		text += fmt.Sprintf(", %d gone", len(gone))
	}
	if len(w.known) > fresh {
		text += " (see " + w.flags.CheckLine(w.arg) + ")"
	}
	fmt.Fprintln(talk, text)
}
