package remote

import (
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"backfield/cmd/backfield/browser"
	"backfield/osc/live"
	"backfield/osc/run"
	"backfield/osc/waiting"
)

func TestMain(m *testing.M) {
	code := waiting.Run(m)
	browser.End()
	os.Exit(code)
}

func (f *fixture) heard() string {
	f.mu.Lock()
	defer f.mu.Unlock()
	return strings.Join(f.reported, "\n")
}

func step(t testing.TB, s PageRun) string {
	t.Helper()
	v, ok := s.View()
	if !ok {
		t.Fatal("the run has ended")
	}
	return v.Step
}

// A request head that never ends is cut off, and only so many connections are let in.
func TestSlowAndMany(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("waits for seconds")
	}
	st := stage(t, smallPlan(t), run.Options{})
	f := serve(t, st, ServerOptions{})
	slowly, err := net.Dial("tcp", f.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer slowly.Close()
	io.WriteString(slowly, "GET / HTTP/1.1\r\nHo")
	var let atomic.Int32
	var all sync.WaitGroup
	for range 2 * maxConnsPerAddress {
		c, err := net.Dial("tcp", f.Addr().String())
		if err != nil {
			continue
		}
		defer c.Close()
		all.Go(func() {
			io.WriteString(c, "GET / HTTP/1.1\r\n")
			c.SetReadDeadline(time.Now().Add(requestLimit / 2)) // who is not let in is cut off long before, also on a busy machine
			if _, err := c.Read(make([]byte, 1)); err != nil {
				if n, ok := err.(net.Error); ok && n.Timeout() {
					let.Add(1) // it waits for the rest
				}
			}
		})
	}
	all.Wait()
	if n := let.Load(); n > maxConnsPerAddress || n < maxConnsPerAddress/2 {
		t.Errorf("%d connections were let in", n)
	}
	slowly.SetReadDeadline(time.Now().Add(2 * requestLimit))
	if _, err := io.ReadAll(slowly); err != nil {
		t.Errorf("a head that never ends: %v", err)
	}
}

// hung is a run that does not answer.
type hung struct{ release chan struct{} }

func (h hung) DoWithin(run.Command, time.Duration) (string, error) { return "", live.ErrLate }
func (h hung) View() (run.View, bool)                              { <-h.release; return run.View{}, false }

// When a run hangs, pages still get messages and can tell; a command is refused; and Close ends.
func TestRunHangs(t *testing.T) {
	t.Parallel()
	h := hung{make(chan struct{})}
	defer close(h.release)
	f := serve(t, h, ServerOptions{})
	x := f.guest()
	if r := x.order(obj{"verb": "go", "next": "1"}); r.status != 409 || !strings.Contains(r.body, "ignored") {
		t.Errorf("%d %s", r.status, r.body)
	}
	x.listen()
	began := time.Now()
	f.Close()
	if took := time.Since(began); took > 3*closeWait {
		t.Errorf("Close took %v", took)
	}
}

// Nothing is left when the server closes with pages open and connections of all kinds. Pages get the end.
func TestNothingIsLeft(t *testing.T) {
	st := stage(t, smallPlan(t), run.Options{})
	for !st.Settled() { // until it has opened its connection
		time.Sleep(5 * time.Millisecond)
	}
	before := runtime.NumGoroutine()
	for range 4 { // each waits for the request that never comes whole, and would leave something
		f := &fixture{t: t}
		s, err := Listen(st, ServerOptions{At: "127.0.0.1:0"})
		if err != nil {
			t.Fatal(err)
		}
		f.Server = s
		x := f.guest()
		words := x.listen()
		until(t, words, "a picture", func(word) bool { return true })
		c, err := net.Dial("tcp", s.Addr().String())
		if err != nil {
			t.Fatal(err)
		}
		io.WriteString(c, "GET / HTTP/1.1\r\nHo")
		s.Close()
		s.Close()
		until(t, words, "the end", func(w word) bool { return w.ended })
		for range words {
		}
		c.Close()
		x.CloseIdleConnections()
	}
	fewer(t, before)
}

