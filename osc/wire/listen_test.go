package wire

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"net"
	"net/netip"
	"os"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"

	"backfield/osc"
)

func listener(t *testing.T, at string) *Listener {
	t.Helper()
	l, err := Listen(at)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	return l
}

// next is what Receive returns within 5 s.
func next(t *testing.T, l *Listener) (packet []byte, from Peer, err error) {
	t.Helper()
	timer := time.AfterFunc(5*time.Second, func() { l.Close() })
	defer timer.Stop()
	packet, from, err = l.Receive()
	if errors.Is(err, ErrClosed) {
		t.Fatal("nothing came within 5 s")
	}
	return packet, from, err
}

// hears fails unless the next packet is this message.
func hears(t *testing.T, l *Listener, m osc.Message) Peer {
	t.Helper()
	packet, from, err := next(t, l)
	if err != nil || !bytes.Equal(packet, Encode(m)) {
		t.Fatalf("%s hears %q, %v, want %v", l.Addr(), packet, err, m)
	}
	return from
}

func connect(t *testing.T, l *Listener) net.Conn {
	t.Helper()
	network := "tcp"
	if l.udp != nil {
		network = "udp"
	}
	_, port, _ := net.SplitHostPort(l.Addr().HostPort)
	conn, err := net.Dial(network, "127.0.0.1:"+port)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close() })
	conn.SetDeadline(time.Now().Add(5 * time.Second))
	return conn
}

func TestPeers(t *testing.T) {
	for _, scheme := range schemes {
		for _, host := range []string{"127.0.0.1", ""} {
			leakless(t)
			l := listener(t, scheme+"://"+host+":0")
			if l.Addr().Scheme != scheme || strings.HasSuffix(l.Addr().HostPort, ":0") {
				t.Errorf("it listens at %s", l.Addr())
			}
			_, port, _ := net.SplitHostPort(l.Addr().HostPort)
			a, b := open(t, scheme+"://127.0.0.1:"+port), open(t, scheme+"://127.0.0.1:"+port)
			var peers []Peer
			for i, link := range []Link{a, b, a} {
				m := numbered(3)[i]
				if err := link.Write(Encode(m)); err != nil {
					t.Fatal(err)
				}
				from := hears(t, l, m)
				if from.Addr() != netip.MustParseAddr("127.0.0.1") || !strings.HasPrefix(from.String(), "127.0.0.1:") {
					t.Errorf("%s: it comes from %s, %s", l.Addr(), from.Addr(), from)
				}
				if err := from.Reply(Encode(m)); err != nil {
					t.Errorf("%s: %v", l.Addr(), err)
				}
				buffer := make([]byte, 100)
				if n, err := link.Read(buffer); err != nil || !bytes.Equal(buffer[:n], Encode(m)) {
					t.Errorf("%s: the reply is %q, %v", l.Addr(), buffer[:n], err)
				}
				peers = append(peers, from)
			}
			if peers[0] == peers[1] || peers[0] != peers[2] {
				t.Errorf("%s: the peers are %v", l.Addr(), peers)
			}
			a.Close()
			b.Close()
			for range 2 {
				if err := l.Close(); err != nil {
					t.Errorf("%s: %v", l.Addr(), err)
				}
			}
			if err := peers[0].Reply(Encode(foo)); !errors.Is(err, ErrClosed) && !errors.Is(err, ErrBroken) {
				t.Errorf("%s: a reply after Close: %v", l.Addr(), err)
			}
			if _, _, err := l.Receive(); !errors.Is(err, ErrClosed) {
				t.Errorf("%s: Receive after Close: %v", l.Addr(), err)
			}
		}
	}
	if err := (Peer{}).Reply(nil); err == nil {
		t.Error("a reply to no peer works")
	}
}

func TestCloseEndsReceive(t *testing.T) {
	for _, scheme := range schemes {
		leakless(t)
		l := listener(t, scheme+"://127.0.0.1:0")
		if l.udp == nil {
			connect(t, l) // an idle one
		}
		over := make(chan error)
		go func() {
			_, _, err := l.Receive()
			over <- err
		}()
		time.Sleep(20 * time.Millisecond)
		l.Close()
		select {
		case err := <-over:
			if !errors.Is(err, ErrClosed) {
				t.Errorf("%s: %v", scheme, err)
			}
		case <-time.After(5 * time.Second):
			t.Fatalf("%s: Close does not end Receive", scheme)
		}
	}
}

// TestListenerTakesAnyDatagram: malformed, empty and the longest possible. Only Decode decides what is OSC.
func TestListenerTakesAnyDatagram(t *testing.T) {
	l := listener(t, "udp://127.0.0.1:0")
	conn := connect(t, l)
	for _, packet := range [][]byte{[]byte("x"), {0}, nil, bytes.Repeat([]byte{0xFF}, 65507), Encode(foo)} {
		if _, err := conn.Write(packet); err != nil {
			t.Fatal(err)
		}
		if len(packet) == 0 {
			continue // passed over
		}
		if got, _, err := next(t, l); err != nil || !bytes.Equal(got, packet) {
			t.Errorf("%d bytes arrive as %d, %v", len(packet), len(got), err)
		}
	}
}

