package remote

import (
	"context"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"

	"backfield/cmd/backfield/show"
	"backfield/cue"
	"backfield/osc/run"
)

var shots = flag.String("shots", "", "write screenshots of the page into this folder")

// chromium is a headless browser, or skips; where BACKFIELD_REQUIRE_TOOLS is set its absence is a failure.
func chromium(t *testing.T) context.Context {
	t.Helper()
	var path string
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if p, err := exec.LookPath(name); err == nil {
			path = p
			break
		}
	}
	if path == "" {
		if os.Getenv("BACKFIELD_REQUIRE_TOOLS") != "" {
			t.Fatal("no chromium is on the path, and it is required here")
		}
		t.Skip("no chromium is on the path (Debian: apt install chromium)")
	}
	if testing.Short() {
		t.Skip("a browser takes seconds")
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.UserDataDir(t.TempDir()),
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true), chromedp.Flag("host-resolver-rules", "MAP * ~NOTFOUND, EXCLUDE 127.0.0.1"))
	ctx, cancel := chromedp.NewExecAllocator(context.Background(), options...)
	ctx, end := chromedp.NewContext(ctx)
	t.Cleanup(func() { end(); cancel() })
	if err := chromedp.Do(ctx, chromedp.Navigate("about:blank")); err != nil {
		t.Fatalf("chromium does not start: %v", err)
	}
	return ctx
}

// tablet is a page in a browser of its own, with what went wrong in it.
type tablet struct {
	t   *testing.T
	ctx context.Context
	f   *fixture

	mu     sync.Mutex
	faults []string
}

// open lets a device in, by its link, as a person does.
func (f *fixture) open(t *testing.T, browser context.Context, width, height int64) *tablet {
	t.Helper()
	ctx, cancel := chromedp.NewContext(browser, chromedp.WithNewBrowserContext())
	t.Cleanup(cancel)
	p := &tablet{t: t, ctx: ctx, f: f}
	fault := func(format string, args ...any) {
		p.mu.Lock()
		defer p.mu.Unlock()
		p.faults = append(p.faults, fmt.Sprintf(format, args...))
	}
	if err := chromedp.Do(ctx, chromedp.EmulateViewport(width, height)); err != nil {
		t.Fatal(err)
	}
	if err := chromedp.Listen(ctx, func(e any) {
		switch e := e.(type) {
		case *runtime.EventExceptionThrown:
			fault("exception: %s", e.ExceptionDetails.Text)
		case *runtime.EventConsoleAPICalled:
			fault("console: %s", e.Type)
		case *log.EventEntryAdded:
			fault("log: %s %s", e.Entry.Text, e.Entry.URL)
		case *network.EventRequestWillBeSent:
			if u := e.Request.URL; !strings.HasPrefix(u, f.url("")) && !strings.HasPrefix(u, "data:") {
				fault("a request leaves: %s", u)
			}
		}
	}); err != nil {
		t.Fatal(err)
	}
	if _, err := chromedp.Call(ctx, log.Enable, cdp.Empty{}); err != nil {
		t.Fatal(err)
	}
	if _, err := chromedp.Call(ctx, network.Enable, network.EnableParams{}); err != nil {
		t.Fatal(err)
	}
	p.do(chromedp.Navigate(f.Link()))
	p.shot("door")
	p.do(chromedp.Click(chromedp.CSS("button")))
	p.do(chromedp.WaitReady(chromedp.ID("goword")))
	return p
}

func (p *tablet) do(steps ...chromedp.Action[chromedp.Void]) {
	p.t.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, 20*time.Second)
	defer cancel()
	if err := chromedp.Do(ctx, steps...); err != nil {
		p.t.Fatalf("%v; %q", err, p.trouble())
	}
}

// eval is the value of an expression in the page.
func eval[T any](p *tablet, expression string, args ...any) T {
	p.t.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, 20*time.Second)
	defer cancel()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](fmt.Sprintf(expression, args...)))
	if err != nil {
		p.t.Fatalf("%s: %v; %q", expression, err, p.trouble())
	}
	return v
}

// click presses what has an id.
func (p *tablet) click(id string) { p.t.Helper(); p.do(chromedp.Click(chromedp.ID(id))) }

