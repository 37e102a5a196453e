package run_test

import (
	"errors"
	"strings"
	"testing"
	"time"

	"backfield/osc"
	"backfield/osc/glance"
	"backfield/osc/journal"
	"backfield/osc/mixer"
	"backfield/osc/run"
	"backfield/osc/run/simulate"
	"backfield/osc/virtual"
	"backfield/osc/wire"
)

const slots = "[store]\naddress = \"/s/{slot}\"\nslots = 10\nsettle = \"2 s\"\n[recall]\naddress = \"/r/{slot}\"\n"

// withScenes is a run that recalls what its mixer has stored: scenes of everything that the mixer has.
func withScenes(t *testing.T, more string) *world {
	t.Helper()
	w := &world{t: t, mixer: readMixer(t, slots+more)}
	w.mixer.Repeat = more != "" // nothing else corrects a wrong value
	w.plan = run.ShowSetup{Show: show(), Mixer: w.mixer, Time: timeline{}}
	m := virtual.New(w.mixer)
	for i := range w.plan.Show.Cues {
		for _, x := range w.mixer.Settings(&w.plan.Show.Cues[i]) {
			m.Handle(start, "store", wire.Encode(x.Message))
		}
		m.Handle(start, "store", wire.Encode(w.mixer.Store.Message(w.mixer.Store.First+i, "")))
	}
	m.Changed = func(x osc.Message) { w.taken = append(w.taken, x.String()) }
	o := run.Options{
		To: []string{"mixer"}, Recall: true, Record: func(e journal.Entry) { w.entries = append(w.entries, e) },
	}
	w.World = simulate.New(run.New(w.plan, o, start), start, virtual.Faults{}, 1, m)
	w.settle()
	return w
}

// A scene would open what is hushed until the mixer had time to hear better: under hush the values are sent, and no mic
// opens even for a moment.
func TestNoSceneIsRecalledUnderHush(t *testing.T) {
	w := withScenes(t, "")
	w.do("go")
	w.Run(3 * time.Second)
	w.holds(0, "/m/1 0", "/l/1 0")
	w.do("hush")
	w.settle()
	w.taken = nil
	w.do("go", "go", "jump 2")
	w.settle()
	for _, m := range w.taken {
		if m == "/m/1 i 0" || m == "/m/2 i 0" || m == "/m/3 i 0" {
			t.Errorf("under hush: %s", m)
		}
	}
	w.holds(0, "/d/2 20", "/p/1 0.1", "/m/11 0")
	w.do("unhush")
	w.settle()
	w.holds(0, "/m/1 0", "/l/1 -12", "/m/2 0", "/l/2 0", "/m/3 1")
}

// Hush does not wait until the mixer is done with a scene; nor is a recall that waits sent after it.
func TestHushOvertakesAScene(t *testing.T) {
	w := withScenes(t, "")
	w.do("go")
	w.do("hush") // half a second of the two after the recall
	w.holds(0, "/m/1 1", "/m/11 0")
	w.taken = nil
	w.Run(3 * time.Second)
	if !strings.Contains(strings.Join(w.taken, ";"), "/m/1 i 1") {
		t.Errorf("what was sent while the mixer was busy is not sent again: %v", w.taken)
	}
	w.do("unhush")
	w.Run(3 * time.Second)
	w.taken = nil
	for _, line := range []string{"jump 2", "jump 1", "hush"} { // in one instant
		if _, err := w.Do(line); err != nil {
			t.Fatal(err)
		}
	}
	w.Run(5 * time.Second)
	w.holds(0, "/m/1 1", "/m/11 0", "/d/1 10")
	for _, m := range w.taken {
		if m == "/m/1 i 0" || m == "/m/2 i 0" {
			t.Errorf("after hush: %s", m)
		}
	}
}

// What a scene does not know is sent after each: a spare has a player's pan and delay, however often one is recalled,
// and though the scene has closed it.
func TestSpareAfterScenes(t *testing.T) {
	for _, more := range []string{"", "[echo]\n"} {
		w := withScenes(t, more)
		w.do("go", "swap A to 21")
		w.Run(3 * time.Second)
		for _, line := range []string{"go", "jump 1", "jump 2"} {
			w.do(line)
			w.Run(3 * time.Second)
		}
		w.settle()
		w.holds(0, "/m/1 1", "/m/21 0", "/l/21 -12", "/d/21 11", "/p/21 0.1")
	}
}

