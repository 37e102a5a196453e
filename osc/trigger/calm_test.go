package trigger

import (
	"net"
	"net/netip"
	"strings"
	"testing"
	"time"

	"backfield/osc"
	"backfield/osc/run"
	"backfield/osc/wire"
)

// dialFrom connects to a port from one of this computer's loopback addresses.
func dialFrom(t *testing.T, from string, to wire.Target) net.Conn {
	t.Helper()
	d := net.Dialer{LocalAddr: &net.TCPAddr{IP: net.ParseIP(from)}, Timeout: 5 * time.Second}
	conn, err := d.Dial("tcp", to.HostPort)
	if err != nil {
		t.Skipf("cannot connect from %s: %v", from, err)
	}
	t.Cleanup(func() { conn.Close() })
	return conn
}

// TestNoFalseCalm08: unknown clients that hold idle connections do not lock out the footswitch that is named, nor do the
// idle connections of its own machine. A hush is carried out however many commands came before it, and a controller that
// sends only floats can jump.
func TestNoFalseCalm08(t *testing.T) {
	for _, scheme := range []string{"tcp", "slip"} {
		t.Run(scheme, func(t *testing.T) { unknownClients(t, scheme) })
	}
	t.Run("hush", hushIsNeverRefused)
	t.Run("float", func(t *testing.T) {
		for _, x := range []struct {
			m    osc.Message
			want string
		}{
			{m("/backfield/jump", osc.Float32(12)), "jump 12"},
			{m("/backfield/jump", osc.Float64(12)), "jump 12"},
			{m("/backfield/swap", osc.String("Horn"), osc.Float32(21)), "swap Horn to 21"},
		} {
			if c, act, err := Message(x.m); err != nil || !act || c.String() != x.want {
				t.Errorf("%v: %v, %v, %v; want %s", x.m, c, act, err, x.want)
			}
		}
	})
}

func unknownClients(t *testing.T, scheme string) {
	leakless(t)
	var b box
	r := port(t, scheme+"://127.0.0.1:0", home, b.do, b.report)
	for range 8 {
		dialFrom(t, "127.0.0.2", r.Addr())
	}
	footswitch := link(t, r)
	footswitch.Write(wire.Encode(m("/backfield/go")))
	within(t, 5*time.Second, "the footswitch works", func() bool { return r.Counts().Done == 1 })
	within(t, 5*time.Second, "they are counted", func() bool { return r.Counts().Strangers == 8 })

	// The footswitch's machine forgets to close its connections. The newest ones work, and another machine's are its own.
	for n := range 12 {
		again := link(t, r)
		again.Write(wire.Encode(m("/backfield/stop")))
		within(t, 5*time.Second, "the newest connection works", func() bool { return r.Counts().Done == 2+n })
	}
	within(t, 5*time.Second, "it is reported", func() bool {
		_, spoken := b.has()
		text := strings.Join(spoken, "\n")
		return strings.Contains(text, "127.0.0.2") && strings.Contains(text, "--from") && strings.Contains(text, "silent longest of 4")
	})
}

// An idle footswitch keeps its connection whatever another named machine opens.
func TestNamedMachinesHaveConnectionsOfTheirOwn(t *testing.T) {
	leakless(t)
	var b box
	r, err := Listen("tcp://127.0.0.1:0", []netip.Addr{home, netip.MustParseAddr("127.0.0.2")}, nil, b.do, b.report)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { r.Close() })
	footswitch := link(t, r)
	footswitch.Write(wire.Encode(m("/backfield/go")))
	within(t, 5*time.Second, "it is in", func() bool { return r.Counts().Done == 1 })
	for range 20 {
		dialFrom(t, "127.0.0.2", r.Addr())
	}
	within(t, 5*time.Second, "16 are displaced", func() bool { return r.Counts().Malformed == 16 })
	footswitch.Write(wire.Encode(m("/backfield/go")))
	within(t, 5*time.Second, "it still works", func() bool { return r.Counts().Done == 2 })
}

// hushIsNeverRefused: the run hangs, its queue is full, the rate is used up. Then hush comes, and is the last command.
func hushIsNeverRefused(t *testing.T) {
	leakless(t)
	var b box
	hang := make(chan struct{})
	r := port(t, "127.0.0.1:0", home, func(c run.Command, from string) (string, error) {
		<-hang
		return b.do(c, from)
	}, b.report)
	l := link(t, r)
	for range 30 {
		l.Write(wire.Encode(m("/backfield/unhush")))
	}
	within(t, 5*time.Second, "the queue is full", func() bool { return r.Counts().Packets == 30 })
	for range 50 {
		l.Write(wire.Encode(m("/backfield/hush")))
	}
	within(t, 5*time.Second, "all have come", func() bool { return r.Counts().Packets == 80 })
	close(hang)
	within(t, 5*time.Second, "the hush is carried out", func() bool {
		orders, _ := b.has()
		return len(orders) > 0 && orders[len(orders)-1] == "hush"
	})
	if orders, _ := b.has(); len(orders) > maxWaiting+2 {
		t.Errorf("%d waited: %v", len(orders), orders)
	}
}

// Hushes in a stream are carried out at once and again every 50 ms, so that they neither fail nor fill a journal; what
// comes after one never waits.
func TestHushesInAStream(t *testing.T) {
	leakless(t)
	var b box
	r := port(t, "tcp://127.0.0.1:0", home, b.do, b.report)
	l := link(t, r)
	began := time.Now()
	for range 2000 {
		l.Write(wire.Encode(m("/backfield/hush")))
	}
	l.Write(wire.Encode(m("/backfield/unhush")))
	l.Write(wire.Encode(m("/backfield/hush")))
	within(t, 5*time.Second, "all are done", func() bool { return r.Counts().Done == 2002 })
	orders, _ := b.has()
	if most := 4 + int(time.Since(began)/hushEvery); len(orders) < 3 || len(orders) > most {
		t.Errorf("%d were carried out, at most %d should be", len(orders), most)
	}
	if n := len(orders); orders[0] != "hush" || orders[n-1] != "hush" || orders[n-2] != "unhush" {
		t.Errorf("carried out: %v", orders)
	}
}
