package mixerverbs

import (
	"errors"
	"fmt"
	"os"
	"os/signal"
	"time"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/audio"
	"backfield/cmd/backfield/problemlist"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/simulated"
	"backfield/cmd/backfield/verb"
	"backfield/layout/source"
	fields "backfield/layout/table"
	"backfield/osc/mixer"
	"backfield/osc/wire"
)

// Mixer is the verb that runs a simulated mixer.
func Mixer() *cobra.Command {
	var o simulated.MixerOptions
	var at string
	var sound audioFlags
	c := &cobra.Command{
		Use:   "mixer [MIXER.toml]",
		Short: "simulate the mixer that a mixer.toml describes, to try a show without one",
		Long: `Listens where mixer.toml puts the mixer, or at --at, and behaves as that file says: it takes values,
echoes and replies, stores and recalls scenes. The flags make the network and the mixer as bad as real
ones can be. The same seed makes the same faults.

With --audio it makes a sound file at its end: what this mixer would do to a sound on every channel, as
its delay, level, mute and pan changed. Without a MIXER.toml, --audio makes a demonstration of a jump of
the delay, a glide, a dip and fades, on mixers of each kind, and lists its parts.

It reads commands, one on a line:

    state                 print what it holds, as JSON on stdout
    move ADDRESS VALUE    change a value as someone at the mixer would: VALUE as it is sent in OSC
    reboot                turn it off and on
    quit                  end, as Ctrl-C does

On a terminal it shows its channels. See backfield help simulated-mixer.
Exit code 0: ended by quit or Ctrl-C, 1: the mixer file has errors, 3: it cannot listen there, or the
sound file cannot be read or written.`,
		Args: sound.args,
		RunE: func(c *cobra.Command, args []string) error {
			if err := o.Check(); err != nil {
				return verb.Usage("%w", err)
			}
			own, err := sound.read(c, args)
			if err != nil {
				return err
			}
			if len(args) == 0 {
				return verb.Outside(audio.Demonstrate(sound.out, own, c.OutOrStdout()))
			}
			d, err := readMixer(c, args[0])
			if err != nil {
				return err
			}
			recording := sound.record(d, own)
			if recording != nil {
				o.Record = recording
			}
			listenAt := at
			if at == "" {
				listenAt = d.To.V
			}
			l, err := wire.Listen(listenAt)
			switch {
			case err != nil && errors.Unwrap(err) == nil && at != "": // the address is written wrong
				return verb.Usage("--at %w", err)
			case err != nil:
				return verb.Outside(fmt.Errorf("%w; --at 127.0.0.1:9000 listens on this computer", err))
			}
			defer l.Close()
			ctx, stop := signal.NotifyContext(c.Context(), os.Interrupt)
			defer stop()
			err = simulated.Serve(ctx, l, d, o, c.InOrStdin(), c.OutOrStdout(), c.ErrOrStderr())
			end := time.Now()
			stop() // Ctrl-C ends a long rendering
			if recording != nil {
				err = errors.Join(err, recording.Write(sound.out, end, c.ErrOrStderr()))
			}
			return verb.Outside(err)
		},
	}
	f := c.Flags()
	f.StringVar(&at, "at", "", "listen at this `HOST:PORT` instead of the mixer file's; port 0 is any free one")
	f.Float64Var(&o.Faults.Drop, "drop", 0, "lose this `SHARE` of the packets, 0 to 1, each way")
	f.Float64Var(&o.Faults.Reorder, "reorder", 0, "deliver this `SHARE` out of order; 0.2 without a number")
	f.Float64Var(&o.Faults.Duplicate, "duplicate", 0, "deliver this `SHARE` twice; 0.2 without a number")
	f.Lookup("reorder").NoOptDefVal, f.Lookup("duplicate").NoOptDefVal = "0.2", "0.2"
	f.DurationVar(&o.Faults.Delay, "delay", 0, "delay packets by this `TIME`, such as 20ms, each way")
	f.DurationVar(&o.Faults.Jitter, "jitter", 0, "delay them by up to this `TIME` more")
	f.Uint64Var(&o.Seed, "seed", 1, "the same `NUMBER` gives the same faults")
	f.DurationVar(&o.RebootAfter, "reboot-after", 0, "turn it off and on after this `TIME`, once")
	f.DurationVar(&o.Boot, "boot", 0, "ignore everything for this `TIME` after a reboot")
	f.BoolVar(&o.WakeOpen, "wake-open", false, "start with every channel open at 0 dB instead of closed")
	f.BoolVar(&o.Changes, "changes", false, "print every value that it takes on stderr, one on a line")
	sound.add(f)
	f.BoolVar(&o.JSON, "json", false, "print the state as JSON on stdout at the end")
	return c
}

// readMixer reads a mixer file without a show. It prints problems; errors end the command.
func readMixer(c *cobra.Command, path string) (*mixer.Mixer, error) {
	if isScore, own, err := show.MixerOf(show.Disk{}, path); err == nil && isScore {
		if own == "" {
			own = "mixer.toml"
		}
		return nil, verb.Wrong("%s is a score, not a mixer file; name %s", path, own)
	}
	raw, err := show.Disk{}.Read(path)
	if err != nil {
		return nil, verb.Outside(fmt.Errorf("%s %w", path, err))
	}
	file, err := source.Open(path, raw, fields.TOMLLimit)
	if err != nil {
		return nil, verb.Outside(fmt.Errorf("%s is %w", path, err))
	}
	var p source.Problems
	d := mixer.Read(file, &p)
	verb.PrintProblems(c, c.ErrOrStderr(), p.All())
	if p.Errors() > 0 {
		fmt.Fprintf(c.ErrOrStderr(), "%s: %s; nothing was done\n", path, problemlist.Tally(p.All()))
		return nil, verb.Exit(verb.ExitProblems)
	}
	return d, nil
}