// TestListenerKeepsThePacketsApart: the caller may keep a packet.
func TestListenerKeepsThePacketsApart(t *testing.T) {
	for _, scheme := range schemes {
		l := listener(t, scheme+"://127.0.0.1:0")
		link := open(t, l.Addr().String())
		var kept [][]byte
		for _, m := range numbered(5) {
			if err := link.Write(Encode(m)); err != nil {
				t.Fatal(err)
			}
			packet, _, err := next(t, l)
			if err != nil {
				t.Fatal(err)
			}
			kept = append(kept, packet)
		}
		for i, m := range numbered(5) {
			if !bytes.Equal(kept[i], Encode(m)) {
				t.Errorf("%s: packet %d has become %q", scheme, i, kept[i])
			}
		}
	}
}

// TestReplyToAClosedPort: the report that comes back causes no error.
func TestReplyToAClosedPort(t *testing.T) {
	l := listener(t, "udp://127.0.0.1:0")
	gone := connect(t, l)
	gone.Write(Encode(foo))
	from := hears(t, l, foo)
	gone.Close()
	for range 3 {
		if err := from.Reply(Encode(foo)); err != nil {
			t.Errorf("%v", err)
		}
		time.Sleep(5 * time.Millisecond)
	}
	connect(t, l).Write(Encode(oscillator))
	from = hears(t, l, oscillator)
	if err := from.Reply(make([]byte, 65508)); err == nil ||
		!strings.Contains(err.Error(), "65508 bytes is too big for the network") {
		t.Errorf("a reply too long: %v", err)
	}
	if err := from.Reply(Encode(foo)); err != nil {
		t.Errorf("the reply after it: %v", err)
	}
}

// TestBadStreamIsCut: it is also reported, and the others go on.
func TestBadStreamIsCut(t *testing.T) {
	for _, c := range []struct{ scheme, stream, want string }{
		{"tcp", "\x00\x00\x00\x03/go", "a packet length of 3 bytes"},
		{"tcp", "\x7f\xff\xff\xfc", "a packet length of 2147483644 bytes, over the limit of 65536"},
		{"tcp", "\xc0/go\x00\xc0", "the sender uses slip://"},
		{"tcp", "GET / HTTP/1.1\r\n\r\n", "over the limit"},
		{"slip", "\xc0/\xdb\x00", "SLIP's ESC before the byte 00"},
		{"slip", "\x00\x00\x00\x04/go\x00", "the sender uses tcp://"},
		{"slip", strings.Repeat("/", MaxPacket+1), "a packet of more than 65536 bytes"},
	} {
		leakless(t)
		l := listener(t, c.scheme+"://127.0.0.1:0")
		good := open(t, l.Addr().String())
		conn := connect(t, l)
		conn.Write([]byte(c.stream))
		packet, from, err := next(t, l)
		if packet != nil || from != (Peer{}) || err == nil || !strings.Contains(err.Error(), c.want) ||
			!strings.Contains(err.Error(), conn.LocalAddr().String()) {
			t.Errorf("%s, %.20q: %q from %v, %v", c.scheme, c.stream, packet, from, err)
		}
		if n, err := conn.Read(make([]byte, 1)); n != 0 || errors.Is(err, os.ErrDeadlineExceeded) {
			t.Errorf("%s, %.20q: the connection is still open: %v", c.scheme, c.stream, err)
		}
		if err := good.Write(Encode(foo)); err != nil {
			t.Fatal(err)
		}
		hears(t, l, foo)

		// A connection that ends inside a packet is reported, one that ends between two is not.
		cut, whole := connect(t, l), connect(t, l)
		whole.Close()
		cut.Write(l.Addr().framing().Append(nil, Encode(foo))[:7])
		cut.Close()
		if _, _, err := next(t, l); err == nil || !strings.Contains(err.Error(), "in the middle of a packet") {
			t.Errorf("%s: one that is cut off: %v", c.scheme, err)
		}
		if err := good.Write(Encode(foo)); err != nil {
			t.Fatal(err)
		}
		hears(t, l, foo)
		l.Close()
	}
}

