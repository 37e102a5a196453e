package remote

import (
	"math"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"backfield/osc/journal"
	"backfield/osc/run"
)

// Wrong, too long and too many commands change nothing.
func TestOrders(t *testing.T) {
	t.Parallel()
	st := stage(t, smallPlan(t), run.Options{Guard: time.Nanosecond})
	f := serve(t, st, ServerOptions{})
	x := f.guest()
	for _, c := range []struct {
		order  obj
		status int
		says   string
	}{
		{obj{"verb": "go"}, 400, "next is missing"},
		{obj{"verb": "back"}, 400, "next is missing"},
		{obj{"verb": "go", "next": "2"}, 409, "the next cue was 2 and is now 1; go ignored"},
		{obj{"verb": "go", "next": ""}, 409, "the next cue was none and is now 1"},
		{obj{"verb": "go", "next": "1", "pressed_ms": nil}, 400, "pressed_ms is missing"},
		{obj{"verb": "go", "next": "1", "pressed_ms": f.hub.nowMS() - 4000}, 409, "s late)"},
		{obj{"verb": "go", "next": "1", "pressed_ms": f.hub.nowMS() + 4000}, 409, "s ahead; it is right now): look, then press again"},
		{obj{"verb": "go", "next": "1", "pressed_ms": int64(math.MaxInt64)}, 409, `"now_ms":`},
		{obj{"verb": "go", "next": "1", "pressed_ms": int64(math.MinInt64)}, 409, "s late)"},
		{obj{"verb": "hold", "name": "1", "player": "Bari 1"}, 409, "channel 1 is Tpt 1's now, no longer Bari 1's"},
		{obj{"verb": "nudge", "name": "2", "player": "Tpt 1", "db": 1}, 409, "channel 2 is Bari 1's now"},
		{obj{"verb": "swap", "name": "2", "player": "", "spare": 5}, 409, "channel 2 is Bari 1's now, no longer nobody's"},
		{obj{"verb": "quit"}, 400, "use the terminal"},
		{obj{"verb": "release", "name": "all"}, 400, "the number of the channel"},
		{obj{"verb": "release", "name": "1"}, 400, "player is missing"},
		{obj{"verb": "release", "name": "1", "player": "Tpt 1"}, 409, "not held and not manual"},
		{obj{"verb": "hold", "player": "Tpt 1"}, 400, "the number of the channel"},
		{obj{"verb": "hold", "name": "99", "player": "Tpt 1"}, 409, "does not use channel 99"},
		{obj{"verb": "swap", "name": "1", "player": "Tpt 1"}, 400, "spare is missing"},
		{obj{"verb": "swap", "name": "1", "player": "Tpt 1", "spare": 2}, 409, "belongs to Bari 1"},
		{obj{"verb": "swap", "name": "1", "player": "Tpt 1", "spare": 0}, 409, "not swapped"},
		{obj{"verb": "nudge", "name": "1", "player": "Tpt 1", "db": 3.5}, 400, "from -3 to +3"},
		{obj{"verb": "nudge", "name": "1", "player": "Tpt 1", "db": 0}, 400, "from -3 to +3"},
		{obj{"verb": "nudge", "name": "1", "player": "Tpt 1", "db": -0.0001}, 400, "at least 0.1 up or down"},
		{obj{"verb": "nudge", "name": "+1", "player": "Tpt 1", "db": 1}, 400, "name is the number of the channel, in digits"},
		{obj{"verb": "nudge", "name": "1", "player": "Tpt 1", "db": 1, "pressed_ms": f.hub.nowMS() - 4000}, 409, "s late)"},
		{obj{"verb": "takeover"}, 409, "no other laptop"},
		{obj{"verb": "resend"}, 400, "use the terminal"},
		{obj{"verb": ""}, 400, "use the terminal"},
		{obj{"verb": "jump"}, 400, "type it like this"},
		{obj{"verb": "jump", "name": "99"}, 409, `"short":"no cue, set or count 99"`},
		{obj{"verb": "jump", "name": "bananas and cream"}, 409, `"short":"no cue, set or count bananas and…"`},
		{obj{"verb": "jump", "name": "a\x00b"}, 400, "cannot be typed"},
		{obj{"verb": "jump", "name": strings.Repeat("9", 101)}, 400, "that long"},
	} {
		if r := x.order(c.order); r.status != c.status || !strings.Contains(r.body, c.says) {
			t.Errorf("%v: %d %s", c.order, r.status, r.body)
		}
		time.Sleep(time.Second / maxCommandsPerS)
	}
	for _, body := range []string{
		"", "{", "[]", `{"verb":"go","next":"1","pressed_ms":1,"more":1}`,
		`{"verb":"hush","name":"` + strings.Repeat("x", maxBodyBytes) + `"}`,
	} {
		if r := x.send("POST", "/do", body, "Origin", f.url(""), "Content-Type", "application/json"); r.status != 400 {
			t.Errorf("%.20q: %d %s", body, r.status, r.body)
		}
	}
	if s := step(t, st); s != "" {
		t.Fatalf("the run is in %q", s)
	}
	for _, c := range []struct {
		order      obj
		says, step string
	}{
		{obj{"verb": "go", "next": "1"}, "cue 1", "1"},
		{obj{"verb": "jump", "name": "3"}, "cue 3", "3"},
		{obj{"verb": "back", "next": "4"}, "back to cue 1", "1"},
		{obj{"verb": "hush"}, "hushed", "1"},
		{obj{"verb": "hush", "pressed_ms": -9000}, "already hushed", "1"}, // late, but still useful
		{obj{"verb": "unhush"}, "unhushed", "1"},
		{obj{"verb": "stop"}, "stopped", "1"},
		{obj{"verb": "start"}, "running", "1"},
		{obj{"verb": "nudge", "name": "1", "player": "Tpt 1", "db": -1}, "Tpt 1: -1 dB", "1"},
		{obj{"verb": "hold", "name": "1", "player": "Tpt 1"}, "Tpt 1 (channel 1) is held", "1"},
		{obj{"verb": "release", "name": "1", "player": "Tpt 1"}, "follows the cues again", "1"},
		{obj{"verb": "swap", "name": "1", "player": "Tpt 1", "spare": 5}, "is now on channel 5", "1"},
		{obj{"verb": "hold", "name": "1", "player": "Tpt 1"}, "Tpt 1 (channel 5) is held", "1"},
		{obj{"verb": "swap", "name": "1", "player": "Tpt 1", "spare": 0}, "back on channel 1", "1"},
	} {
		if r := x.order(c.order); r.status != 200 || !strings.Contains(r.body, c.says) || step(t, st) != c.step {
			t.Errorf("%v: %d %s, in %q", c.order, r.status, r.body, step(t, st))
		}
		time.Sleep(time.Second / maxCommandsPerS)
	}
	var flooded atomic.Int32
	var flood sync.WaitGroup
	for range 3 { // at once: a busy machine sends them too slowly one after the other
		flood.Go(func() {
			for range 2 * maxCommandsPerS {
				if r := x.order(obj{"verb": "hush"}); r.status == 429 {
					flooded.Add(1)
				}
			}
		})
	}
	if flood.Wait(); flooded.Load() == 0 {
		t.Error("no flood is refused")
	}
}

