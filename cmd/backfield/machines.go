package main

import (
	"context"
	"errors"
	"fmt"
	"net/netip"
	"os"
	"os/signal"
	"slices"
	"strings"
	"time"
	"unicode"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/show"
	"backfield/layout/source"
	"backfield/osc/desk"
	"backfield/osc/discover"
	"backfield/osc/ping"
	"backfield/osc/wire"
)

func discoverCommand() *cobra.Command {
	var wait time.Duration
	var links []string
	var asJSON bool
	c := &cobra.Command{
		Use:   "discover",
		Short: "list the OSC services that machines on the network announce",
		Long: `Asks the local network, by DNS-SD over multicast DNS, which machines announce OSC services (_osc._udp and
_osc._tcp), and lists them with the line that desk.toml wants. It changes nothing anywhere.

A desk that is not listed may be there nonetheless: many announce nothing. And any machine can announce
anything: see that it is your desk before you send to it.
Exit code 0: asked, found or not, 3: no network could be asked.`,
		Args: exactly(0, "no argument"),
		RunE: func(c *cobra.Command, args []string) error {
			if wait < 100*time.Millisecond || wait > time.Minute {
				return wrong("--timeout %v; it is 100ms to 1m", wait)
			}
			on, err := discover.Links(links...)
			if none := (*discover.NoLink)(nil); errors.As(err, &none) {
				return wrong("--interface %q; %s", none.Name, source.DidYouMean(none.Name, none.Known, source.OneOfOr(none.Known, "this computer has none")))
			} else if err != nil {
				return world(err)
			}
			ctx, stop := signal.NotifyContext(c.Context(), os.Interrupt)
			defer stop()
			var names []string
			for _, l := range on {
				names = append(names, l.Name)
			}
			aside(c, "asking on %s for %v", strings.Join(names, ", "), wait)
			list, err := discover.Browse(ctx, on, wait)
			if err != nil {
				return world(err)
			}
			if asJSON {
				return writeJSON(c, serviceRows(list))
			}
			for _, r := range serviceRows(list) {
				fmt.Fprintf(c.OutOrStdout(), "%s\n", r.Name)
				for _, to := range r.To {
					fmt.Fprintf(c.OutOrStdout(), "    to = %q\n", to)
				}
				if len(r.To) == 0 {
					fmt.Fprintln(c.OutOrStdout(), "    it did not say where it is")
				}
				if r.Host != "" {
					fmt.Fprintf(c.OutOrStdout(), "    # %s\n", strings.Join(append([]string{r.Host}, r.Text...), ", "))
				}
			}
			if len(list) == 0 {
				aside(c, "nobody announces OSC; many desks do not: take the address from the desk's own network page")
			} else {
				aside(c, "%s; see that it is your desk before you send to it (backfield help machines)", plural(len(list), "service"))
			}
			return nil
		},
	}
	c.Flags().DurationVar(&wait, "timeout", 3*time.Second, "how `LONG` to wait for answers, 100ms to 1m")
	c.Flags().StringSliceVar(&links, "interface", nil, "ask on the network interface of this `NAME` only; again for another")
	c.Flags().BoolVar(&asJSON, "json", false, "print a JSON list")
	return c
}

// serviceRow is a service as it is told: nothing in it can steer a terminal.
type serviceRow struct {
	Name string   `json:"name"`
	Host string   `json:"host"`
	Port int      `json:"port"`
	To   []string `json:"to"` // what desk.toml takes
	Text []string `json:"text"`
}

func serviceRows(list []discover.Service) []serviceRow {
	rows := []serviceRow{}
	for _, s := range list {
		r := serviceRow{Name: harmless(s.Name), Host: harmless(s.Host), Port: s.Port, To: []string{}, Text: []string{}}
		for _, a := range s.Addrs {
			if s.Port > 0 {
				r.To = append(r.To, s.Scheme+"://"+netip.AddrPortFrom(a, uint16(s.Port)).String())
			}
		}
		for _, t := range s.Text {
			r.Text = append(r.Text, harmless(t))
		}
		rows = append(rows, r)
	}
	return rows
}

// longest is how much of a text from the network is shown.
const longest = 80

