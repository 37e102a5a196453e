package feed

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"backfield/osc"
)

// says has the feed hear of one value at the mixer.
func (r *rig) says(address string, arg osc.Arg) {
	r.Heard(osc.Message{Address: address, Args: []osc.Arg{arg}}, r.now)
}

// Two late messages say that a channel is closed at the mixer, where it is open. The cue that closes it closes it all the
// same, and again until the mixer has confirmed that. Then an open mute is somebody's.
func TestManualCloses(t *testing.T) {
	for _, more := range []string{"[echo]\n", "[echo]\n[query]\naddress = \"{address}\"\n"} {
		r := newRig(t, file+more, horn(1, -3, 10))
		r.answers = strings.Contains(more, "query")
		r.LinkUp(r.now)
		r.play(3*time.Second, true)
		for range 3 { // one that can be asked answers so, too
			r.says("/m/1", osc.Int32(1))
			r.says("/l/1", osc.Float32(-120))
			r.play(500*time.Millisecond, false)
		}
		if len(r.Moves()) != 2 {
			t.Fatalf("%q: manual is %v", more, r.Moves())
		}
		r.set(closed(1, 10))
		r.says("/m/1", osc.Int32(0)) // another late one
		sent := r.play(time.Second, false)
		for _, close := range []string{"/m/1 i 1", "/l/1 f -120"} {
			if n := len(sent) - len(slices.DeleteFunc(slices.Clone(sent), func(s string) bool { return s == close })); n < 2 {
				t.Errorf("%q: without an echo %s is sent %d times: %v", more, close, n, sent)
			}
		}
		if moved := r.Channel(1, r.now).Moved; !slices.Contains(moved, "mute on, not confirmed (show on)") || r.Settled() {
			t.Errorf("%q: not confirmed: %q, settled: %v", more, moved, r.Settled())
		}
		r.play(2*time.Second, true)
		if moved := r.Channel(1, r.now).Moved; !slices.Contains(moved, "mute on (show on)") || !r.Settled() {
			t.Errorf("%q: confirmed: %q, settled: %v", more, moved, r.Settled())
		}
		r.says("/m/1", osc.Int32(0))
		sent = r.play(time.Second, false)
		if !r.KeptOpen(1) || strings.Contains(strings.Join(sent, " "), "/m/1 i 1") {
			t.Errorf("%q: opened at the mixer, kept open: %v, sent: %v", more, r.KeptOpen(1), sent)
		}
	}
}

// Where manual lasts until release, each cue that closes a muted channel sends its mute again.
func TestManualClosesEachTime(t *testing.T) {
	r := newRig(t, "manual = \"until release\"\n"+file+"[echo]\n", horn(1, -3, 10))
	r.LinkUp(r.now)
	r.play(3*time.Second, true)
	r.says("/m/1", osc.Int32(1))
	r.play(3*time.Second, true)
	for n := range 3 {
		r.set(closed(1, 10))
		if sent := r.play(30*time.Millisecond, true); !slices.Contains(sent, "/m/1 i 1") {
			t.Errorf("time %d: sent %v", n+1, sent)
		}
		r.play(3*time.Second, true)
		r.ShowOpens(1)
		r.set(horn(1, -3, 10))
		if sent := r.play(3*time.Second, true); slices.Contains(sent, "/m/1 i 0") || len(r.Moves()) != 1 {
			t.Errorf("time %d: opened, sent %v, manual %v", n+1, sent, r.Moves())
		}
	}
}

// A mixer that cannot be asked is silent for a while, or its link is down: it may have been off, and what was moved there
// is lost. It gets everything. One that can be asked keeps what is manual.
func TestManualEndsWithThePower(t *testing.T) {
	gone := map[string]func(r *rig){
		"no reply": func(r *rig) { r.play(10*time.Second, false) },
		"no route": func(r *rig) {
			for range 10 {
				r.SendFailed(nil, errors.New("no route"), r.now)
				r.now = r.now.Add(500 * time.Millisecond)
			}
		},
		"no link": func(r *rig) {
			r.LinkDown(errors.New("closed"), r.now)
			r.now = r.now.Add(5 * time.Second)
			r.LinkUp(r.now)
		},
		"a short silence": func(r *rig) { r.play(time.Second, false) },
	}
	for name, off := range gone {
		for _, more := range []string{"[echo]\n", "[echo]\n[query]\naddress = \"{address}\"\n"} {
			r := newRig(t, file+more, horn(1, -3, 10), horn(2, -3, 10))
			r.LinkUp(r.now)
			r.play(3*time.Second, true)
			for range 3 {
				r.says("/l/1", osc.Float32(-20))
				r.play(500*time.Millisecond, true)
			}
			off(r)
			sent := r.play(5*time.Second, true)
			ends := more == "[echo]\n" && name != "a short silence"
			if slices.Contains(sent, "/l/1 f -3") != ends || (len(r.Manual()) == 0) != ends {
				t.Errorf("%s, %q: manual %v, sent %v", name, more, r.Manual(), sent)
			}
			last := r.problems
			if want := "main replies again and may have been off: resending everything, also what was manual"; ends &&
				!slices.Contains(last, want) {
				t.Errorf("%s: reported %q", name, last)
			}
		}
	}
}

// A mic that is muted at the mixer soon after a cue opened it is opened again, and the run says so. It says nothing where
// the mixer had not yet said that the mic is open, nor of a fader.
func TestReopenedIsReported(t *testing.T) {
	for _, more := range []string{"[echo]\n", "[echo]\n[query]\naddress = \"{address}\"\n"} {
		r := newRig(t, file+more, closed(1, 10))
		r.answers = strings.Contains(more, "query")
		r.LinkUp(r.now)
		r.play(3*time.Second, true)
		r.set(horn(1, -3, 10))
		r.play(100*time.Millisecond, false)
		r.says("/m/1", osc.Int32(1)) // from before the cue
		r.play(700*time.Millisecond, true)
		r.says("/l/1", osc.Float32(-20))
		r.play(50*time.Millisecond, true)
		said := func() []string {
			return slices.DeleteFunc(r.problems, func(s string) bool { return !strings.Contains(s, " is muted, ") })
		}
		if list := said(); len(list) > 0 {
			t.Errorf("%q: %q", more, list)
		}
		for n := range 2 {
			r.problems = nil
			r.says("/m/1", osc.Int32(1))
			r.says("/m/1", osc.Int32(1)) // it answers a question, too
			sent := r.play(50*time.Millisecond, true)
			if !slices.Contains(sent, "/m/1 i 0") {
				t.Errorf("%q: mute %d is left to the mixer", more, n+1)
			}
			want := "main says that channel 1 is muted, 0.8 s after it opened: someone muted it, or that is an old reply. " +
				"It is opened again; to keep it closed, mute it there again"
			if list := said(); len(list) != 1 || n == 0 && list[0] != want {
				t.Errorf("%q: mute %d: %q", more, n+1, list)
			}
			r.play(50*time.Millisecond, true)
		}
	}
}
