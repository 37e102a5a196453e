package run_test

import (
	"fmt"
	"math"
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
	"backfield/osc/wire"
)

// What the run says of a mixer must be so at the mixer. TestNoFalseCalmNN holds the run to a fault that was found in
// use, by its number.

const echoAndQuery = "[echo]\n[query]\naddress = \"{address}\"\n"

// row is a channel of the view. ok is false if it is not listed.
func (w *world) row(channel int) (row run.ChannelRow, ok bool) {
	for _, r := range w.Engine.View(w.Now).Rows {
		if r.Channel == channel {
			return r, true
		}
	}
	return row, false
}

// saysRow compares the line of a channel.
func (w *world) saysRow(channel int, want string) {
	w.t.Helper()
	row, _ := w.row(channel)
	if got := glance.Line(row); got != want {
		w.t.Errorf("channel %d: %q, want %q", channel, got, want)
	}
}

// says has the run hear a value that the mixer does not hold.
func (w *world) says(address string, arg osc.Arg) {
	w.Engine.Heard(0, osc.Message{Address: address, Args: []osc.Arg{arg}}, w.Now)
}

// move moves a value at the mixer.
func (w *world) move(address string, arg osc.Arg) {
	w.t.Helper()
	if err := w.Move(0, address, arg); err != nil {
		w.t.Fatal(err)
	}
	w.Run(3 * time.Second)
}

// One stale message is no move: a mixer that can be asked is asked, and the cue closes the mic.
func TestNoFalseCalm01(t *testing.T) {
	w := begin(t, echoAndQuery, run.Options{})
	w.do("go", "jump 2")
	w.settle()
	for range 5 {
		w.Run(5 * time.Second)
		w.says("/l/1", osc.Float32(-40))
		w.says("/m/1", osc.Int32(1))
	}
	w.Run(2 * time.Second)
	if v := w.Engine.View(w.Now); len(v.Mixers[0].Manual) > 0 {
		t.Fatalf("manual: %v", v.Mixers[0].Manual)
	}
	w.saysRow(1, "ch 1  A  -12.0 dB")
	w.do("jump 3")
	w.settle()
	w.holds(0, "/m/1 1", "/l/1 -120")
}

// A mixer whose replies take 0.2 to 1.7 s, out of order, makes nothing manual.
func TestNoFalseCalm01SlowReplies(t *testing.T) {
	for seed := range uint64(20) {
		w := begin(t, echoAndQuery, run.Options{})
		slow := virtual.Faults{Reorder: 1, Delay: 200 * time.Millisecond, Jitter: 1500 * time.Millisecond}
		w.Mixers[0].Back = virtual.NewFaultyLink(slow, seed)
		for _, line := range []string{"go", "go", "go", "nudge A +3", "jump 2", "back", "jump 4"} {
			w.do(line)
			w.Run(4 * time.Second)
		}
		if v := w.Engine.View(w.Now); len(v.Mixers[0].Manual) > 0 || v.Mixers[0].Contested || v.Problem != "" {
			t.Fatalf("seed %d: %s", seed, glance.Status(v))
		}
	}
}

// A restart ends what was manual, and every value is sent again.
func TestNoFalseCalm02(t *testing.T) {
	w := begin(t, echoAndQuery, run.Options{})
	w.do("go", "jump 2")
	w.settle()
	w.Run(5 * time.Second)
	w.move("/l/1", osc.Float32(-31))
	w.saysRow(1, "ch 1  A  -31.0 dB  MANUAL (show -12.0)")
	w.Mixers[0].Mixer.Reboot(w.Now)
	w.Run(time.Second)
	if v := w.Engine.View(w.Now); !v.Mixers[0].Restarted || !strings.HasPrefix(glance.Status(v), "MIXER RESTARTED") {
		t.Errorf("a restarted mixer is not first:\n%s", glance.Status(v))
	}
	w.Run(15 * time.Second)
	w.holds(0, "/m/1 0", "/l/1 -12", "/p/1 0.1", "/d/1 11", "/m/2 0", "/l/2 0")
	w.saysRow(1, "ch 1  A  -12.0 dB")
	if v := w.Engine.View(w.Now); len(v.Mixers[0].Manual) > 0 || v.Mixers[0].Restarted {
		t.Errorf("%s", glance.Status(v))
	}
	if list := w.Engine.State().Manual; len(list) > 0 {
		t.Errorf("a resumed run would have manual %v", list)
	}
}

