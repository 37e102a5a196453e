package checkpage

import (
	"context"
	"flag"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"backfield/cmd/backfield/browser"
	"backfield/cmd/backfield/linechecking"
	"backfield/cmd/backfield/remote"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/simulated"
	"backfield/layout/source"
	"backfield/osc/linecheck"
	"backfield/osc/waiting"
)

var shots = flag.String("shots", "", "write screenshots of the page into this folder")

func TestMain(m *testing.M) { os.Exit(run{m}.Run()) }

// run is all tests of the package, and the end of the browser.
type run struct{ m *testing.M }

func (r run) Run() int {
	defer browser.End()
	return waiting.Run(r.m)
}

// confirming is the show of testdata/new with a mixer that confirms.
type confirming struct{}

func (confirming) Read(path string) ([]byte, error) {
	raw, err := show.Disk{}.Read(filepath.Join("../../../testdata/new", filepath.Base(path)))
	if filepath.Base(path) == "mixer.toml" {
		raw = append(raw, "\n[echo]\n\n[query]\naddress = \"{address}\"\n"...)
	}
	return raw, err
}

// start begins a line check of that show with a simulated mixer, and its page.
func start(t *testing.T) (*linechecking.Session, *remote.Server, string) {
	t.Helper()
	var p source.Problems
	s, err := show.Load(confirming{}, "show.toml", show.LoadOptions{}, &p)
	if err != nil || s.Result.Show == nil {
		t.Fatal(err, p.All())
	}
	_, at, err := simulated.Start(t.Context(), s.Mixer)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	x, _, err := linechecking.Start(s, linechecking.SessionOptions{Score: filepath.Join(dir, "show.toml"),
		Tonight: filepath.Join(dir, "tonight.toml"), To: []string{at}, LevelDB: -20, Order: linechecking.ByPack})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { x.Close() })
	site, err := Listen(x, "127.0.0.1:0", nil, func(string) {})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { site.Close() })
	return x, site, dir
}

// phone is a device that is in.
type phone struct {
	*browser.Tab
	t *testing.T
}

// reads waits until an element has a text.
func (p *phone) reads(id, want string) {
	p.t.Helper()
	p.Await(fmt.Sprintf("document.getElementById(%q).innerText.includes(%q)", id, want), 20*time.Second)
}

// tap taps a button once it can be tapped.
func (p *phone) tap(selector string) {
	p.t.Helper()
	p.Await(fmt.Sprintf("document.querySelector(%q) && !document.querySelector(%[1]q).disabled", selector), 20*time.Second)
	p.Click(selector)
}

func (p *phone) shot(name string) {
	p.t.Helper()
	if *shots != "" {
		p.Shot(filepath.Join(*shots, name+".png"))
	}
}

