package remote

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"net"
	"net/http"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"backfield/osc/journal"
	"backfield/osc/live"
	"backfield/osc/run"
)

func (f *fixture) heard() string {
	f.mu.Lock()
	defer f.mu.Unlock()
	return strings.Join(f.told, "\n")
}

func step(t testing.TB, s Stage) string {
	t.Helper()
	v, ok := s.View()
	if !ok {
		t.Fatal("the run has ended")
	}
	return v.Step
}

// Whoever has no key sees nothing at any path, and moves nothing: an empty answer, whatever is asked for.
func TestNoKeySeesNothing(t *testing.T) {
	st := stage(t, smallPlan(t), run.Options{})
	f := serve(t, st, Options{Extra: map[string]http.Handler{"GET /field.svg": http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { io.WriteString(w, "extra") })}})
	open := f.guest()
	for _, path := range []string{"/", "/run.html", "/run.css", "/run.js", "/show.json", "/field.svg", "/static/run.js", "/../go.mod", "/k", "/favicon.ico"} {
		r := f.stranger().send("GET", path, "")
		if r.status != 404 || r.body != "" {
			t.Errorf("%s: %d %q to a stranger", path, r.status, r.body)
		}
	}
	for _, path := range []string{"/", "/run.css", "/run.js", "/show.json", "/field.svg"} {
		if r := open.send("GET", path, ""); r.status != 200 || r.body == "" {
			t.Errorf("%s: %d to a guest", path, r.status)
		}
	}
	for _, c := range []struct{ method, path, body string }{{"POST", "/do", `{"verb":"go","next":"1","asked_ms":0}`}, {"POST", "/do", ""}, {"DELETE", "/", ""}, {"GET", "/events", ""}, {"POST", "/events", ""}, {"OPTIONS", "/do", ""}} {
		x := f.stranger()
		for _, cookie := range []string{"", "backfield-run-1=00", fmt.Sprintf("backfield-run-%d=%064d", f.Addr().Port(), 0), fmt.Sprintf("backfield-run-%d=", f.Addr().Port())} {
			r := x.send(c.method, c.path, c.body, "Origin", f.url(""), "Content-Type", "application/json", "Cookie", cookie)
			if r.status != 404 || r.body != "" {
				t.Errorf("%s %s with cookie %q: %d %q", c.method, c.path, cookie, r.status, r.body)
			}
		}
	}
	if s := step(t, st); s != "" {
		t.Errorf("a stranger moved the run to %q", s)
	}
}

// A key lets one device in, by the button, and is spent by that; looking at the link spends nothing.
func TestKeyIsGoodOnce(t *testing.T) {
	st := stage(t, smallPlan(t), run.Options{})
	f := serve(t, st, Options{})
	door := strings.TrimPrefix(f.Link(), f.url(""))
	a, b := f.stranger(), f.stranger()
	for range 3 { // a camera's preview, and more
		if r := a.send("GET", door, ""); r.status != 200 || !strings.Contains(r.body, "<form method=\"post\">") {
			t.Fatalf("the door: %d %q", r.status, r.body)
		}
	}
	if r := a.send("GET", "/", ""); r.status != 404 {
		t.Fatalf("a look at the door lets in: %d", r.status)
	}
	for _, origin := range []string{"", "null", "http://evil.example", "https://" + f.Addr().String(), f.url("") + ".evil.example"} {
		if r := a.send("POST", door, "", "Origin", origin); r.status != 403 {
			t.Fatalf("let in from origin %q: %d", origin, r.status)
		}
	}
	typed := strings.ToLower(strings.ReplaceAll(door, "-", ""))
	if r := a.send("POST", typed, "", "Origin", f.url("")); r.status != 200 || !strings.Contains(r.body, "run.js") {
		t.Fatalf("the key does not let in: %d", r.status)
	}
	if r := b.send("POST", door, "", "Origin", f.url("")); r.status != 404 || r.body != "" {
		t.Fatalf("the key lets a second device in: %d", r.status)
	}
	if r := a.send("GET", door, ""); r.status != 200 || !strings.Contains(r.body, "run.js") { // back to the page: a is in
		t.Errorf("who is in and follows the link again gets %d", r.status)
	}
	cookie := a.send("GET", "/", "").header // no new cookie, and nothing kept
	if cookie.Get("Set-Cookie") != "" || cookie.Get("Cache-Control") != "no-store" {
		t.Errorf("headers %v", cookie)
	}
	if link := f.Link(); strings.HasSuffix(link, door) || !strings.Contains(f.heard(), "page 1 at 127.0.0.1 has come in") {
		t.Errorf("the link is still %s; told %q", link, f.heard())
	}
	c := f.guest()
	words := c.listen()
	until(t, words, "a picture", func(word) bool { return true })
	if err := f.Renew(); err != nil {
		t.Fatal(err)
	}
	for range words { // it ends
	}
	for _, x := range []*client{a, c} {
		if r := x.send("GET", "/", ""); r.status != 404 {
			t.Errorf("who was thrown out gets %d", r.status)
		}
	}
}

