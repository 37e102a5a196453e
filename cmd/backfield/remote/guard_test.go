package remote

import (
	"fmt"
	"io"
	"net/http"
	"strings"
	"testing"
	"time"

	"backfield/osc/run"
)

// Without a key every path gives an empty answer, and no command works.
func TestNoKeySeesNothing(t *testing.T) {
	st := stage(t, smallPlan(t), run.Options{})
	extra := func(w http.ResponseWriter, r *http.Request) { io.WriteString(w, "extra") }
	f := serve(t, st, ServerOptions{Extra: map[string]http.Handler{"GET /field.svg": http.HandlerFunc(extra)}})
	open := f.guest()
	for _, path := range []string{
		"/", "/run.html", "/run.css", "/draw.js", "/run.js", "/show.json", "/field.svg", "/static/run.js", "/../go.mod",
		"/k", "/favicon.ico",
	} {
		r := f.stranger().send("GET", path, "")
		if r.status != 404 || r.body != "" {
			t.Errorf("%s: %d %q to a stranger", path, r.status, r.body)
		}
	}
	for _, path := range []string{"/", "/run.css", "/draw.js", "/run.js", "/show.json", "/field.svg"} {
		if r := open.send("GET", path, ""); r.status != 200 || r.body == "" {
			t.Errorf("%s: %d to a guest", path, r.status)
		}
	}
	name := fmt.Sprintf("backfield-run-%d", f.Addr().Port())
	for _, c := range []struct{ method, path, body string }{
		{"POST", "/do", `{"verb":"go","next":"1","pressed_ms":0}`}, {"POST", "/do", ""}, {"DELETE", "/", ""},
		{"GET", "/events", ""}, {"POST", "/events", ""}, {"OPTIONS", "/do", ""},
	} {
		x := f.stranger()
		for _, cookie := range []string{"", "backfield-run-1=00", fmt.Sprintf("%s=%064d", name, 0), name + "="} {
			r := x.send(c.method, c.path, c.body, "Origin", f.url(""), "Content-Type", "application/json", "Cookie", cookie)
			if r.status != 404 || r.body != "" {
				t.Errorf("%s %s with cookie %q: %d %q", c.method, c.path, cookie, r.status, r.body)
			}
		}
	}
	if s := step(t, st); s != "" {
		t.Errorf("a stranger changed the run to %q", s)
	}
}

// A key lets in one device, by the button, and works once. Opening the link does not use it up.
func TestKeyIsGoodOnce(t *testing.T) {
	st := stage(t, smallPlan(t), run.Options{})
	f := serve(t, st, ServerOptions{})
	door := strings.TrimPrefix(f.Link(), f.url(""))
	a, b := f.stranger(), f.stranger()
	for range 3 { // a camera's preview, and more
		if r := a.send("GET", door, ""); r.status != 200 || !strings.Contains(r.body, "<form method=\"post\">") {
			t.Fatalf("the door: %d %q", r.status, r.body)
		}
	}
	if r := a.send("GET", "/", ""); r.status != 404 {
		t.Fatalf("opening the link lets the device in: %d", r.status)
	}
	for _, origin := range []string{
		"", "null", "http://evil.example", "https://" + f.Addr().String(), f.url("") + ".evil.example",
	} {
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
		t.Errorf("a device that is in and opens the link again gets %d", r.status)
	}
	cookie := a.send("GET", "/", "").header // no new cookie, and nothing kept
	if cookie.Get("Set-Cookie") != "" || cookie.Get("Cache-Control") != "no-store" {
		t.Errorf("headers %v", cookie)
	}
	if link := f.Link(); strings.HasSuffix(link, door) || !strings.Contains(f.heard(), "page 1 at 127.0.0.1 came in") {
		t.Errorf("the link is still %s; reported %q", link, f.heard())
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
			t.Errorf("a removed device gets %d", r.status)
		}
	}
}

// The cookie is for this server only: no script reads it, and no other site sends it.
func TestCookie(t *testing.T) {
	f := serve(t, stage(t, smallPlan(t), run.Options{}), ServerOptions{})
	x := f.stranger()
	x.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	r := x.send("POST", strings.TrimPrefix(f.Link(), f.url("")), "", "Origin", f.url(""))
	got := r.header.Get("Set-Cookie")
	private := strings.Contains(got, "; HttpOnly") && strings.Contains(got, "; SameSite=Strict")
	if r.status != 303 || !private || strings.Contains(got, "Domain") {
		t.Errorf("%d, cookie %q", r.status, got)
	}
}

// Wrong keys are reported, and only so many from one address are checked.
func TestWrongKeys(t *testing.T) {
	f := serve(t, stage(t, smallPlan(t), run.Options{}), ServerOptions{})
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
		t.Errorf("after that even the right key gets %d", r.status) // or a flood of tries could find it
	}
	if n := strings.Count(f.heard(), "tried a wrong key"); n != 1 {
		t.Errorf("reported %d times: %q", n, f.heard())
	}
}

// No page of another server can use the browser of a device that is in, by its Host (DNS rebinding) or its Origin.
func TestForeignPages(t *testing.T) {
	st := stage(t, smallPlan(t), run.Options{})
	f := serve(t, st, ServerOptions{})
	x := f.guest()
	port := f.Addr().Port()
	for _, host := range []string{
		"evil.example", fmt.Sprintf("evil.example:%d", port), fmt.Sprintf("127.0.0.1.evil.example:%d", port),
		"127.0.0.1", fmt.Sprintf("127.0.0.2:%d", port), fmt.Sprintf("0.0.0.0:%d", port), fmt.Sprintf("[::1]:%d", port),
		fmt.Sprintf("127.0.0.1:%d", port+1),
	} {
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
	body := fmt.Sprintf(`{"verb":"go","next":"1","pressed_ms":%d}`, time.Since(f.hub.began).Milliseconds())
	for _, headers := range [][]string{
		{}, {"Origin", "null"}, {"Origin", "http://evil.example"}, {"Origin", "https://" + f.Addr().String()},
		{"Origin", "http://" + local},
		{"Origin", f.url(""), "Sec-Fetch-Site", "cross-site"}, {"Origin", f.url(""), "Sec-Fetch-Site", "same-site"},
	} {
		r := x.send("POST", "/do", body, append(headers, "Content-Type", "application/json")...)
		if r.status != 403 {
			t.Errorf("%v: %d %s", headers, r.status, r.body)
		}
	}
	// What a page may send without asking.
	for _, kind := range []string{"", "text/plain", "application/x-www-form-urlencoded"} {
		if r := x.send("POST", "/do", body, "Origin", f.url(""), "Content-Type", kind); r.status != 415 {
			t.Errorf("content type %q: %d %s", kind, r.status, r.body)
		}
	}
	if s := step(t, st); s != "" {
		t.Errorf("a page of another server changed the run to %q", s)
	}
	h := x.send("GET", "/", "").header
	framed := !strings.Contains(h.Get("Content-Security-Policy"), "frame-ancestors 'none'")
	if framed || h.Get("Access-Control-Allow-Origin") != "" {
		t.Errorf("headers %v", h)
	}
}
