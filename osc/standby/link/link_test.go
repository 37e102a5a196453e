package link_test

import (
	"context"
	"errors"
	"net"
	"strings"
	"sync"
	"testing"
	"time"

	"backfield/osc/standby"
	"backfield/osc/standby/link"
)

// recorder is a peer that keeps what happens.
type recorder struct {
	mu    sync.Mutex
	up    int
	down  int
	lines []standby.PairLine
}

func (r *recorder) LinkUp()   { r.mu.Lock(); r.up++; r.mu.Unlock() }
func (r *recorder) LinkDown() { r.mu.Lock(); r.down++; r.mu.Unlock() }
func (r *recorder) Receive(l standby.PairLine) {
	r.mu.Lock()
	r.lines = append(r.lines, l)
	r.mu.Unlock()
}

func (r *recorder) is(up, down, lines int) bool {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.up == up && r.down == down && len(r.lines) == lines
}

func wait(t *testing.T, what string, yes func() bool) {
	t.Helper()
	for end := time.Now().Add(10 * time.Second); !yes(); time.Sleep(5 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("not after 10 s: %s", what)
		}
	}
}

func listen(t *testing.T, key string, peer link.OtherLaptop) (l *link.PairLink, news func() string) {
	t.Helper()
	var mu sync.Mutex
	var text []string
	report := func(line string) { mu.Lock(); text = append(text, line); mu.Unlock() }
	l, err := link.Listen(t.Context(), "127.0.0.1:0", standby.NewDoor(key, "run 1", "show 1"), report)
	if err != nil {
		t.Fatal(err)
	}
	l.Start(peer)
	t.Cleanup(l.Close)
	return l, func() string { mu.Lock(); defer mu.Unlock(); return strings.Join(text, "\n") }
}

func fits(link.Welcome) error { return nil }

func call(t *testing.T, at, key string, peer link.OtherLaptop) (*link.PairLink, error) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 5*time.Second)
	defer cancel()
	l, err := link.Call(ctx, at, standby.NewCaller(key), func(w link.Welcome) error {
		if w.Run != "run 1" || w.Show != "show 1" {
			t.Errorf("welcomed with %+v", w)
		}
		return nil
	})
	if err == nil {
		l.Start(peer)
		t.Cleanup(l.Close)
	}
	return l, err
}

// relay passes bytes between a listener of its own and an address, until it is cut.
type relay struct {
	net.Listener
	mu    sync.Mutex
	conns []net.Conn
}

func newRelay(t *testing.T, to string) *relay {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	r := &relay{Listener: listener}
	t.Cleanup(func() { listener.Close(); r.cut() })
	go func() {
		for {
			a, err := listener.Accept()
			if err != nil {
				return
			}
			b, err := net.Dial("tcp", to)
			if err != nil {
				a.Close()
				continue
			}
			r.mu.Lock()
			r.conns = append(r.conns, a, b)
			r.mu.Unlock()
			pass := func(a, b net.Conn) {
				buffer := make([]byte, 4096)
				for {
					n, err := a.Read(buffer)
					if err != nil {
						b.Close()
						return
					}
					b.Write(buffer[:n])
				}
			}
			go pass(a, b)
			go pass(b, a)
		}
	}()
	return r
}

func (r *relay) cut() {
	r.mu.Lock()
	defer r.mu.Unlock()
	for _, c := range r.conns {
		c.Close()
	}
	r.conns = nil
}

// Lines go both ways; a link that was cut comes back by itself, with the key used up.
func TestLinkComesBack(t *testing.T) {
	key := link.NewKey()
	var first, second recorder
	server, news := listen(t, key, &first)
	r := newRelay(t, server.Addr())
	client, err := call(t, r.Addr().String(), key, &second)
	if err != nil {
		t.Fatal(err)
	}
	wait(t, "the link is up", func() bool { return first.is(1, 0, 0) && second.is(1, 0, 0) })
	long := strings.Repeat("x", 300_000) // more than the system takes at once, perhaps
	server.Send([]standby.PairLine{{Kind: standby.Beat, Text: long}, {Kind: standby.Beat, N: 2}})
	client.Send([]standby.PairLine{{Kind: standby.Beat, N: 3}})
	wait(t, "lines have come", func() bool { return first.is(1, 0, 1) && second.is(1, 0, 2) })
	if second.lines[0].Text != long || second.lines[1].N != 2 || first.lines[0].N != 3 {
		t.Error("other lines have come")
	}
	r.cut()
	wait(t, "the link is back", func() bool { return first.is(2, 1, 1) && second.is(2, 1, 2) })
	if !strings.Contains(news(), "is down") {
		t.Errorf("reported: %s", news())
	}
	if _, err := call(t, server.Addr(), key, &recorder{}); err == nil {
		t.Error("the key admits a second standby")
	}
	wait(t, "the refusal is reported", func() bool { return strings.Contains(news(), "the key was used already") })
}

func TestWrongKeyIsFinal(t *testing.T) {
	server, news := listen(t, link.NewKey(), &recorder{})
	start := time.Now()
	_, err := call(t, server.Addr(), link.NewKey(), &recorder{})
	if final := (*link.Final)(nil); !errors.As(err, &final) || time.Since(start) > 3*time.Second {
		t.Errorf("after %v: %v", time.Since(start), err)
	}
	wait(t, "the refusal is reported", func() bool { return strings.Contains(news(), "the key is wrong") })
}

// Clients that connect and say nothing, or say what no laptop says, keep the standby out for no longer than a moment.
func TestIdleCallersDoNotKeepTheStandbyOut(t *testing.T) {
	key := link.NewKey()
	server, _ := listen(t, key, &recorder{})
	for i := range 100 {
		conn, err := net.Dial("tcp", server.Addr())
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { conn.Close() })
		if i%2 == 0 {
			conn.Write([]byte("GET / HTTP/1.1\r\n\r\n"))
		}
	}
	if _, err := call(t, server.Addr(), key, &recorder{}); err != nil {
		t.Error(err)
	}
}

func TestNobodyAnswers(t *testing.T) {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	at := listener.Addr().String()
	listener.Close()
	ctx, cancel := context.WithTimeout(t.Context(), 700*time.Millisecond)
	defer cancel()
	if _, err := link.Call(ctx, at, standby.NewCaller(link.NewKey()), fits); err == nil {
		t.Error("no error")
	}
}
