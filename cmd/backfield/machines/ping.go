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

// PrintKnock writes what is known of a mixer that cannot be asked: whether it said that its port is closed, how many packets
// were heard from it, and why it was not asked. at is its address.
func PrintProbe(w io.Writer, at string, d *mixer.Mixer, closed bool, packets int) error {
	if closed {
		_, err := fmt.Fprintf(w, "%s: the machine is there, and says that nothing listens at this port\n", at)
		return err
	}
	target, _ := wire.Address(at)
	found := "nothing says that the port is closed, and nothing that a mixer is there"
	switch {
	case packets > 0:
		found = fmt.Sprintf("something is there: %s heard", count(packets, "packet"))
	case target.Scheme != "udp":
		found = "it takes the connection; whether a mixer is behind it, nothing tells"
	}
	reason := "without a mixer.toml it is not known how to ask"
	switch {
	case d.Echo != nil:
		reason = "mixer.toml has [echo] and no [query]: only setting a value would bring an answer, and ping sets " +
			"nothing"
	case len(d.Params) > 0:
		reason = "mixer.toml has no [query]: this mixer cannot be asked (backfield help mixer)"
	}
	_, err := fmt.Fprintf(w, "%s: %s\n%s\n", at, found, reason)
	return err
}

// PrintPing writes how the mixer at an address answered. It returns the error of w.
func PrintPing(w io.Writer, at string, r ping.Result) error {
	lines := repliedLines(at, r)
	if len(r.RoundTrips) == 0 {
		lines = []string{at + ": " + noReply(r)}
	}
	_, err := fmt.Fprintln(w, strings.Join(lines, "\n"))
	return err
}

func noReply(r ping.Result) string {
	what := "no answer to " + count(r.Asked, "question")
	switch {
	case r.PortClosed:
		what += ": the machine is there, and says that nothing listens at this port"
	case r.Unsent != nil:
		what += ": " + r.Unsent.Error()
	case r.Other > 0:
		what += fmt.Sprintf(", though %s came: is [query] as the mixer wants it?", count(r.Other, "other message"))
	}
	return what
}

func repliedLines(at string, r ping.Result) []string {
	lines := []string{
		fmt.Sprintf("%s answers: %d of %s", at, len(r.RoundTrips), count(r.Asked, "question")),
		fmt.Sprintf("there and back: %s in the middle, %s for 95 %%, %s at most",
			trip(r.Within(0.5)), trip(r.Within(0.95)), trip(r.Within(1))),
		fmt.Sprintf("lost, there or back: %d (%.0f %%); overtaken: %d; came twice: %d",
			r.Lost(), ping.Share(r.Lost(), r.Asked), r.OutOfOrder, r.Duplicates),
	}
	if r.Unsent != nil {
		lines = append(lines, fmt.Sprintf("some of these were not sent at all: %v", r.Unsent))
	}
	if len(r.NoReply) > 0 {
		lines = append(lines, fmt.Sprintf("never answered: %s; so the loss may be the mixer's and not the road's",
			strings.Join(r.NoReply, ", ")))
	}
	if r.Other > 0 {
		lines = append(lines, fmt.Sprintf("%s besides that answered nothing", count(r.Other, "message")))
	}
	return lines
}

func trip(d time.Duration) string { return fmt.Sprintf("%.1f ms", milliseconds(d)) }

func milliseconds(d time.Duration) float64 { return float64(d.Microseconds()) / 1000 }

// Ping is how a mixer answered, as JSON. Times are null where nothing was answered.
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
	Other      int      `json:"other_messages"`   // that answered nothing
	Unsent     string   `json:"unsent,omitempty"` // why some were not sent
}

// PingOf is the report of a ping to an address.
func PingOf(at string, r ping.Result) Ping {
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

// withinMS is the time within which a share of the answers came.
func withinMS(r ping.Result, share float64) *float64 {
	ms := milliseconds(r.Within(share))
	return &ms
}