// The cookie is for this server alone: no script reads it, no other site sends it.
func TestCookie(t *testing.T) {
	f := serve(t, stage(t, smallPlan(t), run.Options{}), Options{})
	x := f.stranger()
	x.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	r := x.send("POST", strings.TrimPrefix(f.Link(), f.url("")), "", "Origin", f.url(""))
	got := r.header.Get("Set-Cookie")
	if r.status != 303 || !strings.Contains(got, "; HttpOnly") || !strings.Contains(got, "; SameSite=Strict") || strings.Contains(got, "Domain") {
		t.Errorf("%d, cookie %q", r.status, got)
	}
}

// Wrong keys are told of, and of one address only so many are looked at.
func TestWrongKeys(t *testing.T) {
	f := serve(t, stage(t, smallPlan(t), run.Options{}), Options{})
	x := f.stranger()
	refused := 0
	for i := range 4 * triesAtOnce {
		r := x.send("POST", fmt.Sprintf("/k/%012d", i), "", "Origin", f.url(""))
		if r.body != "" || r.status != 404 && r.status != 429 {
			t.Fatalf("a wrong key gets %d %q", r.status, r.body)
		}
		if r.status == 429 {
			refused++
		}
	}
	if refused < 3*triesAtOnce-1 {
		t.Errorf("%d of %d tries were refused", refused, 4*triesAtOnce)
	}
	if r := x.send("GET", strings.TrimPrefix(f.Link(), f.url("")), ""); r.status != 429 {
		t.Errorf("after that even the right key gets %d", r.status) // else a flood of tries could find it
	}
	if n := strings.Count(f.heard(), "tried a wrong key"); n != 1 {
		t.Errorf("told %d times: %q", n, f.heard())
	}
}

// No page of another server can use a guest's browser: by its Host (DNS rebinding) or its Origin.
func TestForeignPages(t *testing.T) {
	st := stage(t, smallPlan(t), run.Options{})
	f := serve(t, st, Options{})
	x := f.guest()
	port := f.Addr().Port()
	for _, host := range []string{"evil.example", fmt.Sprintf("evil.example:%d", port), fmt.Sprintf("127.0.0.1.evil.example:%d", port), "127.0.0.1", fmt.Sprintf("127.0.0.2:%d", port), fmt.Sprintf("0.0.0.0:%d", port), fmt.Sprintf("[::1]:%d", port), fmt.Sprintf("127.0.0.1:%d", port+1)} {
		for _, path := range []string{"/", "/show.json", strings.TrimPrefix(f.Link(), f.url(""))} {
			if r := x.send("GET", path, "", "Host", host); r.status != 403 || r.body != "" {
				t.Errorf("%s by the name %s: %d %q", path, host, r.status, r.body)
			}
		}
	}
	local := fmt.Sprintf("localhost:%d", port)
	if r := f.stranger().send("GET", "/", "", "Host", local, "Cookie", x.cookieOf()); r.status != 200 {
		t.Errorf("localhost: %d", r.status)
	}
	body := fmt.Sprintf(`{"verb":"go","next":"1","asked_ms":%d}`, time.Since(f.hub.began).Milliseconds())
	for _, headers := range [][]string{
		{}, {"Origin", "null"}, {"Origin", "http://evil.example"}, {"Origin", "https://" + f.Addr().String()}, {"Origin", "http://" + local},
		{"Origin", f.url(""), "Sec-Fetch-Site", "cross-site"}, {"Origin", f.url(""), "Sec-Fetch-Site", "same-site"},
	} {
		r := x.send("POST", "/do", body, append(headers, "Content-Type", "application/json")...)
		if r.status != 403 {
			t.Errorf("%v: %d %s", headers, r.status, r.body)
		}
	}
	for _, kind := range []string{"", "text/plain", "application/x-www-form-urlencoded"} { // what a page may send without asking
		if r := x.send("POST", "/do", body, "Origin", f.url(""), "Content-Type", kind); r.status != 415 {
			t.Errorf("content type %q: %d %s", kind, r.status, r.body)
		}
	}
	if s := step(t, st); s != "" {
		t.Errorf("a foreign page moved the run to %q", s)
	}
	if r := x.send("GET", "/", ""); !strings.Contains(r.header.Get("Content-Security-Policy"), "frame-ancestors 'none'") || r.header.Get("Access-Control-Allow-Origin") != "" {
		t.Errorf("headers %v", r.header)
	}
}

