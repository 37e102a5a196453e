package run_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"backfield/osc"
	"backfield/osc/glance"
	"backfield/osc/run"
)

// openAt lists the channels whose mute a mixer holds open, with their levels.
func (w *world) openAt(mixer int) string {
	held := map[string]string{}
	for _, a := range w.Mixers[mixer].Mixer.State().Addresses {
		held[a.Address] = fmt.Sprint(a.Value)
	}
	var list []string
	for _, n := range []int{1, 2, 3, 11, 21} {
		if held[fmt.Sprintf("/m/%d", n)] == "0" {
			list = append(list, fmt.Sprintf("%d at %s", n, held[fmt.Sprintf("/l/%d", n)]))
		}
	}
	return strings.Join(list, ", ")
}

// One mic is open alone before the show and in a hushed run, at the level of the cue that opens it next, until the next
// command. The view and the alarm say so.
func TestOnly(t *testing.T) {
	w := begin(t, echoAndQuery, run.Options{})
	for _, x := range []struct{ line, open, only string }{
		{"only C", "3 at 3", "C (channel 3)"}, // as cue 3 has it
		{"only B", "2 at 0", "B (channel 2)"},
		{"status", "2 at 0", "B (channel 2)"}, // it is no command that changes anything
		{"stop", "", ""},
		{"only pit", "11 at -6", "pit (channel 11)"},
		{"go", "1 at 0, 11 at -6", ""},
		{"hush", "11 at -6", ""},
		{"only A", "1 at 0", "A (channel 1)"}, // the fixed mic closes, too
		{"nudge A -4", "11 at -6", ""},
		{"only A", "1 at -4", "A (channel 1)"},
		{"hush", "11 at -6", ""},
		{"swap B to 21", "11 at -6", ""},
		{"only B", "21 at 0", "B (channel 21)"},
		{"unhush", "1 at -4, 11 at -6", ""},
		{"hush", "11 at -6", ""},
		{"hold C", "11 at -6", ""}, // held closed
		{"only C", "3 at 3", "C (channel 3)"},
		{"release C", "11 at -6", ""},
	} {
		if x.line != "status" {
			w.do(x.line)
		}
		w.settle()
		v := w.Engine.View(w.Now)
		if got := w.openAt(0); got != x.open || v.Only != x.only {
			t.Errorf("after %q the mixer has open %q, only %q; want %q, %q", x.line, got, v.Only, x.open, x.only)
		}
		if said := strings.HasPrefix(glance.Status(v), "ONLY "+x.only+" IS OPEN, until the next command. hush closes it\n"); said !=
			(x.only != "") {
			t.Errorf("after %q: status says\n%s", x.line, glance.Status(v))
		}
	}
}

// While a cue plays, only must be meant: with yes, or the same again within 2 s. Automatic cues change nothing then.
func TestOnlyWhileACuePlays(t *testing.T) {
	w := begin(t, echoAndQuery, run.Options{})
	w.do("go", "go")
	refused := func(line string) {
		t.Helper()
		if _, err := w.Do(line); err == nil || !strings.Contains(err.Error(), "type it again within 2 s, or type: "+line+" yes") {
			t.Errorf("%s: %v", line, err)
		}
	}
	refused("only B")
	if _, err := w.Do("only B"); err != nil {
		t.Error(err)
	}
	w.settle()
	if got := w.openAt(0); got != "2 at 0" {
		t.Errorf("open: %s", got)
	}
	w.Run(4 * time.Second) // over 2A
	w.inStep("2A")
	w.settle()
	if got := w.openAt(0); got != "2 at 0" {
		t.Errorf("after the automatic cue: %s", got)
	}
	if n := w.Engine.View(w.Now).Next; n == nil || n.ID != "3" || fmt.Sprint(n.Opens) != "[C pit]" {
		t.Errorf("next: %+v", n)
	}
	if _, err := w.Do("jump nowhere"); err == nil {
		t.Error("no error")
	}
	w.settle()
	if got := w.openAt(0); got != "2 at 0" {
		t.Errorf("after a refused command: %s", got)
	}
	w.do("stop")
	w.settle()
	if got := w.openAt(0); got != "1 at -12, 2 at 0, 11 at -6" {
		t.Errorf("after the next command: %s", got)
	}
	refused("only B")
	w.Run(2100 * time.Millisecond)
	refused("only B")
	refused("only A")
	refused("only B") // another one came between
	w.do("only A yes")
	w.settle()
	if got := w.openAt(0); got != "1 at -12" {
		t.Errorf("open: %s", got)
	}
	for line, want := range map[string]string{"only X": "has no mic in this show", "only": "type it like this: only"} {
		if _, err := w.Do(line); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v", line, err)
		}
	}
}

// A resumed run has open what the one before had alone. A step of another machine's time starts the show.
func TestOnlyResumedAndStarted(t *testing.T) {
	w := begin(t, echoAndQuery, run.Options{})
	w.do("only C")
	state := w.Engine.State()
	e, err := run.Resume(w.plan, run.Options{To: []string{"mixer"}}, state, w.Now)
	if err != nil || e.View(w.Now).Only != "C (channel 3)" {
		t.Fatalf("%v, only %q", err, e.View(w.Now).Only)
	}
	state.Only = 77
	e, err = run.Resume(w.plan, run.Options{To: []string{"mixer"}}, state, w.Now)
	if v := e.View(w.Now); err != nil || v.Only != "" || !strings.Contains(v.Problem, "channel 77 open alone") {
		t.Errorf("%v, only %q, %q", err, v.Only, v.Problem)
	}
	w.Engine.MoveTo(0.1, 1, w.Now)
	w.Run(time.Second)
	w.settle()
	if got, v := w.openAt(0), w.Engine.View(w.Now); got != "1 at 0, 11 at -6" || v.Only != "" {
		t.Errorf("after outside time: %s, only %q", got, v.Only)
	}
}

// A mic that someone opened or muted at the mixer follows, too.
func TestOnlyManual(t *testing.T) {
	w := begin(t, echoAndQuery, run.Options{})
	w.do("go")
	w.settle()
	w.move("/m/1", osc.Int32(1))
	w.move("/m/3", osc.Int32(0))
	w.do("only A yes")
	w.settle()
	if got := w.openAt(0); got != "1 at 0" {
		t.Errorf("open: %s", got)
	}
}
