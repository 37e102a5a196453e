package checkscreen

import (
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/charmbracelet/x/ansi"

	tea "charm.land/bubbletea/v2"

	"backfield/cmd/backfield/linechecking"
	"backfield/osc/linecheck"
	"backfield/osc/waiting"
)

func TestMain(m *testing.M) { os.Exit(waiting.Run(m)) }

// demo is a check in the middle, with everything on the screen that there can be.
func demo() linechecking.CheckScreen {
	return linechecking.CheckScreen{
		CheckView: linecheck.CheckView{
			Phase: linecheck.Open, Seq: 7, Number: 5, Of: 20, Left: 16, Good: 2, Batteries: "no battery change noted",
			Pack: &linecheck.CheckedPack{Pack: "P07", Channel: 7, Player: "Tpt 17", Section: "trumpet",
				Where: "on the 50; 4 behind the front hash", Mic: "mic 12 cm from the bell", Later: "Tpt 13 from set 20"},
			Before: "noise", Hint: "Tpt 17 has pack P03, so Tpt 3 may have this one",
			Offer:  "P05 (Tpt 11): no sound. To leave it closed tonight",
			Failed: []string{"P05 Tpt 11: no sound", "P03 Tpt 3: wrong player: Tpt 17 was heard"},
			Fixed:  []string{"P09 stays closed tonight"},
		},
		Title: "Harbor Lights", State: "OPEN at -20.0 dB, alone", Alarm: "NO REPLY FROM MIXER: check power and cable",
		Outside: "OPEN AT THE MIXER, not in the show: channel 40. You may hear that one",
		Players: []string{"Tpt 3", "Mello 2", "Tpt 1", "Tpt 11", "Tuba 7", "Guard 1"},
	}
}

// TestPicture draws every state in every size: nothing is larger than the terminal, and what matters is there in 60x12.
func TestPicture(t *testing.T) {
	t.Parallel()
	done := demo()
	done.Pack, done.Phase, done.State = nil, linecheck.Done, "every mic is closed"
	for name, v := range map[string]linechecking.CheckScreen{"open": demo(), "done": done, "empty": {}} {
		for i, s := range []KeyView{{}, {Said: strings.Repeat("long ", 60), Wrong: true}, {Quitting: true},
			{Asking: true, Typed: "t"}, {Asking: true, Typed: "nobody"}, {Asking: true, Chosen: 5},
			{Sheet: helpLines(true), Code: slices.Repeat([]string{"█▀█"}, 12)}} {
			for _, width := range []int{0, 1, 9, 40, 59, 80, 120} {
				for _, height := range []int{0, 1, 2, 5, 8, 12, 17, 24, 40} {
					rows := strings.Split(Picture(v, s, width, height), "\n")
					if len(rows) > height && (height > 0 || len(rows[0]) > 0) {
						t.Fatalf("%s %d: %d rows for %d", name, i, len(rows), height)
					}
					for _, r := range rows {
						if n := ansi.StringWidth(r); n > width {
							t.Fatalf("%s %d: %d columns for %d: %q", name, i, n, width, r)
						}
					}
				}
			}
		}
	}
	small := ansi.Strip(Picture(demo(), KeyView{Said: "P05, Tpt 11: no sound"}, 60, 12))
	for _, want := range []string{"NO REPLY FROM MIXER", "Tpt 17", "P07", "channel 7", "OPEN at -20.0 dB", "press t",
		"P05, Tpt 11: no sound"} {
		if !strings.Contains(small, want) {
			t.Errorf("%q is missing in 60x12:\n%s", want, small)
		}
	}
	full := ansi.Strip(Picture(demo(), KeyView{}, 80, 30))
	for _, want := range []string{"█████ ████  █████", "later Tpt 13 from set 20", "before: noise", "channel 40",
		"not good: P03 Tpt 3: wrong player: Tpt 17 was heard", "for tonight: P09 stays closed", "q q quit"} {
		if !strings.Contains(full, want) {
			t.Errorf("%q is missing in 80x30:\n%s", want, full)
		}
	}
	ask := ansi.Strip(Picture(demo(), KeyView{Asking: true, Typed: "t1"}, 80, 24))
	if !strings.Contains(ask, "WHO WAS HEARD in the pack of Tpt 17 (P07)?") || strings.Contains(ask, "Mello 2") {
		t.Errorf("who was heard:\n%s", ask)
	}
}

func TestBig(t *testing.T) {
	t.Parallel()
	for r, glyph := range bigGlyphs {
		if len(glyph)%bigRows != 0 || len(glyph) != 25 && r != ' ' || strings.Trim(glyph, "#.") != "" {
			t.Errorf("%c has %d cells", r, len(glyph))
		}
		for other, same := range bigGlyphs {
			if r != other && same == glyph {
				t.Errorf("%c and %c look the same", r, other)
			}
		}
	}
	if bigText("Tpt 17", 80) == nil || bigText("Tpt 17", 20) != nil || bigText("Ö 1", 80) != nil {
		t.Error("what has large letters")
	}
}

