package remote

import (
	"flag"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"backfield/cmd/backfield/browser"
	"backfield/cmd/backfield/show"
	"backfield/cue"
	"backfield/osc/run"
)

var shots = flag.String("shots", "", "write screenshots of the page into this folder")

// tablet is a device that came in.
type tablet struct {
	*browser.Tab
	t *testing.T
}

// open lets a device in by its link, as a person does.
func (f *fixture) open(t *testing.T, tab *browser.Tab) *tablet {
	t.Helper()
	p := &tablet{tab, t}
	p.Go(f.Link())
	p.shot("door")
	p.Click("button")
	p.Await("document.getElementById('goword')", 20*time.Second)
	return p
}

// text is the text of an element.
func (p *tablet) text(id string) string {
	p.t.Helper()
	return browser.Eval[string](p.Tab, fmt.Sprintf("document.getElementById(%q).innerText", id))
}

// reads waits until an element has a text.
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

// said waits until the page has said something, which it shows for a few seconds only.
func (p *tablet) said(want string) {
	p.t.Helper()
	p.Await(fmt.Sprintf("lastSaid.includes(%q)", want), 6*time.Second)
}

func (p *tablet) shot(name string) {
	p.t.Helper()
	if *shots != "" {
		p.Shot(filepath.Join(*shots, name+".png"))
	}
}

func harbor(t *testing.T) (run.ShowSetup, ServerOptions) {
	s := demo(t)
	f := s.Rig.Field
	frontM, backM := s.Margins()
	o := ServerOptions{
		Field: FieldLines{
			LengthM: f.LengthM, EndZoneM: f.EndZoneM, WidthM: f.WidthM, HashM: f.HashM,
			FrontM: frontM, BackM: backM, MiddleYard: f.MiddleYard,
		},
		Channels: channelsOf(s.Show), MixerChannels: s.Mixer.Channels,
		Where: func(name string, showS float64) (float64, float64, bool) {
			at, ok := s.Where(name, s.Clock.At(showS))
			return at.X, at.Y, ok
		},
	}
	return run.ShowSetup{Show: s.Show, Mixer: s.Mixer, Time: show.Timeline{Clock: s.Clock}}, o
}

func channelsOf(s *cue.Show) (list []int) {
	for _, c := range s.Cues[0].Channels {
		list = append(list, c.Channel)
	}
	slices.Sort(list)
	return list
}

// pausing is a run that can be made to hang.
type pausing struct {
	PageRun
	mu sync.Mutex
}

func (p *pausing) View() (run.View, bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.PageRun.View()
}

