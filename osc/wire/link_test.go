package wire

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"

	"backfield/osc"
)

func TestExplain(t *testing.T) {
	write := func(e error) error { return &net.OpError{Op: "write", Net: "udp", Err: os.NewSyscallError("write", e)} }
	for _, c := range []struct {
		err  error
		want string
	}{
		{&net.OpError{Op: "dial", Err: &net.DNSError{Name: "mixer.local", Err: "no such host", IsNotFound: true}},
			`no such host "mixer.local"; check the name`},
		{&net.DNSError{Name: "mixer.local", Err: "i/o timeout", IsTimeout: true},
			`the name "mixer.local" could not be looked up (i/o timeout)`},
		{write(syscall.ENETUNREACH), "cannot reach 10.0.0.7:9000: it is off"},
		{write(syscall.EHOSTUNREACH), "cannot reach 10.0.0.7:9000: it is off"},
		{write(syscall.EMSGSIZE), "a packet of 70000 bytes is too big for the network; lower max_packet"},
		{write(syscall.EPERM), "10.0.0.7:9000: write"},
		{write(syscall.ECONNREFUSED), "10.0.0.7:9000 is up, but its OSC port is closed"},
		{write(syscall.ENOBUFS),
			"this computer's network accepts no more data, so a packet to 10.0.0.7:9000 was not sent"},
		{write(os.ErrDeadlineExceeded),
			"this computer's network accepts no more data, so a packet to 10.0.0.7:9000 was not sent"},
		{write(syscall.ETIMEDOUT), "no reply from 10.0.0.7:9000; check its power"},
		{&net.OpError{Op: "dial", Err: context.DeadlineExceeded},
			"no reply from 10.0.0.7:9000; check its power"},
		{write(net.ErrClosed), "use of closed network connection"},
	} {
		if got := explain(c.err, "10.0.0.7:9000", 70000); got == nil || !strings.HasPrefix(got.Error(), c.want) {
			t.Errorf("%v is explained as %v, want %s", c.err, got, c.want)
		}
	}
	if explain(nil, "", 0) != nil {
		t.Error("nil is explained as an error")
	}
}

// fakeClock passes time only in Sleep, and oversleeps by each entry of late, one after the other.
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
		{"a little late shifts nothing", []int{1, 1, 1, 1}, []time.Duration{0, 3 * ms, 0, 0},
			[]time.Duration{0, 13 * ms, 20 * ms, 30 * ms}},
		{"very late is not caught up with", []int{1, 1, 1, 1, 1}, []time.Duration{0, 55 * ms},
			[]time.Duration{0, 65 * ms, 65 * ms, 75 * ms, 85 * ms}},
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

	// After a rest the pace starts again.
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

func open(t *testing.T, to string) Link {
	t.Helper()
	l, err := Open(to)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	return l
}

func pack(t testing.TB, ms []osc.Message, bundle bool) [][]byte {
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
		ms = append(ms, osc.Message{Address: fmt.Sprintf("/in/%d/level", i+1),
			Args: []osc.Arg{osc.Float32(float32(i))}})
	}
	return ms
}

// schemes are all kinds of links.
var schemes = []string{"udp", "tcp", "slip"}

// server listens over TCP on a free loopback port and returns the first connection, once there is one.
func server(t *testing.T) (at string, accept func() *net.TCPConn) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	return l.Addr().String(), func() *net.TCPConn {
		t.Helper()
		l.(*net.TCPListener).SetDeadline(time.Now().Add(5 * time.Second))
		conn, err := l.Accept()
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { conn.Close() })
		conn.SetDeadline(time.Now().Add(5 * time.Second))
		return conn.(*net.TCPConn)
	}
}

// closedPort is a loopback address that nothing listens at, over UDP and over TCP.
func closedPort(t *testing.T) string {
	t.Helper()
	conn := listen(t, "127.0.0.1:0")
	conn.Close()
	return conn.LocalAddr().String()
}

// leakless fails the test if more goroutines run at its end than at its start.
func leakless(t *testing.T) {
	t.Helper()
	before := runtime.NumGoroutine()
	t.Cleanup(func() { // the first cleanup registered runs last
		for range 200 {
			if runtime.NumGoroutine() <= before {
				return
			}
			time.Sleep(10 * time.Millisecond)
		}
		stacks := make([]byte, 1<<16)
		t.Errorf("%d goroutines, %d before:\n%s", runtime.NumGoroutine(), before, stacks[:runtime.Stack(stacks, true)])
	})
}

