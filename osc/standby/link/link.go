// Package link carries the lines of two laptops over TCP: the first listens for one standby, which its key admits, and
// the standby calls it, again and again until it is through. What the lines mean is in the package standby.
package link

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"net"
	"slices"
	"sync"
	"time"

	"backfield/osc/standby"
)

const (
	greetWait  = 3 * time.Second // for the other side's part of the greeting
	deadAfter  = 3 * time.Second // without a line; a laptop that is alive sends several a second
	callEvery  = 500 * time.Millisecond
	writeWait  = 2 * time.Millisecond // what Send waits for the system to take lines
	maxWaiting = 16 << 20             // bytes that wait for a link that takes nothing
	maxCallers = 32                   // connections that are not admitted yet; of more, the oldest is closed
	maxReports = 20                   // refusals that are reported
)

// OtherLaptop is what a link is for: the three are called from one goroutine at a time, LinkUp first.
type OtherLaptop interface {
	LinkUp()
	Receive(line standby.PairLine)
	LinkDown()
}

// PairLink sends lines to the other laptop, and hands over what comes from it once it is started. Make one with Listen or
// Call.
type PairLink struct {
	begin func()
	peer  OtherLaptop
	stop  context.CancelFunc
	work  sync.WaitGroup

	mu      sync.Mutex
	conn    net.Conn // of the other laptop, nil while there is none
	waiting []byte   // not taken by the system yet
	wake    chan struct{}

	greeting sync.Mutex // guards door to refusals
	door     *standby.Door
	callers  []net.Conn // not admitted yet, the oldest first
	refusals int
	listener net.Listener
}

// Start has a link hand over what comes. Before that it has not been up.
func (l *PairLink) Start(peer OtherLaptop) {
	l.peer = peer
	l.begin()
}

func newLink(ctx context.Context) (*PairLink, context.Context) {
	ctx, stop := context.WithCancel(ctx)
	return &PairLink{stop: stop, wake: make(chan struct{}, 1)}, ctx
}

// Listen waits at an address, HOST:PORT, for the standby that a door admits, until Close. report is given a line for each
// laptop that is admitted or refused.
func Listen(ctx context.Context, at string, door *standby.Door, report func(text string)) (*PairLink, error) {
	config := net.ListenConfig{KeepAliveConfig: net.KeepAliveConfig{Enable: true, Idle: deadAfter, Interval: deadAfter}}
	listener, err := config.Listen(ctx, "tcp", at)
	if err != nil {
		return nil, fmt.Errorf("cannot listen for a standby at %s: %w", at, err)
	}
	l, ctx := newLink(ctx)
	l.door, l.listener = door, listener
	context.AfterFunc(ctx, func() { listener.Close() })
	l.begin = func() { l.work.Go(func() { l.accept(ctx, report) }) }
	return l, nil
}

// Addr is where a link listens.
func (l *PairLink) Addr() string { return l.listener.Addr().String() }

func (l *PairLink) accept(ctx context.Context, report func(string)) {
	for ctx.Err() == nil {
		conn, err := l.listener.Accept()
		if err != nil {
			pause(ctx, 50*time.Millisecond)
			continue
		}
		l.enter(conn)
		l.work.Go(func() {
			defer conn.Close()
			forget := context.AfterFunc(ctx, func() { conn.Close() })
			defer forget()
			if in := l.admit(conn, report); in != nil {
				report("the standby at " + host(conn) + " is connected")
				l.serve(conn, in)
				if ctx.Err() == nil {
					report("the link to the standby at " + host(conn) + " is down")
				}
			}
		})
	}
}

// enter makes room for a connection that is not admitted yet: so nobody who says nothing keeps the standby out.
func (l *PairLink) enter(conn net.Conn) {
	l.greeting.Lock()
	defer l.greeting.Unlock()
	if len(l.callers) == maxCallers {
		l.callers[0].Close()
		l.callers = l.callers[1:]
	}
	l.callers = append(l.callers, conn)
}

