package machines

import (
	"encoding/json"
	"errors"
	"strings"
	"testing"
	"time"

	"backfield/osc/mixer"
	"backfield/osc/ping"
)

// For a mixer that cannot be queried, the text says what was found and why there was no query.
func TestPrintProbe(t *testing.T) {
	const at = "udp://127.0.0.1:9000"
	for want, x := range map[string]struct {
		at      string
		d       mixer.Mixer
		closed  bool
		packets int
	}{
		at + " is up, but its OSC port is closed\n": {at: at,
			closed: true},
		at + ": something is there: 2 packets came back\nwithout a mixer.toml, ping cannot know how to query it\n": {at: at,
			packets: 2},
		"tcp://127.0.0.1:9000: accepts the connection, but nothing shows that it is a mixer\n" +
			"mixer.toml has [echo] but no [query]: the mixer replies only when a value is set, and ping sets none\n": {
			at: "tcp://127.0.0.1:9000", d: mixer.Mixer{Echo: &mixer.Echo{}}},
	} {
		var b strings.Builder
		if err := PrintProbe(&b, x.at, &x.d, x.closed, x.packets); err != nil || b.String() != want {
			t.Errorf("%q, %v, want %q", b.String(), err, want)
		}
	}
}

// The text says how many replies came and how long they took, or why none came. JSON has null for times without
// replies.
func TestPing(t *testing.T) {
	const at = "udp://127.0.0.1:9000"
	none := ping.PingResult{Asked: 3, Unsent: errors.New("the network is down")}
	some := ping.PingResult{Asked: 4, RoundTrips: []time.Duration{time.Millisecond, 2 * time.Millisecond}, NoReply: []string{"/a"},
		Other: 1}
	for want, r := range map[string]ping.PingResult{
		at + ": no reply to 3 queries: the network is down\n": none,
		at + " replies: 2 of 4 queries\n" +
			"round trip: median 1.0 ms, 95 % within 2.0 ms, longest 2.0 ms\n" +
			"packet loss: 2 (50 %); out of order: 0; duplicates: 0\n" +
			"no reply for: /a (this counts as packet loss too)\n" +
			"1 other message came too\n": some,
	} {
		var b strings.Builder
		if err := PrintPing(&b, at, r); err != nil || b.String() != want {
			t.Errorf("%s%v\nwant\n%s", b.String(), err, want)
		}
	}
	for want, r := range map[string]ping.PingResult{
		`"median_ms":null,"within_95_ms":null,"most_ms":null,"never_answered":[]`:   none,
		`"median_ms":1,"within_95_ms":2,"most_ms":2,"never_answered":["/a"],"other`: some,
	} {
		if text, err := json.Marshal(PingOf(at, r)); err != nil || !strings.Contains(string(text), want) {
			t.Errorf("%s lacks %s (%v)", text, want, err)
		}
	}
}