func TestSend(t *testing.T) {
	conn := listen(t, "127.0.0.1:0")
	l := open(t, "udp://"+conn.LocalAddr().String())
	ms := numbered(40)
	start := time.Now()
	if err := Send(l, pack(t, ms, false), 2000, Wall{}); err != nil {
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
	if err := Send(l, pack(t, ms, true), 1e6, Wall{}); err != nil {
		t.Fatal(err)
	}
	if got := receive(t, conn); text(got) != text(ms) {
		t.Errorf("the bundle holds\n%s", text(got))
	}
	if _, err := conn.WriteToUDP([]byte("an answer"), l.(*datagrams).conn.LocalAddr().(*net.UDPAddr)); err != nil {
		t.Fatal(err)
	}
	if err := l.Settle(20 * time.Millisecond); err != nil {
		t.Errorf("a mixer that listens and replies: %v", err)
	}
}

func TestSendTooLong(t *testing.T) {
	conn := listen(t, "127.0.0.1:0")
	l := open(t, conn.LocalAddr().String())
	err := Send(l, [][]byte{Encode(oscillator), make([]byte, 65508)}, 1000, Wall{})
	if err == nil || !strings.HasPrefix(err.Error(),
		"packet 2 of 2: a packet of 65508 bytes is too big for the network") {
		t.Errorf("%v", err)
	}
	if got := receive(t, conn); text(got) != text([]osc.Message{oscillator}) {
		t.Errorf("the packet before it: %v", got)
	}
	if err := l.Write(Encode(foo)); err != nil {
		t.Errorf("afterwards: %v", err)
	}
	if got := receive(t, conn); text(got) != text([]osc.Message{foo}) {
		t.Errorf("afterwards: %v", got)
	}
}

func TestClosedPortIsReported(t *testing.T) {
	at := closedPort(t)
	want := at + " is up, but its OSC port is closed"
	reported := func(what string, err error) {
		t.Helper()
		if !errors.Is(err, ErrRefused) || err.Error() != want {
			t.Errorf("%s: %v", what, err)
		}
	}

	l := open(t, at)
	if err := Send(l, pack(t, numbered(1), false), 10000, Wall{}); err != nil {
		t.Fatal(err) // the report can come after the last write only
	}
	reported("Settle", l.Settle(200*time.Millisecond))
	if err := l.Settle(10 * time.Millisecond); err != nil {
		t.Errorf("it is reported twice: %v", err)
	}

	reported("Send", Send(l, pack(t, numbered(5), false), 200, Wall{}))
	l.Settle(200 * time.Millisecond)

	if err := l.Write(Encode(oscillator)); err != nil {
		t.Fatal(err)
	}
	_, err := l.Read(make([]byte, 100))
	reported("Read", err)

	for _, scheme := range []string{"tcp", "slip"} {
		start := time.Now()
		_, err := Open(scheme + "://" + at)
		reported("Open of "+scheme, err)
		if took := time.Since(start); took > time.Second {
			t.Errorf("it took %v", took)
		}
	}
}

// TestRefusedDatagramIsSentAgain: a write that reports on an earlier datagram still sends its own.
func TestRefusedDatagramIsSentAgain(t *testing.T) {
	at := closedPort(t)
	l := open(t, at)
	ms := numbered(4)
	packets := pack(t, ms, false)
	if err := l.Write(packets[0]); err != nil {
		t.Fatal(err)
	}
	time.Sleep(20 * time.Millisecond) // until the report is there
	conn := listen(t, at)
	for i, m := range ms[1:] {
		err := l.Write(packets[1+i])
		if i == 0 != errors.Is(err, ErrRefused) || i > 0 && err != nil {
			t.Errorf("write %d: %v", i, err)
		}
		if got := receive(t, conn); len(got) != 1 || got[0].String() != m.String() {
			t.Fatalf("received %v, want %v", got, m)
		}
	}
}

func TestStreamOnTheWire(t *testing.T) {
	for scheme, want := range map[string]string{
		"tcp":  "\x00\x00\x00\x0c/x\x00\x00,i\x00\x00\xc0\xdb\x00\x01",
		"slip": "\xc0/x\x00\x00,i\x00\x00\xdb\xdc\xdb\xdd\x00\x01\xc0",
	} {
		leakless(t)
		at, accept := server(t)
		l := open(t, scheme+"://"+at)
		conn := accept()
		packet := Encode(osc.Message{Address: "/x", Args: []osc.Arg{osc.Int32(-0x3F24FFFF)}})
		for range 2 {
			if err := l.Write(packet); err != nil {
				t.Fatal(err)
			}
		}
		answer := make(chan []byte)
		go func() { // a mixer that sends values until the connection ends
			conn.Write([]byte(want))
			got, _ := io.ReadAll(conn)
			conn.Close()
			answer <- got
		}()
		start := time.Now()
		if err := l.Settle(4 * time.Second); err != nil {
			t.Errorf("%s: %v", scheme, err)
		}
		if took := time.Since(start); took > 2*time.Second {
			t.Errorf("%s: the mixer closed the connection, and it took %v", scheme, took)
		}
		if got := <-answer; string(got) != want+want {
			t.Errorf("%s: %q", scheme, got)
		}
		if err := l.Write(packet); !errors.Is(err, ErrBroken) {
			t.Errorf("%s: a write after Settle: %v", scheme, err)
		}
	}
}

// TestSettleWaitsNoLonger: a mixer that keeps the connection open causes no error.
func TestSettleWaitsNoLonger(t *testing.T) {
	at, accept := server(t)
	l := open(t, "tcp://"+at)
	accept()
	start := time.Now()
	if err := l.Settle(30 * time.Millisecond); err != nil || time.Since(start) < 30*time.Millisecond {
		t.Errorf("%v after %v", err, time.Since(start))
	}
}

// TestSettleTellsOfAReset: the mixer did not take what was sent.
func TestSettleReportsAReset(t *testing.T) {
	at, accept := server(t)
	l := open(t, "tcp://"+at)
	conn := accept()
	if err := l.Write(Encode(foo)); err != nil {
		t.Fatal(err)
	}
	conn.SetLinger(0)
	conn.Close()
	if err := l.Settle(2 * time.Second); !errors.Is(err, ErrBroken) {
		t.Errorf("%v", err)
	}
}

func TestRead(t *testing.T) {
	for _, scheme := range schemes {
		leakless(t)
		mixer, err := Listen(scheme + "://127.0.0.1:0")
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { mixer.Close() })
		l := open(t, mixer.Addr().String())
		if err := l.Write(Encode(oscillator)); err != nil {
			t.Fatal(err)
		}
		_, from, err := mixer.Receive()
		if err != nil {
			t.Fatal(err)
		}
		buffer := make([]byte, len(Encode(foo)))
		for i, packet := range [][]byte{Encode(foo), Encode(osc.Message{Address: "/too/long/for/the/buffer",
			Args: []osc.Arg{foo.Args[2], foo.Args[2]}}), Encode(oscillator)} {
			if err := from.Reply(packet); err != nil {
				t.Fatal(err)
			}
			n, err := l.Read(buffer)
			if i == 1 {
				if !errors.Is(err, io.ErrShortBuffer) || n != 0 {
					t.Errorf("%s: %d bytes into %d: %d, %v", scheme, len(packet), len(buffer), n, err)
				}
			} else if err != nil || !bytes.Equal(buffer[:n], packet) {
				t.Errorf("%s: read %q, %v", scheme, buffer[:n], err)
			}
		}
		if udp, ok := l.(*datagrams); ok { // an empty datagram is not a packet
			if _, err := mixer.udp.WriteToUDP(nil, udp.conn.LocalAddr().(*net.UDPAddr)); err != nil {
				t.Fatal(err)
			}
		}

		over := make(chan error)
		go func() {
			_, err := l.Read(buffer)
			over <- err
		}()
		time.Sleep(20 * time.Millisecond)
		for range 2 {
			if err := l.Close(); err != nil {
				t.Errorf("%s: closing: %v", scheme, err)
			}
		}
		select {
		case err := <-over:
			if !errors.Is(err, ErrClosed) || errors.Is(err, ErrBroken) {
				t.Errorf("%s: a read on a closed link: %v", scheme, err)
			}
		case <-time.After(5 * time.Second):
			t.Fatalf("%s: Close does not end a Read", scheme)
		}
		for what, call := range map[string]func() error{
			"Write": func() error { return l.Write(Encode(foo)) },
			"Read":  func() error { _, err := l.Read(buffer); return err },
		} {
			if err := call(); !errors.Is(err, ErrClosed) {
				t.Errorf("%s: %s after Close: %v", scheme, what, err)
			}
		}
		mixer.Close()
	}
}