// A recall that could not be sent is no recall: the values are sent. Of several that wait the last one goes.
func TestARecallThatIsLost(t *testing.T) {
	w := withScenes(t, "")
	w.do("go")
	w.Run(3 * time.Second)
	w.Mixers[0].Cut = errors.New("no room")
	w.do("jump 2", "jump 3")
	w.Mixers[0].Cut = nil
	w.Run(4 * time.Second)
	w.settle()
	w.holds(0, "/m/1 1", "/m/3 0", "/l/3 3", "/d/1 12")
	if v := w.Engine.View(w.Now); !v.Mixers[0].Up || v.Mixers[0].String() != "sent (this mixer cannot confirm)" {
		t.Errorf("a while later: %s", v.Mixers[0])
	}
}

// A link that failed once is tried until it works again, even without repeats.
func TestAQuietLinkIsTried(t *testing.T) {
	w := begin(t, "", run.Options{})
	w.mixer.Repeat = false
	w.do("go")
	w.settle()
	w.Engine.SendFailed(0, nil, errors.New("port closed"), w.Now)
	if v := w.Engine.View(w.Now); v.Mixers[0].Up {
		t.Error("up")
	}
	w.taken = nil
	w.Run(2 * time.Second)
	if v := w.Engine.View(w.Now); !v.Mixers[0].Up || !strings.Contains(v.Problem, "is back") || len(w.taken) < 16 {
		t.Errorf("2 s later: %s; %s; it was sent %v", v.Mixers[0], v.Problem, w.taken)
	}
}

// A swap ends manual for a dead pack's channel that someone has pulled down at the mixer, since the answer says that it
// is closed. The same goes for the spare.
func TestSwapEndsManual(t *testing.T) {
	w := begin(t, "[echo]\n", run.Options{})
	w.do("go")
	move := func(address string, v osc.Arg) {
		t.Helper()
		w.settle()
		w.Run(2 * time.Second)
		if err := w.Move(0, address, v); err != nil {
			t.Fatal(err)
		}
		w.Run(time.Second)
	}
	move("/l/1", osc.Float32(-40))
	if len(w.Engine.View(w.Now).Mixers[0].Manual) != 1 {
		t.Fatal("the move is not seen")
	}
	w.do("swap A to 21")
	w.settle()
	w.holds(0, "/m/1 1", "/l/1 -120", "/m/21 0", "/l/21 0")
	move("/l/21", osc.Float32(-40))
	w.do("swap A to 22")
	w.settle()
	w.holds(0, "/m/21 1", "/m/22 0", "/l/22 0")
	move("/m/21", osc.Int32(0)) // no longer a spare
	w.do("swap A to 21")
	w.settle()
	w.holds(0, "/m/21 0", "/l/21 0", "/m/22 1")
	if list := w.Engine.View(w.Now).Mixers[0].Manual; len(list) > 0 {
		t.Errorf("manual: %v", list)
	}
}

// Somebody opens a mic at the mixer under hush: hush once more closes it.
func TestHushAgain(t *testing.T) {
	w := begin(t, "[echo]\n", run.Options{})
	w.do("go", "hush")
	w.settle()
	w.Run(2 * time.Second)
	if err := w.Move(0, "/m/1", osc.Int32(0)); err != nil {
		t.Fatal(err)
	}
	w.Run(time.Second)
	w.holds(0, "/m/1 0")
	if said, err := w.Do("hush"); err != nil || said != "hushed: closing every worn mic" { // no mixer has confirmed it
		t.Error(said, err)
	}
	w.settle()
	w.holds(0, "/m/1 1")
	if said, _ := w.Do("hush"); said != "already hushed" {
		t.Error(said)
	}
}