// The same where the link failed meanwhile: what is manual is not resent, and the run says so and asks for it.
func TestNoFalseCalm02LinkDown(t *testing.T) {
	w := begin(t, echoAndQuery, run.Options{})
	w.do("go", "jump 2")
	w.settle()
	w.Run(5 * time.Second)
	w.move("/l/1", osc.Float32(-31))
	w.Mixers[0].Cut = fmt.Errorf("port closed")
	w.Run(2 * time.Second)
	w.Mixers[0].Mixer.Reboot(w.Now)
	w.Mixers[0].Cut = nil
	w.Run(5 * time.Second)
	var said []string
	for _, e := range w.entries {
		if e.Kind == "problem" {
			said = append(said, e.Text)
		}
	}
	text := strings.Join(said, "\n")
	if !strings.Contains(text, "mixer is back: resending everything except what is manual") ||
		!strings.Contains(text, "channel 1 at mixer is MANUAL and changed while the link was down: level off (show -12.0 dB)") {
		t.Error(text)
	}
	w.saysRow(1, "ch 1  A  off  MANUAL (show -12.0)")
	w.do("release A")
	w.settle()
	w.holds(0, "/m/1 0", "/l/1 -12")
}

// What is listed is what the mixer has, in dB, and as it is now.
func TestNoFalseCalm03(t *testing.T) {
	w := begin(t, echoAndQuery, run.Options{})
	w.do("go", "jump 2")
	w.settle()
	w.Run(5 * time.Second)
	w.move("/m/1", osc.Int32(1))
	w.saysRow(1, "ch 1  A  -12.0 dB  MUTED AT MIXER (show -12.0)")
	w.move("/l/2", osc.Float32(-20))
	w.saysRow(2, "ch 2  B  -20.0 dB  MANUAL (show +0.0)")
	w.move("/l/2", osc.Float32(-7))
	w.saysRow(2, "ch 2  B  -7.0 dB  MANUAL (show +0.0)")
	w.do("nudge B +2")
	w.saysRow(2, "ch 2  B  -7.0 dB  MANUAL (show +2.0)")
	w.move("/m/3", osc.Int32(0))
	w.move("/l/3", osc.Float32(-6))
	w.saysRow(3, "ch 3  C  -6.0 dB  STILL OPEN (show closed)")
	w.do("ack C")
	w.saysRow(3, "ch 3  C  -6.0 dB  still open, acknowledged")
	if _, err := w.Do("ack 1"); err == nil || !strings.Contains(err.Error(), "C (channel 3)") {
		t.Errorf("ack 1: %v", err)
	}
	w.do("release C")
	w.settle()
	w.holds(0, "/m/3 1", "/l/3 -120")
	if _, listed := w.row(3); listed {
		t.Error("a closed channel is listed")
	}
	w.Mixers[0].Cut = fmt.Errorf("no route")
	w.Run(time.Second)
	w.saysRow(11, "ch 11  pit  -6.0 dB?  not confirmed")
}

// A fader moved at the mixer stays until its channel opens again; the cue closes the mic meanwhile. A mute moved there
// stays too, and a mic that is open by it is reported.
func TestManualEnds(t *testing.T) {
	for _, keep := range []bool{false, true} {
		w := begin(t, echoAndQuery, run.Options{})
		w.mixer.ManualUntilRelease = keep
		w.do("go", "jump 2")
		w.settle()
		w.Run(5 * time.Second)
		w.move("/l/1", osc.Float32(-31))
		w.move("/m/2", osc.Int32(1))
		w.move("/m/2", osc.Int32(0)) // open again, and it is the operator's
		w.saysRow(2, "ch 2  B  0.0 dB  MANUAL mute off (show off)")
		w.do("jump 3")
		w.settle()
		w.holds(0, "/m/1 1", "/l/1 -31", "/m/2 0", "/l/2 0", "/p/2 0.5")
		w.saysRow(2, "ch 2  B  0.0 dB  STILL OPEN (show closed)")
		if !slices.ContainsFunc(w.entries, func(e journal.Entry) bool {
			return e.Kind == "problem" && strings.Contains(e.Text, "B (channel 2) is STILL OPEN at mixer")
		}) {
			t.Errorf("the journal does not say that a mic is still open: %+v", w.entries)
		}
		if v := w.Engine.View(w.Now); v.Problem != "" { // its row says it
			t.Errorf("problem: %s", v.Problem)
		}
		w.do("jump 2")
		w.settle()
		if keep {
			w.holds(0, "/m/1 0", "/l/1 -31")
			w.saysRow(2, "ch 2  B  0.0 dB  MANUAL mute off (show off)")
			w.do("release all")
			w.settle()
		}
		w.holds(0, "/m/1 0", "/l/1 -12", "/m/2 0", "/l/2 0")
		if v := w.Engine.View(w.Now); len(v.Mixers[0].Manual) > 0 {
			t.Errorf("keep %t: %v", keep, v.Mixers[0].Manual)
		}
		w.Run(5 * time.Second)
		w.move("/m/2", osc.Int32(1))
		w.move("/m/2", osc.Int32(0))
		w.do("jump 3")
		w.move("/m/2", osc.Int32(1)) // closed at the mixer: the rest of it follows
		w.settle()
		w.holds(0, "/m/2 1", "/l/2 -120", "/p/2 0.6")
	}
}

