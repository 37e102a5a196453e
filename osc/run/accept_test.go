package run_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"backfield/cue"
	"backfield/osc/glance"
	"backfield/osc/journal"
	"backfield/osc/run"
)

// hostile are states that no run of the show has written, and what the operator reads of each.
func hostile(now time.Time) map[string]struct {
	state journal.RunState
	want  string
} {
	clock := journal.PlayClock{At: now.Add(-time.Minute), Rate: 1, ShowS: 1}
	type both = struct {
		state journal.RunState
		want  string
	}
	return map[string]both{
		"hold": {journal.RunState{Holds: []cue.Channel{{Channel: 99, Open: true}}, Clock: clock},
			"hold of channel 99 (this show does not use it)"},
		"huge hold": {journal.RunState{Holds: []cue.Channel{{Channel: 1 << 40, Open: true}}, Clock: clock},
			"hold of channel 1099511627776"},
		"loud hold": {journal.RunState{Holds: []cue.Channel{{Channel: 1, Open: true, LevelDB: 1e300}}, Clock: clock},
			"hold of channel 1"},
		"manual of no mixer": {
			journal.RunState{Manual: []journal.ManualChannel{{Mixer: -1, Channel: 1}}, Clock: clock},
			"manual channel 1 of mixer 0"},
		"manual of another mixer": {
			journal.RunState{Manual: []journal.ManualChannel{{Mixer: 7, Channel: 1}}, Clock: clock},
			"manual channel 1 of mixer 8"},
		"swap": {journal.RunState{Swaps: []journal.Swap{{Channel: 1, Spare: 2}}, Clock: clock},
			"swap of channel 1 to 2"},
		"swap to nothing": {journal.RunState{Swaps: []journal.Swap{{Channel: 1, Spare: -5}}, Clock: clock},
			"swap of channel 1 to -5"},
		"spare": {journal.RunState{OldSpares: []int{1 << 40, -1}, Clock: clock},
			"former spare 1099511627776; former spare -1"},
		"nudge": {journal.RunState{Nudges: []journal.RunNudge{{Name: "nobody", DB: 2}}, Clock: clock},
			"nudge of nobody by 2 dB"},
		"huge nudge": {journal.RunState{Nudges: []journal.RunNudge{{Name: "A", DB: 1e300}}, Clock: clock},
			"nudge of A by 1e+300 dB"},
		"tempo": {journal.RunState{Clock: journal.PlayClock{Rate: 1e9, At: now, Running: true}},
			"a tempo of 1e+09 times the written one"},
		"backward": {journal.RunState{Clock: journal.PlayClock{Rate: -1, At: now, Running: true}},
			"a tempo of -1 times the written one"},
		"show time": {journal.RunState{Clock: journal.PlayClock{Rate: 1, At: now, ShowS: -1e300, Running: true}},
			"the show's time of -1e+300 s"},
		"forgotten": {journal.RunState{Clock: journal.PlayClock{Rate: 1, At: now.AddDate(-1, 0, 0), Running: true}},
			"the show's time, which has run since"},
		"old presses": {journal.RunState{Presses: []journal.Press{{At: now.AddDate(0, 0, -2)}}, Clock: clock},
			"the presses for the tempo, with one of "},
		"presses out of the show": {journal.RunState{Presses: []journal.Press{{At: now, PlannedS: 1e9}}, Clock: clock},
			"the presses for the tempo, with one at 1e+09 s of the show"},
		"many presses": {journal.RunState{Presses: slices.Repeat([]journal.Press{{At: now}}, 20), Clock: clock},
			"12 of the presses for the tempo, more than a run keeps"},
		"long past": {journal.RunState{Past: slices.Repeat([]journal.Past{{Clock: clock}}, 20), Clock: clock},
			"12 of the steps to go back, more than a run keeps"},
		"messages of no cue": {journal.RunState{Past: []journal.Past{{Clock: clock, Sent: []string{"gone"}}}, Clock: clock},
			`the messages of cue "gone"`},
		"spare twice": {journal.RunState{OldSpares: []int{21, 21}, Clock: clock}, "former spare 21"},
		"hold with a send to no zone": {journal.RunState{Holds: []cue.Channel{{Channel: 1, Sends: []cue.Send{{Zone: 9, LevelDB: 3}}}},
			Clock: clock}, "send of held channel 1 to zone 9, 3 dB"},
		"hold with a parameter of no mixer": {journal.RunState{Holds: []cue.Channel{{Channel: 1,
			Params: []cue.ParamValue{{Name: "gate", Value: 2}}}}, Clock: clock}, "gate 2 of held channel 1"},
		"past": {journal.RunState{Past: []journal.Past{{Step: "gone"}}, Clock: clock},
			`going back to cue "gone"`},
	}
}

