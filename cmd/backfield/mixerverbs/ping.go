package mixerverbs

import (
	"context"
	"fmt"
	"os"
	"os/signal"
	"time"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/machines"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/verb"
	"backfield/osc/mixer"
	"backfield/osc/ping"
	"backfield/osc/wire"
)

// pingFlags are what the command line says about asking a mixer.
type pingFlags struct {
	to     string // empty for the mixer file's address
	asJSON bool
	plan   ping.QueryPlan
}

// Ping is the verb that tests whether a mixer replies.
func Ping() *cobra.Command {
	var flags pingFlags
	c := &cobra.Command{
		Use:   "ping MIXER",
		Short: "test whether a mixer replies, how fast, and with how much packet loss",
		Long: `Asks the mixer for values that it holds, by [query] of mixer.toml, and prints how many replies came and how
long they took, there and back. It changes nothing. MIXER is a mixer.toml, a SHOW, or HOST:PORT.

A mixer without [query] cannot be asked; with HOST:PORT alone Backfield does not know how to ask. Then it
only reports whether the machine says that the port is closed and, over TCP, whether it accepts a connection.
Exit code 0: it replies (or cannot be asked, and nothing shows that it is not there), 1: the mixer file has
errors, 3: no reply, or it could not be reached.`,
		Args: verb.Exactly(1, "one MIXER, SHOW or HOST:PORT"),
		RunE: func(c *cobra.Command, args []string) error { return flags.run(c, args[0]) },
	}
	f := c.Flags()
	f.StringVar(&flags.to, "to", "", "ask the mixer at this `HOST:PORT` instead of the mixer file's")
	f.IntVar(&flags.plan.Count, "count", 20, "how `MANY` values to ask for")
	f.DurationVar(&flags.plan.Every, "every", 100*time.Millisecond, "the `TIME` from one to the next")
	f.DurationVar(&flags.plan.Wait, "timeout", time.Second, "how `LONG` to wait for a reply")
	f.BoolVar(&flags.asJSON, "json", false, "print JSON")
	return c
}

func (x *pingFlags) run(c *cobra.Command, arg string) error {
	if err := x.check(); err != nil {
		return err
	}
	d, at, err := pinged(c, arg, x.to)
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
	if d.Query == nil {
		return probe(ctx, c, link, d, at, x.plan.Wait)
	}
	verb.Note(c, "asking %s for %s, one every %v", at, verb.Plural(x.plan.Count, "value"), x.plan.Every)
	r, err := ping.Ask(ctx, link, d, x.plan)
	if err != nil {
		return verb.Outside(err)
	}
	if x.asJSON {
		err = verb.WriteJSON(c, machines.PingOf(at, r))
	} else {
		err = verb.Outside(machines.PrintPing(c.OutOrStdout(), at, r))
	}
	if err == nil && len(r.RoundTrips) == 0 {
		return verb.Exit(verb.ExitWorld)
	}
	return err
}

func (x *pingFlags) check() error {
	switch {
	case x.plan.Count < 1 || x.plan.Count > 10_000:
		return verb.Wrong("--count %d is out of range (1 to 10000)", x.plan.Count)
	case x.plan.Every < time.Millisecond || x.plan.Every > time.Minute:
		return verb.Wrong("--every %v is out of range (1ms to 1m)", x.plan.Every)
	case x.plan.Wait < time.Millisecond || x.plan.Wait > time.Minute:
		return verb.Wrong("--timeout %v is out of range (1ms to 1m)", x.plan.Wait)
	}
	return nil
}

// pinged finds the mixer that an argument names, and its address.
func pinged(c *cobra.Command, arg, to string) (*mixer.Mixer, string, error) {
	d := &mixer.Mixer{}
	if _, err := os.Stat(arg); err == nil {
		path, err := mixerFile(arg)
		if err != nil {
			return nil, "", err
		}
		if d, err = readMixer(c, path); err != nil {
			return nil, "", err
		}
	} else if _, err := wire.Address(arg); err != nil {
		return nil, "", verb.Wrong("no file %s; and as an address, %v", arg, err)
	} else {
		d.To.V = arg
	}
	at, err := verb.Address(c, to, d)
	return d, at, err
}

// mixerFile finds the mixer file of a path: the path itself, or the one that a show names.
func mixerFile(path string) (string, error) {
	if score, found, err := show.MixerOf(show.Disk{}, show.Path(path)); err != nil {
		return "", verb.Outside(fmt.Errorf("%s %w", show.Path(path), err))
	} else if score && found == "" {
		return "", verb.Wrong("%s names no mixer", show.Path(path))
	} else if score {
		return found, nil
	}
	return path, nil
}

// probe prints what can be found out about a mixer that cannot be asked.
func probe(ctx context.Context, c *cobra.Command, link wire.Link, d *mixer.Mixer, at string, wait time.Duration) error {
	closed, packets, err := ping.Probe(ctx, link, d, wait)
	if err != nil {
		return verb.Outside(err)
	}
	if err := machines.PrintProbe(c.OutOrStdout(), at, d, closed, packets); err != nil {
		return verb.Outside(err)
	}
	if closed {
		return verb.Exit(verb.ExitWorld)
	}
	return nil
}
