package wire

import (
	"bufio"
	"errors"
	"fmt"
	"net"
	"os"
	"os/exec"
	"strings"
	"syscall"
	"testing"
	"time"

	"backfield/osc"
)

func TestAddress(t *testing.T) {
	for _, c := range []struct{ to, want, err string }{
		{"udp://127.0.0.1:9000", "127.0.0.1:9000", ""},
		{"UDP://desk.local:10023", "desk.local:10023", ""},
		{"10.0.0.7:1", "10.0.0.7:1", ""},
		{"udp://[::1]:65535", "[::1]:65535", ""},
		{"[fe80::1%eth0]:9000", "[fe80::1%eth0]:9000", ""},
		{"", "", "has no port"},
		{"127.0.0.1", "", "has no port"},
		{"udp://127.0.0.1", "", "has no port"},
		{"udp://[::1]", "", "has no port"},
		{"::1:9000", "", "IPv6 address goes in brackets"},
		{":9000", "", "has no host"},
		{"tcp://127.0.0.1:9000", "", "tcp:// is not spoken yet, only udp://"},
		{"osc.udp://127.0.0.1:9000", "", "osc.udp:// is not spoken yet"},
		{"127.0.0.1:0", "", "from 1 to 65535"},
		{"127.0.0.1:65536", "", "from 1 to 65535"},
		{"127.0.0.1:osc", "", "from 1 to 65535"},
		{"127.0.0.1:", "", "from 1 to 65535"},
		{"udp://127.0.0.1:9000/", "", "from 1 to 65535"},
		{"udp://a/b:9000", "", "is no host"},
		{"[::1:9000", "", "is no address"},
	} {
		got, err := Address(c.to)
		if c.err == "" && (err != nil || got != c.want) {
			t.Errorf("%q: %q, %v, want %q", c.to, got, err, c.want)
		}
		if c.err != "" && (err == nil || !strings.Contains(err.Error(), c.err)) {
			t.Errorf("%q: %q, %v, want an error about %q", c.to, got, err, c.err)
		}
		if u, err := Dial(c.to); c.err != "" && err == nil {
			u.Close()
			t.Errorf("%q can be dialled", c.to)
		}
	}
}

func TestExplain(t *testing.T) {
	write := func(e error) error { return &net.OpError{Op: "write", Net: "udp", Err: os.NewSyscallError("write", e)} }
	for _, c := range []struct {
		err  error
		want string
	}{
		{&net.OpError{Op: "dial", Err: &net.DNSError{Name: "desk.local", Err: "no such host", IsNotFound: true}}, `no such host "desk.local"; check the name`},
		{&net.DNSError{Name: "desk.local", Err: "i/o timeout", IsTimeout: true}, `the name "desk.local" could not be looked up (i/o timeout)`},
		{write(syscall.ENETUNREACH), "no way to 10.0.0.7:9000"},
		{write(syscall.EHOSTUNREACH), "no way to 10.0.0.7:9000"},
		{write(syscall.EMSGSIZE), "a packet of 70000 bytes is more than the network takes; lower max_packet"},
		{write(syscall.EPERM), "sending to 10.0.0.7:9000: write"},
	} {
		if got := explain(c.err, "10.0.0.7:9000", 70000); got == nil || !strings.HasPrefix(got.Error(), c.want) {
			t.Errorf("%v is explained as %v, want %s", c.err, got, c.want)
		}
	}
	if explain(nil, "", 0) != nil {
		t.Error("no error is explained as one")
	}
}

// fakeClock passes time only in Sleep, and oversleeps as told, once for each entry of late.
type fakeClock struct {
	now  time.Time
	late []time.Duration
}

func (c *fakeClock) Now() time.Time { return c.now }

func (c *fakeClock) Sleep(d time.Duration) {
	c.now = c.now.Add(max(d, 0))
	if len(c.late) > 0 {
		c.now = c.now.Add(c.late[0])
		c.late = c.late[1:]
	}
}