// TestBrokenStream: a mixer that closes, resets or sends something other than OSC ends the Link, and every call returns
// the same error.
func TestBrokenStream(t *testing.T) {
	for _, c := range []struct {
		name, scheme string
		do           func(conn *net.TCPConn)
		want         string
	}{
		{"hangs up", "tcp", func(conn *net.TCPConn) { conn.Close() }, " closed the connection"},
		{"hangs up within", "tcp", func(conn *net.TCPConn) { conn.Write([]byte{0, 0}); conn.Close() },
			" closed the connection in the middle of a packet"},
		{"hangs up within", "slip", func(conn *net.TCPConn) { conn.Write([]byte("/go")); conn.Close() },
			" closed the connection in the middle of a packet"},
		{"resets", "slip", func(conn *net.TCPConn) { conn.SetLinger(0); conn.Close() }, "reset"},
		{"other framing", "tcp", func(conn *net.TCPConn) { conn.Write([]byte("\xc0/go\x00\xc0")) },
			" sends something other than an OSC stream: it starts with SLIP's END byte"},
		{"other framing", "slip", func(conn *net.TCPConn) { conn.Write([]byte("\x00\x00\x00\x04/go\x00")) },
			" sends something other than an OSC stream: a packet starts with a zero byte"},
	} {
		at, accept := server(t)
		l := open(t, c.scheme+"://"+at)
		c.do(accept())
		_, err := l.Read(make([]byte, MaxPacket))
		if !errors.Is(err, ErrBroken) || !strings.Contains(err.Error(), at) || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s over %s: %v", c.name, c.scheme, err)
		}
		if again := l.Write(Encode(foo)); again != err {
			t.Errorf("%s over %s: a write says %v, the read %v", c.name, c.scheme, again, err)
		}
	}
}

