package remote

import (
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"net/http"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"backfield/cmd/backfield/browser"
	"backfield/cmd/backfield/firefox"
	"backfield/osc/run"
)

// window is a browser's window, Chromium's or Firefox's.
type window interface {
	Go(address string)
	Resize(wide, high int)
	Await(expression string, limit time.Duration)
	Text(expression string) string
	Faults() string
}

type inChromium struct{ *browser.Tab }

func (w inChromium) Text(expression string) string { return browser.Eval[string](w.Tab, expression) }

func (w inChromium) Await(expression string, limit time.Duration) { w.Tab.Await(expression, limit) }

type inFirefox struct{ *firefox.Firefox }

func (inFirefox) Faults() string { return "" } // it does not tell

// shown is a page that shows the states that it is given, one after the other, without a run behind it.
type shown struct {
	window
	t      *testing.T
	f      *fixture
	tablet *tablet // the same window, where it is Chromium's
}

// showing opens the page with a script of its own, which the server of the test has, since the page takes none from
// elsewhere.
func showing(t *testing.T, w window, o ServerOptions) *shown {
	t.Helper()
	o.Extra = map[string]http.Handler{"GET /measure.js": http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "text/javascript")
		io.WriteString(w, measureFile)
	})}
	f := serve(t, frozen{stateViews()["calm"].v}, o)
	w.Go(f.Link())
	w.Await("document.querySelector('button')", time.Minute)
	w.Text("(document.querySelector('button').click(), '')")
	w.Await("document.getElementById('cue') && document.getElementById('cue').textContent.includes('6 ')", time.Minute)
	w.Text("(document.head.append(Object.assign(document.createElement('script'), { src: 'measure.js' })), '')")
	w.Await("window.measureStates", time.Minute)
	p := &shown{window: w, t: t, f: f}
	if c, ok := w.(inChromium); ok {
		p.tablet = &tablet{c.Tab, t}
	}
	return p
}

// state is a view as the page gets it, with a name.
type state struct {
	Name    string   `json:"name"`
	Picture *picture `json:"picture"`
}

func (p *shown) state(name string, v run.View) state { return state{name, p.f.hub.paint(v, 1)} }

// ask calls a function of the page's script with an argument, and reads what it returns.
func ask[T any](p *shown, function string, argument any) (value T) {
	p.t.Helper()
	b, err := json.Marshal(argument)
	if err == nil {
		b, err = json.Marshal(string(b)) // a text, which means the same in every browser
	}
	if err == nil {
		err = json.Unmarshal([]byte(p.Text(function+"("+string(b)+")")), &value)
	}
	if err != nil {
		p.t.Fatal(err)
	}
	return value
}

// put shows a state.
func (p *shown) put(v run.View) {
	p.t.Helper()
	ask[bool](p, "putState", p.state("", v))
}

// as gives the page a size and a light.
func (p *shown) as(size [2]int, light string) {
	p.t.Helper()
	p.Resize(size[0], size[1])
	p.Await(fmt.Sprintf("innerWidth === %d && innerHeight === %d", size[0], size[1]), 10*time.Second)
	ask[bool](p, "dress", light)
}

var sizes = [][2]int{{1024, 768}, {768, 1024}, {390, 844}, {844, 390}, {1366, 768}, {360, 640}, {667, 375}, {1440, 900}}

// states are all states, by name.
func (p *shown) states() (list []state) {
	states := stateViews()
	for _, name := range slices.Sorted(maps.Keys(states)) {
		list = append(list, p.state(name, states[name].v))
	}
	return list
}

func TestShots(t *testing.T) {
	if *shots == "" {
		t.Skip()
	}
	w := inChromium{browser.Open(t, 1024, 768)}
	p := showing(t, w, benchOptions(t))
	for _, size := range sizes {
		for _, light := range []string{"night", "sun"} {
			p.as(size, light)
			for _, x := range p.states() {
				if size[0] > 1024 && x.Name != "calm" && x.Name != "manual" || light == "sun" && x.Name != "calm" && x.Name != "manual" && x.Name != "overdue" {
					continue
				}
				ask[[]measure](p, "measureStates", []state{x})
				w.Shot(filepath.Join(*shots, fmt.Sprintf("%dx%d-%s-%s.png", size[0], size[1], light, x.Name)))
			}
			for i, name := range overlayNames(p) {
				ask[measure](p, "measureOverlay", i)
				w.Shot(filepath.Join(*shots, fmt.Sprintf("%dx%d-%s-%s.png", size[0], size[1], light, strings.ReplaceAll(name, " ", "-"))))
			}
		}
	}
	if fault := p.Faults(); fault != "" {
		t.Error(fault)
	}
}

// TestLayout measures the page in every state at every size in both lights: nothing is clipped or overlapped, nothing is too
// small to touch, nothing scrolls, every text and edge has contrast, and nothing that has a place moves.
func TestLayout(t *testing.T) {
	measuredIn(t, inChromium{browser.Open(t, 1024, 768)}, sizes)
}

// TestInFirefox measures the same in Firefox, which has fonts and boxes of its own: on tablets and phones, both ways.
func TestInFirefox(t *testing.T) {
	measuredIn(t, inFirefox{firefox.Open(t)}, sizes[:4])
}