// Commands that are no commands, or too many, or too long, change nothing.
func TestOrders(t *testing.T) {
	t.Parallel()
	st := stage(t, smallPlan(t), run.Options{Guard: time.Nanosecond})
	f := serve(t, st, Options{})
	x := f.guest()
	for _, c := range []struct {
		order  obj
		status int
		says   string
	}{
		{obj{"verb": "go"}, 400, "must say which cue"},
		{obj{"verb": "back"}, 400, "must say which cue"},
		{obj{"verb": "go", "next": "2"}, 409, "the next cue was 2 and is 1 now; not taken"},
		{obj{"verb": "go", "next": ""}, 409, "the next cue was none and is 1 now"},
		{obj{"verb": "go", "next": "1", "asked_ms": nil}, 400, "must say when"},
		{obj{"verb": "go", "next": "1", "asked_ms": time.Since(f.hub.began).Milliseconds() - 4000}, 409, "late: not taken"},
		{obj{"verb": "quit"}, 400, "is the terminal's"},
		{obj{"verb": "nudge", "name": "Tpt 1"}, 400, "is the terminal's"},
		{obj{"verb": ""}, 400, "is the terminal's"},
		{obj{"verb": "to"}, 400, "is not understood"},
		{obj{"verb": "to", "name": "99"}, 409, "no cue"},
		{obj{"verb": "to", "name": "a\x00b"}, 400, "is not text"},
		{obj{"verb": "to", "name": strings.Repeat("9", 101)}, 400, "so long"},
	} {
		if r := x.order(c.order); r.status != c.status || !strings.Contains(r.body, c.says) {
			t.Errorf("%v: %d %s", c.order, r.status, r.body)
		}
		time.Sleep(time.Second / mostCommands)
	}
	for _, body := range []string{"", "{", "[]", `{"verb":"go","next":"1","asked_ms":1,"more":1}`, `{"verb":"hush","name":"` + strings.Repeat("x", mostBody) + `"}`} {
		if r := x.send("POST", "/do", body, "Origin", f.url(""), "Content-Type", "application/json"); r.status != 400 {
			t.Errorf("%.20q: %d %s", body, r.status, r.body)
		}
	}
	if s := step(t, st); s != "" {
		t.Fatalf("moved to %q", s)
	}
	for _, c := range []struct {
		order      obj
		says, step string
	}{
		{obj{"verb": "go", "next": "1"}, "cue 1", "1"},
		{obj{"verb": "to", "name": "3"}, "cue 3", "3"},
		{obj{"verb": "back", "next": "4"}, "back to cue 1", "1"},
		{obj{"verb": "hush"}, "hushed", "1"},
		{obj{"verb": "hush", "asked_ms": -9000}, "hushed already", "1"}, // late, and right all the same
		{obj{"verb": "restore"}, "restored", "1"},
		{obj{"verb": "stop"}, "stands", "1"},
		{obj{"verb": "start"}, "runs", "1"},
	} {
		if r := x.order(c.order); r.status != 200 || !strings.Contains(r.body, c.says) || step(t, st) != c.step {
			t.Errorf("%v: %d %s, in %q", c.order, r.status, r.body, step(t, st))
		}
		time.Sleep(time.Second / mostCommands)
	}
	flooded := 0
	for range 3 * mostCommands {
		if r := x.order(obj{"verb": "hush"}); r.status == 429 {
			flooded++
		}
	}
	if flooded == 0 {
		t.Error("no flood is refused")
	}
}

