package remote

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"backfield/cmd/backfield/show"
	"backfield/cue"
	"backfield/layout/source"
	"backfield/osc/live"
	"backfield/osc/mixer"
	"backfield/osc/run"
	"backfield/osc/virtual"
	"backfield/osc/wire"
)

// smallPlan is a show of five cues, ten seconds apart, with an automatic one in the middle of the second.
func smallPlan(t testing.TB) run.ShowSetup {
	t.Helper()
	var p source.Problems
	d := mixer.Read(&source.File{Name: "mixer.toml", Text: `to = "127.0.0.1:9000"
channels = 8
[mute]
address = "/m/{channel}"
[level]
address = "/l/{channel}"
off = -120
[echo]
`}, &p)
	if p.Errors() > 0 {
		t.Fatal(p.All())
	}
	s := &cue.Show{Title: "small"}
	for i, id := range []string{"1", "2", "2A", "3", "4"} {
		c := cue.Snapshot{
			ID: id, At: fmt.Sprintf("1:%d", 1+20*i), Name: "cue number " + id, TimeS: float64(10 * i),
			Auto: id == "2A",
		}
		for n, player := range []string{"Tpt 1", "Bari 1"} {
			ch := cue.Channel{Channel: n + 1, Player: player, Kind: cue.Worn, Open: (i+n)%2 == 0, LevelDB: cue.Level(-3 * n)}
			if !ch.Open {
				ch.LevelDB = cue.Silent
			}
			c.Channels = append(c.Channels, ch)
		}
		s.Cues = append(s.Cues, c)
	}
	return run.ShowSetup{Show: s, Mixer: d, Time: twoASecond{}}
}

// twoASecond counts two counts a second, in one movement.
type twoASecond struct{}

func (twoASecond) Find(position string) (float64, error) {
	var count float64
	if _, err := fmt.Sscanf(position, "1:%g", &count); err != nil {
		return 0, fmt.Errorf("%q is not a count", position)
	}
	return (count - 1) / 2, nil
}
func (twoASecond) At(s float64) run.ScoreMoment {
	return run.ScoreMoment{Movement: 1, Count: 2*s + 1, BPM: 120}
}
func (twoASecond) Counts(fromS, toS float64) float64 { return 2 * (toS - fromS) }

// demo is the demo, compiled.
func demo(t testing.TB) *show.Loaded {
	t.Helper()
	var p source.Problems
	s, err := show.Load(show.Disk{}, "../../../examples/harbor/show.toml", show.LoadOptions{}, &p)
	if err != nil || s.Show == nil {
		t.Fatal(err, p.All())
	}
	return s
}

