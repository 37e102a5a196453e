// Package firefox runs a headless Firefox for the tests of pages, over its own remote protocol, Marionette: messages of
// JSON with their length in front, over TCP on this machine. The command itself does not use it.
package firefox

import (
	"bufio"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

// names are the program names of Firefox.
var names = []string{"firefox-esr", "firefox"}

// Firefox is one window of a Firefox.
type Firefox struct {
	t    testing.TB
	conn net.Conn
	from *bufio.Reader
	last int // the number of the last command
}

// Open starts Firefox with a profile of its own, and ends it after the test. Without an installed Firefox the test is
// skipped; if BACKFIELD_REQUIRE_TOOLS is set, it fails. A start takes seconds, so a test measures all that it can in one
// window.
func Open(t testing.TB) *Firefox {
	t.Helper()
	if testing.Short() {
		t.Skip("a browser takes seconds")
	}
	path := ""
	for _, name := range names {
		if at, err := exec.LookPath(name); err == nil {
			path = at
			break
		}
	}
	if path == "" {
		const missing = "no Firefox was found"
		if os.Getenv("BACKFIELD_REQUIRE_TOOLS") != "" {
			t.Fatal(missing + " (the tests of the pages need it)")
		}
		t.Skip(missing + "; on Debian, install firefox-esr to test the pages in it")
	}
	profile, err := os.MkdirTemp("", "backfield-firefox-")
	if err == nil {
		err = os.WriteFile(filepath.Join(profile, "user.js"), []byte(preferences), 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(profile) })
	cmd := exec.Command(path, "--headless", "--marionette", "--remote-allow-system-access", "--no-remote",
		"--profile", profile)
	cmd.Env = append(os.Environ(), "HOME="+profile) // it keeps more than its profile there
	talk, err := os.Create(filepath.Join(profile, "talk"))
	if err != nil {
		t.Fatal(err)
	}
	cmd.Stdout, cmd.Stderr = talk, talk
	if err := cmd.Start(); err != nil {
		t.Fatalf("start Firefox: %v", err)
	}
	talk.Close()
	t.Cleanup(func() {
		cmd.Process.Kill()
		cmd.Wait()
	})
	w := &Firefox{t: t}
	if err := w.connect(profile); err != nil {
		said, _ := os.ReadFile(filepath.Join(profile, "talk"))
		t.Fatalf("start Firefox: %v\n%.2000s", err, said)
	}
	t.Cleanup(func() { w.conn.Close() })
	w.call("WebDriver:NewSession", map[string]any{}, nil)
	return w
}

// preferences keep Firefox on this machine, and let it choose a free port, which it writes into its profile.
const preferences = `user_pref("marionette.port", 0);
user_pref("app.update.enabled", false);
user_pref("browser.shell.checkDefaultBrowser", false);
user_pref("browser.startup.page", 0);
user_pref("browser.startup.homepage_override.mstone", "ignore");
user_pref("datareporting.policy.dataSubmissionEnabled", false);
user_pref("network.captive-portal-service.enabled", false);
user_pref("network.connectivity-service.enabled", false);
user_pref("network.proxy.type", 1);
user_pref("network.proxy.http", "127.0.0.1");
user_pref("network.proxy.http_port", 9);
user_pref("network.proxy.ssl", "127.0.0.1");
user_pref("network.proxy.ssl_port", 9);
user_pref("network.proxy.no_proxies_on", "127.0.0.1, localhost");
user_pref("services.settings.server", "");
user_pref("toolkit.telemetry.enabled", false);
user_pref("ui.prefersReducedMotion", 0);
`

// startLimit is how long a start may take on a machine that is busy with other tests.
const startLimit = 5 * time.Minute

func (w *Firefox) connect(profile string) error {
	for begun := time.Now(); ; time.Sleep(50 * time.Millisecond) {
		port, err := os.ReadFile(filepath.Join(profile, "MarionetteActivePort"))
		if err == nil {
			w.conn, err = net.Dial("tcp", net.JoinHostPort("127.0.0.1", strings.TrimSpace(string(port))))
		}
		if err == nil {
			break
		}
		if time.Since(begun) > startLimit {
			return fmt.Errorf("no reply within %v: %w", startLimit, err)
		}
	}
	w.from = bufio.NewReader(w.conn)
	_, err := w.read() // the greeting
	return err
}

// read reads one message: its length in bytes, a colon, and so many bytes.
func (w *Firefox) read() ([]byte, error) {
	w.conn.SetReadDeadline(time.Now().Add(startLimit))
	text, err := w.from.ReadString(':')
	if err != nil {
		return nil, err
	}
	n, err := strconv.Atoi(strings.TrimSuffix(text, ":"))
	if err != nil || n < 0 || n > 64<<20 {
		return nil, fmt.Errorf("a message of %q bytes", text)
	}
	data := make([]byte, n)
	_, err = io.ReadFull(w.from, data)
	return data, err
}

// call sends a command and reads its result.
func (w *Firefox) call(name string, parameters, into any) {
	w.t.Helper()
	if err := w.try(name, parameters, into); err != nil {
		w.t.Fatalf("Firefox, %s: %v", name, err)
	}
}

func (w *Firefox) try(name string, parameters, into any) error {
	w.last++
	data, err := json.Marshal([]any{0, w.last, name, parameters})
	if err != nil {
		return err
	}
	if _, err := fmt.Fprintf(w.conn, "%d:%s", len(data), data); err != nil {
		return err
	}
	reply, err := w.read()
	if err != nil {
		return err
	}
	var parts [4]json.RawMessage
	if err := json.Unmarshal(reply, &parts); err != nil {
		return err
	}
	if text := string(parts[2]); text != "null" {
		return errors.New(text)
	}
	if into == nil {
		return nil
	}
	return json.Unmarshal(parts[3], &struct {
		Value any `json:"value"`
	}{into})
}

// chrome runs a script in the browser's own window.
func (w *Firefox) chrome(script string, args ...any) {
	w.t.Helper()
	w.call("Marionette:SetContext", map[string]any{"value": "chrome"}, nil)
	w.call("WebDriver:ExecuteScript", map[string]any{"script": script, "args": args}, nil)
	w.call("Marionette:SetContext", map[string]any{"value": "content"}, nil)
}

// Resize gives the page a window of that size in pixels, also one that is smaller than Firefox's own can be.
func (w *Firefox) Resize(wide, high int) {
	w.t.Helper()
	w.chrome(`const style = gBrowser.selectedBrowser.style
		style.setProperty("min-width", arguments[0] + "px"); style.setProperty("max-width", arguments[0] + "px")
		style.setProperty("min-height", arguments[1] + "px"); style.setProperty("max-height", arguments[1] + "px")`, wide, high)
	w.Await(fmt.Sprintf("innerWidth === %d && innerHeight === %d", wide, high), 20*time.Second)
}

// ReducedMotion says whether the reader of the page wants less motion.
func (w *Firefox) ReducedMotion(on bool) {
	w.t.Helper()
	w.chrome(`Services.prefs.setIntPref("ui.prefersReducedMotion", arguments[0] ? 1 : 0)`, on)
	w.Await(fmt.Sprintf("matchMedia('(prefers-reduced-motion: reduce)').matches === %v", on), 20*time.Second)
}

// Go loads a page.
func (w *Firefox) Go(address string) {
	w.t.Helper()
	w.call("WebDriver:Navigate", map[string]any{"url": address}, nil)
}

// Eval puts the value of an expression on the page into a variable.
func (w *Firefox) Eval(expression string, into any) {
	w.t.Helper()
	w.call("WebDriver:ExecuteScript", map[string]any{"script": "return (" + expression + ")", "args": []any{}}, into)
}

// Text is the value of an expression that is a text.
func (w *Firefox) Text(expression string) (text string) {
	w.t.Helper()
	w.Eval(expression, &text)
	return text
}

// Await waits until an expression is true on the page. The limit is for an idle machine: one that is ten times slower, or
// busy with other tests, gets the time that it needs.
func (w *Firefox) Await(expression string, limit time.Duration) {
	w.t.Helper()
	limit = max(10*limit, 2*time.Minute)
	for begun := time.Now(); ; time.Sleep(10 * time.Millisecond) {
		yes := false
		if w.Eval("!!("+expression+")", &yes); yes {
			return
		}
		if time.Since(begun) > limit {
			w.t.Fatalf("Firefox, not within %v: %s", limit, expression)
		}
	}
}

// Key presses keys, one after the other. Special keys have the numbers of WebDriver, as "\ue004" for Tab.
func (w *Firefox) Key(keys string) {
	w.t.Helper()
	var list []map[string]any
	for _, k := range keys {
		for _, kind := range []string{"keyDown", "keyUp"} {
			list = append(list, map[string]any{"type": kind, "value": string(k)})
		}
	}
	w.call("WebDriver:PerformActions", map[string]any{"actions": []any{map[string]any{
		"type": "key", "id": "keyboard", "actions": list}}}, nil)
}

// Hover moves the mouse to a place, in pixels of the window.
func (w *Firefox) Hover(x, y float64) {
	w.t.Helper()
	w.call("WebDriver:PerformActions", map[string]any{"actions": []any{map[string]any{
		"type": "pointer", "id": "mouse", "actions": []any{map[string]any{
			"type": "pointerMove", "duration": 0, "x": int(x), "y": int(y)}}}}}, nil)
}

// Shot is a screenshot of the window, as PNG.
func (w *Firefox) Shot() []byte {
	w.t.Helper()
	text := ""
	w.call("WebDriver:TakeScreenshot", map[string]any{"full": false}, &text)
	data, err := base64.StdEncoding.DecodeString(text)
	if err != nil {
		w.t.Fatal(err)
	}
	return data
}
