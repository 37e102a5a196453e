package remote

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"net"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"backfield/osc/run"
)

// A browser that reads nothing, and ones that send nothing, hold up neither the run nor the others, and their number is
// bounded.
func TestStuckPages(t *testing.T) {
	t.Parallel()
	st := stage(t, smallPlan(t), run.Options{Guard: time.Nanosecond})
	f := serve(t, st, ServerOptions{})
	x := f.guest()
	for range 3 { // ask for the stream and never read
		c, err := net.Dial("tcp", f.Addr().String())
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
		c.(*net.TCPConn).SetReadBuffer(1024)
		fmt.Fprintf(c, "GET /events HTTP/1.1\r\nHost: %s\r\nCookie: %s\r\n\r\n", f.Addr(), x.cookieOf())
	}
	for range 5 { // begin a request and never end it
		c, err := net.Dial("tcp", f.Addr().String())
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
		io.WriteString(c, "GET / HTTP/1.1\r\nHo")
	}
	words := f.guest().listen()
	for i := range 20 {
		began := time.Now()
		to := fmt.Sprint(1 + i%4)
		if r := x.order(obj{"verb": "jump", "name": to}); r.status != 200 {
			t.Fatalf("to: %d %s", r.status, r.body)
		}
		until(t, words, "cue "+to, func(w word) bool { return w.Picture.View.Step == to })
		if took := time.Since(began); took > 3*time.Second {
			t.Errorf("another page saw it after %v", took)
		}
		time.Sleep(time.Second / maxCommandsPerS)
	}
	for f.hub.count() < 4 {
		time.Sleep(5 * time.Millisecond)
	}
	x.listen()
	if r := x.send("GET", "/events", ""); r.status != 503 { // the device has its four
		t.Errorf("a fifth page of a device: %d", r.status)
	}
}

// Messages to pages have no number that JSON cannot hold, and empty lists are fine.
func TestPictureOfNothing(t *testing.T) {
	h := newHub(nil, &ServerOptions{})
	var p picture
	encoded := func(b []byte, err error) []byte {
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	if err := json.Unmarshal(encoded(h.paint(run.View{}, 0).encode()), &p); err != nil {
		t.Fatal(err)
	}
	v := run.View{ProblemAgoS: 3, Mixers: []run.MixerView{{ReplyAgoS: 4}}}
	a, b := h.paint(v, 1), h.paint(run.View{ProblemAgoS: 5, Mixers: []run.MixerView{{ReplyAgoS: 6}}}, 1)
	if !bytes.Equal(encoded(a.still()), encoded(b.still())) {
		t.Error("what changes with time alone counts as a change")
	}
	if bytes.Equal(encoded(a.encode()), encoded(b.encode())) || v.Mixers[0].ReplyAgoS != 4 {
		t.Error("what changes with time alone is lost")
	}
}

// badNumberRun is a run whose view has a number that is not one.
type badNumberRun struct{ yes atomic.Bool }

func (s *badNumberRun) DoWithin(run.Command, time.Duration) (string, error) { return "", nil }
func (s *badNumberRun) View() (run.View, bool) {
	if s.yes.Load() {
		return run.View{BPM: math.NaN()}, true
	}
	return run.View{}, true
}

// A picture that JSON cannot hold does not pass for the one before: pages get that the run was last looked at long ago.
func TestPictureThatCannotBe(t *testing.T) {
	t.Parallel()
	st := &badNumberRun{}
	f := serve(t, st, ServerOptions{})
	words := f.guest().listen()
	until(t, words, "a picture", func(word) bool { return true })
	st.yes.Store(true)
	time.Sleep(4 * lookEvery)
	f.hub.mu.Lock()
	age := time.Since(f.hub.lookedAt)
	f.hub.mu.Unlock()
	if age < 2*lookEvery {
		t.Errorf("the page computes an age of %v", age)
	}
}

// bigViewRun is a run whose picture fills any socket's buffers at once.
type bigViewRun struct{ n int }

func (f *bigViewRun) DoWithin(run.Command, time.Duration) (string, error) { return "", nil }
func (f *bigViewRun) View() (run.View, bool) {
	f.n++ // by the hub alone
	return run.View{ShowS: float64(f.n), Title: strings.Repeat("x", 4<<20)}, true
}

// A stream lasts, but ends if its browser reads nothing.
func TestStreamsLast(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("waits for seconds")
	}
	began := time.Now()
	good := serve(t, stage(t, smallPlan(t), run.Options{}), ServerOptions{})
	words := good.guest().listen()
	bad := serve(t, &bigViewRun{}, ServerOptions{})
	x := bad.guest()
	c, err := net.Dial("tcp", bad.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	fmt.Fprintf(c, "GET /events HTTP/1.1\r\nHost: %s\r\nCookie: %s\r\n\r\n", bad.Addr(), x.cookieOf())
	joined := false
	for n := 1; n > 0 || !joined; time.Sleep(10 * time.Millisecond) {
		if n = bad.hub.count(); n > 0 {
			joined = true
		}
		if time.Since(began) > 4*requestLimit {
			t.Fatal("a stream that nobody reads does not end")
		}
	}
	if took := time.Since(began); took < requestLimit/2 {
		t.Errorf("it ended after %v already", took)
	}
	time.Sleep(time.Until(began.Add(2*requestLimit + time.Second))) // longer than any other answer may take
	for len(words) > 0 {
		<-words
	}
	until(t, words, "a picture after a while", func(word) bool { return true })
}
