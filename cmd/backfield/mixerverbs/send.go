package mixerverbs

import (
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/compiled"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/verb"
	"backfield/layout/source"
	"backfield/osc/wire"
)

// refusalWait is how long send waits for a report that the port is closed, or over TCP for the mixer to read what was
// sent and close; on one machine both come at once.
const refusalWait = 60 * time.Millisecond

// Send is the verb that sends one cue to a mixer.
func Send() *cobra.Command {
	var flags verb.ShowFlags
	var to string
	var dry bool
	c := &cobra.Command{
		Use:   "send SHOW CUE",
		Short: "send one cue's full snapshot to the mixer as OSC",
		Long: `Sends the full state of one cue to the mixer in mixer.toml (by default 127.0.0.1:9000) or after --to, over
UDP, or over TCP if the address says so. It overwrites what the mixer holds. Before the first try, turn the
amplifiers down and keep people away from the loudspeakers.
Exit code 0: sent, 1: the show has errors, 3: a file could not be read, or the cue could not be sent.`,
		Args: verb.Exactly(2, "SHOW and CUE"),
		RunE: func(c *cobra.Command, args []string) error {
			s, _, err := flags.Compiled(c, show.Disk{}, args[0])
			if err != nil {
				return err
			}
			snapshot, ok := s.Show.Find(args[1])
			if !ok {
				return verb.Wrong("no cue %q; %s", args[1], source.DidYouMean(args[1], verb.CueIDs(s.Show),
					"it is "+source.OneOf(verb.CueIDs(s.Show))))
			}
			to, err := verb.Address(c, to, s.Mixer)
			if err != nil {
				return err
			}
			list := s.Mixer.Go(nil, snapshot)
			packets, err := wire.Pack(list, s.Mixer.Bundle, s.Mixer.MaxPacket)
			if err != nil {
				return verb.Outside(err)
			}
			if dry {
				for _, m := range list {
					fmt.Fprintln(c.OutOrStdout(), m)
				}
				return nil
			}
			link, err := wire.Open(to)
			if err != nil {
				return verb.Outside(err)
			}
			defer link.Close()
			if err := wire.Send(link, packets, s.Mixer.Rate, wire.Wall{}); err != nil {
				return verb.Outside(err)
			}
			if err := link.Settle(refusalWait); err != nil {
				return verb.Outside(err)
			}
			target, _ := wire.Address(to)
			verb.Note(c, "sent %s: %s in %s to %s (%s; send does not ask for a reply, so look at the mixer)",
				compiled.Title(snapshot), verb.Plural(len(list), "message"), verb.Plural(len(packets),
					"packet"), to, strings.ToUpper(target.Scheme))
			return nil
		},
	}
	flags.Add(c)
	c.Flags().StringVar(&to, "to", "", "send to this `HOST:PORT` instead of the mixer file's")
	c.Flags().BoolVar(&dry, "dry-run", false, "print the messages and send nothing")
	return c
}