// Every number of a journal is checked against the show and its mixers. What they cannot have is left out and said; it
// causes no panic, takes no memory and sends nothing.
func TestNoFalseCalm07HostileStates(t *testing.T) {
	w := begin(t, "", run.Options{})
	for name, c := range hostile(w.Now) {
		e, err := run.Resume(w.plan, run.Options{To: []string{"mixer"}}, c.state, w.Now)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		v := e.View(w.Now)
		if !strings.Contains(v.Problem, c.want) {
			t.Errorf("%s: the operator reads %q, want %q", name, v.Problem, c.want)
		}
		if v.Running || len(v.Holds)+len(v.Swaps)+len(v.Nudges) > 0 {
			if name != "tempo" && name != "backward" && !strings.HasPrefix(name, "hold with") {
				t.Errorf("%s: running %t, held %v, swapped %v, nudged %v", name, v.Running, v.Holds, v.Swaps, v.Nudges)
			}
		}
	}
	if _, err := run.Resume(w.plan, run.Options{}, journal.RunState{Step: "gone"}, w.Now); err == nil {
		t.Error("a cue that the show does not have is taken")
	}
}

// What a run writes is accepted whole.
func TestStatesOfRunsAreAccepted(t *testing.T) {
	w := begin(t, "", run.Options{})
	w.do("go", "hold A", "swap B to 21", "nudge C -2", "jump 2", "swap B to 22", "hold B", "back", "hush")
	state := w.Engine.State()
	e, err := run.Resume(w.plan, run.Options{To: []string{"mixer"}}, state, w.Now)
	if err != nil {
		t.Fatal(err)
	}
	if v := e.View(w.Now); v.Problem != "" {
		t.Error(v.Problem)
	}
	if got, want := fmt.Sprintf("%+v", e.State()), fmt.Sprintf("%+v", state); got != want {
		t.Errorf("resumed:\n%s\nbefore:\n%s", got, want)
	}
}

// FuzzResume: whatever state a journal has, a run that resumes from it either refuses it or can be run: no panic, no
// channel that the mixer does not have, and its own state is accepted whole.
func FuzzResume(f *testing.F) {
	now := start.Add(time.Hour)
	for _, c := range hostile(now) {
		text, err := json.Marshal(c.state)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(string(text), "back")
	}
	f.Add(`{"step":"2","hush":true,"swaps":[{"channel":2,"spare":21}],"old_spares":[22]}`, "release all")
	f.Fuzz(func(t *testing.T, text, typed string) {
		var s journal.RunState
		if json.Unmarshal([]byte(text), &s) != nil {
			return
		}
		mixer := readMixer(t, "")
		plan := run.ShowSetup{Show: show(), Mixer: mixer, Time: timeline{}}
		o := run.Options{To: []string{"one", "two"}}
		e, err := run.Resume(plan, o, s, now)
		if err != nil {
			return
		}
		e.LinkUp(0, now)
		e.LinkDown(1, errors.New("gone"), now)
		for i, line := range []string{typed, "status", "go", "back", "unhush", "release all", "start"} {
			at := now.Add(time.Duration(i) * time.Second)
			if c, err := run.Parse(line); err == nil {
				e.Do(c, at)
			}
			e.Advance(at)
			e.Next(at)
			for range 100 {
				if len(e.Take(0, at)) == 0 {
					break
				}
				e.Sent(0, at)
			}
			_ = glance.Status(e.View(at))
		}
		later := now.Add(10 * time.Second)
		state := e.State()
		for _, n := range state.OldSpares {
			if n < 1 || n > mixer.Channels {
				t.Fatalf("channel %d", n)
			}
		}
		again, err := run.Resume(plan, o, state, later)
		if err != nil {
			t.Fatal(err)
		}
		if p := again.View(later).Problem; strings.Contains(p, "left out") {
			t.Fatalf("its own state is refused: %s", p)
		}
	})
}