// A read-only page sees everything and can change nothing.
func TestReadOnly(t *testing.T) {
	st := stage(t, smallPlan(t), run.Options{})
	f := serve(t, st, ServerOptions{ReadOnly: true})
	x := f.guest()
	for _, verb := range []string{"go", "back", "hush", "jump", "start", "hold", "release", "swap", "nudge"} {
		if r := x.order(obj{"verb": verb, "next": "1", "name": "2", "player": "Bari 1", "spare": 5, "db": 1}); r.status != 403 {
			t.Errorf("%s: %d", verb, r.status)
		}
	}
	if v, _ := st.View(); v.Step != "" || v.Hush || v.Running {
		t.Errorf("the run changed: %+v", v)
	}
	if r := x.send("GET", "/show.json", ""); !strings.Contains(r.body, `"read_only":true`) {
		t.Errorf("show.json: %s", r.body)
	}
	until(t, x.listen(), "a picture", func(w word) bool { return w.Picture.View.Title == "small" })
}

// Two pages and the terminal agree after each go, whoever sent it. The journal has who sent it.
func TestAllAgree(t *testing.T) {
	var mu sync.Mutex
	var from []string
	st := stage(t, smallPlan(t), run.Options{Guard: time.Nanosecond, Record: func(e journal.Entry) {
		mu.Lock()
		defer mu.Unlock()
		if e.Kind == "command" {
			from = append(from, e.From)
		}
	}})
	f := serve(t, st, ServerOptions{Where: func(player string, showS float64) (float64, float64, bool) {
		return 1.234, 5, player == "Tpt 1"
	}})
	a, b := f.guest(), f.guest()
	seenA, seenB := a.listen(), b.listen()
	agree := func(want string) {
		t.Helper()
		for _, words := range []<-chan word{seenA, seenB} {
			w := until(t, words, "cue "+want, func(w word) bool { return w.Picture.View.Step == want })
			if w.NowMS < w.SeenMS || w.NowMS-w.SeenMS > 2000 {
				t.Errorf("looked at at %d, sent at %d", w.SeenMS, w.NowMS)
			}
			places, pages := w.Picture.Places, w.Picture.Pages
			if want == "1" && (places["Tpt 1"] != fieldSpot{1.23, 5} || len(places) != 1 || pages != 2) {
				t.Errorf("places %v, %d pages", places, pages)
			}
		}
	}
	agree("")
	a.order(obj{"verb": "go", "next": "1"})
	agree("1")
	b.order(obj{"verb": "go", "next": "2"})
	agree("2")
	if _, err := st.Do(run.Command{Verb: run.Go}); err != nil { // the terminal
		t.Fatal(err)
	}
	agree("3")
	b.order(obj{"verb": "hush"})
	until(t, seenA, "hush", func(w word) bool { return w.Picture.View.Hush })
	mu.Lock()
	defer mu.Unlock()
	if got := strings.Join(from, "|"); got != "page 1 at 127.0.0.1|page 2 at 127.0.0.1||page 2 at 127.0.0.1" {
		t.Errorf("the journal has %q", got)
	}
}