// harmless is a text from the network as it may be shown: what is no mark to be seen becomes a point, so that nobody far
// away steers the terminal or turns the writing around.
func harmless(text string) string {
	shown := []rune{}
	for _, r := range text {
		if len(shown) == longest {
			return string(append(shown, '…'))
		}
		if !unicode.IsPrint(r) {
			r = '·'
		}
		shown = append(shown, r)
	}
	return string(shown)
}

func pingCommand() *cobra.Command {
	var to string
	var asJSON bool
	plan := ping.Plan{}
	c := &cobra.Command{
		Use:   "ping DESK",
		Short: "say whether a desk answers, how far it is and how lossy the road",
		Long: `Asks the desk for values that it holds, by [query] of desk.toml, and says how many answers came and how long
they took, there and back. It sets nothing. DESK is a desk.toml, or a SHOW, or HOST:PORT.

A desk without [query] cannot be asked, nor one of which only HOST:PORT is known: of that one it can only
say whether the machine says that the port is closed, and over TCP whether it takes the connection.
Exit code 0: it answers (or, where it cannot be asked, nothing says that it is not there), 1: the desk file
has errors, 3: it does not answer, or could not be reached.`,
		Args: exactly(1, "one DESK, SHOW or HOST:PORT"),
		RunE: func(c *cobra.Command, args []string) error {
			switch {
			case plan.Count < 1 || plan.Count > 10_000:
				return wrong("--count %d; it is 1 to 10000", plan.Count)
			case plan.Every < time.Millisecond || plan.Every > time.Minute:
				return wrong("--every %v; it is 1ms to 1m", plan.Every)
			case plan.Wait < time.Millisecond || plan.Wait > time.Minute:
				return wrong("--timeout %v; it is 1ms to 1m", plan.Wait)
			}
			d, at, err := pinged(c, args[0], to)
			if err != nil {
				return err
			}
			link, err := wire.Open(at)
			if err != nil {
				return world(err)
			}
			defer link.Close()
			ctx, stop := signal.NotifyContext(c.Context(), os.Interrupt)
			defer stop()
			if d.Query == nil {
				return knock(ctx, c, link, d, at, plan.Wait)
			}
			aside(c, "asking %s for %s, one every %v", at, plural(plan.Count, "value"), plan.Every)
			r, err := ping.Ask(ctx, link, d, plan)
			if err != nil {
				return world(err)
			}
			if asJSON {
				err = writeJSON(c, pingRowOf(at, r))
			} else {
				err = world(tellRoad(c, at, r))
			}
			if err == nil && len(r.Trips) == 0 {
				return told(exitWorld)
			}
			return err
		},
	}
	f := c.Flags()
	f.StringVar(&to, "to", "", "ask the desk at this `HOST:PORT` in place of the desk file's")
	f.IntVar(&plan.Count, "count", 20, "how `MANY` values to ask for")
	f.DurationVar(&plan.Every, "every", 100*time.Millisecond, "the `TIME` from one to the next")
	f.DurationVar(&plan.Wait, "timeout", time.Second, "how `LONG` to wait for an answer")
	f.BoolVar(&asJSON, "json", false, "print JSON")
	return c
}

// pinged is the desk that an argument means, and where it is.
func pinged(c *cobra.Command, arg, to string) (*desk.Desk, string, error) {
	d := &desk.Desk{}
	if _, err := os.Stat(arg); err == nil {
		path, err := deskFile(arg)
		if err != nil {
			return nil, "", err
		}
		if d, err = readDesk(c, path); err != nil {
			return nil, "", err
		}
	} else if _, err := wire.Address(arg); err != nil {
		return nil, "", wrong("%s is no file that is there, and as an address %v", arg, err)
	} else {
		d.To.V = arg
	}
	at, err := address(c, to, d)
	return d, at, err
}

// deskFile is the desk file that a path means: itself, or the one that a show names.
func deskFile(path string) (string, error) {
	if score, found, err := show.DeskOf(show.Disk{}, show.Path(path)); err != nil {
		return "", world(fmt.Errorf("%s %w", show.Path(path), err))
	} else if score && found == "" {
		return "", wrong("%s names no desk", show.Path(path))
	} else if score {
		return found, nil
	}
	return path, nil
}

