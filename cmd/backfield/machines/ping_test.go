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

// What is said of a mixer that cannot be asked says what was found, and why nothing was asked.
func TestPrintKnock(t *testing.T) {
	const at = "udp://127.0.0.1:9000"
	for want, x := range map[string]struct {
		at      string
		d       mixer.Mixer
		closed  bool
		packets int
	}{
		at + ": the machine is there, and says that nothing listens at this port\n": {at: at,
			closed: true},
		at + ": something is there: 2 packets heard\nwithout a mixer.toml it is not known how to ask\n": {at: at,
			packets: 2},
		"tcp://127.0.0.1:9000: it takes the connection; whether a mixer is behind it, nothing tells\n" +
			"mixer.toml has [echo] and no [query]: only setting a value would bring an answer, and ping sets " +
			"nothing\n": {
			at: "tcp://127.0.0.1:9000", d: mixer.Mixer{Echo: &mixer.Echo{}}},
	} {
		var b strings.Builder
		if err := PrintProbe(&b, x.at, &x.d, x.closed, x.packets); err != nil || b.String() != want {
			t.Errorf("%q, %v, want %q", b.String(), err, want)
		}
	}
}

// A report says how many answers came and how long they took, or why there were none; JSON has null for times that are not.
func TestPing(t *testing.T) {
	const at = "udp://127.0.0.1:9000"
	none := ping.Result{Asked: 3, Unsent: errors.New("the network is down")}
	some := ping.Result{Asked: 4, RoundTrips: []time.Duration{time.Millisecond, 2 * time.Millisecond}, NoReply: []string{"/a"},
		Other: 1}
	for want, r := range map[string]ping.Result{
		at + ": no answer to 3 questions: the network is down\n": none,
		at + " answers: 2 of 4 questions\n" +
			"there and back: 1.0 ms in the middle, 2.0 ms for 95 %, 2.0 ms at most\n" +
			"lost, there or back: 2 (50 %); overtaken: 0; came twice: 0\n" +
			"never answered: /a; so the loss may be the mixer's and not the road's\n" +
			"1 message besides that answered nothing\n": some,
	} {
		var b strings.Builder
		if err := PrintPing(&b, at, r); err != nil || b.String() != want {
			t.Errorf("%s%v\nwant\n%s", b.String(), err, want)
		}
	}
	for want, r := range map[string]ping.Result{
		`"median_ms":null,"within_95_ms":null,"most_ms":null,"never_answered":[]`:   none,
		`"median_ms":1,"within_95_ms":2,"most_ms":2,"never_answered":["/a"],"other`: some,
	} {
		if text, err := json.Marshal(PingOf(at, r)); err != nil || !strings.Contains(string(text), want) {
			t.Errorf("%s lacks %s (%v)", text, want, err)
		}
	}
}
