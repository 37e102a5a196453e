package run_test

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"backfield/osc"
	"backfield/osc/glance"
	"backfield/osc/journal"
	"backfield/osc/run"
	"backfield/osc/run/simulate"
	"backfield/osc/virtual"
)

const (
	queryAlone = "[query]\naddress = \"{address}\"\n"
	echoAlone  = "[echo]\n"
)

var errNoRoute = errors.New("no route")

// opens has someone at the mixer open channel 9, which the show does not use. Where the run hears no echo, it must ask.
func (w *world) opens(heard bool) {
	w.t.Helper()
	for address, arg := range map[string]osc.Arg{"/m/9": osc.Int32(0), "/l/9": osc.Float32(-3)} {
		if heard {
			w.move(address, arg)
		} else if _, err := w.Mixers[0].Mixer.Move(w.Now, address, arg); err != nil {
			w.t.Fatal(err)
		}
	}
	w.Run(12 * time.Second)
}

// countSent counts what was sent to an address, without what is moved there.
func (w *world) countSent(address string, from int) (n int) {
	for _, x := range w.taken[from:] {
		if strings.HasPrefix(x, address+" ") {
			n++
		}
	}
	return n
}

// A channel that the show does not use is listed when it is open. Hush closes it, and unhush opens it again. No cue, and
// no start of a run, sends it anything.
func TestOutsideTheShow(t *testing.T) {
	for _, more := range []string{echoAndQuery, queryAlone, echoAlone} {
		w := begin(t, more, run.Options{})
		w.opens(more == echoAlone)
		w.saysRow(9, "ch 9  not in the show  -3.0 dB  OPEN AT THE MIXER")
		moved := len(w.taken)
		w.do("go", "jump 2", "jump 3", "resend")
		w.settle()
		w.saysRow(9, "ch 9  not in the show  -3.0 dB  OPEN AT THE MIXER")
		if n := w.countSent("/m/9", moved) + w.countSent("/l/9", moved); n > 0 {
			t.Errorf("%q: channel 9 is sent %d values", more, n)
		}
		if text := glance.Status(w.Engine.View(w.Now)); strings.Contains(text, "every channel is closed") {
			t.Errorf("%q: %s", more, text)
		}
		said, err := w.Do("hush")
		if err != nil || said != "hushed: closing every worn mic, and channel 9 (not in the show)" {
			t.Errorf("%q: %q, %v", more, said, err)
		}
		w.settle()
		w.holds(0, "/m/9 1", "/l/9 -3", "/m/3 1")
		if _, listed := w.row(9); listed {
			t.Errorf("%q: the closed channel is listed", more)
		}
		w.Run(10 * time.Second)
		if said, err = w.Do("unhush"); err != nil || said != "unhushed; open again: channel 9 (not in the show)" {
			t.Errorf("%q: %q, %v", more, said, err)
		}
		w.settle()
		w.holds(0, "/m/9 0", "/l/9 -3", "/m/3 0")
		w.saysRow(9, "ch 9  not in the show  -3.0 dB  OPEN AT THE MIXER")
	}
}

// With two mixers the line is of the one where the channel is open, and hush closes it there alone.
func TestOutsideAtOneMixer(t *testing.T) {
	w := begin(t, echoAndQuery, run.Options{To: []string{"one", "two"}})
	w.Run(5 * time.Second)
	if err := w.Move(1, "/m/9", osc.Int32(0)); err != nil {
		t.Fatal(err)
	}
	w.Run(5 * time.Second)
	if _, listed := w.row(9); listed {
		t.Error("a channel whose fader is off is listed as open")
	}
	if err := w.Move(1, "/l/9", osc.Float32(-3)); err != nil {
		t.Fatal(err)
	}
	w.Run(5 * time.Second)
	if row, listed := w.row(9); !listed || row.Mixer != "two" {
		t.Errorf("%+v", row)
	}
	w.do("hush")
	w.settle()
	w.holds(1, "/m/9 1")
	if n := w.countSent("/m/9", 0); n > 0 {
		t.Errorf("the other mixer is sent %d values", n)
	}
	if list := w.Engine.State().Outside; !slices.Equal(list, []journal.HushedChannel{{Mixer: 1, Channel: 9}}) {
		t.Errorf("%+v", list)
	}
}

// Under hush, someone opens such a channel: it stays open, and is listed first. Hush again closes it. What someone has
// opened and closed by hand since, unhush does not open.
func TestOutsideOpenedUnderHush(t *testing.T) {
	for _, more := range []string{echoAndQuery, queryAlone, echoAlone} {
		w := begin(t, more, run.Options{})
		w.do("go", "hush")
		w.Run(5 * time.Second)
		w.opens(more == echoAlone)
		w.holds(0, "/m/9 0")
		want := "HUSHED, BUT 1 CHANNEL STILL OPEN: ch 9 (not in the show)"
		if a := glance.Alarms(w.Engine.View(w.Now)); len(a) == 0 || a[0].Text != want {
			t.Errorf("%q: %+v", more, a)
		}
		w.do("hush")
		w.settle()
		w.holds(0, "/m/9 1")
		w.Run(5 * time.Second) // sooner, it may be a late reply
		w.opens(more == echoAlone)
		w.move("/m/9", osc.Int32(1))
		w.Run(12 * time.Second)
		w.do("unhush")
		w.settle()
		w.Run(12 * time.Second)
		w.holds(0, "/m/9 1", "/m/1 0")
	}
}