// Two tablets in a real browser, and the terminal, at the demo. Whoever steps the run, all see it: by touch, by key and
// by keyboard alone. A finger that bounces or rests on a key does nothing. An old page says so and is locked.
func TestBrowser(t *testing.T) {
	t.Parallel()
	first := browser.Open(t, 1366, 768)
	plan, o := harbor(t)
	st := &pausing{PageRun: stage(t, plan, run.Options{})}
	f := serve(t, st, o)
	a, b := f.open(t, first), f.open(t, first.NewDevice(1024, 768))
	both := func(cue string) {
		t.Helper()
		for _, p := range []*tablet{a, b} {
			p.reads("cue", cue)
		}
		if s := step(t, st); !strings.HasPrefix(cue, s) {
			t.Fatalf("the run is in %q, the pages show %q", s, cue)
		}
	}
	rest := func() { time.Sleep(goGap + 50*time.Millisecond) }
	id := func(i int) string { return plan.Show.Cues[i].ID + " " }
	for _, p := range []*tablet{a, b} {
		p.reads("cue", "before the first cue")
		p.reads("goname", id(0))
	}
	a.Click("#go")
	both(id(0))
	b.reads("live", "Cue "+strings.TrimSpace(id(0)))
	rest()
	if got := browser.Eval[string](b.Tab, `(() => { // a second press at once is a bounce
		for (let i = 0; i < 2; i++) dispatchEvent(new KeyboardEvent("keydown", { key: " " }))
		return lastSaid
	})()`); !strings.Contains(got, "GO ignored") {
		t.Errorf("a bounce: the page says %q", got)
	}
	both(id(1))
	b.said("cue " + strings.TrimSpace(id(1)))
	rest()
	a.Focus("#back") // Space is go, whatever has the focus
	a.Key(" ")
	both(id(2))
	open := 0
	for _, c := range plan.Show.Cues[2].Channels {
		if c.Open {
			open++
		}
	}
	for _, p := range []*tablet{a, b} { // every open mic can be seen, also those of the pit in front of the field
		p.Await(fmt.Sprintf(`document.querySelectorAll("#field .spot").length >= %d`, open), 6*time.Second)
		if got := browser.Eval[string](p.Tab, `(() => {
			const box = document.getElementById("field").getBoundingClientRect()
			const spots = [...document.querySelectorAll("#field .spot")]
			const cut = spots.map(s => s.getBoundingClientRect()).filter(r => r.bottom > box.bottom + 1 || r.top < box.top - 1 || r.left < box.left - 1 || r.right > box.right + 1)
			return cut.length ? cut.length + " of " + spots.length + " marks are cut off" : ""
		})()`); got != "" {
			t.Error(got)
		}
	}
	rest()
	browser.Eval[bool](a.Tab, `dispatchEvent(new KeyboardEvent("keydown", { key: " ", repeat: true }))`)
	a.said("(held down)")
	both(id(2))
	a.Key("b")
	a.said("Press again to go back")
	a.reads("back", "gain")
	both(id(2))
	time.Sleep(bounced)
	a.Key("b")
	both(id(1))
	b.Click("#hush")
	time.Sleep(bounced)
	b.Click("#hush")
	for _, p := range []*tablet{a, b} {
		p.reads("alarms", "HUSHED")
		p.reads("hush", "Unhush")
	}
	b.shot("hushed")
	a.Key("h")
	time.Sleep(bounced)
	a.Key("h")
	b.said("hushed")
	b.reads("hush", "Hush")
	a.Key("/") // a driver's key types into what it brings the focus to; a keyboard's does not
	if !browser.Eval[bool](a.Tab, `document.activeElement.id === "where" && (document.activeElement.value = "", true)`) {
		t.Error("/ does not move the focus to the jump box")
	}
	a.Type("#where", "set 99\r")
	a.said("no cue")
	a.reads("said", "no cue, set or count set 99")
	if got := browser.Eval[string](a.Tab, boxIs); got != "set 99 refused" {
		t.Errorf("after a refused jump the box has %q", got)
	}
	rest()
	a.Key(" ") // Space is go, also after a refusal
	both(id(2))
	a.Click("#where") // touched again, it is empty: what is typed is a new jump
	a.Type("#where", "ban")
	if got := browser.Eval[string](a.Tab, boxIs); got != "ban typing" {
		t.Errorf("touched again, the box has %q", got)
	}
	browser.Eval[bool](a.Tab, `dispatchEvent(new KeyboardEvent("keydown", { key: "Escape" }))`)
	if got := browser.Eval[string](a.Tab, boxIs); got != "" {
		t.Errorf("after Esc the box has %q", got)
	}
	a.Type("#where", "22\r")
	both("22 ")
	b.reads("tempo", "clock stopped")
	rest() // the run takes no go at once after another step

	if _, err := st.DoWithin(run.Command{Verb: run.Go}, time.Second); err != nil { // the terminal
		t.Fatal(err)
	}
	both("23 ")
	if n := browser.Eval[int](a.Tab, `document.querySelectorAll("#field .spot").length`); n == 0 {
		t.Error("no players on the field")
	}
	st.mu.Lock()
	a.reads("lost", "NO ANSWER FROM THE RUN")
	locked := browser.Eval[bool](a.Tab, `document.getElementById("go").disabled`)
	st.mu.Unlock()
	if !locked {
		t.Error("go can be pressed although the run does not answer")
	}
	a.reads("lost", "")
	a.Await(`!document.getElementById("go").disabled`, 20*time.Second)
	for p, want := range map[*tablet]string{a: refused, b: ""} {
		if got := p.Faults(); got != want {
			t.Errorf("in the browser: %q", got)
		}
	}
	before := f.hub.count()
	if err := f.Renew(); err != nil || before < 2 {
		t.Fatal(err, before)
	}
	a.reads("lost", "THIS DEVICE WAS REMOVED")
	c := f.open(t, first.NewDevice(768, 1024))
	c.reads("cue", step(t, st))
	c.shot("upright")
	f.conns.Close() // as if the program had died
	f.http.Close()
	c.reads("lost", "NO CONNECTION FOR")
	c.shot("lost")
	if !browser.Eval[bool](c.Tab, `document.getElementById("go").disabled`) {
		t.Error("go can be pressed without a connection")
	}
}

