// Package browser runs a headless browser for the tests of pages. It uses a page as a reader would, and records every
// error on the page and every request that would leave this machine. The command itself does not use it.
package browser

import (
	"context"
	"fmt"
	"net/url"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	cdplog "github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"

	"backfield/cmd/backfield/chromium"
)

// Tab is one tab of the browser, with its own cookies.
type Tab struct {
	t   testing.TB
	ctx context.Context

	mu     sync.Mutex
	faults []string
}

// tabLimit is how long a test may use its tab. On two busy cores the longest takes over two minutes.
const tabLimit = 10 * time.Minute

// Open opens a tab with its own cookies, in a window of that size in pixels, and closes it at the end of the test. All
// tests of a package share one browser, which the first test starts and End ends. Without an installed browser the test
// is skipped; if BACKFIELD_REQUIRE_TOOLS is set, it fails.
func Open(t testing.TB, wide, high int) *Tab {
	t.Helper()
	if testing.Short() {
		t.Skip("a browser takes seconds")
	}
	found, err := chromium.Find()
	if err != nil {
		if os.Getenv("BACKFIELD_REQUIRE_TOOLS") != "" {
			t.Fatalf("%v (the tests of the pages need it)", err)
		}
		t.Skipf("%v; on Debian, install chromium to test the pages", err)
	}
	from, err := shared.start(found.Path)
	if err != nil {
		t.Fatalf("start the browser: %v", err)
	}
	ctx, cancel := context.WithTimeout(from, tabLimit)
	t.Cleanup(cancel)
	return open(t, ctx, wide, high, chromedp.WithNewBrowserContext())
}

// process is the browser that the tests share.
type process struct {
	mu      sync.Mutex
	ctx     context.Context
	profile string
	end     func()
}

var shared process

// start starts the browser if it is not running, and returns the context of its first tab.
func (p *process) start(path string) (context.Context, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.ctx != nil {
		return p.ctx, nil
	}
	profile, err := os.MkdirTemp("", "backfield-browser-")
	if err != nil {
		return nil, err
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.UserDataDir(profile),
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true),
		chromedp.Flag("host-resolver-rules", "MAP * ~NOTFOUND, EXCLUDE 127.0.0.1, EXCLUDE localhost"))
	if os.Geteuid() == 0 {
		options = append(options, chromedp.NoSandbox) // without this it refuses to run as root
	}
	allocated, free := chromedp.NewExecAllocator(context.Background(), options...)
	ctx, end := chromedp.NewContext(allocated)
	p.profile, p.end = profile, func() { end(); free() }
	if err := chromedp.Do(ctx); err != nil {
		p.end()
		os.RemoveAll(profile)
		return nil, err
	}
	p.ctx = ctx
	return ctx, nil
}

// End ends the browser, if the tests have started one. TestMain calls it after all tests.
func End() {
	shared.mu.Lock()
	defer shared.mu.Unlock()
	if shared.ctx == nil {
		return
	}
	shared.end()
	os.RemoveAll(shared.profile)
	shared.ctx = nil
}

// NewDevice opens another tab of the same browser with its own cookies, like another device.
func (b *Tab) NewDevice(wide, high int) *Tab {
	b.t.Helper()
	return open(b.t, b.ctx, wide, high, chromedp.WithNewBrowserContext())
}

func open(t testing.TB, from context.Context, wide, high int, how ...chromedp.ContextOption) *Tab {
	t.Helper()
	b := &Tab{t: t}
	ctx, end := chromedp.NewContext(from, append(how, chromedp.WithListener(b.hear))...)
	t.Cleanup(end)
	b.ctx = ctx
	b.do("start the browser", chromedp.EmulateViewport(int64(wide), int64(high)))
	if _, err := chromedp.Call(ctx, network.Enable, network.EnableParams{}); err != nil {
		t.Fatal(err)
	}
	if _, err := chromedp.Call(ctx, cdplog.Enable, cdp.Empty{}); err != nil {
		t.Fatal(err)
	}
	return b
}

// hear records what goes wrong on the page.
func (b *Tab) hear(ev any) {
	fault := ""
	switch e := ev.(type) {
	case *runtime.EventExceptionThrown:
		fault = "exception: " + e.ExceptionDetails.Text
		if x := e.ExceptionDetails.Exception; x != nil {
			fault += " " + x.Description
		}
	case *runtime.EventConsoleAPICalled:
		fault = fmt.Sprintf("browser log: %v", e.Type)
	case *cdplog.EventEntryAdded:
		if strings.HasPrefix(e.Entry.Text, "Autofocus processing was blocked") { // the test was faster than the page
			return
		}
		fault = fmt.Sprintf("%v: %s", e.Entry.Level, e.Entry.Text)
	case *network.EventRequestWillBeSent:
		if u, err := url.Parse(e.Request.URL); err != nil || u.Scheme != "data" && u.Scheme != "blob" &&
			u.Hostname() != "127.0.0.1" && u.Hostname() != "localhost" {
			fault = "a request leaves the machine: " + e.Request.URL
		}
	}
	if fault != "" {
		b.mu.Lock()
		b.faults = append(b.faults, fault)
		b.mu.Unlock()
	}
}