// A channel that was a spare is no longer one: no player comes in on it, and it cannot be held.
func TestAnOldSpare(t *testing.T) {
	w := begin(t, "", run.Options{})
	w.do("go", "swap A to 21", "hold A", "swap A back", "release A")
	for _, line := range []string{"hold 21", "swap 21 to 22"} {
		if said, err := w.Do(line); err == nil || !strings.Contains(err.Error(), "channel 21 is no longer a spare") {
			t.Errorf("%s: %s, %v", line, said, err)
		}
	}
}

// Killed in the instant of a swap back, before the mixer has heard of it: the run that goes on closes the spare.
func TestResumeClosesASpareOfBefore(t *testing.T) {
	w := begin(t, "", run.Options{})
	w.do("go", "swap A to 21")
	w.settle()
	w.holds(0, "/m/21 0")
	if _, err := w.Do("swap A back"); err != nil {
		t.Fatal(err)
	}
	state, _ := journal.Last(w.entries)
	e, err := run.Resume(w.plan, run.Options{To: []string{"mixer"}}, state, w.Now)
	if err != nil {
		t.Fatal(err)
	}
	w.World = simulate.New(e, w.Now, virtual.Faults{}, 1, w.Mixers[0].Mixer)
	w.settle()
	w.holds(0, "/m/21 1", "/l/21 -120", "/m/1 0", "/l/1 0")
}

// Killed before its first command, a run has no state: it goes on at the tempo written.
func TestResumeOfNothing(t *testing.T) {
	w := begin(t, "", run.Options{})
	e, err := run.Resume(w.plan, run.Options{To: []string{"mixer"}, ByClock: true}, journal.RunState{}, w.Now)
	if err != nil {
		t.Fatal(err)
	}
	w.World = simulate.New(e, w.Now, virtual.Faults{}, 1, virtual.New(w.mixer))
	w.do("start")
	w.Run(4 * time.Second)
	w.inStep("2")
	if v := w.Engine.View(w.Now); v.Rate != 1 {
		t.Errorf("at %g of the tempo", v.Rate)
	}
}

// A resumed run knows a channel that became manual after the last command.
func TestResumeKnowsTheLastManualChannel(t *testing.T) {
	w := begin(t, "[echo]\n", run.Options{})
	w.do("go")
	w.settle()
	w.Run(2 * time.Second)
	if err := w.Move(0, "/l/1", osc.Float32(-40)); err != nil {
		t.Fatal(err)
	}
	w.Run(time.Second)
	state, _ := journal.Last(w.entries)
	e, err := run.Resume(w.plan, run.Options{To: []string{"mixer"}}, state, w.Now)
	if err != nil {
		t.Fatal(err)
	}
	w.World = simulate.New(e, w.Now, virtual.Faults{}, 1, w.Mixers[0].Mixer)
	w.settle()
	w.Run(5 * time.Second)
	w.holds(0, "/l/1 -40")
}

// One manual channel must not keep the run from checking the others.
func TestOthersAreCheckedWhileAChannelIsManual(t *testing.T) {
	w := begin(t, "[query]\naddress = \"{address}\"\n", run.Options{})
	w.do("go")
	for _, address := range []string{"/l/1", "/l/2", "/l/11"} {
		w.settle()
		w.Run(2 * time.Second)
		if _, err := w.Mixers[0].Mixer.Move(w.Now, address, osc.Float32(-33)); err != nil {
			t.Fatal(err)
		}
		w.Run(3 * time.Second)
	}
	if list := w.Engine.View(w.Now).Mixers[0].Manual; len(list) != 3 {
		t.Errorf("manual: %v", list)
	}
}

// For a player on a spare the lower of both ceilings counts, and the answer says so.
func TestNudgeOverTheCeilingOfTheOwnChannel(t *testing.T) {
	w := begin(t, "[safety]\nceiling = \"8 dB\"\n[[safety.channel]]\nchannel = 1\nceiling = \"1 dB\"\n", run.Options{})
	w.do("go", "swap A to 21")
	if said, err := w.Do("nudge A +3"); err != nil || said != "A: +1 dB, +1 dB in total for this run; that is the ceiling of 1 dB" {
		t.Error(said, err)
	}
	w.settle()
	w.holds(0, "/l/21 1")
}

