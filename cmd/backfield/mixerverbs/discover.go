package mixerverbs

import (
	"errors"
	"os"
	"os/signal"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/machines"
	"backfield/cmd/backfield/verb"
	"backfield/layout/source"
	"backfield/osc/discover"
)

// Discover is the verb that lists the OSC services on the network.
func Discover() *cobra.Command {
	var wait time.Duration
	var links []string
	var asJSON bool
	c := &cobra.Command{
		Use:   "discover",
		Short: "list the OSC services that are announced on the network",
		Long: `Asks the local network which machines announce OSC services (_osc._udp and _osc._tcp, DNS-SD over multicast
DNS), and lists them with the line to write into mixer.toml. It changes nothing.

Many mixers announce nothing, so yours may be there even if it is not listed. And any machine can announce
anything: make sure that it is your mixer before you send to it.
Exit code 0: asked, whether or not it found any, 3: no network could be asked.`,
		Args: verb.Exactly(0, "no argument"),
		RunE: func(c *cobra.Command, args []string) error {
			if wait < 100*time.Millisecond || wait > time.Minute {
				return verb.Wrong("--timeout %v is out of range (100ms to 1m)", wait)
			}
			on, err := discover.Links(links...)
			if none := (*discover.NoLink)(nil); errors.As(err, &none) {
				return verb.Wrong("--interface %q; %s", none.Name, source.DidYouMean(none.Name, none.Known,
					source.OneOfOr(none.Known, "this computer has none")))
			} else if err != nil {
				return verb.Outside(err)
			}
			ctx, stop := signal.NotifyContext(c.Context(), os.Interrupt)
			defer stop()
			var names []string
			for _, l := range on {
				names = append(names, l.Name)
			}
			verb.Note(c, "asking on %s for %v", strings.Join(names, ", "), wait)
			list, err := discover.Browse(ctx, on, wait)
			if err != nil {
				return verb.Outside(err)
			}
			services := machines.Services(list)
			if asJSON {
				return verb.WriteJSON(c, services)
			}
			machines.PrintServices(c.OutOrStdout(), services)
			if len(list) == 0 {
				verb.Note(c, "no OSC services found; many mixers announce none: take the address from the mixer's "+
					"network page")
			} else {
				verb.Note(c, "%s; make sure that it is your mixer before you send to it (backfield help network)",
					verb.Plural(len(list), "service"))
			}
			return nil
		},
	}
	c.Flags().DurationVar(&wait, "timeout", 3*time.Second, "how `LONG` to wait for replies, 100ms to 1m")
	c.Flags().StringSliceVar(&links, "interface", nil,
		"ask only on the network interface with this `NAME`; repeat for more")
	c.Flags().BoolVar(&asJSON, "json", false, "print a JSON list")
	return c
}
