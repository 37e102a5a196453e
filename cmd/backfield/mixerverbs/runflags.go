package mixerverbs

import (
	"context"
	"net/netip"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/liverun"
	"backfield/cmd/backfield/remote"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/simulated"
	"backfield/cmd/backfield/verb"
	"backfield/cue"
	"backfield/osc/wire"
)

// ownAddress is where --page without a value listens: on this machine only, at any free port.
const ownAddress = "127.0.0.1:0"

// runFlags are the flags of the verb run.
type runFlags struct {
	verb.ShowFlags
	to          []string
	rehearse    bool
	byClock     bool
	recall      bool
	text        bool
	closeOnExit bool
	listen      string
	midi        string
	from        []string
	journal     string
	journalCopy string
	inUse       bool
	beside      bool
	resume      string
	yes         bool
	restart     string

	page         string
	pageReadOnly bool
	pageFrom     []string
	pageNamed    []netip.Addr // of pageFrom

	standbyAt string
	standby   string
	key       string
	takeover  time.Duration
}

// args requires one SHOW. A flag whose value is optional takes the value after a "=" only; the message says so if it
// was written without.
func (f *runFlags) args(c *cobra.Command, args []string) error {
	if len(args) == 2 && f.resume == liverun.Newest {
		return verb.Usage("write --resume=%s, with the =", args[1])
	}
	if len(args) == 2 {
		for _, a := range args {
			if _, err := remote.Address(a); err == nil && f.page == ownAddress {
				return verb.Usage("write --page=%s, with the =", a)
			}
		}
	}
	return verb.OneShow(c, args)
}

// check refuses flags that do not fit together, or do not fit the show. It returns the machines that may send commands.
func (f *runFlags) check(s *show.Loaded, score string) ([]netip.Addr, error) {
	switch {
	case f.resume != "" && f.journal != "":
		return nil, verb.Usage("--resume continues the journal that it reads; leave --journal out")
	case f.inUse && f.resume == "":
		return nil, verb.Usage("--in-use is about the journal to resume; add --resume=FILE")
	case f.yes && f.resume == "" && f.restart == "":
		return nil, verb.Usage("--yes answers what --resume and --restart ask; add one of them")
	case f.restart != "" && (f.resume != "" || f.standby != ""):
		return nil, verb.Usage("--restart starts with everything closed; leave --resume and --standby out")
	case len(s.Show.Cues) == 0:
		return nil, verb.Wrong("%s: no cue to run; %s", score, cue.NoCues)
	case f.recall && s.Mixer.Recall == nil:
		return nil, verb.Wrong("--recall: mixer.toml has no [store] and [recall] (backfield help mixer)")
	}
	if err := f.checkPair(s); err != nil {
		return nil, err
	}
	named, err := f.named()
	if err != nil {
		return nil, err
	}
	if f.page == "" && len(f.pageFrom) > 0 {
		return nil, verb.Usage("--page-from needs a page; add --page")
	}
	if f.pageNamed, err = addresses("--page-from", f.pageFrom); err != nil {
		return nil, err
	}
	if f.page == "" && f.pageReadOnly {
		return nil, verb.Usage("--page-read-only needs a page; add --page")
	}
	if _, err := remote.Address(f.page); f.page != "" && err != nil {
		return nil, verb.Wrong("--page: %w", err)
	}
	return named, nil
}

// named lists the machines that may send commands.
func (f *runFlags) named() (list []netip.Addr, err error) {
	if f.listen == "" && len(f.from) > 0 {
		return nil, verb.Usage("--from says who may send commands, but nothing listens for them; add --listen " +
			"127.0.0.1:9100")
	}
	if f.listen != "" && len(f.from) == 0 {
		return nil, verb.Usage("--listen takes commands only from the machines after --from; " +
			"add --from ADDRESS-OF-THE-FOOTSWITCH")
	}
	return addresses("--from", f.from)
}

// mixers lists where to send. A rehearsal has a simulated mixer, which ends with the context.
func (f *runFlags) mixers(ctx context.Context, c *cobra.Command, s *show.Loaded) ([]string, error) {
	if f.rehearse {
		if len(f.to) > 0 {
			return nil, verb.Usage("--rehearse brings its own mixer; leave --to out")
		}
		_, at, err := simulated.Start(ctx, s.Mixer)
		if err != nil {
			return nil, verb.Outside(err)
		}
		return []string{at}, nil
	}
	if len(f.to) > 0 {
		for i, to := range f.to {
			if slices.Contains(f.to[:i], to) {
				return nil, verb.Usage("--to %s is given twice", to)
			}
			if _, err := wire.Address(to); err != nil {
				return nil, verb.Wrong("--to %w", err)
			}
		}
		return f.to, nil
	}
	return verb.MixerAddresses(c, "", s.Mixer)
}