// A stream that opens again is reported, as a UDP link is.
func TestAStreamThatIsBackIsReported(t *testing.T) {
	w := begin(t, "", run.Options{})
	w.do("go")
	w.Engine.LinkDown(0, errors.New("mixer has ended the connection"), w.Now)
	w.Engine.LinkUp(0, w.Now)
	if v := w.Engine.View(w.Now); v.Problem != "mixer is back: resending everything" {
		t.Error(v.Problem)
	}
	e := run.New(w.plan, run.Options{To: []string{"mixer"}}, start)
	e.LinkDown(0, errors.New("no answer"), start)
	e.LinkUp(0, start)
	if v := e.View(start); v.Problem != "connected to mixer" {
		t.Error(v.Problem)
	}
}

// A mixer that replied and then does not reply any more is not OK: over UDP nothing else shows that it is off.
func TestNoReply(t *testing.T) {
	for _, more := range []string{"[echo]\n", "[query]\naddress = \"{address}\"\n"} {
		w := begin(t, more, run.Options{})
		w.do("go")
		w.settle()
		w.Mixers[0].Mixer.Boot = time.Hour
		w.Mixers[0].Mixer.Reboot(w.Now)
		w.Run(time.Second)
		if v := w.Engine.View(w.Now); v.Mixers[0].NoReply {
			t.Errorf("%q: silent after a second", more)
		}
		w.Run(1100 * time.Millisecond)
		v := w.Engine.View(w.Now)
		if !v.Mixers[0].NoReply || !strings.HasPrefix(v.Mixers[0].String(), "NO REPLY") ||
			!strings.Contains(v.Problem, "NO REPLY from") ||
			w.Engine.Settled() {
			t.Errorf("%q: a mixer that is off: %s; %s", more, v.Mixers[0], v.Problem)
		}
		w.Mixers[0].Mixer.Boot = 0
		w.Mixers[0].Mixer.Reboot(w.Now)
		w.Run(time.Second)
		if v := w.Engine.View(w.Now); v.Mixers[0].NoReply {
			t.Errorf("%q: a mixer that is back: %s", more, v.Mixers[0])
		}
		w.settle()
		w.Run(5 * time.Second)
		w.holds(0, "/m/1 0", "/l/1 0", "/d/1 10")
	}
}

// A scene is recalled by the name that it was stored by.
func TestRecallByName(t *testing.T) {
	w := begin(
		t,
		"[store]\naddress = \"/s/{slot}\"\nargs = [\"{name}\"]\nslots = 10\n"+
			"[recall]\naddress = \"/r/{slot}\"\nargs = [\"{name}\"]\n",
		run.Options{Recall: true},
	)
	w.plan.Show.Cues[1].Name = "the tide"
	w.do("jump 2")
	stored := w.mixer.Store.Message(2, mixer.SceneName("2", "the tide"))
	for _, e := range w.entries {
		for _, m := range e.Sent {
			if strings.HasPrefix(m, "/r/2") && m == strings.Replace(stored.String(), "/s/", "/r/", 1) &&
				strings.Contains(m, "2 the tide") {
				return
			}
		}
	}
	t.Errorf("it is not recalled as %s", stored)
}

// Resumed on a computer whose clock is behind, a run cannot know how far the show is: it stands, and says so.
func TestResumeWithAClockThatIsBehind(t *testing.T) {
	w := begin(t, "", run.Options{})
	w.do("go", "go")
	state, _ := journal.Last(w.entries)
	e, err := run.Resume(w.plan, run.Options{To: []string{"mixer"}}, state, w.Now.Add(-time.Hour))
	if err != nil {
		t.Fatal(err)
	}
	v := e.View(w.Now.Add(-time.Hour))
	if v.Running || v.Step != "2" || v.ShowS != 4 || !strings.Contains(v.Problem, "is 1h0m0s behind") {
		t.Errorf("%s\n%s", glance.Status(v), v.Problem)
	}
	if _, err := e.Do(run.Command{Verb: run.Start}, w.Now.Add(-time.Hour)); err != nil || !e.View(w.Now).Running {
		t.Error(err)
	}
}