func TestPace(t *testing.T) {
	const ms = time.Millisecond
	start := time.Date(2026, 8, 1, 20, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		name string
		n    []int // messages in each packet
		late []time.Duration
		want []time.Duration // since start, at 100 messages a second
	}{
		{"even", []int{1, 1, 1, 1}, nil, []time.Duration{0, 10 * ms, 20 * ms, 30 * ms}},
		{"bundles count as their messages", []int{3, 1, 2, 1}, nil, []time.Duration{0, 30 * ms, 40 * ms, 60 * ms}},
		{"a little late shifts nothing", []int{1, 1, 1, 1}, []time.Duration{0, 3 * ms, 0, 0}, []time.Duration{0, 13 * ms, 20 * ms, 30 * ms}},
		{"very late is not caught up with", []int{1, 1, 1, 1, 1}, []time.Duration{0, 55 * ms}, []time.Duration{0, 65 * ms, 65 * ms, 75 * ms, 85 * ms}},
	} {
		clock := &fakeClock{now: start, late: c.late}
		var p pacer
		for i, n := range c.n {
			p.wait(n, 100, clock)
			if got := clock.now.Sub(start); got != c.want[i] {
				t.Errorf("%s: packet %d goes at %v, want %v", c.name, i+1, got, c.want[i])
			}
		}
	}

	// After a rest the pace begins anew.
	clock := &fakeClock{now: start}
	var p pacer
	p.wait(1, 100, clock)
	clock.now = start.Add(time.Second)
	var got []time.Duration
	for range 3 {
		p.wait(1, 100, clock)
		got = append(got, clock.now.Sub(start))
	}
	if want := []time.Duration{1000 * ms, 1010 * ms, 1020 * ms}; fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("after a rest %v, want %v", got, want)
	}
}

// listen opens a socket on a free loopback port.
func listen(t *testing.T, at string) *net.UDPConn {
	t.Helper()
	addr, err := net.ResolveUDPAddr("udp", at)
	if err != nil {
		t.Fatal(err)
	}
	conn, err := net.ListenUDP("udp", addr)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close() })
	return conn
}

func receive(t *testing.T, conn *net.UDPConn) []osc.Message {
	t.Helper()
	conn.SetReadDeadline(time.Now().Add(5 * time.Second))
	buffer := make([]byte, 1<<16)
	n, err := conn.Read(buffer)
	if err != nil {
		t.Fatal(err)
	}
	ms, err := Decode(buffer[:n])
	if err != nil {
		t.Fatal(err)
	}
	return ms
}

func dial(t *testing.T, to string) *UDP {
	t.Helper()
	u, err := Dial(to)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { u.Close() })
	return u
}

func pack(t *testing.T, ms []osc.Message, bundle bool) [][]byte {
	t.Helper()
	packets, err := Pack(ms, bundle, 1472)
	if err != nil {
		t.Fatal(err)
	}
	return packets
}

func numbered(n int) []osc.Message {
	var ms []osc.Message
	for i := range n {
		ms = append(ms, osc.Message{Address: fmt.Sprintf("/in/%d/level", i+1), Args: []any{float32(i)}})
	}
	return ms
}

func TestSend(t *testing.T) {
	conn := listen(t, "127.0.0.1:0")
	u := dial(t, "udp://"+conn.LocalAddr().String())
	ms := numbered(40)
	start := time.Now()
	if err := u.Send(pack(t, ms, false), 2000, Wall{}); err != nil {
		t.Fatal(err)
	}
	if took := time.Since(start); took < 19*time.Millisecond { // 38 gaps: of 39, one packet may come early
		t.Errorf("40 messages at 2000 a second took %v", took)
	}
	for _, m := range ms {
		if got := receive(t, conn); len(got) != 1 || got[0].String() != m.String() {
			t.Fatalf("received %v, want %v", got, m)
		}
	}
	if err := u.Send(pack(t, ms, true), 1e6, Wall{}); err != nil {
		t.Fatal(err)
	}
	if got := receive(t, conn); text(got) != text(ms) {
		t.Errorf("the bundle holds\n%s", text(got))
	}
	if _, err := conn.WriteToUDP([]byte("an answer, longer than one byte"), u.conn.LocalAddr().(*net.UDPAddr)); err != nil {
		t.Fatal(err)
	}
	if err := u.Settle(20 * time.Millisecond); err != nil {
		t.Errorf("a desk that listens and answers: %v", err)
	}
}

func TestSendTooLong(t *testing.T) {
	conn := listen(t, "127.0.0.1:0")
	u := dial(t, conn.LocalAddr().String())
	err := u.Send([][]byte{Encode(oscillator), make([]byte, 65508)}, 1000, Wall{})
	if err == nil || !strings.HasPrefix(err.Error(), "packet 2 of 2: a packet of 65508 bytes is more than the network takes") {
		t.Errorf("%v", err)
	}
	if got := receive(t, conn); text(got) != text([]osc.Message{oscillator}) {
		t.Errorf("the packet before it is %v", got)
	}
}

func TestClosedPortIsTold(t *testing.T) {
	conn := listen(t, "127.0.0.1:0")
	at := conn.LocalAddr().String()
	conn.Close()
	for _, n := range []int{1, 5} { // with one datagram, word comes only after the last write
		u := dial(t, at)
		if err := u.Send(pack(t, numbered(n), false), 10000, Wall{}); err != nil {
			t.Fatal(err)
		}
		err := u.Settle(200 * time.Millisecond)
		if !errors.Is(err, ErrRefused) || err.Error() != "nothing listens at "+at+" (the machine answered: port closed)" {
			t.Errorf("%d packets to a closed port: %v", n, err)
		}
		if err := u.Settle(10 * time.Millisecond); err != nil {
			t.Errorf("it is told twice: %v", err)
		}
	}
}

