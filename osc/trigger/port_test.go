package trigger

import (
	"errors"
	"fmt"
	"net"
	"net/netip"
	"os"
	"os/exec"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"backfield/osc"
	"backfield/osc/run"
	"backfield/osc/wire"
)

// Counts returns the counts so far.
func (o *commandQueue) Counts() PortCounts {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.counts
}

var home = netip.MustParseAddr("127.0.0.1")

// leakless fails a test that leaves goroutines behind.
func leakless(t *testing.T) {
	t.Helper()
	before := runtime.NumGoroutine()
	t.Cleanup(func() {
		for end := time.Now().Add(5 * time.Second); runtime.NumGoroutine() > before; time.Sleep(5 * time.Millisecond) {
			if time.Now().After(end) {
				text := make([]byte, 1<<16)
				t.Fatalf("%d goroutines, %d before\n%s", runtime.NumGoroutine(), before,
					text[:runtime.Stack(text, true)])
			}
		}
	})
}

// box is what a Port's callbacks were given.
type box struct {
	mu             sync.Mutex
	orders, spoken []string
	at             []time.Time // of spoken
}

func (b *box) do(c run.Command, from string) (string, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.orders = append(b.orders, c.String())
	if c.Verb == run.Back {
		return "", errors.New("this is the beginning")
	}
	return "done", nil
}

func (b *box) report(text string, _ bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.spoken, b.at = append(b.spoken, text), append(b.at, time.Now())
}

func (b *box) has() (orders, spoken []string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return slices.Clone(b.orders), slices.Clone(b.spoken)
}

func port(t *testing.T, at string, named netip.Addr, do func(run.Command, string) (string, error),
	report Report) *Port {
	t.Helper()
	r, err := Listen(at, []netip.Addr{named}, nil, do, report)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { r.Close() })
	return r
}

func link(t *testing.T, r *Port) wire.Link {
	t.Helper()
	l, err := wire.Open(r.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	return l
}

func within(t *testing.T, most time.Duration, what string, ok func() bool) {
	t.Helper()
	for end := time.Now().Add(most); !ok(); time.Sleep(2 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("not within %v: %s", most, what)
		}
	}
}

func TestPort(t *testing.T) {
	for _, scheme := range []string{"udp", "tcp", "slip"} {
		t.Run(scheme, func(t *testing.T) {
			leakless(t)
			var b box
			r := port(t, scheme+"://127.0.0.1:0", home, b.do, b.report)
			l := link(t, r)
			for _, x := range []osc.Message{m("/backfield/go", osc.Bool(true)), m("/backfield/go", osc.Bool(false)),
				m("/backfield/jump", osc.String("set 2")), m("/backfield/back"), m("/backfield/quit"),
				m("/backfield/go", osc.String("x"))} {
				if err := l.Write(wire.Encode(x)); err != nil {
					t.Fatal(err)
				}
			}
			both, err := wire.Pack([]osc.Message{m("/backfield/hush"), m("/backfield/unhush")}, true, 1000)
			if err != nil || len(both) != 1 {
				t.Fatal(both, err)
			}
			nine, err := wire.Pack(slices.Repeat([]osc.Message{m("/backfield/hush")}, 9), true, 1000)
			if err != nil || len(nine) != 1 {
				t.Fatal(nine, err)
			}
			for _, packet := range [][]byte{both[0], nine[0], []byte("no osc! "),
				wire.Encode(m("/backfield/jump", osc.String(strings.Repeat("x", maxBytes))))} {
				if err := l.Write(packet); err != nil {
					t.Fatal(err)
				}
			}
			want := PortCounts{Packets: 10, Malformed: 3, Refused: 2, Released: 1, Failed: 1, Done: 4}
			within(t, 5*time.Second, "all is counted", func() bool { return r.Counts() == want || t.Failed() })
			orders, _ := b.has()
			if got := strings.Join(orders, ", "); got != "go, jump set 2, back, hush, unhush" {
				t.Errorf("carried out: %s", got)
			}
			within(t, 5*time.Second, "each is reported, and the packets that are no commands together", func() bool {
				_, spoken := b.has()
				text := strings.Join(spoken, "\n")
				return len(spoken) == 4 && strings.Contains(text, "back: this is the beginning") &&
					strings.Contains(text, "/backfield/quit takes the text") && strings.Contains(text, "127.0.0.1")
			})
			if err := r.Close(); err != nil {
				t.Error(err)
			}
			if err := r.Close(); err != nil {
				t.Error(err)
			}
		})
	}
}