func TestAddress(t *testing.T) {
	for text, want := range map[string]string{
		"8080": "127.0.0.1:8080", "0": "127.0.0.1:0", "localhost:8080": "127.0.0.1:8080",
		"0.0.0.0:8080": "0.0.0.0:8080", "[::1]:80": "[::1]:80",
		"": "is not HOST:PORT", ":8080": "has no address", "192.0.2.7": "is not HOST:PORT",
		"tablet:8080": "is not an IP address", "127.0.0.1:http": "is not HOST:PORT", "70000": "is not HOST:PORT",
		"127.0.0.1:-1": "is not HOST:PORT",
	} {
		got, err := Address(text)
		if err != nil {
			got = err.Error()
		}
		if !strings.Contains(got, want) || err == nil && got != want {
			t.Errorf("%q: %s", text, got)
		}
	}
}

// The invitation has the link, and a code only if another device can open it.
func TestInvitation(t *testing.T) {
	st := stage(t, smallPlan(t), run.Options{})
	f := serve(t, st, ServerOptions{})
	s := f.Sheet()
	if all := strings.Join(s.Lines, "\n"); s.Code != nil || !strings.Contains(all, f.Link()) {
		t.Errorf("on loopback:\n%s\n%v", all, s.Code)
	}
	f.guest()
	if all := strings.Join(f.Sheet().Lines, "\n"); !strings.Contains(all, "page 1 at 127.0.0.1 is in") {
		t.Errorf("with a guest:\n%s", all)
	}
}

// The extra handlers last as long as their device is in, and longer than a request may take to arrive.
func TestExtraLasts(t *testing.T) {
	t.Parallel()
	ended := make(chan struct{})
	extra := func(w http.ResponseWriter, r *http.Request) {
		w.WriteHeader(http.StatusOK)
		http.NewResponseController(w).Flush()
		<-r.Context().Done()
		close(ended)
	}
	f := serve(t, &badNumberRun{}, ServerOptions{Extra: map[string]http.Handler{"GET /extra": http.HandlerFunc(extra)}})
	x := f.guest()
	r, err := x.Get(f.url("/extra"))
	if err != nil || r.StatusCode != http.StatusOK {
		t.Fatal(err, r)
	}
	defer r.Body.Close()
	if err := f.Renew(); err != nil {
		t.Fatal(err)
	}
	select {
	case <-ended:
	case <-time.After(2 * time.Second):
		t.Error("it is served to a removed device")
	}
}

// Strangers who knock as fast as they can, from the guest's own address, keep no guest who is in from the run.
func TestFloodOfStrangers(t *testing.T) {
	st := stage(t, smallPlan(t), run.Options{Guard: time.Nanosecond})
	f := serve(t, st, ServerOptions{})
	x := f.guest()
	words := x.listen()
	var running sync.WaitGroup
	end := make(chan struct{})
	var mu sync.Mutex
	knocks, let := 0, 0
	for range 4 {
		running.Go(func() {
			for {
				select {
				case <-end:
					return
				default:
				}
				c, err := net.Dial("tcp", f.Addr().String())
				if err != nil {
					continue
				}
				fmt.Fprintf(c, "POST /do HTTP/1.1\r\nHost: %s\r\nContent-Length: 9\r\n\r\n", f.Addr())
				c.SetReadDeadline(time.Now().Add(time.Second))
				n, _ := c.Read(make([]byte, 64))
				c.Close()
				mu.Lock()
				if knocks++; n > 0 {
					let++
				}
				mu.Unlock()
			}
		})
	}
	var longest time.Duration
	for i := range 15 {
		began := time.Now()
		to := fmt.Sprint(1 + i%4)
		if r := x.order(obj{"verb": "jump", "name": to}); r.status != 200 {
			t.Errorf("to: %d %s", r.status, r.body)
		}
		until(t, words, "cue "+to, func(w word) bool { return w.Picture.View.Step == to })
		longest = max(longest, time.Since(began))
		time.Sleep(time.Second / maxCommandsPerS)
	}
	close(end)
	running.Wait()
	t.Logf("%d knocks, %d looked at; an order was seen after %v at most", knocks, let, longest)
	if longest > 2*time.Second || knocks < 100 || let > newConnsAtOnce+10*newConnsPerS {
		t.Errorf("%d knocks, %d looked at; an order was seen after %v", knocks, let, longest)
	}
}