// TestPhone walks across the field with a phone: packs that are good, dead, noisy, and two that are swapped.
func TestPhone(t *testing.T) {
	x, site, dir := start(t)
	p := &phone{browser.Open(t, 390, 844), t}
	p.Go(site.Link())
	p.Click("button")
	p.reads("name", "Tpt 1")
	p.reads("state", "OPEN at -20.0 dB, alone")
	p.shot("open")
	const small = `[...document.querySelectorAll("#keys button")].filter(b => b.getBoundingClientRect().height < 60 ||
		b.getBoundingClientRect().width < 150).map(b => b.textContent).join()`
	if text := browser.Eval[string](p.Tab, small); text != "" {
		t.Errorf("small buttons: %s", text)
	}
	if wide := browser.Eval[float64](p.Tab, "document.documentElement.scrollWidth"); wide > 390 {
		t.Errorf("the page is %g wide on a phone of 390", wide)
	}
	const where = `document.getElementById("good").getBoundingClientRect().top`
	top := browser.Eval[float64](p.Tab, where)
	p.tap("#wrong")
	p.Type("#typed", "t3")
	p.Await(`document.querySelector("#players button").textContent === "Tpt 3"`, 20*time.Second)
	p.shot("who")
	p.Click("#players button")
	p.reads("said", "P01, Tpt 1: wrong player, Tpt 3 was heard")
	p.reads("name", "Tpt 2")
	p.tap(`[data-key="no sound"]`)
	p.reads("name", "Tpt 3")
	p.reads("hint", "Tpt 3 has pack P01, so Tpt 1 may have this one")
	p.tap("#wrong")
	p.tap("#players button") // the one who is expected comes first
	p.reads("said", "SWAPPED PACKS: Tpt 1 and Tpt 3 have each other's pack")
	p.shot("swapped")
	if now := browser.Eval[float64](p.Tab, where); now != top {
		t.Errorf("the key for good moves from %g to %g", top, now)
	}
	p.tap("#offer")
	p.reads("said", "P01 and P03 count as swapped tonight")
	p.tap("#close")
	p.reads("state", "CLOSED, every mic")
	p.shot("closed")
	p.reads("close", "OPEN AGAIN")
	p.tap("#close")
	p.tap("#good")
	p.reads("said", "P04, Mello 1: good")

	// The laptop is faster: what the phone shows of the pack before counts for nothing.
	p.reads("name", "Mello 2")
	p.Await(`view.phase === "open"`, 20*time.Second)
	late := browser.Eval[float64](p.Tab, "view.seq")
	for _, err := x.Give(linecheck.CheckPress{Key: linecheck.KeyGood}); err != nil; {
		time.Sleep(20 * time.Millisecond)
		_, err = x.Give(linecheck.CheckPress{Key: linecheck.KeyGood})
	}
	p.reads("name", "Bari 1")
	browser.Eval[bool](p.Tab, fmt.Sprintf("(view.seq = %g, press('noise'), true)", late))
	p.reads("said", "another pack is open by now")
	if open := x.Close(); len(open) > 0 {
		t.Errorf("at the end: %v", open)
	}
	p.reads("lost", "THE LINE CHECK HAS ENDED")
	p.shot("ended")
	for _, fault := range strings.Split(p.Faults(), "\n") {
		if fault != "" && !strings.Contains(fault, "409 (Conflict)") { // the late key
			t.Error(fault)
		}
	}
	tonight, err := os.ReadFile(filepath.Join(dir, "tonight.toml"))
	if err != nil || string(tonight) != "swapped = [[\"P01\", \"P03\"]]\n" {
		t.Errorf("tonight.toml: %q, %v", tonight, err)
	}
	record, _, err := linechecking.ReadRecord(filepath.Join(dir, "show.toml"))
	if list := record.Judged(); err != nil || len(list) != 5 || !strings.HasPrefix(list[0].By, "page 1 at 127.0.0.1") {
		t.Errorf("the record: %+v, %v", list, err)
	}
}

// TestLineCheckNeedsKey has a device without a key, which gets nothing, and commands of a run, which are not there.
func TestLineCheckNeedsKey(t *testing.T) {
	t.Parallel()
	x, site, _ := start(t)
	seq := x.View().Seq
	for _, path := range []string{"/", "/events", "/players", "/check.js", "/do", "/show.json"} {
		r, err := http.Get(fmt.Sprintf("http://%v%s", site.Addr(), path))
		if err != nil {
			t.Fatal(err)
		}
		body, _ := io.ReadAll(r.Body)
		r.Body.Close()
		if r.StatusCode != http.StatusNotFound || len(body) > 0 {
			t.Errorf("%s without a key: %s %q", path, r.Status, body)
		}
	}
	if x.View().Seq != seq {
		t.Error("a stranger has done something")
	}
}

// TestKeys has keys that a page cannot send.
func TestKeys(t *testing.T) {
	t.Parallel()
	for _, body := range []string{
		``, `{}`, `{"key":"good"}`, `{"key":"quit","seq":1}`, `{"key":"go","seq":1}`, `{"key":"good","seq":1,"x":2}`,
		`{"key":"good","seq":"1"}`, `[]`, `{"key":"wrong","seq":1,"who":"` + strings.Repeat("a", 2000) + `"}`,
	} {
		r, err := http.NewRequestWithContext(context.Background(), http.MethodPost, "/do", strings.NewReader(body))
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Content-Type", "application/json")
		if p, err := readKey(nil, r); err == nil {
			t.Errorf("%.60q was read: %+v", body, p)
		}
		r.Header.Set("Content-Type", "text/plain")
		if _, err := readKey(nil, r); err == nil {
			t.Errorf("%.60q was read as text", body)
		}
	}
	r, _ := http.NewRequest(http.MethodPost, "/do", strings.NewReader(`{"key":"wrong","seq":3,"who":"Tpt 3"}`))
	r.Header.Set("Content-Type", "application/json; charset=utf-8")
	if p, err := readKey(nil, r); err != nil || p != (pageKey{linecheck.KeyWrong, "Tpt 3", 3}) {
		t.Errorf("%+v, %v", p, err)
	}
}