// A page that looks on only sees everything and moves nothing.
func TestReadOnly(t *testing.T) {
	st := stage(t, smallPlan(t), run.Options{})
	f := serve(t, st, Options{ReadOnly: true})
	x := f.guest()
	for _, verb := range []string{"go", "back", "hush", "to", "start"} {
		if r := x.order(obj{"verb": verb, "next": "1", "name": "2"}); r.status != 403 {
			t.Errorf("%s: %d", verb, r.status)
		}
	}
	if v, _ := st.View(); v.Step != "" || v.Hush || v.Running {
		t.Errorf("it moved: %s", v)
	}
	if r := x.send("GET", "/show.json", ""); !strings.Contains(r.body, `"read_only":true`) {
		t.Errorf("show.json: %s", r.body)
	}
	until(t, x.listen(), "a picture", func(w word) bool { return w.Picture.View.Title == "small" })
}

// Two pages and the terminal agree after each go, whoever gave it; the journal tells who.
func TestAllAgree(t *testing.T) {
	var mu sync.Mutex
	var from []string
	st := stage(t, smallPlan(t), run.Options{Guard: time.Nanosecond, Record: func(e journal.Entry) {
		mu.Lock()
		defer mu.Unlock()
		if e.Kind == "command" {
			from = append(from, e.From)
		}
	}})
	f := serve(t, st, Options{Where: func(player string, showS float64) (float64, float64, bool) { return 1.234, 5, player == "Tpt 1" }})
	a, b := f.guest(), f.guest()
	seenA, seenB := a.listen(), b.listen()
	agree := func(want string) {
		t.Helper()
		for _, words := range []<-chan word{seenA, seenB} {
			w := until(t, words, "cue "+want, func(w word) bool { return w.Picture.View.Step == want })
			if w.NowMS < w.SeenMS || w.NowMS-w.SeenMS > 2000 {
				t.Errorf("looked at at %d, told at %d", w.SeenMS, w.NowMS)
			}
			if want == "1" && (w.Picture.Places["Tpt 1"] != position{1.23, 5} || len(w.Picture.Places) != 1 || w.Picture.Pages != 2) {
				t.Errorf("places %v, %d pages", w.Picture.Places, w.Picture.Pages)
			}
		}
	}
	agree("")
	a.order(obj{"verb": "go", "next": "1"})
	agree("1")
	b.order(obj{"verb": "go", "next": "2"})
	agree("2")
	if _, err := st.Do(run.Command{Verb: run.Go}); err != nil { // the terminal
		t.Fatal(err)
	}
	agree("3")
	b.order(obj{"verb": "hush"})
	until(t, seenA, "hush", func(w word) bool { return w.Picture.View.Hush })
	mu.Lock()
	defer mu.Unlock()
	if got := strings.Join(from, "|"); got != "page 1 at 127.0.0.1|page 2 at 127.0.0.1||page 2 at 127.0.0.1" {
		t.Errorf("the journal has %q", got)
	}
}

// Many devices press go for the same cue in the same instant: it goes once, and all others are told so.
func TestOneGo(t *testing.T) {
	t.Parallel()
	st := stage(t, smallPlan(t), run.Options{Guard: time.Nanosecond})
	f := serve(t, st, Options{})
	var pages []*client
	for range 6 {
		pages = append(pages, f.guest())
	}
	for i, next := range []string{"1", "2", "3"} {
		var running sync.WaitGroup
		var mu sync.Mutex
		done := 0
		for _, p := range pages {
			running.Go(func() {
				r := p.order(obj{"verb": "go", "next": next})
				mu.Lock()
				defer mu.Unlock()
				switch {
				case r.status == 200:
					done++
				case r.status != 409 || !strings.Contains(r.body, "somebody else was quicker"):
					t.Errorf("%d %s", r.status, r.body)
				}
			})
		}
		running.Wait()
		if s := step(t, st); done != 1 || s != []string{"1", "2", "3"}[i] {
			t.Fatalf("%d gos were taken, the run is in %q", done, s)
		}
		time.Sleep(again + 10*time.Millisecond)
	}
	// One device again within a second is a finger that bounced, whatever its page shows.
	if r := pages[0].order(obj{"verb": "back", "next": "4"}); r.status != 200 {
		t.Fatalf("back: %d %s", r.status, r.body)
	}
	if r := pages[0].order(obj{"verb": "go", "next": "3"}); r.status != 200 {
		t.Fatalf("go: %d %s", r.status, r.body)
	}
	if r := pages[0].order(obj{"verb": "go", "next": "4"}); r.status != 409 || !strings.Contains(r.body, "within a second") {
		t.Errorf("go again: %d %s", r.status, r.body)
	}
}

