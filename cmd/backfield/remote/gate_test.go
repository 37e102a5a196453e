package remote

import (
	"fmt"
	"io"
	"net"
	"net/netip"
	"sync"
	"testing"
	"time"

	"backfield/osc/run"
)

// TestNoFalseCalm10 has ten unknown clients open 10 connections a second each and keep them, some from the address of a
// page that is in. That page gets each of its own connections at once, and a new device still comes in.
func TestNoFalseCalm10(t *testing.T) {
	t.Parallel()
	st := stage(t, smallPlan(t), run.Options{Guard: time.Nanosecond})
	f := serve(t, st, ServerOptions{})
	x := f.guest()
	end := make(chan struct{})
	var running sync.WaitGroup
	for i := range 10 {
		running.Go(func() { keepKnocking(f.Addr().String(), fmt.Sprintf("127.0.0.%d", 1+i%5), end) })
	}
	time.Sleep(1500 * time.Millisecond) // they hold more connections than there are slots
	var longest time.Duration
	for i := range 20 {
		x.CloseIdleConnections() // each command needs a new connection
		began := time.Now()
		if r := x.order(obj{"verb": "jump", "name": fmt.Sprint(1 + i%4)}); r.status != 200 {
			t.Errorf("command %d: %d %s", i, r.status, r.body)
		}
		longest = max(longest, time.Since(began))
		time.Sleep(time.Second / maxCommandsPerS)
	}
	f.guest()
	close(end)
	running.Wait()
	if longest > time.Second {
		t.Errorf("a command took %v", longest)
	}
	f.conns.mu.Lock()
	defer f.conns.mu.Unlock()
	if n := len(f.conns.strangers); n > maxStrangerConns {
		t.Errorf("%d connections of strangers", n)
	}
}

// keepKnocking opens ten connections a second from an address and asks for nothing, until the end.
func keepKnocking(to, from string, end <-chan struct{}) {
	d := net.Dialer{LocalAddr: &net.TCPAddr{IP: net.ParseIP(from)}, Timeout: time.Second}
	for {
		select {
		case <-end:
			return
		case <-time.After(time.Second / 10):
		}
		if c, err := d.Dial("tcp", to); err == nil {
			io.WriteString(c, "GET / HTTP/1.1\r\n")
			defer c.Close()
		}
	}
}

// Where machines are named, the others' connections are closed at once; this machine's are not.
func TestUnnamedConnections(t *testing.T) {
	t.Parallel()
	g := newConnLimiter(nil, []netip.Addr{netip.MustParseAddr("192.0.2.7")}, func(netip.Addr) bool { return false })
	for from, want := range map[string]bool{
		"192.0.2.7": true, "192.0.2.8": false, "127.0.0.1": true, "::1": true, "2001:db8::1": false,
	} {
		c := &limitedConn{of: g, from: netip.MustParseAddr(from)}
		if got := g.allows(c, time.Now()); got != want {
			t.Errorf("%s: %v", from, got)
		}
	}
}