// key types on the keyboard.
func (p *tablet) key(keys string) { p.t.Helper(); p.do(chromedp.KeyEvent(keys)) }

func (p *tablet) trouble() []string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return append([]string(nil), p.faults...)
}

// text is what stands in an element.
func (p *tablet) text(id string) string {
	p.t.Helper()
	return eval[string](p, "document.getElementById(%q).innerText", id)
}

// reads waits until a text stands in an element.
func (p *tablet) reads(id, want string) {
	p.t.Helper()
	var s string
	for limit := time.Now().Add(6 * time.Second); time.Now().Before(limit); time.Sleep(20 * time.Millisecond) {
		if s = p.text(id); strings.Contains(s, want) {
			return
		}
	}
	p.t.Fatalf("#%s reads %q, not %q", id, s, want)
}

func (p *tablet) shot(name string) {
	p.t.Helper()
	if *shots == "" {
		return
	}
	png, err := chromedp.Run(p.ctx, chromedp.CaptureScreenshot())
	if err != nil {
		p.t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(*shots, name+".png"), png, 0o644); err != nil {
		p.t.Fatal(err)
	}
}

func harbor(t *testing.T) (run.Plan, Options) {
	s := demo(t)
	f := s.Rig.Field
	o := Options{Field: Field{f.LengthM, f.EndZoneM, f.WidthM, f.HashM, f.MiddleYard}, Where: func(name string, showS float64) (float64, float64, bool) {
		if p, ok := s.Drill.Player(name); ok {
			m := s.Clock.At(showS)
			at, ok := p.At(s.Drill, m.Movement, m.Elapsed)
			return at.X, at.Y, ok
		}
		return 0, 0, false
	}}
	return run.Plan{Show: s.Show, Desk: s.Desk, Time: show.Timeline{Clock: s.Clock}}, o
}

// pausing is a stage that can be made to hang.
type pausing struct {
	Stage
	mu sync.Mutex
}

func (p *pausing) View() (run.View, bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.Stage.View()
}

// Two tablets in a real browser, and the terminal, at the demo: whoever moves the run, all see it; by finger, by key and
// by keyboard alone. A finger that bounces or lies on a key moves nothing. What is old is shown as old, and locked.
func TestBrowser(t *testing.T) {
	t.Parallel()
	browser := chromium(t)
	plan, o := harbor(t)
	st := &pausing{Stage: stage(t, plan, run.Options{})}
	f := serve(t, st, o)
	a, b := f.open(t, browser, 1366, 768), f.open(t, browser, 1024, 768)
	both := func(cue string) {
		t.Helper()
		for _, p := range []*tablet{a, b} {
			p.reads("standing", cue)
		}
		if s := step(t, st); !strings.HasPrefix(cue, s) {
			t.Fatalf("the run is in %q, the pages show %q", s, cue)
		}
	}
	rest := func() { time.Sleep(again + 50*time.Millisecond) }
	id := func(i int) string { return plan.Show.Cues[i].ID + " " }
	for _, p := range []*tablet{a, b} {
		p.reads("standing", "before the first cue")
		p.reads("nextname", id(0))
	}
	a.click("go")
	both(id(0))
	b.reads("live", "Cue "+strings.TrimSpace(id(0)))
	rest()
	b.key(" ")
	both(id(1))
	b.key(" ") // at once again: a finger that bounced
	b.reads("said", "within a second")
	rest()
	a.do(chromedp.Focus(chromedp.ID("back"))) // Space is go, whatever has the focus
	a.key(" ")
	both(id(2))
	rest()
	eval[bool](a, `dispatchEvent(new KeyboardEvent("keydown", { key: " ", repeat: true }))`)
	a.reads("said", "is being held")
	both(id(2))
	a.key("b")
	a.reads("said", "The same again: go back")
	a.reads("back", "again: back")
	both(id(2))
	time.Sleep(bounced)
	a.key("b")
	both(id(1))
	b.click("hush")
	time.Sleep(bounced)
	b.click("hush")
	for _, p := range []*tablet{a, b} {
		p.reads("hushed", "HUSHED")
		p.reads("hush", "restore")
	}
	b.shot("hushed")
	a.key("h")
	time.Sleep(bounced)
	a.key("h")
	b.reads("said", "hushed")
	b.reads("hush", "hush")
	a.key("/") // a driver's key types into what it brings the focus to; a keyboard's does not
	if !eval[bool](a, `document.activeElement.id === "where" && (document.activeElement.value = "", true)`) {
		t.Error("/ does not bring the focus to the place to go to")
	}
	a.do(chromedp.SendKeys(chromedp.ID("where"), "22\r"))
	both("22 ")
	b.reads("tempo", "clock stands")
	rest()                                                                         // a go this soon after a to would be taken for a finger that bounced
	if _, err := st.DoWithin(run.Command{Verb: run.Go}, time.Second); err != nil { // the terminal
		t.Fatal(err)
	}
	both("23 ")
	if n := eval[int](a, `document.querySelectorAll("#field .spot").length`); n == 0 {
		t.Error("nobody stands on the field")
	}
	looks(t, st, f, browser)

	st.mu.Lock()
	a.reads("lost", "THE RUN HAS NOT ANSWERED")
	locked := eval[bool](a, `document.getElementById("go").disabled`)
	st.mu.Unlock()
	if !locked {
		t.Error("go can be pressed at a run that does not answer")
	}
	a.reads("lost", "")
	a.do(chromedp.WaitEnabled(chromedp.ID("go")))
	for _, p := range []*tablet{a, b} {
		if got := p.trouble(); len(got) > 0 {
			t.Errorf("in the browser: %q", got)
		}
	}
	before := f.hub.count()
	if err := f.Renew(); err != nil || before < 2 {
		t.Fatal(err, before)
	}
	a.reads("lost", "THIS DEVICE IS NOT LET IN ANY MORE")
	c := f.open(t, browser, 768, 1024)
	c.reads("standing", step(t, st))
	c.shot("upright")
	f.gate.Close() // as if the program had died
	f.http.Close()
	c.reads("lost", "NO CONNECTION FOR")
	c.shot("lost")
	if !eval[bool](c, `document.getElementById("go").disabled`) {
		t.Error("go can be pressed without a connection")
	}
}