// A browser that takes nothing, and ones that send nothing, hold neither the run nor the others; there are only so many.
func TestStuckPages(t *testing.T) {
	t.Parallel()
	st := stage(t, smallPlan(t), run.Options{Guard: time.Nanosecond})
	f := serve(t, st, Options{})
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
		if r := x.order(obj{"verb": "to", "name": to}); r.status != 200 {
			t.Fatalf("to: %d %s", r.status, r.body)
		}
		until(t, words, "cue "+to, func(w word) bool { return w.Picture.View.Step == to })
		if took := time.Since(began); took > 3*time.Second {
			t.Errorf("another page saw it after %v", took)
		}
		time.Sleep(time.Second / mostCommands)
	}
	for f.hub.count() < 4 {
		time.Sleep(5 * time.Millisecond)
	}
	x.listen()
	if r := x.send("GET", "/events", ""); r.status != 503 { // the device has its four
		t.Errorf("a fifth page of a device: %d", r.status)
	}
}

// A head that never ends is cut off, and a crowd at the port is let in only so far.
func TestSlowAndMany(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("waits for seconds")
	}
	st := stage(t, smallPlan(t), run.Options{})
	f := serve(t, st, Options{})
	slowly, err := net.Dial("tcp", f.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer slowly.Close()
	io.WriteString(slowly, "GET / HTTP/1.1\r\nHo")
	let := 0
	for range 2 * mostOfOne {
		c, err := net.Dial("tcp", f.Addr().String())
		if err != nil {
			continue
		}
		defer c.Close()
		io.WriteString(c, "GET / HTTP/1.1\r\n")
		c.SetReadDeadline(time.Now().Add(100 * time.Millisecond))
		if _, err := c.Read(make([]byte, 1)); err != nil {
			if n, ok := err.(net.Error); ok && n.Timeout() {
				let++ // it waits for the rest
			}
		}
	}
	if let > mostOfOne || let < mostOfOne/2 {
		t.Errorf("%d connections were let in", let)
	}
	slowly.SetReadDeadline(time.Now().Add(2 * slow))
	if _, err := io.ReadAll(slowly); err != nil {
		t.Errorf("a head that never ends: %v", err)
	}
}

// hung is a run that does not answer.
type hung struct{ release chan struct{} }

func (h hung) DoWithin(run.Command, time.Duration) (string, error) { return "", live.ErrLate }
func (h hung) View() (run.View, bool)                              { <-h.release; return run.View{}, false }

// A run that hangs: pages hear beats, by which they know; a command is refused; Close comes to its end.
func TestRunHangs(t *testing.T) {
	t.Parallel()
	h := hung{make(chan struct{})}
	defer close(h.release)
	f := serve(t, h, Options{})
	x := f.guest()
	if r := x.order(obj{"verb": "go", "next": "1"}); r.status != 409 || !strings.Contains(r.body, "not taken") {
		t.Errorf("%d %s", r.status, r.body)
	}
	x.listen()
	began := time.Now()
	f.Close()
	if took := time.Since(began); took > 3*parting {
		t.Errorf("Close took %v", took)
	}
}