// TestFlood: eight connections are served, including idle ones and one that stopped inside a packet. More are refused,
// the eight go on, and a connection that ends makes room for another.
func TestFlood(t *testing.T) {
	leakless(t)
	l := listener(t, "tcp://127.0.0.1:0")
	var conns []net.Conn
	for i := range maxStreams {
		conn := connect(t, l)
		conn.Write(LengthPrefix.Append(nil, Encode(numbered(maxStreams)[i]))) // so that it is known to be in
		hears(t, l, numbered(maxStreams)[i])
		conns = append(conns, conn)
	}
	conns[0].Write([]byte{0, 0, 0, 4, '/'})
	before := runtime.NumGoroutine()
	for range 50 {
		extra := connect(t, l)
		if _, from, err := next(t, l); err == nil || from != (Peer{}) ||
			err.Error() != fmt.Sprintf("refused a connection from %s: 8 connections to %s are already open", extra.LocalAddr(),
				l.Addr()) {
			t.Fatalf("one too many: %v", err)
		}
		if n, err := extra.Read(make([]byte, 1)); n != 0 || errors.Is(err, os.ErrDeadlineExceeded) {
			t.Fatalf("one too many is still open: %v", err)
		}
	}
	if now := runtime.NumGoroutine(); now > before+2 {
		t.Errorf("%d goroutines, %d before the flood", now, before)
	}
	for _, conn := range conns[1:] {
		conn.Write(LengthPrefix.Append(nil, Encode(foo)))
		hears(t, l, foo)
	}

	conns[1].Close()
	for try := 0; ; try++ { // it takes a moment until that is known
		conn := connect(t, l)
		conn.Write(LengthPrefix.Append(nil, Encode(oscillator)))
		if packet, _, err := next(t, l); err == nil {
			if !bytes.Equal(packet, Encode(oscillator)) {
				t.Errorf("heard %q", packet)
			}
			break
		}
		if try == 100 {
			t.Fatal("no room is made for another connection")
		}
		time.Sleep(10 * time.Millisecond)
	}
}

// TestSlowReceiverSlowsTheSender: packets that nobody receives do not fill the memory.
func TestSlowReceiverSlowsTheSender(t *testing.T) {
	leakless(t)
	l := listener(t, "tcp://127.0.0.1:0")
	conn := connect(t, l)
	conn.SetWriteDeadline(time.Now().Add(200 * time.Millisecond))
	frame := LengthPrefix.Append(nil, bytes.Repeat([]byte("/go\x00"), MaxPacket/4))
	sent := 0
	var err error
	for err == nil && sent < 1<<28 {
		var n int
		n, err = conn.Write(frame)
		sent += n
	}
	if !errors.Is(err, os.ErrDeadlineExceeded) {
		t.Errorf("%d bytes went out, %v", sent, err)
	}
	for range sent / len(frame) {
		if packet, _, err := next(t, l); err != nil || len(packet) != MaxPacket {
			t.Fatalf("%d bytes, %v", len(packet), err)
		}
	}
}

// TestReplyToAStalledPeer: a peer that reads nothing is cut, and delays no one.
func TestReplyToAStalledPeer(t *testing.T) {
	l := listener(t, "slip://127.0.0.1:0")
	stalled := connect(t, l)
	stalled.Write(SLIP.Append(nil, Encode(foo)))
	from := hears(t, l, foo)
	packet := Encode(osc.Message{Address: "/s", Args: []osc.Arg{osc.String(strings.Repeat("x", 60000))}})
	var err error
	for i := 0; err == nil; i++ {
		start := time.Now()
		if err = from.Reply(packet); time.Since(start) > 500*time.Millisecond {
			t.Errorf("a reply took %v", time.Since(start))
		}
		if i == 1000 {
			t.Fatal("no reply fails")
		}
	}
	if !errors.Is(err, ErrBroken) || from.Reply(packet) != err {
		t.Errorf("%v, and then %v", err, from.Reply(packet))
	}
	if _, err := io.Copy(io.Discard, stalled); errors.Is(err, os.ErrDeadlineExceeded) {
		t.Error("the stalled connection is still open")
	}
}

func TestListenExplains(t *testing.T) {
	for _, scheme := range schemes {
		l := listener(t, scheme+"://127.0.0.1:0")
		if _, err := Listen(l.Addr().String()); err == nil || !strings.HasPrefix(err.Error(),
			"another program already listens at "+l.Addr().String()) {
			t.Errorf("%s: twice: %v", scheme, err)
		}
		// 192.0.2.0/24 is kept for documentation (RFC 5737).
		if _, err := Listen(scheme + "://192.0.2.1:0"); err == nil ||
			!strings.HasPrefix(err.Error(), scheme+"://192.0.2.1:0 is not an address of this computer, which has ") ||
			!strings.Contains(err.Error(), "127.0.0.1") {
			t.Errorf("%s: another's address: %v", scheme, err)
		}
		if _, err := Listen(scheme + "://127.0.0.1"); err == nil {
			t.Errorf("%s: no port: %v", scheme, err)
		}
	}
	for err, want := range map[error]string{
		&net.OpError{Op: "listen", Err: os.NewSyscallError("bind",
			syscall.EACCES)}: "this program may not use udp://:9; use a port from 1024 up",
		&net.OpError{Op: "listen", Err: &net.DNSError{Name: "mixer.local", Err: "no such host",
			IsNotFound: true}}: `udp://:9: the name "mixer.local" could not be looked up; write an address of this computer, which has `,
		io.ErrNoProgress: "listening at udp://:9: ",
	} {
		if got := explainListen(err, Target{"udp", ":9"}); !strings.HasPrefix(got.Error(), want) {
			t.Errorf("%v is explained as %v", err, got)
		}
	}
}