// measuredIn measures all states and what covers parts of the page.
func measuredIn(t *testing.T, w window, sizes [][2]int) {
	p := showing(t, w, benchOptions(t))
	states := p.states()
	for _, size := range sizes {
		boxes := ""
		for _, light := range []string{"night", "sun"} {
			p.as(size, light)
			what := fmt.Sprintf("%dx%d, %s", size[0], size[1], light)
			p.measured(what, ask[[]measure](p, "measureStates", states), &boxes)
			p.overlays(what, &boxes)
		}
	}
	if fault := p.Faults(); fault != "" {
		t.Errorf("in the browser: %q", fault)
	}
}

// TestEveryCue measures the page at every cue of the demo, as the run shows it: what changes is never cut off.
func TestEveryCue(t *testing.T) {
	plan, o := harbor(t)
	p, began := showing(t, inChromium{browser.Open(t, 1024, 768)}, o), time.Now()
	e := run.New(plan, run.Options{To: []string{"udp://127.0.0.1:9"}, Guard: time.Nanosecond}, began)
	var states []state
	for i, c := range plan.Show.Cues {
		at := began.Add(time.Duration(i+1) * time.Second)
		if _, err := e.Do(run.Command{Verb: run.Jump, Name: c.ID}, at); err != nil {
			t.Fatal(err)
		}
		states = append(states, p.state("cue "+c.ID, e.View(at)))
	}
	for _, size := range sizes[:4] {
		boxes := ""
		p.as(size, "sun")
		p.measured(fmt.Sprintf("%dx%d", size[0], size[1]), ask[[]measure](p, "measureStates", states), &boxes)
	}
}

// measure is what was found of the page in a state.
type measure struct {
	Name   string `json:"name"`
	Faults string `json:"faults"`
	Boxes  string `json:"boxes"` // of all that keeps its place
}

// measured reports what is wrong with the page, and what is not where it was in other states.
func (p *shown) measured(what string, list []measure, boxes *string) {
	p.t.Helper()
	if len(list) == 0 {
		p.t.Errorf("%s: nothing is measured", what)
	}
	for _, m := range list {
		if m.Faults != "" {
			p.t.Errorf("%s, %s:\n%s", what, m.Name, m.Faults)
		}
		if *boxes == "" {
			*boxes = m.Boxes
		}
		if m.Boxes == *boxes {
			continue
		}
		was := strings.Split(*boxes, "\n")
		for i, line := range strings.Split(m.Boxes, "\n") {
			if i >= len(was) || line != was[i] {
				p.t.Errorf("%s, %s: something is not where it was: %q, was %q", what, m.Name, line, was[min(i, len(was)-1)])
			}
		}
	}
}

func overlayNames(p *shown) []string { return ask[[]string](p, "overlayNames", nil) }

// overlays opens what covers parts of the page: the panel of a channel, its spares, a refusal over the field that it
// concerns, and what is behind the dots. None covers the digits' box or go, and nothing moves.
func (p *shown) overlays(what string, boxes *string) {
	p.t.Helper()
	ask[[]measure](p, "measureStates", []state{p.state("manual", stateViews()["manual"].v)})
	var list []measure
	for i := range overlayNames(p) {
		list = append(list, ask[measure](p, "measureOverlay", i))
	}
	p.measured(what, list, boxes)
}

// What measures the page finds each kind of fault.
func TestMeasureFinds(t *testing.T) {
	tab := browser.Open(t, 1024, 768)
	p := showing(t, inChromium{tab}, benchOptions(t))
	p.as(sizes[0], "sun")
	for want, script := range map[string]string{
		"clipped: place":               `$("place").style.width = "20px", $("place").style.overflow = "hidden"`,
		"clipped: nextname":            `$("nextname").style.height = "12px"`,
		"parts overlap: ground, next":  `$("next").style.marginLeft = "-40px"`,
		"targets overlap: back, hush":  `$("back").style.marginRight = "-20px"`,
		"small target: hush":           `$("hush").style.height = "40px", $("hush").style.minHeight = 0`,
		"scrolls: bench":               `$("bench").style.overflow = "auto", bench.tiles[0].style.minHeight = "400px"`,
		"of the text B in lines opens": `$("lines").querySelector("b").style.color = "#999"`,
		"of the edge of back":          `$("back").style.borderColor = "#ccc"`,
		"outside the window: strip":    `$("strip").style.marginTop = "40px", $("strip").style.height = "108px"`,
		"panel covers digits":          `openPanel("2"), $("panel").style.gridArea = "next"`,
		"texts overlap: Tpt 1, 1 in P": `bench.tiles[0].parts.number.style.transform = "translateX(-60px)"`,
	} {
		found := p.Text(`(() => {
			const styles = [...document.querySelectorAll("*")].filter(e => e.style).map(e => [e, e.style.cssText])
			window.undo = () => { closePanel(); for (const [e, css] of styles) e.style.cssText = css; return true }
			` + script + `
			return ` + measureScript + `
		})()`)
		if !strings.Contains(found, want) {
			t.Errorf("%q is not found: %q", want, found)
		}
		browser.Eval[bool](tab, "undo()")
	}
	calm := []state{p.state("calm", stateViews()["calm"].v)}
	before := ask[[]measure](p, "measureStates", calm)
	if before[0].Faults != "" {
		t.Errorf("after all: %s", before[0].Faults)
	}
	browser.Eval[bool](tab, `$("hush").style.marginTop = "1px"; true`)
	if after := ask[[]measure](p, "measureStates", calm); after[0].Boxes == before[0].Boxes {
		t.Error("a button that moves by a pixel is not found")
	}
}