// stage runs a plan with a simulated mixer until the test ends.
func stage(t testing.TB, plan run.ShowSetup, o run.Options) *live.Driver {
	t.Helper()
	l, err := wire.Listen("udp://127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	mixer := virtual.New(plan.Mixer)
	var running sync.WaitGroup
	running.Go(func() {
		for {
			packet, from, err := l.Receive()
			if errors.Is(err, wire.ErrClosed) {
				return
			}
			for _, r := range mixer.Handle(time.Now(), from.String(), packet) {
				from.Reply(r.Packet)
			}
		}
	})
	o.To = []string{l.Addr().String()}
	s := live.New(run.New(plan, o, time.Now()), plan.Mixer, o.To)
	ctx, cancel := context.WithCancel(context.Background())
	running.Go(func() { s.Run(ctx, o.To) })
	t.Cleanup(func() { cancel(); l.Close(); running.Wait() })
	return s
}

// fixture is a page server on loopback.
type fixture struct {
	*Server
	t testing.TB

	mu       sync.Mutex
	reported []string
}

func serve(t testing.TB, s PageRun, o ServerOptions) *fixture {
	t.Helper()
	f := &fixture{t: t}
	if o.At == "" {
		o.At = "127.0.0.1:0"
	}
	if o.Channels == nil {
		o.Channels, o.MixerChannels = []int{1, 2}, 8
	}
	o.Report = func(text string) { f.mu.Lock(); defer f.mu.Unlock(); f.reported = append(f.reported, text) }
	server, err := Listen(s, o)
	if err != nil {
		t.Fatal(err)
	}
	f.Server = server
	t.Cleanup(func() { server.Close() })
	return f
}

func (f *fixture) url(path string) string { return "http://" + f.Addr().String() + path }

// client is a simple browser.
type client struct {
	f *fixture
	*http.Client
}

// stranger has no key.
func (f *fixture) stranger() *client {
	jar, _ := cookiejar.New(nil)
	tr := &http.Transport{}
	f.t.Cleanup(tr.CloseIdleConnections)
	return &client{f: f, Client: &http.Client{Jar: jar, Transport: tr, Timeout: 10 * time.Second}}
}

// guest is a client that came in.
func (f *fixture) guest() *client {
	f.t.Helper()
	c := f.stranger()
	r := c.send("POST", strings.TrimPrefix(f.Link(), f.url("")), "", "Origin", f.url(""))
	if r.status != 200 { // after the redirect
		f.t.Fatalf("the key does not let in: %d", r.status)
	}
	return c
}

type reply struct {
	status int
	body   string
	header http.Header
}

// send makes a request with headers in pairs; "Host" is the request's own.
func (c *client) send(method, path, body string, headers ...string) reply {
	c.f.t.Helper()
	r, err := http.NewRequest(method, c.f.url(path), strings.NewReader(body))
	if err != nil {
		c.f.t.Fatal(err)
	}
	for i := 0; i < len(headers); i += 2 {
		if r.Header.Set(headers[i], headers[i+1]); headers[i] == "Host" {
			r.Host = headers[i+1]
		}
	}
	got, err := c.Do(r)
	if err != nil {
		c.f.t.Fatal(err)
	}
	defer got.Body.Close()
	text, _ := io.ReadAll(got.Body)
	return reply{got.StatusCode, string(text), got.Header}
}

// order sends a command as the page does.
func (c *client) order(o map[string]any) reply {
	c.f.t.Helper()
	if _, ok := o["pressed_ms"]; !ok {
		o["pressed_ms"] = c.f.hub.nowMS()
	}
	b, _ := json.Marshal(o)
	return c.send("POST", "/do", string(b), "Origin", c.f.url(""), "Content-Type", "application/json")
}

type obj = map[string]any

// word is a message to a page.
type word struct {
	NowMS   int64 `json:"now_ms"`
	SeenMS  int64 `json:"seen_ms"`
	Picture *picture
	ended   bool
}

// listen takes the messages to a page until the test ends. The channel closes with the stream.
func (c *client) listen() <-chan word {
	c.f.t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	r, _ := http.NewRequestWithContext(ctx, "GET", c.f.url("/events"), nil)
	stream := *c.Client
	stream.Timeout = 0
	got, err := stream.Do(r)
	if err != nil {
		c.f.t.Fatal(err)
	}
	if got.StatusCode != 200 {
		c.f.t.Fatalf("no stream: %d", got.StatusCode)
	}
	words := make(chan word, 1000)
	var running sync.WaitGroup
	running.Go(func() {
		defer close(words)
		defer got.Body.Close()
		in := bufio.NewReader(got.Body)
		for {
			line, err := in.ReadBytes('\n')
			if err != nil {
				return
			}
			if bytes.HasPrefix(line, []byte("event: ended")) {
				words <- word{ended: true}
			}
			var w word
			if data, ok := bytes.CutPrefix(line, []byte("data: ")); ok && json.Unmarshal(data, &w) == nil && w.Picture != nil {
				words <- w
			}
		}
	})
	c.f.t.Cleanup(func() { cancel(); running.Wait() })
	return words
}

// until waits for a message that fits.
func until(t testing.TB, words <-chan word, what string, fits func(w word) bool) word {
	t.Helper()
	limit := time.After(5 * time.Second)
	for {
		select {
		case w, more := <-words:
			if !more {
				t.Fatalf("the stream ended before %s", what)
			}
			if fits(w) {
				return w
			}
		case <-limit:
			t.Fatalf("no %s within 5 s", what)
		}
	}
}

// fewer waits until there are no more goroutines than before.
func fewer(t testing.TB, before int) {
	t.Helper()
	for deadline := time.Now().Add(5 * time.Second); runtime.NumGoroutine() > before; time.Sleep(5 * time.Millisecond) {
		if time.Now().After(deadline) {
			buffer := make([]byte, 1<<16)
			t.Fatalf("%d goroutines, %d before:\n%s", runtime.NumGoroutine(), before, buffer[:runtime.Stack(buffer, true)])
		}
	}
}

// cookieOf is the device's cookie.
func (c *client) cookieOf() string {
	u, _ := url.Parse(c.f.url("/"))
	for _, k := range c.Jar.Cookies(u) {
		return k.Name + "=" + k.Value
	}
	return ""
}
