package machines

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"backfield/osc/mixer"
	"backfield/osc/ping"
	"backfield/osc/wire"
)

// PrintProbe writes what is known of the mixer at an address that cannot be queried: whether its port is closed, how
// many packets came from it, and why it was not queried.
func PrintProbe(w io.Writer, at string, d *mixer.Mixer, closed bool, packets int) error {
	if closed {
		_, err := fmt.Fprintln(w, at+portClosed)
		return err
	}
	target, _ := wire.Address(at)
	found := "nothing came back: the mixer may be there, off, or elsewhere"
	switch {
	case packets > 0:
		found = fmt.Sprintf("something is there: %s came back", count(packets, "packet"))
	case target.Scheme != "udp":
		found = "accepts the connection, but nothing shows that it is a mixer"
	}
	reason := "without a mixer.toml, ping cannot know how to query it"
	switch {
	case d.Echo != nil:
		reason = "mixer.toml has [echo] but no [query]: the mixer replies only when a value is set, and ping sets none"
	case len(d.Params) > 0:
		reason = "mixer.toml has no [query], so ping cannot query this mixer (backfield help mixer)"
	}
	_, err := fmt.Fprintf(w, "%s: %s\n%s\n", at, found, reason)
	return err
}

// portClosed is said after an address.
const portClosed = " is up, but its OSC port is closed"

// PrintPing writes how the mixer at an address replied. It returns the error of w.
func PrintPing(w io.Writer, at string, r ping.PingResult) error {
	lines := repliedLines(at, r)
	if len(r.RoundTrips) == 0 {
		lines = []string{noReply(at, r)}
	}
	_, err := fmt.Fprintln(w, strings.Join(lines, "\n"))
	return err
}

func noReply(at string, r ping.PingResult) string {
	what := "no reply to " + queries(r.Asked)
	switch {
	case r.PortClosed:
		return at + portClosed + ": " + what
	case r.Unsent != nil:
		what += ": " + r.Unsent.Error()
	case r.Other > 0:
		what += fmt.Sprintf(", but %s came: check [query] in mixer.toml", count(r.Other, "other message"))
	}
	return at + ": " + what
}

func queries(n int) string {
	if n == 1 {
		return "1 query"
	}
	return fmt.Sprintf("%d queries", n)
}

func repliedLines(at string, r ping.PingResult) []string {
	lines := []string{
		fmt.Sprintf("%s replies: %d of %s", at, len(r.RoundTrips), queries(r.Asked)),
		fmt.Sprintf("round trip: median %s, 95 %% within %s, longest %s",
			trip(r.Within(0.5)), trip(r.Within(0.95)), trip(r.Within(1))),
		fmt.Sprintf("packet loss: %d (%.0f %%); out of order: %d; duplicates: %d",
			r.Lost(), ping.Share(r.Lost(), r.Asked), r.OutOfOrder, r.Duplicates),
	}
	if r.Unsent != nil {
		lines = append(lines, fmt.Sprintf("some of these were not sent: %v", r.Unsent))
	}
	if len(r.NoReply) > 0 {
		lines = append(lines, fmt.Sprintf("no reply for: %s (this counts as packet loss too)",
			strings.Join(r.NoReply, ", ")))
	}
	if r.Other > 0 {
		lines = append(lines, fmt.Sprintf("%s came too", count(r.Other, "other message")))
	}
	return lines
}

func trip(d time.Duration) string { return fmt.Sprintf("%.1f ms", milliseconds(d)) }

func milliseconds(d time.Duration) float64 { return float64(d.Microseconds()) / 1000 }

// Ping is how a mixer replied, as JSON. Times are null if it never replied.
type Ping struct {
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
	Other      int      `json:"other_messages"`   // messages that are not replies
	Unsent     string   `json:"unsent,omitempty"` // why some were not sent
}

// PingOf is the report of a ping to an address.
func PingOf(at string, r ping.PingResult) Ping {
	p := Ping{To: at, Asked: r.Asked, Answered: len(r.RoundTrips), LostShare: ping.Share(r.Lost(), r.Asked) / 100,
		Overtaken: r.OutOfOrder, Doubled: r.Duplicates, PortClosed: r.PortClosed, Other: r.Other,
		Never: append([]string{}, slices.Clone(r.NoReply)...)}
	if r.Unsent != nil {
		p.Unsent = r.Unsent.Error()
	}
	if len(r.RoundTrips) > 0 {
		p.MedianMS, p.Within95MS, p.MostMS = withinMS(r, 0.5), withinMS(r, 0.95), withinMS(r, 1)
	}
	return p
}

// withinMS is the time within which this share of the replies came, in ms.
func withinMS(r ping.PingResult, share float64) *float64 {
	ms := milliseconds(r.Within(share))
	return &ms
}