// play gives keys to a screen that shows v: "500" waits that many milliseconds, "~g" is a repeat that the terminal
// reports, "^g" a release.
func play(v linechecking.CheckScreen, keys string) (given []string, k *keyState) {
	k = &keyState{link: func() (lines, code []string) { return []string{"http://127.0.0.1:8080/k/X"}, nil }}
	now := time.Unix(1_700_000_000, 0)
	for _, name := range strings.Fields(keys) {
		if ms, err := strconv.Atoi(name); err == nil && len(name) > 1 {
			now = now.Add(time.Duration(ms) * time.Millisecond)
			k.timeout(now)
			continue
		}
		p := keyPress{name: name}
		switch {
		case name[0] == '^' && len(name) > 1:
			k.release(name[1:])
			continue
		case name[0] == '~' && len(name) > 1:
			p = keyPress{name[1:], name[1:], true}
		case len(name) == 1:
			p.text = name
		}
		if give, ok := k.press(p, v, now); ok {
			given = append(given, strings.TrimSpace(fmt.Sprint(give.Key, " ", give.Who)))
		}
	}
	return given, k
}

func TestKeys(t *testing.T) {
	t.Parallel()
	held := "g 500 " + strings.Repeat("g 30 ", 200)
	for _, c := range []struct{ keys, want, said string }{
		{"g", "good", ""}, {"n", "no sound", ""}, {"z", "noise", ""}, {"s", "skip", ""}, {"b", "back", ""}, {"c", "close", ""},
		{"o", "open", ""}, {"f", "fresh", ""}, {"t", "tonight", ""}, {"a", "again", ""}, {"G", "good", ""},
		{"g 1100 g", "good, good", ""}, {"g 80 g", "good", "held down"}, {"g 600 g", "good", "pressed twice"},
		{held, "good", "held down"}, {"g 500 ~g 30 ~g", "good", "held down"}, {"g 100 ^g 500 g", "good, good", ""},
		{"g 500 n", "good, no sound", ""},
		{"q", "", ""}, {"q 500 q", "quit", ""}, {"q 50 q", "", "held down"}, {"q 2500 q", "", ""}, {"q 500 g 500 q", "good", ""},
		{"ctrl+c 500 ctrl+c", "quit", ""},
		{"w enter", "wrong Tpt 3", ""}, {"w m e enter", "wrong Mello 2", ""}, {"w m e esc g", "good", ""},
		{"w down down enter", "wrong Tpt 1", ""}, {"w x y enter esc", "", ""}, {"w t backspace m enter", "wrong Mello 2", ""},
		{"w t 7 enter", "wrong Tuba 7", ""}, {"w q q esc", "", ""}, {"w up enter", "wrong Tpt 3", ""},
		{"x", "", "x does nothing"}, {"? esc g", "good", ""}, {"p g", "good", ""},
	} {
		given, k := play(demo(), c.keys)
		if got := strings.Join(given, ", "); got != c.want || !strings.Contains(k.said, c.said) || c.said == "" && k.wrong {
			t.Errorf("%q gives %q, says %q; want %q, %q", c.keys, got, k.said, c.want, c.said)
		}
	}
	if _, k := play(demo(), "?"); len(k.sheet) == 0 {
		t.Error("? shows nothing")
	}
	if _, k := play(demo(), "p"); len(k.sheet) != 1 {
		t.Error("p shows no link")
	}
	// Someone judged on another device while a name was typed.
	_, k := play(demo(), "w m e")
	v := demo()
	v.Seq++
	if give, ok := k.press(keyPress{name: "enter"}, v, time.Unix(1_700_000_009, 0)); ok || !k.wrong {
		t.Errorf("a name for another pack was taken: %v", give)
	}
}

// TestRandomKeys presses anything at all: no key but the second q quits, and the picture can always be drawn.
func TestRandomKeys(t *testing.T) {
	t.Parallel()
	names := []string{"g", "n", "w", "q", "c", "t", "esc", "enter", "up", "down", "backspace", "?", "p", "é", "50", "700",
		"1500", "2500", "~q", "^q", "tab", "ctrl+c"}
	for seed := range uint64(200) {
		r := rand.New(rand.NewPCG(seed, 2))
		var keys []string
		for range 60 {
			keys = append(keys, names[r.IntN(len(names))])
		}
		given, k := play(demo(), strings.Join(keys, " "))
		quits := 0
		for _, n := range keys {
			if n == "q" || n == "ctrl+c" {
				quits++
			}
		}
		if n := len(slices.DeleteFunc(given, func(g string) bool { return g != "quit" })); 2*n > quits {
			t.Errorf("seed %d: %d quits from %d presses", seed, n, quits)
		}
		Picture(demo(), k.shown(time.Unix(1_700_000_010, 0)), 80, 24)
	}
}

// fake is a check that notes what it is given.
type fake struct {
	mu    sync.Mutex
	given []linecheck.CheckPress
}

func (f *fake) View() linechecking.CheckScreen { return demo() }

func (f *fake) Give(p linecheck.CheckPress) (string, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.given = append(f.given, p)
	return "noted", nil
}

// TestRun runs the screen without a terminal: the keys come as bytes, and q q ends it.
func TestRun(t *testing.T) {
	t.Parallel()
	in, keys := io.Pipe()
	f := &fake{}
	ctx, stop := context.WithTimeout(context.Background(), time.Minute)
	defer stop()
	go func() {
		for _, k := range []string{"n", "", "w", "\r", "q", "q"} { // the first may be too early
			time.Sleep(500 * time.Millisecond)
			io.WriteString(keys, k)
		}
	}()
	if err := show(ctx, f, nil, in, io.Discard, tea.WithWindowSize(80, 24)); err != nil || ctx.Err() != nil {
		t.Fatal(err, ctx.Err())
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	want := linecheck.CheckPress{Key: linecheck.KeyWrong, Who: "Tpt 3", Seq: 7}
	if !slices.Contains(f.given, want) {
		t.Errorf("given %v", f.given)
	}
}
