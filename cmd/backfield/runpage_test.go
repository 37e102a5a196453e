package main

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp/kb"

	"backfield/cmd/backfield/browser"
)

// The real command with --page and --text: the link on stderr lets a device in once, its go moves the run that stdin
// steps too, the journal has who gave it, and page new throws it out.
func TestPageOfRealCommand(t *testing.T) {
	t.Parallel()
	journal := filepath.Join(t.TempDir(), "page.jsonl")
	r := begun(t, "--journal", journal)
	cmd, in, said, reported, link, await := r.cmd, r.in, r.said, r.reported, r.link, r.await
	at := link[:strings.Index(link, "/k/")]
	jar, _ := cookiejar.New(nil)
	guest := &http.Client{Jar: jar, Timeout: 10 * time.Second}
	ask := func(c *http.Client, method, url, body string) (int, string) {
		t.Helper()
		r, _ := http.NewRequest(method, url, strings.NewReader(body))
		r.Header.Set("Origin", at)
		r.Header.Set("Content-Type", "application/json")
		got, err := c.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		defer got.Body.Close()
		text, _ := io.ReadAll(got.Body)
		return got.StatusCode, string(text)
	}
	stranger := &http.Client{Timeout: 10 * time.Second}
	if code, body := ask(stranger, "GET", at, ""); code != 404 || body != "" {
		t.Errorf("a stranger gets %d %q", code, body)
	}
	if code, _ := ask(guest, "POST", link, ""); code != 200 {
		t.Fatalf("the link gives %d", code)
	}
	await(reported, `^backfield: page 1 at 127\.0\.0\.1 came in; there is a new link now`)
	if code, _ := ask(stranger, "POST", link, ""); code != 404 {
		t.Errorf("the link lets in twice: %d", code)
	}
	// A page whose clock is ahead is told what it is, and then goes by that.
	var clock struct {
		NowMS int64 `json:"now_ms"`
	}
	code, body := ask(guest, "POST", at+"/do", `{"verb":"go","next":"1","pressed_ms":9999999}`)
	if err := json.Unmarshal([]byte(body), &clock); code != 409 || err != nil {
		t.Fatalf("go from a page whose clock is ahead: %d %s", code, body)
	}
	order := fmt.Sprintf(`{"verb":"go","next":"1","pressed_ms":%d}`, clock.NowMS)
	if code, body := ask(guest, "POST", at+"/do", order); code != 200 || !strings.Contains(body, `"said":"cue 1"`) {
		t.Errorf("go: %d %s", code, body)
	}
	await(reported, `^backfield: go, from page 1 at 127\.0\.0\.1: cue 1$`)
	if code, body := ask(guest, "POST", at+"/do", order); code != 409 {
		t.Errorf("the same go again: %d %s", code, body)
	}
	fmt.Fprintln(in, "status")
	await(said, `^cue 1 `)
	if code, body := ask(guest, "GET", at+"/show.json", ""); code != 200 ||
		!strings.Contains(body, `"length_m":91.44`) {
		t.Errorf("show.json: %d %s", code, body)
	}
	fmt.Fprintln(in, "page new")
	if again := await(reported, `^  (http://\S+)$`); again == link {
		t.Error("page new has the same link")
	}
	if code, _ := ask(guest, "GET", at, ""); code != 404 {
		t.Errorf("a removed device gets %d", code)
	}
	fmt.Fprintln(in, "quit")
	if err := cmd.Wait(); err != nil {
		t.Errorf("it ended with %v", err)
	}
	text, err := os.ReadFile(journal)
	if err != nil || !strings.Contains(string(text), `"command":"go","from":"page 1 at 127.0.0.1"`) ||
		!strings.Contains(string(text), `"kind":"page"`) {
		t.Errorf("the journal: %v\n%s", err, text)
	}
}

// pageRun is the real command with a page, on a copy of the small show, rehearsing.
type pageRun struct {
	cmd            *exec.Cmd
	in             io.Writer
	said, reported <-chan string // stdout and stderr, line by line
	link           string
	await          func(c <-chan string, pattern string) string
}

func begun(t *testing.T, args ...string) pageRun {
	dir := copied(t, "../../testdata/script/show")
	cmd := exec.Command("backfield", append([]string{"run", dir, "--rehearse", "--text", "--page"}, args...)...)
	in, _ := cmd.StdinPipe()
	out, _ := cmd.StdoutPipe()
	talk, _ := cmd.StderrPipe()
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { cmd.Process.Kill() })
	lines := func(r io.Reader) <-chan string {
		c := make(chan string, 1000)
		go func() {
			defer close(c)
			for l := bufio.NewScanner(r); l.Scan(); {
				c <- l.Text()
			}
		}()
		return c
	}
	said, reported := lines(out), lines(talk)
	await := func(c <-chan string, pattern string) string {
		t.Helper()
		limit := time.After(2 * time.Minute)
		for {
			select {
			case l, more := <-c:
				if !more {
					t.Fatalf("it ended before it said %q", pattern)
				}
				if m := regexp.MustCompile(pattern).FindStringSubmatch(l); m != nil {
					return m[len(m)-1]
				}
			case <-limit:
				t.Fatalf("it does not say %q", pattern)
			}
		}
	}
	link := await(reported, `^  (http://127\.0\.0\.1:\d+/k/\S+)$`)
	return pageRun{cmd, in, said, reported, link, await}
}

// The whole show's page stands behind the run's key, and walks with the run.
func TestPageWalksWithTheRun(t *testing.T) {
	t.Parallel()
	b := browser.Open(t, 1180, 820)
	r := begun(t)
	at := r.link[:strings.Index(r.link, "/k/")]
	for _, path := range []string{"/show/", "/show/view", "/show/events", "/show/page.js"} {
		reply, err := http.Get(at + path)
		if err != nil {
			t.Fatal(err)
		}
		reply.Body.Close()
		if reply.StatusCode != http.StatusNotFound {
			t.Errorf("a stranger gets %d of %s", reply.StatusCode, path)
		}
	}
	b.Go(r.link)
	b.Click("button")
	b.Await("document.querySelector('#show')", 10*time.Second)
	b.Go(at + "/show/?follow")
	b.Await("document.querySelector('#state').textContent === 'the run is before its first cue'", 10*time.Second)
	fmt.Fprintln(r.in, "go")
	b.Await("document.querySelector('#state').textContent === 'the run is at cue 1' && document.querySelector('#cue "+
		".id').textContent === '1'", 10*time.Second)
	before := browser.Eval[string](b, "document.querySelector('#here').textContent")
	b.Await(fmt.Sprintf("document.querySelector('#here').textContent !== %q", before), 5*time.Second)
	b.Key(kb.Home) // the reader looks around; the run does not mind
	b.Await("document.querySelector('#state').textContent === 'looking around; the run goes on'", 5*time.Second)
	b.Key("f")
	b.Await("document.querySelector('#state').textContent.startsWith('the run is at cue')", 5*time.Second)
	if faults := b.Faults(); faults != "" {
		t.Errorf("faults of the page:\n%s", faults)
	}
	fmt.Fprintln(r.in, "quit")
	if err := r.cmd.Wait(); err != nil {
		t.Errorf("it ended with %v", err)
	}
}