// knock tells what can be known of a desk that cannot be asked.
func knock(ctx context.Context, c *cobra.Command, link wire.Link, d *desk.Desk, at string, wait time.Duration) error {
	out := c.OutOrStdout()
	closed, packets, err := ping.Knock(ctx, link, d, wait)
	target, _ := wire.Address(at)
	switch {
	case err != nil:
		return world(err)
	case closed:
		fmt.Fprintf(out, "%s: the machine is there, and says that nothing listens at this port\n", at)
		return told(exitWorld)
	case packets > 0:
		fmt.Fprintf(out, "%s: something is there: %s heard\n", at, plural(packets, "packet"))
	case target.Scheme != "udp":
		fmt.Fprintf(out, "%s: it takes the connection; whether a desk is behind it, nothing tells\n", at)
	default:
		fmt.Fprintf(out, "%s: nothing says that the port is closed, and nothing that a desk is there\n", at)
	}
	reason := "without a desk.toml it is not known how to ask"
	switch {
	case d.Echo != nil:
		reason = "desk.toml has [echo] and no [query]: only setting a value would bring an answer, and ping sets nothing"
	case len(d.Params) > 0:
		reason = "desk.toml has no [query]: this desk cannot be asked (backfield help desk)"
	}
	fmt.Fprintln(out, reason)
	return nil
}

// tellRoad tells people what came of a ping.
func tellRoad(c *cobra.Command, at string, r ping.Report) error {
	out := c.OutOrStdout()
	if len(r.Trips) == 0 {
		what := "no answer to " + plural(r.Asked, "question")
		switch {
		case r.Closed:
			what += ": the machine is there, and says that nothing listens at this port"
		case r.Unsent != nil:
			what += ": " + r.Unsent.Error()
		case r.Other > 0:
			what += fmt.Sprintf(", though %s came: is [query] as the desk wants it?", plural(r.Other, "other message"))
		}
		_, err := fmt.Fprintf(out, "%s: %s\n", at, what)
		return err
	}
	fmt.Fprintf(out, "%s answers: %d of %s\n", at, len(r.Trips), plural(r.Asked, "question"))
	fmt.Fprintf(out, "there and back: %s in the middle, %s for 95 %%, %s at most\n", trip(r.Within(0.5)), trip(r.Within(0.95)), trip(r.Within(1)))
	fmt.Fprintf(out, "lost, there or back: %d (%.0f %%); overtaken: %d; came twice: %d\n", r.Lost(), ping.Share(r.Lost(), r.Asked), r.Overtaken, r.Doubled)
	if r.Unsent != nil {
		fmt.Fprintf(out, "some of these were not sent at all: %v\n", r.Unsent)
	}
	if len(r.Never) > 0 {
		fmt.Fprintf(out, "never answered: %s; so the loss may be the desk's and not the road's\n", strings.Join(r.Never, ", "))
	}
	if r.Other > 0 {
		fmt.Fprintf(out, "%s besides that answered nothing\n", plural(r.Other, "message"))
	}
	return nil
}

func trip(d time.Duration) string { return fmt.Sprintf("%.1f ms", float64(d.Microseconds())/1000) }

// pingRow is a ping as --json prints it; times are null where nothing was answered.
type pingRow struct {
	To         string   `json:"to"`
	Asked      int      `json:"asked"`
	Answered   int      `json:"answered"`
	LostShare  float64  `json:"lost_share"`
	Overtaken  int      `json:"overtaken"`
	Doubled    int      `json:"doubled"`
	PortClosed bool     `json:"port_closed"`
	MedianMS   *float64 `json:"median_ms"`
	Within95MS *float64 `json:"within_95_ms"`
	MostMS     *float64 `json:"most_ms"`
	Never      []string `json:"never_answered"`
	Other      int      `json:"other_messages"`   // that answered nothing
	Unsent     string   `json:"unsent,omitempty"` // why some were not sent
}

func pingRowOf(at string, r ping.Report) pingRow {
	row := pingRow{To: at, Asked: r.Asked, Answered: len(r.Trips), LostShare: ping.Share(r.Lost(), r.Asked) / 100, Overtaken: r.Overtaken, Doubled: r.Doubled, PortClosed: r.Closed, Other: r.Other,
		Never: append([]string{}, slices.Clone(r.Never)...)}
	if r.Unsent != nil {
		row.Unsent = r.Unsent.Error()
	}
	for share, into := range map[float64]**float64{0.5: &row.MedianMS, 0.95: &row.Within95MS, 1: &row.MostMS} {
		if len(r.Trips) > 0 {
			ms := float64(r.Within(share).Microseconds()) / 1000
			*into = &ms
		}
	}
	return row
}