// A hush finds what nobody has seen yet, over a network that loses packets, and after a restart that opens everything.
func TestOutsideFoundByHush(t *testing.T) {
	for seed := range uint64(20) {
		w := begin(t, queryAlone, run.Options{})
		for _, link := range []**virtual.FaultyLink{&w.Mixers[0].Out, &w.Mixers[0].Back} {
			*link = virtual.NewFaultyLink(virtual.Faults{Drop: 0.3, Jitter: 20 * time.Millisecond}, seed)
		}
		w.do("go")
		w.Run(5 * time.Second)
		if _, err := w.Mixers[0].Mixer.Move(w.Now, "/m/9", osc.Int32(0)); err != nil {
			t.Fatal(err)
		}
		w.Mixers[0].Mixer.Move(w.Now, "/l/9", osc.Float32(-3))
		w.do("hush")
		w.Run(6 * time.Second) // some packets are lost three times
		w.holds(0, "/m/9 1")
		w.Run(15 * time.Second)
		w.Mixers[0].Mixer.WakeOpen = true
		w.Mixers[0].Mixer.Reboot(w.Now)
		w.Run(20 * time.Second)
		for _, c := range w.Mixers[0].Mixer.State().Channels {
			if c.Open && c.Channel != 11 { // the fixed mic
				t.Errorf("seed %d: channel %d is open after a restart under hush", seed, c.Channel)
			}
		}
	}
}

// The mixer restarts under hush, and wakes open or closed. What hush closed stays closed, and unhush opens it.
func TestOutsideRestartedUnderHush(t *testing.T) {
	for seed := range uint64(20) {
		w := begin(t, echoAndQuery, run.Options{})
		back := &w.Mixers[0].Back
		*back = virtual.NewFaultyLink(virtual.Faults{Drop: 0.2, Jitter: 50 * time.Millisecond}, seed)
		w.do("go")
		w.opens(false)
		w.do("hush")
		w.settle()
		w.Mixers[0].Mixer.WakeOpen = seed%2 == 0
		w.Mixers[0].Mixer.Reboot(w.Now)
		w.Run(20 * time.Second)
		w.holds(0, "/m/9 1", "/m/1 1")
		if said, err := w.Do("unhush"); err != nil || !strings.Contains(said, "channel 9") {
			t.Errorf("seed %d: %q, %v", seed, said, err)
		}
		w.Run(5 * time.Second)
		w.holds(0, "/m/9 0", "/m/1 0")
	}
}

// A run that was killed under hush undoes it at the mixer after it has resumed.
func TestOutsideResumed(t *testing.T) {
	w := begin(t, echoAndQuery, run.Options{})
	w.do("go")
	w.opens(false)
	w.do("hush")
	w.settle()
	state, _ := journal.Last(w.entries)
	e, err := run.Resume(w.plan, run.Options{To: []string{"mixer"}}, state, w.Now)
	if err != nil {
		t.Fatal(err)
	}
	again := &world{t: t, mixer: w.mixer}
	again.World = simulate.New(e, w.Now, virtual.Faults{}, 1, w.Mixers[0].Mixer)
	again.settle()
	again.holds(0, "/m/9 1")
	again.do("unhush")
	again.settle()
	again.holds(0, "/m/9 0", "/m/1 0")
	state.Outside = append(state.Outside, journal.HushedChannel{Mixer: 1, Channel: 9}, journal.HushedChannel{Channel: 3},
		journal.HushedChannel{Channel: 99})
	e, err = run.Resume(w.plan, run.Options{To: []string{"mixer"}}, state, w.Now)
	if err != nil {
		t.Fatal(err)
	}
	if list := e.State().Outside; !slices.Equal(list, []journal.HushedChannel{{Channel: 9}}) {
		t.Errorf("%+v", list)
	}
}

// That every channel is closed is said only once the mixer has said so of all, those outside the show too.
func TestNothingSaidOfWhatWasNotAsked(t *testing.T) {
	says := func(w *world, want string) {
		t.Helper()
		if text := glance.Status(w.Engine.View(w.Now)); !strings.Contains(text, "\n"+want+"\n") {
			t.Errorf("%s\nwant %s", text, want)
		}
	}
	w := begin(t, echoAndQuery, run.Options{})
	w.Run(10 * time.Second)
	says(w, "every channel is closed")
	w.Mixers[0].Cut = errNoRoute
	w.Run(time.Second)
	says(w, "the show has every channel closed, and the mixer has not confirmed that")
	says(begin(t, echoAlone, run.Options{}), "every channel of the show is closed; 20 other channels of the mixer are unknown")
	says(begin(t, "", run.Options{}), "the show has every channel closed, and the mixer has not confirmed that")
}