func TestRemoteNames(t *testing.T) {
	for _, list := range [][]netip.Addr{nil, {{}}, {netip.IPv4Unspecified()}, {home, netip.IPv6Unspecified()},
		{netip.MustParseAddr("224.0.0.1")}} {
		if r, err := Listen("127.0.0.1:0", list, nil, nil, nil); err == nil {
			r.Close()
			t.Errorf("%v may give commands", list)
		}
	}
	if r, err := Listen("rubbish", []netip.Addr{home}, nil, nil, nil); err == nil {
		r.Close()
		t.Error("it listens at rubbish")
	}
}

// A stranger is counted and reported once, however much it sends; where the address of a machine is written as IPv6
// has it, it is the same machine.
func TestStranger(t *testing.T) {
	leakless(t)
	var b box
	r := port(t, "127.0.0.1:0", netip.MustParseAddr("192.0.2.1"), b.do, b.report) // RFC 5737: nobody's
	l := link(t, r)
	for range 500 {
		l.Write(wire.Encode(m("/backfield/go")))
	}
	within(t, 5*time.Second, "strangers are counted", func() bool { return r.Counts().Strangers > 400 })
	within(t, 5*time.Second, "they are reported", func() bool { _, spoken := b.has(); return len(spoken) > 0 })
	orders, spoken := b.has()
	if len(orders) > 0 || len(spoken) != 1 || !strings.Contains(spoken[0], "127.0.0.1") ||
		!strings.Contains(spoken[0], "may not send commands") {
		t.Errorf("carried out: %v; reported: %q", orders, spoken)
	}

	mapped := port(t, "127.0.0.1:0", netip.MustParseAddr("::ffff:127.0.0.1"), b.do, b.report)
	link(t, mapped).Write(wire.Encode(m("/backfield/go")))
	within(t, 5*time.Second, "the same machine", func() bool { return mapped.Counts().Done == 1 })
}

// Twenty commands go through at once, and no more in any second; other commands wait for none of them.
func TestRate(t *testing.T) {
	leakless(t)
	var w rateWindow
	start := time.Unix(1_700_000_000, 0)
	var passed []time.Time
	for i := range 3000 { // one a ms
		if now := start.Add(time.Duration(i) * time.Millisecond); w.admit(now) {
			passed = append(passed, now)
		}
	}
	if len(passed) != 3*maxPerSecond {
		t.Errorf("%d of 3 s pass", len(passed))
	}
	for i := maxPerSecond; i < len(passed); i++ {
		if d := passed[i].Sub(passed[i-maxPerSecond]); d < time.Second {
			t.Errorf("%d within %v", maxPerSecond+1, d)
		}
	}

	var b box
	r := port(t, "127.0.0.1:0", home, b.do, b.report)
	one, other := link(t, r), link(t, r) // the same machine
	for range 50 {
		one.Write(wire.Encode(m("/backfield/start")))
		other.Write(wire.Encode(m("/backfield/unhush")))
		time.Sleep(200 * time.Microsecond)
	}
	within(t, 5*time.Second, "all are counted", func() bool { c := r.Counts(); return c.Done+c.Flooded == 100 })
	if c := r.Counts(); c.Done < 10 || c.Done > 2*maxPerSecond { // a slow machine may take over a second
		t.Errorf("%+v", c)
	}
}

// A run that hangs holds nothing up but itself: what comes meanwhile is counted, and little of it waits.
func TestPortOfAHangingRun(t *testing.T) {
	leakless(t)
	var b box
	hang := make(chan struct{})
	r := port(t, "127.0.0.1:0", home, func(c run.Command, from string) (string,
		error) {
		<-hang
		return b.do(c, from)
	}, b.report)
	l := link(t, r)
	for range maxPerSecond {
		l.Write(wire.Encode(m("/backfield/stop")))
	}
	l.Write([]byte("rubbish!"))
	within(t, 5*time.Second, "what cannot wait is dropped",
		func() bool { c := r.Counts(); return c.Flooded >= maxPerSecond-maxWaiting-1 && c.Malformed == 1 })
	within(t, 5*time.Second, "it is reported", func() bool { _, spoken := b.has(); return len(spoken) == 2 })
	close(hang)
	r.Close()
	if orders, _ := b.has(); len(orders) < maxWaiting || len(orders) > maxWaiting+1 {
		t.Errorf("%d were carried out", len(orders))
	}
}