// Two programs that set one mixer do not fight: the run stops and says so, and the operator decides.
func TestNoFalseCalm04(t *testing.T) {
	for _, more := range []string{echoAndQuery, queryAlone, echoAlone} {
		w := begin(t, more, run.Options{})
		w.do("go", "jump 2")
		w.settle()
		w.Run(5 * time.Second)
		before := w.taken
		other := simulate.New(run.New(w.plan, run.Options{To: []string{"mixer"}}, w.Now), w.Now, virtual.Faults{}, 9)
		other.Engine.LinkUp(0, w.Now)
		if _, err := other.Do("jump 3"); err != nil {
			t.Fatal(err)
		}
		share := func(d time.Duration) { // both programs send to the one mixer, which answers the other nothing
			for end := w.Now.Add(d); w.Now.Before(end); {
				w.Run(20 * time.Millisecond)
				other.Engine.Advance(w.Now)
				for _, m := range other.Engine.Take(0, w.Now) {
					for _, reply := range w.Mixers[0].Mixer.Handle(w.Now, "run", wire.Encode(m.OSC())) {
						w.Mixers[0].Back.Send(w.Now, reply.Packet)
					}
				}
				other.Engine.Sent(0, w.Now)
			}
		}
		share(15 * time.Second)
		v := w.Engine.View(w.Now)
		if !v.Mixers[0].Contested || !strings.Contains(glance.Status(v), "ANOTHER PROGRAM IS SENDING TO THIS MIXER") {
			t.Fatalf("%q: it is not seen:\n%s", more, glance.Status(v))
		}
		at := len(w.taken)
		share(10 * time.Second)
		flips := 0
		for _, x := range w.taken[at:] {
			if strings.HasPrefix(x, "/m/1 i 0") {
				flips++
			}
		}
		if flips > 0 {
			t.Errorf("%q: after that, channel 1 is opened %d times; %d values before", more, flips, at-len(before))
		}
		w.do("hush") // a command is sent all the same
		if !strings.Contains(strings.Join(w.taken[at:], " "), "/m/2 i 1") {
			t.Errorf("%q: hush is not sent", more)
		}
		w.do("unhush", "resend")
		w.settle()
		w.holds(0, "/m/1 0", "/m/2 0", "/m/3 1")
		if v := w.Engine.View(w.Now); v.Mixers[0].Contested {
			t.Errorf("%q: %s", more, glance.Status(v))
		}
	}
}

// Two power cuts within 10 s are no other program, even if the mixer is back so fast that nobody notices a silence: every
// value is what a mixer has when its power comes back. A mixer that goes on like that is left to the operator.
func TestPowerCutTwice(t *testing.T) {
	for _, open := range []bool{false, true} {
		w := begin(t, echoAndQuery+"[safety]\n[[safety.channel]]\nchannel = 2\nceiling = \"-4 dB\"\n", run.Options{})
		w.Mixers[0].Mixer.WakeOpen = open
		w.Mixers[0].Mixer.Boot = 200 * time.Millisecond
		w.do("go", "jump 2")
		w.settle()
		w.Run(5 * time.Second)
		for n := range 2 {
			w.Mixers[0].Mixer.Reboot(w.Now)
			w.Run(4 * time.Second)
			if v := w.Engine.View(w.Now); !v.Mixers[0].Restarted || v.Mixers[0].Contested {
				t.Errorf("open %t, power cut %d:\n%s", open, n+1, glance.Status(v))
			}
			w.settle()
			w.holds(0, "/m/1 0", "/l/1 -12", "/m/2 0", "/l/2 -4", "/m/3 1")
		}
		for range 3 {
			w.Mixers[0].Mixer.Reboot(w.Now)
			w.Run(4 * time.Second)
		}
		if v := w.Engine.View(w.Now); !v.Mixers[0].Contested {
			t.Errorf("open %t: the run fights on:\n%s", open, glance.Status(v))
		}
	}
}