// refused is what the browser notes of a command that the run refuses.
const refused = "error: Failed to load resource: the server responded with a status of 409 (Conflict)"

// boxIs is what the jump box has, and how it is.
const boxIs = `(b => b.value + (b.hasAttribute("data-refused") ? " refused" : "") + (document.activeElement === b ? " typing" : ""))($("where"))`

// bounced is longer than the gap of two presses that the page takes for a bounce.
const bounced = 250 * time.Millisecond

// A read-only page has no buttons, and keys do nothing.
func TestBrowserReadOnly(t *testing.T) {
	t.Parallel()
	plan := smallPlan(t)
	plan.Show.Cues[0].Also = []cue.Extra{{Address: "/room/b/quiet", Types: "i", Args: []any{1.0}}}
	st := stage(t, plan, run.Options{})
	f := serve(t, st, ServerOptions{ReadOnly: true})
	p := f.open(t, browser.Open(t, 1024, 768))
	p.reads("cue", "before")
	p.reads("lines", "sends /room/b/quiet i 1")
	p.Key(" ")
	p.Key("hh")
	hidden := browser.Eval[bool](p.Tab, `getComputedStyle(document.getElementById("go")).display === "none"`)
	if !hidden || step(t, st) != "" {
		t.Errorf("a read-only page stepped the run: %q", step(t, st))
	}
	if _, err := st.Do(run.Command{Verb: run.Go}); err != nil {
		t.Fatal(err)
	}
	p.reads("cue", "1 ")
	if got := p.Faults(); got != "" {
		t.Errorf("in the browser: %q", got)
	}
}

// The page marks who stops and starts being heard in the next cue, and not who only switches channels: here onto the
// channel of another player, who switches too or stops. In a handover it marks both players.
func TestBrowserMarks(t *testing.T) {
	t.Parallel()
	plan := smallPlan(t)
	for i, players := range [][3]string{
		{"Tpt 1", "Bari 1", ""}, {"", "Tpt 1", "Bari 1"}, {"", "Tpt 1", "Bari 1"}, {"", "Bari 1", ""}, {"", "Bari 2", ""},
	} {
		var list []cue.Channel
		for n, player := range players {
			c := cue.Channel{Channel: n + 1, Player: player, Kind: cue.Worn, Open: player != "", LevelDB: cue.Level(-3 * n)}
			if !c.Open {
				c.LevelDB = cue.Silent
			}
			list = append(list, c)
		}
		plan.Show.Cues[i].Channels = list
	}
	where := map[string]float64{"Tpt 1": -20, "Bari 1": 0, "Bari 2": 20}
	_, o := harbor(t)
	o.Where = func(name string, _ float64) (x, y float64, ok bool) {
		x, ok = where[name]
		return x, 20, ok
	}
	st := stage(t, plan, run.Options{})
	p := serve(t, st, o).open(t, browser.Open(t, 1366, 768))
	for _, want := range []struct{ jump, mics, field string }{
		{"1", "Bari 1:, Tpt 1:", "0 crosses, 0 rings, 2 spots"},
		{"2", "Bari 1:, Tpt 1:closes", "1 crosses, 0 rings, 2 spots"},
		{"3", "Bari 1:closes", "1 crosses, 1 rings, 1 spots"},
	} {
		c, err := run.Parse("jump " + want.jump)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := st.DoWithin(c, time.Second); err != nil {
			t.Fatal(err)
		}
		p.reads("cue", want.jump+" ")
		p.Await("document.querySelectorAll('#field .spot').length > 0", 6*time.Second)
		mics, field := "", ""
		for range 300 { // the mixer confirms what is open and closed a moment later
			mics = browser.Eval[string](p.Tab, `[...document.querySelectorAll(".tile[data-open=open]:not([data-channel=others])")]
				.map(b => b.querySelector("i").textContent + ":" + b.dataset.next).sort().join(", ")`)
			field = browser.Eval[string](p.Tab, `["cross", "ring", "spot"].map(c => document.querySelectorAll("#field ." + c).length +
				" " + { cross: "crosses", ring: "rings", spot: "spots" }[c]).join(", ")`)
			if mics == want.mics && field == want.field {
				break
			}
			time.Sleep(20 * time.Millisecond)
		}
		if mics != want.mics || field != want.field {
			t.Errorf("in cue %s: %s; %s\nwant %s; %s", want.jump, mics, field, want.mics, want.field)
		}
	}
	if got := p.Faults(); got != "" {
		t.Errorf("in the browser: %q", got)
	}
}