// Many devices press go for the same cue at the same instant: it goes once, and all others are refused.
func TestOneGo(t *testing.T) {
	t.Parallel()
	st := stage(t, smallPlan(t), run.Options{Guard: time.Nanosecond})
	f := serve(t, st, ServerOptions{})
	var pages []*client
	for range 6 {
		pages = append(pages, f.guest())
	}
	for i, next := range []string{"1", "2", "3"} {
		var running sync.WaitGroup
		var mu sync.Mutex
		done := 0
		for _, p := range pages {
			running.Go(func() {
				r := p.order(obj{"verb": "go", "next": next})
				mu.Lock()
				defer mu.Unlock()
				switch {
				case r.status == 200:
					done++
				case r.status != 409 || !strings.Contains(r.body, "someone else was faster"):
					t.Errorf("%d %s", r.status, r.body)
				}
			})
		}
		running.Wait()
		if s := step(t, st); done != 1 || s != []string{"1", "2", "3"}[i] {
			t.Fatalf("%d gos were taken, the run is in %q", done, s)
		}
		time.Sleep(goGap + 10*time.Millisecond)
	}
	// One device again within a second is a finger that bounced, whatever its page shows.
	if r := pages[0].order(obj{"verb": "back", "next": "4"}); r.status != 200 {
		t.Fatalf("back: %d %s", r.status, r.body)
	}
	if r := pages[0].order(obj{"verb": "go", "next": "3"}); r.status != 200 {
		t.Fatalf("go: %d %s", r.status, r.body)
	}
	r := pages[0].order(obj{"verb": "go", "next": "4"})
	if r.status != 409 || !strings.Contains(r.body, "GO ignored") {
		t.Errorf("go again: %d %s", r.status, r.body)
	}
}

// A command for a channel that has another player by now than the page shows is refused, so that nobody else's mic is held,
// swapped or nudged.
func TestPlayerOnChannel(t *testing.T) {
	t.Parallel()
	plan := smallPlan(t)
	for i := 1; i < len(plan.Show.Cues); i++ { // the pack of channel 1 changes players
		plan.Show.Cues[i].Channels[0].Player = "Tpt 2"
	}
	st := stage(t, plan, run.Options{Guard: time.Nanosecond})
	f := serve(t, st, ServerOptions{})
	x := f.guest()
	words := x.listen()
	x.order(obj{"verb": "jump", "name": "2"})
	until(t, words, "the other player", func(w word) bool { return w.Picture.Tiles[0].Player == "Tpt 2" })
	for _, verb := range []string{"hold", "nudge", "swap", "release"} {
		r := x.order(obj{"verb": verb, "name": "1", "player": "Tpt 1", "spare": 5, "db": 1})
		if r.status != 409 || !strings.Contains(r.body, "channel 1 is Tpt 2's now, no longer Tpt 1's") {
			t.Errorf("%s: %d %s", verb, r.status, r.body)
		}
		time.Sleep(time.Second / maxCommandsPerS)
	}
	if r := x.order(obj{"verb": "swap", "name": "1", "player": "Tpt 2", "spare": 5}); r.status != 200 {
		t.Errorf("%d %s", r.status, r.body)
	}
	until(t, words, "the spare on the channel's tile", func(w word) bool {
		p := w.Picture.Tiles[0]
		return len(w.Picture.Tiles) == 2 && p.Channel == 1 && p.At == 5 && p.Player == "Tpt 2" && len(w.Picture.Spares) == 5
	})
}
