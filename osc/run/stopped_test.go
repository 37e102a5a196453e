package run_test

import (
	"strings"
	"testing"

	"backfield/osc/glance"
	"backfield/osc/journal"
	"backfield/osc/run"
)

// A clock that is stopped says why, in the view and in status, and after resume, too. One that runs says nothing.
func TestStoppedWhy(t *testing.T) {
	w := begin(t, echoAndQuery, run.Options{})
	for _, x := range []struct{ line, want string }{
		{"", "before the first cue"},
		{"stop", "before the first cue"}, // it was stopped already
		{"go", ""},
		{"stop", "by stop"},
		{"start", ""},
		{"jump 2", "after a jump"},
		{"go", ""},
		{"back", "after a jump"}, // as it was then
		{"back", ""},             // the clock ran when the jump was made
	} {
		if x.line != "" {
			w.do(x.line)
		}
		v := w.Engine.View(w.Now)
		if v.Stopped != x.want || v.Running != (x.want == "") {
			t.Errorf("after %q: %q, running %t; want %q", x.line, v.Stopped, v.Running, x.want)
		}
		if says := strings.Contains(glance.Status(v), "show clock stopped "+x.want+"\n") || strings.Contains(glance.Status(v),
			"show clock stopped "+x.want+";"); x.want != "" && !says {
			t.Errorf("after %q: status says %s", x.line, glance.Status(v))
		}
	}
	w.do("jump 2")
	state := w.Engine.State()
	for why, want := range map[journal.StopReason]string{journal.StoppedAtEnd: "by the run's end", "\x1b[2J": "", "": ""} {
		state.Clock.Why = why
		e, err := run.Resume(w.plan, run.Options{To: []string{"mixer"}}, state, w.Now)
		if err != nil {
			t.Fatal(err)
		}
		if got := e.View(w.Now).Stopped; got != want || e.State().Clock.Why.Words() != want {
			t.Errorf("resumed: %q, want %q", got, want)
		}
	}
	state.Past, state.Clock.Why = nil, ""
	e, err := run.Resume(w.plan, run.Options{To: []string{"mixer"}}, state, w.Now)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := e.Do(run.Command{Verb: run.Back}, w.Now); err != nil || e.View(w.Now).Stopped != "after back" {
		t.Errorf("back: %v, %q", err, e.View(w.Now).Stopped)
	}
	if e, err = run.Resume(w.plan, run.Options{To: []string{"mixer"}}, state, state.Clock.At.Add(-1)); err != nil ||
		e.View(w.Now).Stopped != "by resume" {
		t.Errorf("on a computer that is behind: %v, %q", err, e.View(w.Now).Stopped)
	}
}
