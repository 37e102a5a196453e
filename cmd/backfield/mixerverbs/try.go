package mixerverbs

import (
	"context"
	"os"
	"os/signal"
	"strconv"
	"time"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/machines"
	"backfield/cmd/backfield/verb"
	"backfield/cue"
	"backfield/osc/mixer"
	"backfield/osc/wire"
)

// tryWait is how long Ctrl-C can still stop a try before anything is sent.
const tryWait = 3 * time.Second

// Try is the verb that moves the delay of one channel, to hear whether the mixer clicks.
func Try() *cobra.Command {
	var to string
	c := &cobra.Command{
		Use:   "try MIXER CHANNEL",
		Short: "move one channel's delay, to hear whether the mixer clicks",
		Long: `Sends delays for one CHANNEL to the mixer: five jumps, then four glides of 8 ms in a second, 20 s in all. It
sends nothing else, and does not know what the delay was before. MIXER is a mixer.toml or a SHOW.

Keep the amplifiers off, and listen on headphones, turned low. Put a steady tone on the channel first. Do
not use it during a run. Page clicks (backfield help clicks) says what to listen for.
Exit code 0: sent, 1: the mixer file has errors, 3: it could not be sent.`,
		Args: verb.Exactly(2, "MIXER and CHANNEL"),
		RunE: func(c *cobra.Command, args []string) error { return try(c, args[0], args[1], to) },
	}
	c.Flags().StringVar(&to, "to", "", "send to this `HOST:PORT` instead of the mixer file's")
	return c
}

func try(c *cobra.Command, arg, number, to string) error {
	path, err := mixerFile(arg)
	if err != nil {
		return err
	}
	d, err := readMixer(c, path)
	if err != nil {
		return err
	}
	channel, err := tried(d, number)
	if err != nil {
		return err
	}
	at, err := verb.Address(c, to, d)
	if err != nil {
		return err
	}
	link, err := wire.Open(at)
	if err != nil {
		return verb.Outside(err)
	}
	defer link.Close()
	ctx, stop := signal.NotifyContext(c.Context(), os.Interrupt)
	defer stop()
	verb.Note(c, "amplifiers off, a tone on channel %d? the delay moves in %v (Ctrl-C ends it)", channel, tryWait)
	waited, cancel := context.WithTimeout(ctx, tryWait)
	defer cancel()
	<-waited.Done()
	return verb.Outside(machines.TryDelay(ctx, link, d, channel, c.OutOrStdout()))
}

// tried is the channel of a number, on a mixer that can be tried.
func tried(d *mixer.Mixer, number string) (channel int, err error) {
	channel, err = strconv.Atoi(number)
	longest := d.Limits(cue.ParamDelay).Max
	switch {
	case err != nil || channel < 1 || channel > d.Channels:
		return 0, verb.Wrong("%q is no channel of this mixer; it is a number from 1 to %d", number, d.Channels)
	case !d.Has(cue.ParamDelay):
		return 0, verb.Wrong("the mixer file has no [delay], so there is nothing to try")
	case longest < machines.TryMaxMS():
		return 0, verb.Wrong("the mixer's delay ends at %g ms, and a try needs %g ms; turn the delay by hand instead",
			longest, machines.TryMaxMS())
	}
	return channel, nil
}