// TestRefusedDatagramIsSentAgain: the write that brings word of an earlier datagram does not send its own.
func TestRefusedDatagramIsSentAgain(t *testing.T) {
	conn := listen(t, "127.0.0.1:0")
	at := conn.LocalAddr().String()
	conn.Close()
	u := dial(t, at)
	if err := u.Send(pack(t, numbered(1), false), 10000, Wall{}); err != nil {
		t.Fatal(err)
	}
	time.Sleep(20 * time.Millisecond) // until the word is there
	conn = listen(t, at)
	ms := numbered(3)
	if err := u.Send(pack(t, ms, false), 10000, Wall{}); err != nil {
		t.Fatal(err)
	}
	for _, m := range ms {
		if got := receive(t, conn); len(got) != 1 || got[0].String() != m.String() {
			t.Fatalf("received %v, want %v", got, m)
		}
	}
	if err := u.Settle(10 * time.Millisecond); !errors.Is(err, ErrRefused) {
		t.Errorf("the refusal is forgotten: %v", err)
	}
}

// TestOscdump sends to a program that shares no code with this one.
func TestOscdump(t *testing.T) {
	path, err := exec.LookPath("oscdump")
	if err != nil {
		if os.Getenv("BACKFIELD_REQUIRE_TOOLS") == "1" {
			t.Fatal("oscdump (liblo-tools) is not installed")
		}
		t.Skip("oscdump (liblo-tools) is not installed: nothing outside this program confirms the packets")
	}
	conn := listen(t, "127.0.0.1:0")
	at := conn.LocalAddr().String()
	conn.Close()
	_, port, _ := net.SplitHostPort(at)
	cmd := exec.Command(path, "-L", port)
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	lines := make(chan string, 1000)
	done := make(chan struct{})
	go func() {
		defer close(done)
		for s := bufio.NewScanner(out); s.Scan(); {
			lines <- s.Text()
		}
	}()
	defer func() {
		cmd.Process.Kill()
		<-done
		cmd.Wait()
	}()
	// next returns a line without its time stamp, passing over probes.
	next := func(wait time.Duration) (string, bool) {
		for limit := time.After(wait); ; {
			select {
			case line := <-lines:
				_, line, _ = strings.Cut(line, " ")
				if !strings.HasPrefix(line, "/probe") {
					return strings.TrimSpace(line), true
				}
			case <-limit:
				return "", false
			}
		}
	}

	u := dial(t, at)
	for try := 0; len(lines) == 0; try++ {
		if try == 100 {
			t.Fatal("oscdump shows nothing within 5 s")
		}
		if err := u.Send([][]byte{Encode(osc.Message{Address: "/probe"})}, 1000, Wall{}); err != nil {
			t.Fatal(err)
		}
		time.Sleep(50 * time.Millisecond)
	}

	ms := []osc.Message{
		oscillator, foo,
		{Address: "/in/03/mute", Args: []any{int32(1)}},
		{Address: "/in/3/mute", Args: []any{true}},
		{Address: "/in/3/mute", Args: []any{false}},
		{Address: "/in/3/mute", Args: []any{"ON"}},
		{Address: "/in/3/level", Args: []any{float32(0.8)}},
		{Address: "/in/3/level", Args: []any{float32(-120)}},
		{Address: "/in/3/delay", Args: []any{123456789.125}},
		{Address: "/in/3/delay", Args: []any{int64(-1 << 40)}},
		{Address: "/all", Args: []any{int32(-2147483648), "", true, 0.5, float32(0.25), int64(1), false, "four"}},
		{Address: "/nothing"},
	}
	for _, bundle := range []bool{false, true} {
		if err := u.Send(pack(t, ms, bundle), 1000, Wall{}); err != nil {
			t.Fatal(err)
		}
		for _, m := range ms {
			got, ok := next(5 * time.Second)
			if want := dumped(m); !ok || got != want {
				t.Fatalf("bundle %t: oscdump shows %q, want %q", bundle, got, want)
			}
		}
	}
	if extra, ok := next(100 * time.Millisecond); ok {
		t.Errorf("oscdump shows %q besides", extra)
	}
}

// dumped is a message as oscdump prints it.
func dumped(m osc.Message) string {
	line := m.Address
	if len(m.Args) > 0 {
		line += " " + m.Tags()
	}
	for _, a := range m.Args {
		switch a := a.(type) {
		case bool:
			line += map[bool]string{true: " #T", false: " #F"}[a]
		case float32, float64:
			line += fmt.Sprintf(" %f", a)
		case string:
			line += fmt.Sprintf(" %q", a)
		default:
			line += fmt.Sprintf(" %d", a)
		}
	}
	return line
}
