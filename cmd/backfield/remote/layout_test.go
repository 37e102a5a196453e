package remote

import (
	"fmt"
	"maps"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"backfield/cmd/backfield/browser"
	"backfield/osc/run"
)

// shown is a page that shows the states that it is given, one after the other, without a run behind it.
type shown struct {
	*tablet
	f *fixture
}

func showing(t *testing.T, o ServerOptions) *shown {
	calm := stateViews()["calm"].v
	f := serve(t, frozen{calm}, o)
	p := &shown{f.open(t, browser.Open(t, 1024, 768)), f}
	p.reads("cue", "6 ")
	browser.Eval[bool](p.Tab, `(() => {
		const real = hear
		hear = word => real({ ...word, picture: null }) // its clock goes on
		window.showState = picture => { real({ now_ms: now() - offset, seen_ms: now() - offset, picture }); return true }
		return true
	})()`)
	return p
}

// put shows a state.
func (p *shown) put(v run.View) {
	p.t.Helper()
	b, err := p.f.hub.paint(v, 1).encode()
	if err != nil {
		p.t.Fatal(err)
	}
	browser.Eval[bool](p.Tab, "showState("+string(b)+")")
}

// as gives the page a size and a light.
func (p *shown) as(size [2]int, light string) {
	p.t.Helper()
	p.Resize(size[0], size[1])
	p.Await(fmt.Sprintf("innerWidth === %d && innerHeight === %d", size[0], size[1]), 10*time.Second)
	browser.Eval[bool](p.Tab, fmt.Sprintf("light(%q), furnish(), draw(), true", light))
}

var sizes = [][2]int{{1024, 768}, {768, 1024}, {390, 844}, {844, 390}, {1366, 768}, {360, 640}, {667, 375}, {1440, 900}}

func TestShots(t *testing.T) {
	if *shots == "" {
		t.Skip()
	}
	p := showing(t, benchOptions(t))
	states := stateViews()
	for _, size := range sizes {
		for _, light := range []string{"night", "sun"} {
			p.as(size, light)
			for _, name := range slices.Sorted(maps.Keys(states)) {
				if size[0] > 1024 && name != "calm" && name != "manual" || light == "sun" && name != "calm" && name != "manual" && name != "overdue" {
					continue
				}
				p.put(states[name].v)
				p.Shot(filepath.Join(*shots, fmt.Sprintf("%dx%d-%s-%s.png", size[0], size[1], light, name)))
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
	p := showing(t, benchOptions(t))
	states := stateViews()
	for _, size := range sizes {
		boxes := ""
		for _, light := range []string{"night", "sun"} {
			p.as(size, light)
			for _, name := range slices.Sorted(maps.Keys(states)) {
				p.put(states[name].v)
				what := fmt.Sprintf("%dx%d, %s, %s", size[0], size[1], light, name)
				p.measured(what, &boxes)
			}
			p.overlays(fmt.Sprintf("%dx%d, %s", size[0], size[1], light), states, &boxes)
		}
	}
	if fault := p.Faults(); fault != "" {
		t.Errorf("in the browser: %q", fault)
	}
}

// TestEveryCue measures the page at every cue of the demo, as the run shows it: what changes is never cut off.
func TestEveryCue(t *testing.T) {
	plan, o := harbor(t)
	p, began := showing(t, o), time.Now()
	e := run.New(plan, run.Options{To: []string{"udp://127.0.0.1:9"}, Guard: time.Nanosecond}, began)
	var views []run.View
	for i, c := range plan.Show.Cues {
		at := began.Add(time.Duration(i+1) * time.Second)
		if _, err := e.Do(run.Command{Verb: run.Jump, Name: c.ID}, at); err != nil {
			t.Fatal(err)
		}
		views = append(views, e.View(at))
	}
	for _, size := range sizes[:4] {
		boxes := ""
		p.as(size, "sun")
		for _, v := range views {
			p.put(v)
			p.measured(fmt.Sprintf("%dx%d, cue %s", size[0], size[1], v.Step), &boxes)
		}
	}
}

// measured reports what is wrong with the page as it is, and what is not where it was in other states.
func (p *shown) measured(what string, boxes *string) {
	p.t.Helper()
	if got := browser.Eval[string](p.Tab, measureScript); got != "" {
		p.t.Errorf("%s:\n%s", what, got)
	}
	at := browser.Eval[string](p.Tab, boxesScript)
	if *boxes == "" {
		*boxes = at
	}
	if at != *boxes {
		was := strings.Split(*boxes, "\n")
		for i, line := range strings.Split(at, "\n") {
			if i >= len(was) || line != was[i] {
				p.t.Errorf("%s: something is not where it was: %q, was %q", what, line, was[min(i, len(was)-1)])
			}
		}
	}
}

// overlays opens what covers parts of the page: the panel of a channel, its spares, a refusal over the field that it
// concerns, and what is behind the dots. None covers the digits' box or go, and nothing moves.
func (p *shown) overlays(what string, states map[string]stateView, boxes *string) {
	p.t.Helper()
	do := func(name, script string) {
		p.t.Helper()
		browser.Eval[bool](p.Tab, script+"; true")
		p.measured(what+", "+name, boxes)
		p.shot(strings.ReplaceAll(what+", "+name, ", ", "-"))
	}
	p.put(states["manual"].v)
	do("a panel", `openPanel("2")`)
	do("a panel with an answer", `say("Tpt 3: +1 dB, +3 dB in total for this run; 0.5 dB of that is over the ceiling and is not sent", false, "panel")`)
	do("its spares", `saidIn = "", choosing = true, drawPanel()`)
	do("the others", `openPanel("others")`)
	do("no panel", `closePanel()`)
	do("a refusal", `say("the next cue was 6 and is now 7; go ignored", true)`)
	do("a refused jump", `say('jump nonsense: no cue "nonsense", and "nonsense" is not a count; type 12A, 2:33 or set 14 + 4', true, "jump", "no cue, set or count nonsense")`)
	do("nothing refused", `say("")`)
	do("the sheet", `showSheet(true)`)
	do("a refusal in the sheet", `say('jump nonsense: no cue "nonsense", and "nonsense" is not a count; type 12A, 2:33 or set 14 + 4', true, "jump")`)
	do("no sheet", `showSheet(false)`)
}

// What measures the page finds each kind of fault.
func TestMeasureFinds(t *testing.T) {
	p := showing(t, benchOptions(t))
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
		found := browser.Eval[string](p.Tab, `(() => {
			const styles = [...document.querySelectorAll("*")].filter(e => e.style).map(e => [e, e.style.cssText])
			window.undo = () => { closePanel(); for (const [e, css] of styles) e.style.cssText = css; return true }
			`+script+`
			return `+measureScript+`
		})()`)
		if !strings.Contains(found, want) {
			t.Errorf("%q is not found: %q", want, found)
		}
		browser.Eval[bool](p.Tab, "undo()")
	}
	boxes := ""
	p.measured("after all", &boxes)
	browser.Eval[bool](p.Tab, `$("hush").style.marginTop = "1px"; true`)
	if browser.Eval[string](p.Tab, boxesScript) == boxes {
		t.Error("a button that moves by a pixel is not found")
	}
}