// Faults lists what has gone wrong so far: exceptions, console messages, failed loads, requests to other machines.
func (b *Tab) Faults() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return strings.Join(b.faults, "\n")
}

func (b *Tab) do(what string, steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	if err := chromedp.Do(b.ctx, steps...); err != nil {
		b.t.Fatalf("%s: %v\n%s", what, err, b.Faults())
	}
}

// Go loads a page.
func (b *Tab) Go(address string) {
	b.t.Helper()
	b.do("load "+address, chromedp.Navigate(address))
}

// Eval returns the value of an expression on the page.
func Eval[T any](b *Tab, expression string) T {
	b.t.Helper()
	v, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](expression))
	if err != nil {
		b.t.Fatalf("%s: %v\n%s", expression, err, b.Faults())
	}
	return v
}

// Await waits until an expression is true on the page, and returns how long that took. The limit is for an idle machine:
// one that is ten times slower, or busy with other tests, gets the time that it needs.
func (b *Tab) Await(expression string, limit time.Duration) time.Duration {
	b.t.Helper()
	limit = max(10*limit, 2*time.Minute)
	begun := time.Now()
	for {
		is, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool]("!!("+expression+")")) // an error: it is loading
		if err == nil && is {
			break
		}
		if time.Since(begun) > limit {
			b.t.Fatalf("not within %v: %s (%v)\n%s", limit, expression, err, b.Faults())
		}
		time.Sleep(10 * time.Millisecond)
	}
	return time.Since(begun)
}

// Key presses keys, one after the other.
func (b *Tab) Key(keys string) {
	b.t.Helper()
	b.do("key "+keys, chromedp.KeyEvent(keys))
}

// Click clicks the first element that a selector finds.
func (b *Tab) Click(selector string) {
	b.t.Helper()
	b.do("click "+selector, chromedp.Click(chromedp.CSS(selector)))
}

// Focus gives the focus to an element.
func (b *Tab) Focus(selector string) {
	b.t.Helper()
	b.do("focus "+selector, chromedp.Focus(chromedp.CSS(selector)))
}

// Type types into an element.
func (b *Tab) Type(selector, keys string) {
	b.t.Helper()
	b.do("type into "+selector, chromedp.SendKeys(chromedp.CSS(selector), keys))
}

// Hover moves the mouse to a place, in pixels of the window.
func (b *Tab) Hover(x, y float64) {
	b.t.Helper()
	b.do("hover", chromedp.MouseEvent(chromedp.MouseMoved, x, y))
}

// Drag presses the mouse button at one place, moves to another in steps, and releases it. Places are in pixels of the
// window.
func (b *Tab) Drag(x1, y1, x2, y2 float64) {
	b.t.Helper()
	steps := []chromedp.Action[chromedp.Void]{chromedp.MouseEvent(chromedp.MousePressed, x1, y1, chromedp.ButtonLeft,
		chromedp.ClickCount(1))}
	for i := 1; i <= 8; i++ {
		part := float64(i) / 8
		steps = append(steps, chromedp.MouseEvent(chromedp.MouseMoved, x1+(x2-x1)*part, y1+(y2-y1)*part,
			chromedp.ButtonLeft))
	}
	b.do("drag", append(steps, chromedp.MouseEvent(chromedp.MouseReleased, x2, y2, chromedp.ButtonLeft,
		chromedp.ClickCount(1)))...)
}

// Resize gives the window another size in pixels.
func (b *Tab) Resize(wide, high int) {
	b.t.Helper()
	b.do("resize", chromedp.EmulateViewport(int64(wide), int64(high)))
}

// LessMotion has the page believe that the reader has asked for less motion.
func (b *Tab) LessMotion() {
	b.t.Helper()
	less := emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-reduced-motion",
		Value: "reduce"}}}
	if _, err := chromedp.Call(b.ctx, emulation.SetEmulatedMedia, less); err != nil {
		b.t.Fatal(err)
	}
}

// Shot writes a screenshot of the window to a PNG file.
func (b *Tab) Shot(file string) {
	b.t.Helper()
	data, err := chromedp.Run(b.ctx, chromedp.CaptureScreenshot())
	if err == nil {
		err = os.WriteFile(file, data, 0o644)
	}
	if err != nil {
		b.t.Fatalf("screenshot: %v", err)
	}
}