// Nothing is left when the page is closed, with pages open and connections of all kinds; they hear of the end.
func TestNothingIsLeft(t *testing.T) {
	st := stage(t, smallPlan(t), run.Options{})
	for !st.Settled() { // it has opened its road
		time.Sleep(5 * time.Millisecond)
	}
	before := runtime.NumGoroutine()
	for range 20 {
		f := &fixture{t: t}
		s, err := Listen(st, Options{At: "127.0.0.1:0"})
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
		"8080": "127.0.0.1:8080", "0": "127.0.0.1:0", "localhost:8080": "127.0.0.1:8080", "0.0.0.0:8080": "0.0.0.0:8080", "[::1]:80": "[::1]:80",
		"": "is no HOST:PORT", ":8080": "names no address", "192.0.2.7": "is no HOST:PORT", "tablet:8080": "is no IP address", "127.0.0.1:http": "is no HOST:PORT", "70000": "is no HOST:PORT", "127.0.0.1:-1": "is no HOST:PORT",
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

// The sheet has the link, and a code only where another device can follow it.
func TestSheet(t *testing.T) {
	st := stage(t, smallPlan(t), run.Options{})
	f := serve(t, st, Options{})
	s := f.Sheet()
	if all := strings.Join(s.Lines, "\n"); s.Code != nil || !strings.Contains(all, f.Link()) {
		t.Errorf("on loopback:\n%s\n%v", all, s.Code)
	}
	f.guest()
	if all := strings.Join(f.Sheet().Lines, "\n"); !strings.Contains(all, "page 1 at 127.0.0.1 is in") {
		t.Errorf("with a guest:\n%s", all)
	}
}

// What pages are told has no number that JSON cannot hold, and lists that are empty are no trouble.
func TestPictureOfNothing(t *testing.T) {
	h := newHub(nil, nil)
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
	v := run.View{AgoS: 3, Desks: []run.DeskView{{HeardAgoS: 4}}}
	a, b := h.paint(v, 1), h.paint(run.View{AgoS: 5, Desks: []run.DeskView{{HeardAgoS: 6}}}, 1)
	if !bytes.Equal(encoded(a.still()), encoded(b.still())) || bytes.Equal(encoded(a.encode()), encoded(b.encode())) || v.Desks[0].HeardAgoS != 4 {
		t.Error("what changes by itself is taken for a change")
	}
}

// sick is a run that tells a number that is none.
type sick struct{ yes atomic.Bool }

func (s *sick) DoWithin(run.Command, time.Duration) (string, error) { return "", nil }
func (s *sick) View() (run.View, bool) {
	if s.yes.Load() {
		return run.View{BPM: math.NaN()}, true
	}
	return run.View{}, true
}

// A picture that cannot be told is not taken for the one before: pages hear that the run was last looked at long ago.
func TestPictureThatCannotBe(t *testing.T) {
	t.Parallel()
	st := &sick{}
	f := serve(t, st, Options{})
	words := f.guest().listen()
	until(t, words, "a picture", func(word) bool { return true })
	st.yes.Store(true)
	time.Sleep(4 * lookEvery)
	f.hub.mu.Lock()
	age := time.Since(f.hub.seenAt)
	f.hub.mu.Unlock()
	if age < 2*lookEvery {
		t.Errorf("what is shown is told to be %v old", age)
	}
}

// What is served besides lasts as long as its device is in, and longer than a request may take to arrive.
func TestExtraLasts(t *testing.T) {
	t.Parallel()
	ended := make(chan struct{})
	f := serve(t, &sick{}, Options{Extra: map[string]http.Handler{"GET /extra": http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.WriteHeader(http.StatusOK)
		http.NewResponseController(w).Flush()
		<-r.Context().Done()
		close(ended)
	})}})
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
		t.Error("it is served to a device that was thrown out")
	}
}

// Strangers who knock as fast as they can, from the guest's own address, keep no guest who is in from the run.
func TestFloodOfStrangers(t *testing.T) {
	st := stage(t, smallPlan(t), run.Options{Guard: time.Nanosecond})
	f := serve(t, st, Options{})
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
		if r := x.order(obj{"verb": "to", "name": to}); r.status != 200 {
			t.Errorf("to: %d %s", r.status, r.body)
		}
		until(t, words, "cue "+to, func(w word) bool { return w.Picture.View.Step == to })
		longest = max(longest, time.Since(began))
		time.Sleep(time.Second / mostCommands)
	}
	close(end)
	running.Wait()
	t.Logf("%d knocks, %d looked at; an order was seen after %v at most", knocks, let, longest)
	if longest > 2*time.Second || knocks < 100 || let > comesAtOnce+10*comesPerS {
		t.Errorf("%d knocks, %d looked at; an order was seen after %v", knocks, let, longest)
	}
}

// fat is a run whose picture fills any socket's buffers at once.
type fat struct{ n int }

func (f *fat) DoWithin(run.Command, time.Duration) (string, error) { return "", nil }
func (f *fat) View() (run.View, bool) {
	f.n++ // by the hub alone
	return run.View{ShowS: float64(f.n), Title: strings.Repeat("x", 4<<20)}, true
}

// A stream lasts; one whose browser takes nothing ends.
func TestStreamsLast(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("waits for seconds")
	}
	began := time.Now()
	good := serve(t, stage(t, smallPlan(t), run.Options{}), Options{})
	words := good.guest().listen()
	bad := serve(t, &fat{}, Options{})
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
		if time.Since(began) > 4*slow {
			t.Fatal("a stream that nobody reads does not end")
		}
	}
	if took := time.Since(began); took < slow/2 {
		t.Errorf("it ended after %v already", took)
	}
	time.Sleep(time.Until(began.Add(2*slow + time.Second))) // longer than any other answer may take
	for len(words) > 0 {
		<-words
	}
	until(t, words, "a picture after a while", func(word) bool { return true })
}