// TestStalledMixer: a mixer that stops reading does not hold up the show.
func TestStalledMixer(t *testing.T) {
	for _, scheme := range []string{"tcp", "slip"} {
		at, accept := server(t)
		l := open(t, scheme+"://"+at)
		accept()
		packet := Encode(osc.Message{Address: "/s", Args: []osc.Arg{osc.String(strings.Repeat("x", 60000))}})
		for i := 0; ; i++ {
			start := time.Now()
			err := l.Write(packet)
			// 12 ms, on a computer that is busy with other tests
			if took := time.Since(start); took > 500*time.Millisecond {
				t.Errorf("%s: a write took %v", scheme, took)
			}
			if err != nil {
				if !errors.Is(err, ErrBroken) || !strings.Contains(err.Error(), "accepts no more data") {
					t.Errorf("%s: %v", scheme, err)
				}
				break
			}
			if i == 1000 { // 60 MB
				t.Fatalf("%s: no write fails", scheme)
			}
		}
		start := time.Now()
		if err := l.Write(packet); !errors.Is(err, ErrBroken) || time.Since(start) > 500*time.Millisecond {
			t.Errorf("%s: the next write: %v after %v", scheme, err, time.Since(start))
		}
	}
}

// TestReadAndWriteAtOnce: an echo of everything, while both ends send.
func TestReadAndWriteAtOnce(t *testing.T) {
	for _, scheme := range schemes {
		leakless(t)
		mixer, err := Listen(scheme + "://127.0.0.1:0")
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { mixer.Close() })
		go func() {
			for {
				packet, from, err := mixer.Receive()
				if errors.Is(err, ErrClosed) {
					return
				}
				if err == nil {
					err = from.Reply(packet)
				}
				if err != nil && !errors.Is(err, ErrClosed) {
					t.Errorf("%s: %v", scheme, err)
				}
			}
		}()
		l := open(t, mixer.Addr().String())
		ms := numbered(200)
		go func() {
			if err := Send(l, pack(t, ms, false), 10000, Wall{}); err != nil {
				t.Errorf("%s: %v", scheme, err)
			}
		}()
		timer := time.AfterFunc(10*time.Second, func() { l.Close() })
		buffer := make([]byte, MaxPacket)
		for _, m := range ms {
			n, err := l.Read(buffer)
			if got, err2 := Decode(buffer[:n]); err != nil || err2 != nil || text(got) != text([]osc.Message{m}) {
				t.Fatalf("%s: read %v, %v, %v, want %v", scheme, got, err, err2, m)
			}
		}
		timer.Stop()
		l.Close()
		mixer.Close()
	}
}

// TestPush: a deadline that passed before anything was written does not mean a stalled mixer, unless it happens each
// time.
func TestPush(t *testing.T) {
	conn := listen(t, "127.0.0.1:0")
	late := fmt.Errorf("write: %w", os.ErrDeadlineExceeded)
	for _, c := range []struct {
		name string
		n    []int
		errs []error
		want error
	}{
		{"at once", []int{4}, []error{nil}, nil},
		{"twice too late", []int{0, 0, 4}, []error{late, late, nil}, nil},
		{"too late each time", []int{0, 0, 0}, []error{late, late, late}, late},
		{"in part", []int{2}, []error{late}, late},
		{"another error", []int{0}, []error{io.ErrClosedPipe}, io.ErrClosedPipe},
	} {
		calls := 0
		err := push(conn, new(time.Time), func() (int, error) { calls++; return c.n[calls-1], c.errs[calls-1] })
		if err != c.want || calls != len(c.n) {
			t.Errorf("%s: %v after %d writes", c.name, err, calls)
		}
	}
}
