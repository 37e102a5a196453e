package learning

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/signal"
	"path/filepath"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/liverun"
	"backfield/cmd/backfield/publish"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/term"
	"backfield/cmd/backfield/verb"
	"backfield/cue/keep"
	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/osc/presses"
)

// Remote is the verb that shows what remote.toml maps and what comes over MIDI, and learns presses.
func Remote() *cobra.Command {
	var f remoteFlags
	c := &cobra.Command{
		Use:   "remote [SHOW]",
		Short: "show which MIDI message gives which command, and learn presses",
		Long: `Prints what remote.toml next to the score maps. With --midi it also prints what comes over the cable, live,
with the command that each message gives, until Ctrl-C. It sends nothing and gives no command.

--learn asks for go, back, hush and unhush, one after the other: press the switch, or Enter to leave a
command as it is. Then it shows the lines of remote.toml that change, asks, and writes them. The rest of
the file stays as it is. In a show's folder you can leave SHOW out. See backfield help midi.
Exit code 0: done, or nothing was to be written, 1: remote.toml has errors, 2: wrong usage, 3: the file or the
MIDI cable could not be opened, or the cable has ended.`,
		Args: verb.OneShow,
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, verb.Show(args)) },
	}
	c.Flags().StringVar(&f.midi, "midi", "", "MIDI bytes come from this `PLACE`: a device file, a named pipe, or "+
		"tcp:HOST:PORT (default with --learn: the one of remote.toml)")
	c.Flags().BoolVar(&f.learn, "learn", false, "ask for presses, and write them into remote.toml")
	c.Flags().BoolVarP(&f.yes, "yes", "y", false, "with --learn: write without asking")
	return c
}

type remoteFlags struct {
	midi       string
	learn, yes bool
}

func (f *remoteFlags) run(c *cobra.Command, score string) error {
	if f.yes && !f.learn {
		return verb.Usage("--yes is about what --learn writes; add --learn")
	}
	path := filepath.Join(filepath.Dir(show.Path(score)), "remote.toml")
	file, remote, err := f.read(c, path)
	if err != nil {
		return err
	}
	where := f.midi
	if f.learn {
		if where = cmp.Or(where, remote.MIDI.V); where == "" {
			return verb.Usage("--learn needs to know where MIDI comes from: add --midi PLACE")
		}
	} else {
		Print(c.OutOrStdout(), remote)
	}
	if where == "" {
		return nil
	}
	open, err := liverun.OpenMIDI(where)
	if err != nil {
		return verb.Outside(fmt.Errorf("--midi: %w", err))
	}
	in, err := open()
	if err != nil {
		return verb.Outside(fmt.Errorf("--midi: %w", err))
	}
	defer in.Close()
	ctx, stop := signal.NotifyContext(c.Context(), os.Interrupt)
	defer stop()
	messages := Read(in, ctx.Done())
	if !f.learn {
		if err := Watch(ctx, messages, c.OutOrStdout(), remote); err != nil {
			return verb.Outside(fmt.Errorf("%s: %w", where, err))
		}
		return nil
	}
	l := Learner{MIDI: messages, Lines: term.Lines(ctx, c.InOrStdin()), Out: c.OutOrStdout(), Remote: remote}
	return f.learned(ctx, c, file, &l)
}

// read reads remote.toml, which may not be there. Its errors are printed.
func (f *remoteFlags) read(c *cobra.Command, path string) (*source.File, *presses.Remote, error) {
	raw, err := os.ReadFile(path)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, nil, verb.Outside(err)
	}
	var p source.Problems
	file, err := source.Open(path, raw, table.TOMLLimit)
	if err != nil {
		return nil, nil, verb.Outside(fmt.Errorf("%s is %w", path, err))
	}
	remote := presses.Read(file, &p)
	if p.Errors() > 0 {
		verb.PrintProblems(c, c.OutOrStdout(), p.All())
		return nil, nil, verb.Exit(verb.ExitProblems)
	}
	return file, remote, nil
}

// learned asks for presses, and writes them if that is wanted and the file has no errors with them.
func (f *remoteFlags) learned(ctx context.Context, c *cobra.Command, file *source.File, l *Learner) error {
	out := c.OutOrStdout()
	rows, err := l.Ask(ctx)
	if err != nil {
		return verb.Outside(err)
	}
	h, err := keep.Presses(file, rows)
	if err != nil {
		return verb.Outside(err)
	}
	text := keep.Apply(file, []keep.Hunk{h}) // a byte order mark is not kept: remote.toml needs none
	fmt.Fprint(out, "\n", h.Diff())
	var p source.Problems
	if presses.Read(&source.File{Name: file.Name, Text: text}, &p); p.Errors() > 0 {
		verb.PrintProblems(c, out, p.All())
		return verb.With(verb.ExitProblems, errors.New("remote.toml would have these errors: nothing was written"))
	}
	if len(rows) == 0 || !f.yes && !l.Yes(ctx, "Write it?") {
		fmt.Fprintln(out, "Nothing was written.")
		return nil
	}
	files := []publish.OutputFile{{Name: filepath.Base(file.Name), Data: []byte(text)}}
	if err := publish.Files(filepath.Dir(file.Name), files); err != nil {
		return verb.Outside(err)
	}
	fmt.Fprintf(out, "written: %s\n", file.Name)
	return nil
}