// bounced is longer than two presses that the page takes for one finger's bouncing.
const bounced = 200 * time.Millisecond

// A page that looks on only has no buttons; keys do nothing.
func TestBrowserReadOnly(t *testing.T) {
	t.Parallel()
	browser := chromium(t)
	plan := smallPlan(t)
	plan.Show.Cues[0].Also = []cue.Raw{{Address: "/fx/2/mute", Types: "i", Args: []any{1.0}}}
	st := stage(t, plan, run.Options{})
	f := serve(t, st, Options{ReadOnly: true})
	p := f.open(t, browser, 1024, 768)
	p.reads("nextname", "1 ")
	p.reads("changes", "sends/fx/2/mute i 1")
	p.key(" ")
	p.key("hh")
	if !eval[bool](p, `getComputedStyle(document.getElementById("go")).display === "none"`) || step(t, st) != "" {
		t.Errorf("it can press: %q", step(t, st))
	}
	if _, err := st.Do(run.Command{Verb: run.Go}); err != nil {
		t.Fatal(err)
	}
	p.reads("standing", "1 ")
	if got := p.trouble(); len(got) > 0 {
		t.Errorf("in the browser: %q", got)
	}
}

// looks takes pictures of the page for people, in both lights and the usual sizes.
func looks(t *testing.T, st Stage, f *fixture, browser context.Context) {
	if *shots == "" {
		return
	}
	do := func(line string) {
		c, err := run.Parse(line)
		if err == nil {
			_, err = st.DoWithin(c, time.Second)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	for name, size := range map[string][2]int64{"laptop": {1366, 768}, "tablet": {1024, 768}, "upright": {768, 1024}, "phone": {390, 780}} {
		p := f.open(t, browser, size[0], size[1])
		for _, light := range []string{"night", "sun"} {
			eval[bool](p, "light(%q), true", light)
			for _, moment := range []string{"3", "9"} {
				do("to " + moment)
				do("start")
				time.Sleep(1500 * time.Millisecond)
				p.shot(fmt.Sprintf("%s-%s-%s", name, light, moment))
			}
		}
	}
}