// At a mixer that cannot be asked, a few values moved by hand are manual, also quickly one after the other. A scene that
// someone recalls there changes many at once, and the show's values are sent again.
func TestManyMovedUnasked(t *testing.T) {
	w := begin(t, echoAlone, run.Options{})
	w.do("go", "jump 2")
	w.settle()
	w.Run(4950 * time.Millisecond) // no value is just being checked: that would set it again
	set := func(addresses string, arg osc.Arg) {
		for address := range strings.FieldsSeq(addresses) {
			if err := w.Move(0, address, arg); err != nil {
				t.Fatal(err)
			}
			w.Run(20 * time.Millisecond)
		}
		w.Run(3 * time.Second)
	}
	set("/l/1 /l/2 /l/11 /p/1 /d/2", osc.Float32(-0.25))
	if v := w.Engine.View(w.Now); len(v.Mixers[0].Manual) != 5 || v.Mixers[0].Overwritten {
		t.Errorf("%s", glance.Status(v))
	}
	set("/m/1 /m/2 /m/11", osc.Int32(1)) // a group
	if v := w.Engine.View(w.Now); len(v.Mixers[0].Manual) != 8 || v.Mixers[0].Overwritten {
		t.Errorf("%s", glance.Status(v))
	}
	w.do("release all")
	w.settle()
	w.Run(5 * time.Second)
	set("/l/1 /l/2 /l/11 /p/1 /p/2 /d/2 /d/1", osc.Float32(0.25))
	v := w.Engine.View(w.Now)
	if text := glance.Alarms(v)[0].Text; !v.Mixers[0].Overwritten ||
		text != "MANY VALUES CHANGED AT THE MIXER: resending everything" {
		t.Errorf("%s", glance.Status(v))
	}
	w.settle()
	w.holds(0, "/l/1 -12", "/l/2 0", "/p/1 0.1", "/d/1 11")
	w.Run(15 * time.Second)
	if v := w.Engine.View(w.Now); v.Mixers[0].Alarm() || len(v.Mixers[0].Manual) > 0 {
		t.Errorf("%s", glance.Status(v))
	}
}

// A problem is shown until it is answered, and that a mixer is back for a while only.
func TestAnsweredProblems(t *testing.T) {
	w := begin(t, echoAndQuery, run.Options{})
	shows := func(want string) {
		t.Helper()
		if v := w.Engine.View(w.Now); v.Problem != want {
			t.Errorf("%q is shown, want %q", v.Problem, want)
		}
	}
	w.do("go")
	w.settle()
	w.Mixers[0].Cut = errNoRoute
	w.Run(60 * time.Second)
	shows("no route")
	w.Mixers[0].Cut = nil
	w.Run(3 * time.Second)
	shows("mixer is back: resending everything")
	w.Run(10 * time.Second)
	shows("")
	w.Engine.ReportProblem("a file is full", w.Now)
	w.Mixers[0].Mixer.Boot = 5 * time.Second
	w.Mixers[0].Mixer.Reboot(w.Now)
	w.Run(4 * time.Second)
	shows("NO REPLY from mixer: check power and cable")
	w.Run(8 * time.Second)
	shows("MIXER RESTARTED (mixer): resending everything")
	w.Run(30 * time.Second)
	shows("a file is full")
}

// NaN, and whatever else is no value of its parameter, is no move at the mixer.
func TestNoFalseCalm10(t *testing.T) {
	for _, more := range []string{echoAndQuery, "[echo]\n"} {
		w := begin(t, more, run.Options{})
		w.do("go", "jump 2")
		w.settle()
		w.Run(5 * time.Second)
		for _, arg := range []osc.Arg{
			osc.Float32(float32(math.NaN())), osc.Float32(float32(math.Inf(1))), osc.String("loud"), {},
		} {
			w.says("/l/1", arg)
			w.says("/m/1", arg)
		}
		w.Run(3 * time.Second)
		if v := w.Engine.View(w.Now); len(v.Mixers[0].Manual) > 0 {
			t.Errorf("%q: %v", more, v.Mixers[0].Manual)
		}
		w.saysRow(1, "ch 1  A  -12.0 dB")
	}
}
