package main

import (
	"context"
	"fmt"
	"os"
	"os/signal"
	"path/filepath"
	"slices"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/publish"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/watch"
	"backfield/cue"
	"backfield/cue/compile"
	"backfield/cue/diff"
	"backfield/layout/source"
)

func watchCommand() *cobra.Command {
	var flags showFlags
	var dir string
	c := &cobra.Command{
		Use:   "watch SHOW",
		Short: "recompile on every save and say what changed",
		Long: `Compiles the show now and after every save of any of its files, writes the snapshots as compile does,
and says what changed on the desk since the last good compile, or what is wrong. A save with errors
leaves the last good files as they are. A warning is told when it is new and when it is gone; between,
it is counted. Ends with Ctrl-C.`,
		Args: exactly(1, "one SHOW"),
		RunE: func(c *cobra.Command, args []string) error {
			if dir == "" {
				dir = filepath.Join(filepath.Dir(show.Path(args[0])), "compiled")
			}
			w := watching{c: c, flags: &flags, arg: args[0], dir: dir}
			return w.run()
		},
	}
	flags.add(c)
	c.Flags().StringVarP(&dir, "out", "o", "", "write into this `DIR` (default: \"compiled\" beside the score)")
	return c
}

type watching struct {
	c     *cobra.Command
	flags *showFlags
	arg   string
	dir   string
	good  *cue.Show        // the last that compiled
	known []source.Problem // the warnings that were told and are not gone
}

func (w *watching) run() error {
	w.flags.Memo = &compile.Memo{}
	return follow(w.c, w.flags.named(w.arg), w.once)
}

// named are the files that the command line names.
func (f *showFlags) named(arg string) []string {
	files := []string{show.Path(arg)}
	if f.Venue != "" {
		files = append(files, f.Venue)
	}
	return files
}

// follow calls once now, and again whenever a file has changed, until Ctrl-C. once is given the files that are watched,
// the given ones at first, and returns those that matter; where they are others, it is to do nothing else, and is called
// again once they are watched: they may have changed since they were read.
func follow(c *cobra.Command, files []string, once func(watched []string) ([]string, error)) error {
	// Only here is Ctrl-C the ordinary end; every other command is to stop at once, above all send.
	ctx, stop := signal.NotifyContext(c.Context(), os.Interrupt)
	defer stop()
	watcher, err := watch.New(files)
	if err != nil {
		return world(err)
	}
	defer watcher.Close()
	for {
		now, err := once(files)
		if err != nil {
			return err
		}
		if !slices.Equal(now, files) {
			if err := watcher.SetFiles(now); err != nil {
				return world(err)
			}
			files = now
			continue
		}
		if !wait(ctx, c, watcher) {
			return nil
		}
	}
}

// wait returns true when a file has changed, false when the command is to end.
func wait(ctx context.Context, c *cobra.Command, watcher *watch.Watcher) bool {
	for {
		select {
		case <-ctx.Done():
			return false
		case <-watcher.Changes():
			return true
		case err := <-watcher.Errors():
			fmt.Fprintf(c.ErrOrStderr(), "backfield: %v\n", err)
		}
	}
}

// once compiles and writes, and returns the files that matter now. Only a fault of the command line is an
// error here: whatever is wrong in the files can be mended while the watch goes on.
func (w *watching) once(watched []string) ([]string, error) {
	out, talk := w.c.OutOrStdout(), w.c.ErrOrStderr()
	s, problems, err := w.flags.load(show.Disk{}, w.arg)
	if s == nil {
		return nil, err
	}
	if err != nil {
		fmt.Fprintf(talk, "backfield: %v; the last good files stay\n", err)
		return watched, nil
	}
	files := s.Files
	if !slices.Equal(files, watched) {
		return files, nil // to be read again once they are watched
	}
	fresh, gone := news(w.known, problems)
	printProblems(w.c, talk, fresh)
	if s.Result.Show == nil {
		w.known = append(w.known, warnings(fresh)...) // what is missing now may only be hidden by the errors
		fmt.Fprintf(talk, "%s: %s; the last good files stay\n", show.Path(w.arg), tally(problems))
		return files, nil
	}
	w.known = warnings(problems)
	data, err := s.Show.Encode()
	if err == nil {
		err = publish.Files(w.dir, outputs(s, data, false))
	}
	if err != nil {
		fmt.Fprintf(talk, "backfield: %v; the last good files stay\n", err)
		return files, nil
	}
	if w.good == nil {
		summary(out, s, problems)
		fmt.Fprintf(out, "written to %s; watching %s\n", w.dir, plural(len(files), "file"))
	} else {
		w.count(len(fresh), gone)
		if report := diff.Compare(w.good, s.Show); report.Same() {
			fmt.Fprintln(out, "saved: nothing changed on the desk")
		} else {
			report.Text(out)
			fmt.Fprintf(out, "written to %s\n", w.dir)
		}
	}
	w.good = s.Show
	return files, nil
}

// count words how the warnings stand after a save, where there are any or were.
func (w *watching) count(fresh int, gone []source.Problem) {
	if len(w.known) == 0 && len(gone) == 0 {
		return
	}
	talk := w.c.ErrOrStderr()
	for _, g := range gone {
		fmt.Fprintf(talk, "gone: %s [%s]\n", g.What, g.Code)
	}
	text := "check: " + tally(w.known)
	if fresh > 0 {
		text += fmt.Sprintf(", %d new", fresh)
	}
	if len(gone) > 0 {
		text += fmt.Sprintf(", %d gone", len(gone))
	}
	if len(w.known) > fresh {
		text += " (see " + w.flags.check(w.arg) + ")"
	}
	fmt.Fprintln(talk, text)
}

// news are the problems worth telling after known warnings were told: every error, and the warnings that are
// not among the known. gone are the known ones that are no more. Warnings are the same that say the same of
// the same file: their lines move with every save.
func news(known, problems []source.Problem) (fresh, gone []source.Problem) {
	type saying struct{ file, code, what string }
	of := func(p source.Problem) saying {
		name, _, _, _ := at(p.Span)
		return saying{name, p.Code, p.What}
	}
	left := map[saying]int{}
	for _, k := range known {
		left[of(k)]++
	}
	for _, p := range problems {
		if p.Severity == source.Warning && left[of(p)] > 0 {
			left[of(p)]--
		} else {
			fresh = append(fresh, p)
		}
	}
	for _, k := range known {
		if left[of(k)] > 0 {
			left[of(k)]--
			gone = append(gone, k)
		}
	}
	return fresh, gone
}

func warnings(problems []source.Problem) []source.Problem {
	return slices.DeleteFunc(slices.Clone(problems), func(p source.Problem) bool { return p.Severity != source.Warning })
}