// oscsend of liblo, which others wrote, works as a trigger.
func TestOscsend(t *testing.T) {
	path, err := exec.LookPath("oscsend")
	if err != nil {
		if os.Getenv("BACKFIELD_REQUIRE_TOOLS") != "" {
			t.Fatal("oscsend is not installed (Debian: liblo-tools), and the tests must not skip it")
		}
		t.Skip("oscsend is not installed (Debian: liblo-tools): nothing outside this program triggers it")
	}
	leakless(t)
	var b box
	r := port(t, "127.0.0.1:0", home, b.do, b.report)
	_, port, _ := net.SplitHostPort(r.Addr().HostPort)
	for _, args := range []string{"go", "go T", "go F", "jump i 12", "jump s 12A", "hush f 1", "swap si Horn 21",
		"nudge sf Horn 1.1", "nudge sd Horn -2.5"} {
		words := strings.Fields(args)
		words[0] = "/backfield/" + words[0]
		out, err := exec.Command(path, append([]string{"127.0.0.1", port}, words...)...).CombinedOutput()
		if err != nil {
			t.Fatalf("oscsend %s: %v\n%s", args, err, out)
		}
	}
	within(t, 5*time.Second, "all have come", func() bool { c := r.Counts(); return c.Done+c.Released == 9 })
	orders, spoken := b.has()
	if got, want := strings.Join(orders, ", "),
		"go, go, jump 12, jump 12A, hush, swap Horn to 21, nudge Horn +1.1, nudge Horn -2.5"; got != want ||
		len(spoken) > 0 {
		t.Errorf("carried out: %s\nwanted: %s\nreported: %q", got, want, spoken)
	}
}

// Each command that is refused names itself, and the same one again only counts. Escape sequences in a name leave a notice
// like any other, over every transport.
func TestRefusedCommandsNameThemselves(t *testing.T) {
	for _, scheme := range []string{"udp", "tcp", "slip"} {
		t.Run(scheme, func(t *testing.T) {
			leakless(t)
			var b box
			r := port(t, scheme+"://127.0.0.1:0", home, b.do, b.report)
			l := link(t, r)
			for _, x := range []osc.Message{
				m("/backfield/hold", osc.String("\x1b[2J\x1b]0;x\a")), m("/backfield/jump", osc.Float32(12.5)),
				m("/backfield/jump", osc.Float32(12.5)), m("/backfield/jump", osc.Float32(12.25)), m("/backfield/back"),
				m("/backfield/swap", osc.String("Horn"), osc.String("x\x1b[5m")),
			} {
				l.Write(wire.Encode(x))
			}
			want := []string{"/backfield/hold: ", `came with "12.5"`, `came with "12.25"`,
				`came with "Horn", "x\x1b[5m"`, "back: this is the beginning"}
			within(t, 5*time.Second, "each is reported", func() bool {
				_, spoken := b.has()
				return !slices.ContainsFunc(want, func(w string) bool { return !strings.Contains(strings.Join(spoken, "\n"), w) })
			})
			c := r.Counts()
			if _, spoken := b.has(); len(spoken) > len(want)+1 || c.Refused != 5 || c.Failed != 1 {
				t.Errorf("%+v, reported:\n%s", c, strings.Join(spoken, "\n"))
			}
		})
	}
}

// However many different commands a machine gets wrong, few of them are named, and all are counted.
func TestNoticesAreLimited(t *testing.T) {
	leakless(t)
	var b box
	r := port(t, "udp://127.0.0.1:0", home, b.do, b.report)
	l := link(t, r)
	for n := range 3 * maxNotices {
		l.Write(wire.Encode(m("/backfield/hold", osc.String(fmt.Sprintf("\x1b[%dm", n)))))
	}
	within(t, 5*time.Second, "they are counted", func() bool { return r.Counts().Refused == 3*maxNotices })
	within(t, 2*reportEvery, "the rest is reported", func() bool {
		_, spoken := b.has()
		return strings.Contains(strings.Join(spoken, "\n"), "more commands were refused, such as ")
	})
	if _, spoken := b.has(); len(spoken) > maxNotices+2 {
		t.Errorf("%d notices", len(spoken))
	}
}
