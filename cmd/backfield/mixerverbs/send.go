package mixerverbs

import (
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/compiled"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/verb"
	"backfield/cue"
	"backfield/layout/source"
	"backfield/osc/wire"
)

// refusalWait is how long send waits for a report that the port is closed, or over TCP for the mixer to read what was
// sent and close; on one machine both come at once.
const refusalWait = 60 * time.Millisecond

// sendFlags are what the command line says about sending.
type sendFlags struct {
	show verb.ShowFlags
	to   string // empty for the mixer file's address
	dry  bool
}

// Send is the verb that sends one cue to a mixer.
func Send() *cobra.Command {
	var flags sendFlags
	c := &cobra.Command{
		Use:   "send SHOW CUE",
		Short: "send one cue's full snapshot to the mixer as OSC",
		Long: `Sends the full state of one cue to the mixer in mixer.toml (by default 127.0.0.1:9000) or after --to, over
UDP, or over TCP if the address says so. It overwrites what the mixer holds. Before the first try, turn the
amplifiers down and keep people away from the loudspeakers.
Exit code 0: sent, 1: the show has errors, 3: a file could not be read, or the cue could not be sent.`,
		Args: verb.Exactly(2, "SHOW and CUE"),
		RunE: func(c *cobra.Command, args []string) error { return flags.run(c, args[0], args[1]) },
	}
	flags.show.Add(c)
	c.Flags().StringVar(&flags.to, "to", "", "send to this `HOST:PORT` instead of the mixer file's")
	c.Flags().BoolVar(&flags.dry, "dry-run", false, "print the messages and send nothing")
	return c
}

func (x *sendFlags) run(c *cobra.Command, path, id string) error {
	s, _, err := x.show.Compiled(c, show.Disk{}, path)
	if err != nil {
		return err
	}
	snapshot, ok := s.Show.Find(id)
	if !ok {
		return verb.Wrong("no cue %q; %s", id, source.DidYouMean(id, verb.CueIDs(s.Show),
			source.OneOfOr(verb.CueIDs(s.Show), cue.NoCues)))
	}
	to, err := verb.Address(c, x.to, s.Mixer)
	if err != nil {
		return err
	}
	list := s.Mixer.Go(nil, snapshot)
	packets, err := wire.Pack(list, s.Mixer.Bundle, s.Mixer.MaxPacket)
	if err != nil {
		return verb.Outside(err)
	}
	if x.dry {
		for _, m := range list {
			fmt.Fprintln(c.OutOrStdout(), m)
		}
		return nil
	}
	if err := sendTo(to, packets, s.Mixer.Rate); err != nil {
		return verb.Outside(err)
	}
	target, _ := wire.Address(to)
	verb.Note(c, "sent %s: %s in %s to %s (%s; send does not ask for a reply, so look at the mixer)",
		compiled.Title(snapshot), verb.Plural(len(list), "message"), verb.Plural(len(packets), "packet"), to,
		strings.ToUpper(target.Scheme))
	return nil
}

// sendTo sends packets at a rate, in messages a second, and waits for a report that nothing takes them.
func sendTo(to string, packets [][]byte, rate int) error {
	link, err := wire.Open(to)
	if err != nil {
		return err
	}
	defer link.Close()
	if err := wire.Send(link, packets, rate, wire.Wall{}); err != nil {
		return err
	}
	return link.Settle(refusalWait)
}