// admit greets whoever has connected; it returns nil for who is not admitted.
func (l *PairLink) admit(conn net.Conn, report func(string)) *standby.LineReader {
	in, refused, err := l.greet(conn)
	l.greeting.Lock()
	defer l.greeting.Unlock()
	l.callers = slices.DeleteFunc(l.callers, func(c net.Conn) bool { return c == conn })
	if refused != "" && l.refusals < maxReports {
		l.refusals++
		report(fmt.Sprintf("a laptop at %s was refused: %s", host(conn), refused))
	}
	if refused != "" || err != nil {
		return nil
	}
	return in
}

// greet judges whoever has connected. refused says why they are not admitted; the error is of the connection.
func (l *PairLink) greet(conn net.Conn) (in *standby.LineReader, refused string, err error) {
	conn.SetDeadline(time.Now().Add(greetWait))
	nonce := nonce()
	if _, err := conn.Write(l.door.Greet(nonce).Bytes()); err != nil {
		return nil, "", err
	}
	in = standby.NewReader(conn)
	answer, err := in.Next()
	if err != nil {
		return nil, "", err
	}
	l.greeting.Lock()
	reply, ok := l.door.Admit(host(conn), nonce, answer)
	l.greeting.Unlock()
	if !ok {
		refused = reply.Text
	}
	_, err = conn.Write(reply.Bytes())
	return in, refused, err
}

// Final is an error that calling again does not change: a wrong key, or another show.
type Final struct{ error }

// Welcome is what laptop 1 says of itself to a standby that it has admitted.
type Welcome struct{ Run, Show string }

// Call connects to the laptop at an address, HOST:PORT, as a caller, and keeps the link up until Close. It returns once it
// has got through for the first time; fits may refuse what is found there. The error is Final, or says that nobody
// answered before ctx ended.
func Call(ctx context.Context, to string, caller *standby.Caller, fits func(Welcome) error) (*PairLink, error) {
	l, working := newLink(context.WithoutCancel(ctx))
	conn, in, err := l.reach(ctx, to, caller, fits)
	if err != nil {
		l.stop()
		return nil, err
	}
	l.begin = func() { l.work.Go(func() { l.keep(working, conn, in, to, caller, fits) }) }
	context.AfterFunc(working, func() { conn.Close() })
	return l, nil
}

// keep serves a connection, and calls again whenever it has ended.
func (l *PairLink) keep(
	ctx context.Context, conn net.Conn, in *standby.LineReader,
	to string, caller *standby.Caller, fits func(Welcome) error,
) {
	for {
		now := conn
		forget := context.AfterFunc(ctx, func() { now.Close() })
		l.serve(now, in)
		forget()
		now.Close()
		pause(ctx, callEvery)
		var err error
		if conn, in, err = l.reach(ctx, to, caller, fits); err != nil {
			return // it has ended, or laptop 1 is another one now
		}
	}
}

// reach calls until it is through, or until the error is final or ctx ends.
func (l *PairLink) reach(
	ctx context.Context, to string, caller *standby.Caller, fits func(Welcome) error,
) (net.Conn, *standby.LineReader, error) {
	for {
		conn, in, err := call(ctx, to, caller, fits)
		if final := (*Final)(nil); err == nil || errors.As(err, &final) {
			return conn, in, err
		}
		if pause(ctx, callEvery); ctx.Err() != nil {
			return nil, nil, fmt.Errorf("laptop 1 does not answer at %s: %w", to, err)
		}
	}
}

func call(
	ctx context.Context, to string, caller *standby.Caller, fits func(Welcome) error,
) (conn net.Conn, in *standby.LineReader, err error) {
	dialer := net.Dialer{Timeout: greetWait}
	if conn, err = dialer.DialContext(ctx, "tcp", to); err != nil {
		return nil, nil, err
	}
	if in, err = answer(conn, caller, fits); err != nil {
		conn.Close()
		return nil, nil, err
	}
	return conn, in, nil
}

