package mixerverbs

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"os"
	"os/signal"
	"slices"
	"strings"
	"syscall"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/term"
	"backfield/cmd/backfield/verb"
	"backfield/cue"
	"backfield/layout/source"
	"backfield/osc/store"
)

// storeFlags are the flags of the verb store.
type storeFlags struct {
	verb.ShowFlags
	to, from         string
	verify, dry, yes bool
}

// Store is the verb that puts every cue into the scenes of a mixer.
func Store() *cobra.Command {
	var f storeFlags
	c := &cobra.Command{
		Use:   "store SHOW",
		Short: "put every cue into the mixer's own scenes",
		Long: `Goes through all cues of the show. It sends each one's state to the mixer in mixer.toml (and
to those under "also", one after the other), waits until the mixer confirms it or has had time, and has the
mixer store it, the first cue in the first slot of [store]. It overwrites what the slots held.

TURN THE AMPLIFIERS DOWN FIRST, and take off headphones that are fed from the mixer. Storing opens every
microphone of the show at its level, one cue right after the other. Keep people away from the loudspeakers.
It starts only with --yes, or after you type yes. At the end, also after a failure, it closes every channel
of the show.

--verify then recalls each slot and compares what the mixer reports. After a failure it prints the --from
to continue with. See backfield help store.
Exit code 0: stored, 1: the show or the mixer file does not allow it, 2: you did not say yes, 3: a file could
not be read, a cue could not be sent, or the mixer does not hold what was sent.`,
		Args: verb.Exactly(1, "one SHOW"),
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, args[0]) },
	}
	f.Add(c)
	fl := c.Flags()
	fl.StringVar(&f.to, "to", "", "store in the mixer at this `HOST:PORT` instead of the mixer file's")
	fl.StringVar(&f.from, "from", "", "start with this `CUE`, in its own slot, if the earlier ones are stored already")
	fl.BoolVar(&f.verify, "verify", false, "recall each slot afterwards and compare")
	fl.BoolVar(&f.dry, "dry-run", false, "print all messages in order and send nothing")
	fl.BoolVar(&f.yes, "yes", false, "the amplifiers are down: start without asking")
	return c
}

func (f *storeFlags) run(c *cobra.Command, arg string) error {
	s, _, err := f.Compiled(c, show.Disk{}, arg)
	if err != nil {
		return err
	}
	if err := store.Possible(s.Mixer, len(s.Show.Cues), f.verify); err != nil {
		return verb.With(verb.ExitProblems, err)
	}
	first := 0
	if c.Flags().Changed("from") {
		first = slices.IndexFunc(s.Show.Cues, func(x cue.Snapshot) bool { return x.ID == f.from })
		if ids := verb.CueIDs(s.Show); first < 0 {
			return verb.Wrong("--from: no cue %q; %s", f.from,
				source.DidYouMean(f.from, ids, "it is "+source.OneOf(ids)))
		}
	}
	mixers, err := verb.MixerAddresses(c, f.to, s.Mixer)
	if err != nil {
		return err
	}
	if f.dry {
		for _, to := range mixers {
			w := store.New(s.Mixer, s.Show.Cues, to, term.NewSteps(io.Discard))
			w.Dry = c.OutOrStdout()
			if err := w.All(c.Context(), first, f.verify); err != nil {
				return verb.Outside(err)
			}
		}
		return nil
	}
	if err := f.agreed(c, s, mixers); err != nil {
		return err
	}
	ctx, stop := signal.NotifyContext(c.Context(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	for _, to := range mixers {
		if err := f.walk(ctx, c, s, to, first); err != nil {
			if len(mixers) > 1 {
				err = fmt.Errorf("%w; for this mixer only: --to %s", err, to)
			}
			return verb.Outside(err)
		}
	}
	return nil
}

// agreed asks whether to start.
func (f *storeFlags) agreed(c *cobra.Command, s *show.Loaded, mixers []string) error {
	if f.yes {
		return nil
	}
	talk := c.ErrOrStderr()
	fmt.Fprintf(talk, "This opens every microphone of the show at its level, cue after cue, at %s. It overwrites "+
		"slots %d to %d.\n",
		strings.Join(mixers, " and "), s.Mixer.Store.First, s.Mixer.Store.First+len(s.Show.Cues)-1)
	in, ok := c.InOrStdin().(*os.File)
	if ok && term.Drawable(in) {
		fmt.Fprint(talk, "Are the amplifiers down, and is everyone away from the loudspeakers? Type yes: ")
		if line, _ := bufio.NewReader(in).ReadString('\n'); strings.TrimSpace(line) == "yes" {
			return nil
		}
		fmt.Fprintln(talk)
	}
	return verb.Wrong("nothing was sent; turn the amplifiers down, then use --yes")
}

// walk stores all cues from the first one given in one mixer, and leaves everything closed.
func (f *storeFlags) walk(ctx context.Context, c *cobra.Command, s *show.Loaded, to string, first int) error {
	w := store.New(s.Mixer, s.Show.Cues, to, term.NewSteps(c.ErrOrStderr()))
	if err := w.Open(); err != nil {
		return err
	}
	defer w.Close()
	if err := w.All(ctx, first, f.verify); err != nil {
		return fmt.Errorf("%s: %w", to, err)
	}
	how := ""
	switch {
	case f.verify:
		how = ", each recalled and compared"
	case !w.Answers():
		how = " (the mixer does not confirm)"
	}
	fmt.Fprintf(c.ErrOrStderr(), "%s: %s stored in slots %d to %d%s; every channel of the show is closed now\n",
		to, verb.Plural(len(s.Show.Cues)-first, "cue"), w.Slot(first), w.Slot(len(s.Show.Cues)-1), how)
	return nil
}
