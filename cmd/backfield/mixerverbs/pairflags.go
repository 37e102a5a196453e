package mixerverbs

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/liverun"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/term"
	"backfield/cmd/backfield/verb"
	"backfield/osc/standby"
)

// leastTakeover is the shortest silence that an automatic takeover waits for.
const leastTakeover = time.Second

// addPair adds the flags of a run that is one of two laptops, and returns the command.
func (f *runFlags) addPair(c *cobra.Command) *cobra.Command {
	fl := c.Flags()
	fl.StringVar(&f.standbyAt, "standby-at", "", "let a second laptop stand by: it connects to this `HOST:PORT`, with "+
		"the key that is printed")
	fl.StringVar(&f.standby, "standby", "", "stand by for the laptop at this `HOST:PORT`: show its run, send "+
		"the mixers "+
		"nothing, take over on t t")
	fl.StringVar(&f.key, "key", "", "with --standby: the `KEY` that laptop 1 has printed; without it you are asked")
	fl.DurationVar(&f.takeover, "takeover", 0, "with --standby: take over automatically after this `TIME` of silence, "+
		"such as 2s; needs a mixer that echoes")
	return c
}

// checkPair is an error where those flags do not fit.
func (f *runFlags) checkPair(s *show.Loaded) error {
	switch {
	case f.standby != "" && f.standbyAt != "":
		return verb.Usage("--standby-at is for laptop 1, --standby for laptop 2; leave one out")
	case f.standby != "" && f.resume != "":
		return verb.Usage("--standby takes the run's state from laptop 1; leave --resume out")
	case (f.standby != "" || f.standbyAt != "") && f.rehearse:
		return verb.Usage("--rehearse has a mixer that no other laptop reaches; run backfield mixer, and --to " +
			"its address")
	case f.standby == "" && f.key != "":
		return verb.Usage("--key is the key of a standby; add --standby HOST:PORT")
	case f.standby == "" && f.takeover != 0:
		return verb.Usage("--takeover is for the laptop that stands by; add --standby HOST:PORT")
	case f.takeover != 0 && f.takeover < leastTakeover:
		return verb.Usage("--takeover %v is too short: from %v on", f.takeover, leastTakeover)
	case f.takeover != 0 && (s.Mixer.Echo == nil || f.recall):
		return verb.Wrong("--takeover needs a mixer that echoes ([echo] in mixer.toml) and no --recall: nothing else " +
			"shows whether laptop 1 still sends")
	}
	return nil
}

// pair is what those flags mean. It asks for a key that was not given, until the context ends.
func (f *runFlags) pair(ctx context.Context, c *cobra.Command) (liverun.PairStart, error) {
	p := liverun.PairStart{ListenAt: f.standbyAt, FirstAt: f.standby, Automatic: f.takeover}
	if f.standby == "" {
		return p, nil
	}
	if f.key == "" && f.plain(c) {
		return p, verb.Usage("--standby needs --key KEY where commands come from stdin; laptop 1 has printed it")
	}
	if f.key == "" {
		asker := term.NewAsker(c.InOrStdin(), c.ErrOrStderr(), false)
		typed := "" // not f.key, which whoever still reads the terminal must not write
		err := ask(ctx, func() error {
			return asker.Put("key that laptop 1 shows", &typed, func(typed string) error {
				_, err := standby.ReadKey(typed)
				return err
			})
		})
		if err != nil {
			return p, verb.Usage("%w", fmt.Errorf("no key was typed: %w", err))
		}
		f.key = typed
	}
	key, err := standby.ReadKey(f.key)
	if err != nil {
		return p, verb.Usage("--key: %w", err)
	}
	p.Key = key
	return p, nil
}

// startError is why a run cannot start. What the flags name wrongly is the user's to fix.
func startError(err error) error {
	var journal *liverun.WrongJournal
	var partner *liverun.WrongPartner
	switch {
	case errors.As(err, &journal):
		return verb.Wrong("%w", err)
	case errors.As(err, &partner):
		return verb.Wrong("--standby: %w", err)
	}
	return verb.Outside(err)
}