// answer answers the greeting of the laptop that was called.
func answer(conn net.Conn, caller *standby.Caller, fits func(Welcome) error) (*standby.LineReader, error) {
	conn.SetDeadline(time.Now().Add(greetWait))
	in := standby.NewReader(conn)
	hello, err := in.Next()
	if err != nil {
		return nil, err
	}
	proof, err := caller.Answer(hello, nonce())
	if err != nil {
		return nil, &Final{err}
	}
	if _, err := conn.Write(proof.Bytes()); err != nil {
		return nil, err
	}
	reply, err := in.Next()
	if err != nil {
		return nil, err
	}
	if err := caller.Welcomed(reply); err != nil {
		return nil, &Final{err}
	}
	if err := fits(Welcome{reply.Run, reply.Show}); err != nil {
		return nil, &Final{err}
	}
	return in, nil
}

// serve hands over what comes from the other laptop until its connection ends, or another one of it replaces this one.
func (l *PairLink) serve(conn net.Conn, in *standby.LineReader) {
	in.Admitted()
	conn.SetDeadline(time.Time{})
	l.mu.Lock()
	if l.conn != nil { // it has called again: the old connection has only not ended yet
		l.conn.Close()
	}
	l.conn, l.waiting = conn, nil
	l.mu.Unlock()
	ended := make(chan struct{})
	var writing sync.WaitGroup
	writing.Go(func() { l.push(conn, ended) })
	l.peer.LinkUp()
	for {
		conn.SetReadDeadline(time.Now().Add(deadAfter))
		line, err := in.Next()
		if err != nil || !l.current(conn) {
			break
		}
		l.peer.Receive(line)
	}
	close(ended)
	conn.Close()
	writing.Wait()
	l.mu.Lock()
	mine := l.conn == conn
	if mine {
		l.conn, l.waiting = nil, nil
	}
	l.mu.Unlock()
	if mine {
		l.peer.LinkDown()
	}
}

func (l *PairLink) current(conn net.Conn) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.conn == conn
}

// Send sends lines to the other laptop, if it is connected. The system mostly takes them at once, so that they are on
// their way even if this program is killed in the next instant. What it does not take waits.
func (l *PairLink) Send(lines []standby.PairLine) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.conn == nil {
		return
	}
	empty := len(l.waiting) == 0
	for _, line := range lines {
		l.waiting = append(l.waiting, line.Bytes()...)
	}
	if empty {
		l.conn.SetWriteDeadline(time.Now().Add(writeWait))
		n, _ := l.conn.Write(l.waiting) // an error shows when the rest is written
		l.waiting = l.waiting[n:]
	}
	switch {
	case len(l.waiting) > maxWaiting:
		l.conn.Close()
	case len(l.waiting) > 0:
		select {
		case l.wake <- struct{}{}:
		default:
		}
	}
}

// push writes what waits, until the connection has ended.
func (l *PairLink) push(conn net.Conn, ended <-chan struct{}) {
	for {
		select {
		case <-ended:
			return
		case <-l.wake:
		case <-time.After(20 * time.Millisecond): // the rest of what waited
		}
		l.mu.Lock()
		if l.conn == conn && len(l.waiting) > 0 {
			conn.SetWriteDeadline(time.Now().Add(writeWait))
			n, err := conn.Write(l.waiting)
			l.waiting = l.waiting[n:]
			var late net.Error
			if err != nil && !(errors.As(err, &late) && late.Timeout()) {
				conn.Close()
			}
		}
		l.mu.Unlock()
	}
}

// Close ends the link. Nothing of it runs any more when it returns.
func (l *PairLink) Close() {
	l.stop()
	l.mu.Lock()
	if l.conn != nil {
		l.conn.Close()
	}
	l.mu.Unlock()
	l.work.Wait()
}

func host(conn net.Conn) string {
	name, _, err := net.SplitHostPort(conn.RemoteAddr().String())
	if err != nil {
		return conn.RemoteAddr().String()
	}
	return name
}

func nonce() []byte {
	n := make([]byte, standby.NonceBytes)
	rand.Read(n) // it never fails
	return n
}

func pause(ctx context.Context, d time.Duration) {
	select {
	case <-time.After(d):
	case <-ctx.Done():
	}
}

// NewKey is a key by chance.
func NewKey() string {
	var random [standby.KeyBytes]byte
	rand.Read(random[:])
	return standby.NewKey(random)
}
