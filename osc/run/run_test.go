package run_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"backfield/cue"
	"backfield/cue/step"
	"backfield/layout/source"
	"backfield/osc"
	"backfield/osc/glance"
	"backfield/osc/hold"
	"backfield/osc/journal"
	"backfield/osc/mixer"
	"backfield/osc/run"
	"backfield/osc/run/simulate"
	"backfield/osc/virtual"
)

const mixerText = `
rate = 1000
channels = 24
[mute]
address = "/m/{channel}"
[level]
address = "/l/{channel}"
off = -120
max = 10
[delay]
address = "/d/{channel}"
max = 500
[pan]
address = "/p/{channel}"
`

var start = time.Unix(1_700_000_000, 0)

// readMixer reads the test's mixer and more keys for it.
func readMixer(t testing.TB, more string) *mixer.Mixer {
	t.Helper()
	var p source.Problems
	d := mixer.Read(&source.File{Name: "mixer.toml", Text: mixerText + more}, &p)
	if p.Errors() > 0 {
		t.Fatal(p.All())
	}
	return d
}

// timeline counts two counts a second, in one movement.
type timeline struct{}

func (timeline) Find(text string) (float64, error) {
	var count float64
	if _, err := fmt.Sscanf(text, "1:%g", &count); err != nil {
		return 0, fmt.Errorf("%q is not a count", text)
	}
	return (count - 1) / 2, nil
}
func (timeline) At(s float64) run.ScoreMoment {
	return run.ScoreMoment{Movement: 1, Count: 2*s + 1, BPM: 120}
}
func (timeline) Counts(fromS, toS float64) float64 { return 2 * (toS - fromS) }

// channel is an open channel with a level; closed with nil.
func channel(n int, player string, level float64, open bool, pan, delay float64) cue.Channel {
	c := cue.Channel{Channel: n, Player: player, Kind: cue.Worn, LevelDB: cue.Silent, Pan: pan, DelayMS: delay}
	if n > 10 {
		c.Kind = cue.Fixed
	}
	if open {
		c.Open, c.Role, c.LevelDB = true, "feature", cue.Level(level)
	}
	return c
}

// show has five cues at 0, 4, 6, 8 and 12 s, of which 2A and 4 are automatic.
func show() *cue.Show {
	step := func(id string, at float64, fade float64, channels ...cue.Channel) cue.Snapshot {
		return cue.Snapshot{
			ID: id, At: fmt.Sprintf("1:%g", 2*at+1), Movement: 1, Count: 2*at + 1, TimeS: at, FadeS: fade,
			FadeCounts: 2 * fade, Channels: channels,
		}
	}
	s := &cue.Show{Title: "t", Cues: []cue.Snapshot{
		step(
			"1", 0, 0, channel(1, "A", 0, true, 0, 10), channel(2, "B", 0, false, 0.5, 20),
			channel(3, "C", 0, false, -0.5, 30), channel(11, "pit", -6, true, 0, 0),
		),
		step(
			"2", 4, 2, channel(1, "A", -12, true, 0.1, 11), channel(2, "B", 0, true, 0.5, 20),
			channel(3, "C", 0, false, -0.5, 30), channel(11, "pit", -6, true, 0, 0),
		),
		step(
			"2A", 6, 0, channel(1, "A", -12, true, 0.2, 12), channel(2, "B", 0, true, 0.6, 22),
			channel(3, "C", 0, false, -0.5, 30), channel(11, "pit", -6, true, 0, 0),
		),
		step(
			"3", 8, 0, channel(1, "A", 0, false, 0.2, 12), channel(2, "B", 0, false, 0.6, 22),
			channel(3, "C", 3, true, -0.5, 30), channel(11, "pit", -6, true, 0, 0),
		),
		step(
			"4", 12, 1, channel(1, "A", 0, true, 0.3, 13), channel(2, "B", 0, false, 0.6, 22),
			channel(3, "C", 3, false, -0.5, 30), channel(11, "pit", -6, false, 0, 0),
		),
	}}
	s.Cues[2].Auto = true
	s.Cues[4].Auto = true
	return s
}

type world struct {
	*simulate.World
	t       *testing.T
	mixer   *mixer.Mixer
	plan    run.ShowSetup
	entries []journal.Entry
	taken   []string // what the first mixer took, in order
}

func begin(t *testing.T, more string, o run.Options) *world {
	t.Helper()
	w := &world{t: t, mixer: readMixer(t, more)}
	w.plan = run.ShowSetup{Show: show(), Mixer: w.mixer, Time: timeline{}}
	if o.To == nil {
		o.To = []string{"mixer"}
	}
	o.Record = func(e journal.Entry) { w.entries = append(w.entries, e) }
	w.World = simulate.New(run.New(w.plan, o, start), start, virtual.Faults{}, 1, w.mixers(len(o.To))...)
	w.settle()
	return w
}

func (w *world) mixers(n int) (list []*virtual.Device) {
	for i := range n {
		m := virtual.New(w.mixer)
		if i == 0 {
			m.Changed = func(x osc.Message) { w.taken = append(w.taken, x.String()) }
		}
		list = append(list, m)
	}
	return list
}

func (w *world) settle() {
	w.t.Helper()
	if _, err := w.Settle(20 * time.Second); err != nil {
		w.t.Fatalf("%v\n%s", err, glance.Status(w.Engine.View(w.Now)))
	}
}

// do gives commands, and lets a little time pass after each.
func (w *world) do(lines ...string) {
	w.t.Helper()
	for _, line := range lines {
		if _, err := w.Do(line); err != nil {
			w.t.Fatalf("%s: %v", line, err)
		}
		w.Run(500 * time.Millisecond)
	}
}

// holds checks what a mixer holds: "/l/1 -12".
func (w *world) holds(mixer int, want ...string) {
	w.t.Helper()
	var held []string
	for _, a := range w.Mixers[mixer].Mixer.State().Addresses {
		held = append(held, fmt.Sprintf("%s %v", a.Address, a.Value))
	}
	for _, x := range want {
		if !slices.Contains(held, x) {
			w.t.Errorf("mixer %d does not hold %s, but\n%s", mixer, x, strings.Join(held, "\n"))
		}
	}
}

// until lets time pass until so many seconds after the first cue.
func (w *world) until(s float64) {
	for _, e := range w.entries {
		if e.Kind == "step" {
			w.Run(e.At.Add(time.Duration(s * 1e9)).Sub(w.Now))
			return
		}
	}
}

func (w *world) inStep(step string) {
	w.t.Helper()
	if v := w.Engine.View(w.Now); v.Step != step {
		w.t.Errorf("the step is %q, want %q", v.Step, step)
	}
}

// The first connection closes everything before anything opens, and nothing is open before the first go.
func TestClosedFirst(t *testing.T) {
	w := begin(t, "", run.Options{})
	w.holds(0, "/m/1 1", "/l/1 -120", "/m/11 1", "/d/1 10", "/p/2 0.5")
	muted := 0
	for _, m := range w.taken {
		if strings.HasPrefix(m, "/m/") {
			if !strings.HasSuffix(m, "i 1") {
				t.Errorf("%s before the first cue", m)
			}
			muted++
		} else if muted < 4 {
			t.Errorf("%s was sent while %d channels might be open", m, 4-muted)
		}
	}
	// A go in the same instant as the connection waits for the dark all the same.
	e := run.New(w.plan, run.Options{To: []string{"mixer"}}, start)
	x := &world{t: t, mixer: w.mixer}
	x.World = simulate.New(e, start, virtual.Faults{}, 1, x.mixers(1)...)
	x.do("go")
	x.settle()
	first := slices.Index(x.taken, "/m/1 i 0")
	if closed := slices.Index(x.taken, "/m/1 i 1"); closed < 0 || first < closed ||
		slices.Index(x.taken, "/m/3 i 1") > first {
		t.Errorf("opened before it was dark: %v", x.taken)
	}
}

// Steps and automatic cues; the guard against double presses; back undoes a go with its clock.
func TestSteps(t *testing.T) {
	w := begin(t, "", run.Options{})
	w.do("go")
	w.inStep("1")
	w.settle()
	w.holds(0, "/m/1 0", "/l/1 0", "/m/11 0", "/l/11 -6")
	w.until(4)
	if _, err := w.Do("go"); err != nil {
		t.Fatal(err)
	}
	w.Run(100 * time.Millisecond)
	if _, err := w.Do("go"); err == nil || !strings.Contains(err.Error(), "pressed twice") {
		t.Errorf("a second press was taken: %v", err)
	}
	w.inStep("2")
	w.Run(1800 * time.Millisecond)
	w.inStep("2")
	w.Run(200 * time.Millisecond)
	w.inStep("2A")
	w.settle()
	w.holds(0, "/l/1 -12", "/d/1 12", "/p/2 0.6", "/m/2 0", "/l/2 0")
	w.until(8)
	w.do("go")
	w.inStep("3")
	w.Run(3 * time.Second)
	w.inStep("3")
	w.Run(time.Second)
	w.inStep("4")
	if _, err := w.Do("go"); err == nil {
		t.Error("a go after the last cue was taken")
	}
	w.do("back") // to where the go to 3 came from: 2, after which 2A has gone
	w.inStep("2A")
	w.do("back", "back")
	w.inStep("")
	w.settle()
	w.holds(0, "/m/1 1", "/l/1 -120", "/m/11 1")
	w.do("jump 3")
	w.Run(time.Minute)
	w.inStep("3") // the clock is stopped
	w.do("jump 1:14")
	w.inStep("2A")
	w.do("start")
	w.Run(time.Minute)
	w.inStep("2A") // what follows is pressed
	w.do("go")
	w.Run(time.Minute)
	w.inStep("4")
	if _, err := w.Do("jump 1:x"); err == nil {
		t.Error("jump nowhere was taken")
	}
}

// By the clock the whole show goes from one press.
func TestByClock(t *testing.T) {
	w := begin(t, "", run.Options{ByClock: true})
	w.Run(time.Minute)
	w.inStep("")
	w.do("start")
	for i, want := range []string{"1", "2", "2A", "3", "4"} {
		at := map[string]float64{"1": 0, "2": 4, "2A": 6, "3": 8, "4": 12}[want]
		for range 60 {
			if w.Engine.View(w.Now).Step == want {
				break
			}
			w.Run(100 * time.Millisecond)
		}
		if v := w.Engine.View(w.Now); v.Step != want || math.Abs(v.ShowS-at) > 0.7 {
			t.Fatalf("step %d: %q at %.1f s, want %q at %g", i, v.Step, v.ShowS, want, at)
		}
	}
}

// Under the clock one press starts the show, and every cue is automatic from then on. Back goes to the cue before, not
// to the state before the press.
func TestBackByClock(t *testing.T) {
	w := begin(t, "", run.Options{ByClock: true})
	w.do("go")
	w.Run(8 * time.Second)
	w.inStep("3")
	w.do("back")
	w.inStep("2A")
	if v := w.Engine.View(w.Now); v.Running {
		t.Error("the clock runs")
	}
	w.do("go")
	w.inStep("3")
	w.Run(3 * time.Second)
	w.do("go") // half a second early
	w.inStep("4")
	w.Run(2 * time.Second)
	w.do("back") // by now it would go again at once
	w.inStep("3")
	w.do("jump 3", "back")
	w.inStep("3")
	for _, id := range []string{"2A", "2", "1", ""} {
		w.do("back")
		w.inStep(id)
	}
}

// A finger that trembles on a button does not go to a cue twice, nor past it; another cue is another command.
func TestGuard(t *testing.T) {
	w := begin(t, "", run.Options{})
	for _, x := range []struct {
		line, want string
		wait       time.Duration
	}{
		{"jump 2", "", 0}, {"jump 2", "jump ignored (same jump twice within 400 ms)", 0}, {"jump 3", "", 0},
		{"go", "go ignored (pressed twice within 400 ms)", 0}, {"back", "back ignored (pressed twice", 0}, {"jump 2", "", 0},
		{"jump 2", "", time.Second}, {"go", "", time.Second}, {"go", "go ignored (pressed twice within 400 ms)", 0},
		{"jump 3", "", 0},
	} {
		w.Run(x.wait)
		if _, err := w.Do(x.line); (err != nil) != (x.want != "") ||
			err != nil && !strings.HasPrefix(err.Error(), x.want) {
			t.Errorf("%s: %v, want %q", x.line, err, x.want)
		}
	}
	w.inStep("3")
}

// The view shows what is automatic: with --clock every cue, else those with after.
func TestViewOfAutomaticCues(t *testing.T) {
	for _, byClock := range []bool{false, true} {
		w := begin(t, "", run.Options{ByClock: byClock})
		v := w.Engine.View(w.Now)
		if v.Next.Auto != byClock || strings.Contains(glance.Status(v), "next, AUTO: cue 1") != byClock {
			t.Errorf("by clock %t:\n%s", byClock, glance.Status(v))
		}
		w.do("jump 3")
		if v := w.Engine.View(w.Now); byClock && !v.Next.Auto || !byClock && (v.Next != nil || !v.NextAuto.Auto) {
			t.Errorf("by clock %t:\n%s", byClock, glance.Status(v))
		}
	}
}

// A cue closes first, then moves, then opens; levels fade in small steps with exact ends.
func TestOrderAndFades(t *testing.T) {
	w := begin(t, "", run.Options{})
	w.do("go", "jump 2")
	w.settle()
	w.taken = nil
	w.do("jump 3")
	w.settle()
	at := func(m string) int {
		i := slices.Index(w.taken, m)
		if i < 0 {
			t.Fatalf("%s is missing in %v", m, w.taken)
		}
		return i
	}
	order := []int{at("/m/1 i 1"), at("/m/2 i 1"), at("/l/1 f -120"), at("/d/2 f 22"), at("/m/3 i 0"), at("/l/3 f 3")}
	if !slices.IsSorted(order) {
		t.Errorf("the order of %v", w.taken)
	}
	w.do("jump 1")
	w.settle()
	w.taken = nil
	w.do("go") // 0 to -12 dB over 2 s, B opens from off
	w.settle()
	last := map[string]float64{"/l/1": 0, "/l/2": -30}
	steps := 0
	for _, m := range w.taken {
		var v float64
		address, rest, _ := strings.Cut(m, " f ")
		if _, err := fmt.Sscanf(rest, "%g", &v); err != nil || last[address] == 0 && address != "/l/1" {
			continue
		}
		if v < -30 { // too soft to be heard
			continue
		}
		if math.Abs(v-last[address]) > 2 {
			t.Errorf("%s jumps from %g to %g", address, last[address], v)
		}
		last[address] = v
		steps++
	}
	if last["/l/1"] != -12 || last["/l/2"] != 0 || steps < 140 {
		t.Errorf("the fades end at %v after %d steps", last, steps)
	}
}

// A new cue takes a fade over from where it is.
func TestFadeIsTakenOver(t *testing.T) {
	w := begin(t, "", run.Options{})
	w.do("go")
	w.settle()
	w.do("stop", "go")
	w.Run(500 * time.Millisecond) // 1 s of 2: half way
	half := hold.FadeLevel(0, -12, 0.5)
	if v := w.Engine.View(w.Now).Open[1]; math.Abs(v-half) > 0.1 {
		t.Fatalf("half way the level is %g, want %g", v, half)
	}
	w.taken = nil
	w.do("jump 1")
	w.settle()
	for _, m := range w.taken {
		var v float64
		if _, err := fmt.Sscanf(m, "/l/1 f %g", &v); err == nil && (v < half-0.3 || v > 0) {
			t.Errorf("on the way back from half way: %s", m)
		}
	}
	w.holds(0, "/l/1 0")
}

func TestHushHoldSwapNudge(t *testing.T) {
	w := begin(t, "[safety]\nceiling = \"4 dB\"\n", run.Options{})
	w.do("go", "jump 2", "hush")
	w.settle()
	w.holds(0, "/m/1 1", "/m/2 1", "/m/11 0")
	w.do("go") // cues go on under it
	w.settle()
	w.holds(0, "/m/3 1", "/d/2 22", "/m/11 0")
	w.do("back")
	if n := w.Engine.View(w.Now).Next; n.Intent == nil || len(n.Opens) != 0 ||
		!slices.Equal(n.Intent.Opens, []string{"C"}) {
		t.Errorf("hushed, the next cue opens %v now, and after unhush %+v", n.Opens, n.Intent)
	}
	w.do("go")
	w.do("unhush")
	w.settle()
	w.holds(0, "/m/3 0", "/l/3 3", "/m/1 1")
	want := "C: +1 dB, +1 dB in total for this run; that is the ceiling of 4 dB"
	if said, _ := w.Do("nudge C +1.5"); said != want {
		t.Error(said)
	}
	w.settle()
	w.holds(0, "/l/3 4") // the ceiling
	w.do("nudge C -2.5")
	w.settle()
	w.holds(0, "/l/3 1.5")
	w.do("jump 2", "hold a")
	w.do("jump 3")
	w.settle()
	w.holds(0, "/m/1 0", "/l/1 -12", "/d/1 11")
	w.do("hush")
	w.settle()
	w.holds(0, "/m/1 1")
	w.do("unhush", "release A")
	w.settle()
	w.holds(0, "/m/1 1", "/l/1 -120", "/d/1 12")
	w.do("swap C to 20")
	w.settle()
	w.holds(0, "/m/3 1", "/m/20 0", "/l/20 1.5", "/d/20 30", "/p/20 -0.5")
	w.do("jump 2", "jump 3")
	w.settle()
	w.holds(0, "/m/3 1", "/m/20 0")
	w.do("swap C back")
	w.settle()
	w.holds(0, "/m/20 1", "/l/20 -120", "/m/3 0", "/l/3 1.5")
	w.do("hold C", "swap C to 20")
	w.settle()
	w.holds(0, "/m/3 1", "/m/20 0", "/l/20 1.5") // what was held goes along
	w.do("release c", "swap C back")
	w.settle()
	w.holds(0, "/m/20 1", "/m/3 0")
	w.do("nudge 3 +0.5")
	w.settle()
	w.holds(0, "/l/3 2")
	if v := w.Engine.View(w.Now); !slices.Equal(v.Nudges, []string{"C -1 dB"}) {
		t.Errorf("nudges: %v", v.Nudges)
	}
	for line, want := range map[string]string{
		"swap C to 2": "channel 2 belongs to B", "swap C to 99": "no channel 99", "swap C back": "is not swapped",
		"hold X":    `"X" has no mic in this show`,
		"release A": "is not held and not manual", "nudge C 0": "changes nothing", "hold 9": "does not use channel 9",
	} {
		if _, err := w.Do(line); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %s", line, err, want)
		}
	}
}

// A fader that someone moves is manual until the channel opens again or is released. A cue closes the channel all the
// same, and the others follow the cues.
func TestManual(t *testing.T) {
	asked := "[query]\naddress = \"/ask\"\nargs = [\"{address}\"]\n"
	for _, more := range []string{"[echo]\n", asked, "[echo]\n[query]\naddress = \"{address}\"\n"} {
		w := begin(t, more, run.Options{})
		w.do("go", "jump 2")
		w.settle()
		w.Run(5 * time.Second)
		if err := w.Move(0, "/l/2", osc.Float32(-20)); err != nil {
			t.Fatal(err)
		}
		w.Run(5 * time.Second)
		v := w.Engine.View(w.Now)
		if len(v.Mixers[0].Manual) != 1 || !strings.Contains(v.Mixers[0].Manual[0], "B (channel 2)") {
			t.Fatalf("%q: manual: %v; %s", more, v.Mixers[0].Manual, v.Problem)
		}
		w.do("jump 3")
		w.settle()
		w.Run(5 * time.Second)
		w.holds(0, "/l/2 -20", "/m/2 1", "/m/1 1", "/m/3 0")
		w.do("release B")
		w.settle()
		w.holds(0, "/l/2 -120", "/m/2 1")
		w.do("jump 2")
		w.settle()
		w.Run(5 * time.Second)
		if err := w.Move(0, "/l/2", osc.Float32(-20)); err != nil {
			t.Fatal(err)
		}
		w.Run(5 * time.Second)
		w.do("hush") // closes it all the same
		w.settle()
		w.holds(0, "/l/2 -120", "/m/2 1")
	}
}

// A mixer that restarts is noticed where it can be asked, and filled again either way.
func TestRestart(t *testing.T) {
	asked := "[query]\naddress = \"{address}\"\n"
	for _, more := range []string{asked, "[echo]\n" + asked, "[echo]\n", ""} {
		w := begin(t, more, run.Options{})
		w.do("go", "jump 2")
		w.settle()
		w.Run(5 * time.Second)
		w.Mixers[0].Mixer.WakeOpen = true
		w.Mixers[0].Mixer.Reboot(w.Now)
		w.Run(6 * time.Second)
		w.holds(0, "/m/1 0", "/l/1 -12", "/m/3 1", "/l/3 -120", "/d/2 20")
		if v := w.Engine.View(w.Now); len(v.Mixers[0].Manual) > 0 ||
			strings.Contains(more, "query") && !strings.Contains(v.Problem, "MIXER RESTARTED") {
			t.Errorf("%q: %v, %s", more, v.Mixers[0].Manual, v.Problem)
		}
	}
}

// A restart is also noticed while a channel is manual, which it ends, and at a mixer that never confirms some values: their repeats do
// not take the turn of the checks.
func TestRestartIsSeenDuringRepeats(t *testing.T) {
	const asked = "[echo]\n[query]\naddress = \"{address}\"\n"
	for _, deaf := range []bool{false, true} {
		w := &world{t: t, mixer: readMixer(t, ownParams+asked)}
		s := show()
		own(s)
		w.plan = run.ShowSetup{Show: s, Mixer: w.mixer, Time: timeline{}}
		far := virtual.New(w.mixer)
		if deaf { // it has no parameters of its own
			far = virtual.New(readMixer(t, asked))
		}
		w.World = simulate.New(
			run.New(w.plan, run.Options{To: []string{"mixer"}}, start), start, virtual.Faults{}, 1, far,
		)
		w.Run(5 * time.Second)
		w.do("jump 2")
		w.Run(10 * time.Second)
		manual := 0
		if !deaf {
			if err := w.Move(0, "/l/1", osc.Float32(-20)); err != nil {
				t.Fatal(err)
			}
			w.Run(5 * time.Second)
			manual = 1
		}
		if v := w.Engine.View(w.Now); len(v.Mixers[0].Manual) != manual {
			t.Fatalf("manual: %v", v.Mixers[0].Manual)
		}
		far.Reboot(w.Now)
		w.Run(6 * time.Second)
		w.holds(0, "/m/2 0", "/l/2 0", "/m/11 0", "/d/2 20", "/d/3 30")
		if v := w.Engine.View(w.Now); len(v.Mixers[0].Manual) != 0 ||
			!strings.Contains(v.Problem, "MIXER RESTARTED") {
			t.Errorf("deaf %v: %v, %q", deaf, v.Mixers[0].Manual, v.Problem)
		}
	}
}

// A group that mutes many channels at a mixer with a query only makes them manual. It is not a restart, so no channel
// is unmuted.
func TestMuteGroup(t *testing.T) {
	for _, more := range []string{"[query]\naddress = \"{address}\"\n", "[echo]\n[query]\naddress = \"{address}\"\n"} {
		w := begin(t, more, run.Options{})
		w.do("go", "jump 4")
		w.settle()
		w.do("nudge A +1", "jump 2")
		w.settle()
		w.Run(5 * time.Second)
		for _, address := range []string{"/m/1", "/m/2", "/m/11"} {
			if err := w.Move(0, address, osc.Int32(1)); err != nil {
				t.Fatal(err)
			}
		}
		w.Run(10 * time.Second)
		w.holds(0, "/m/1 1", "/m/2 1", "/m/11 1")
		if v := w.Engine.View(w.Now); len(v.Mixers[0].Manual) != 3 {
			t.Errorf("%q: manual: %v; %s", more, v.Mixers[0].Manual, v.Problem)
		}
		// If all are manual, nothing is sent, so a query tries the link.
		if err := w.Move(0, "/p/3", osc.Float32(0.25)); err != nil {
			t.Fatal(err)
		}
		w.Run(10 * time.Second)
		w.Engine.SendFailed(0, nil, fmt.Errorf("link down"), w.Now)
		if v := w.Engine.View(w.Now); v.Mixers[0].Up {
			t.Errorf("%q: up: %s", more, v.Mixers[0])
		}
		w.Run(5 * time.Second)
		w.holds(0, "/m/1 1", "/m/2 1", "/m/11 1")
		if v := w.Engine.View(w.Now); !v.Mixers[0].Up || len(v.Mixers[0].Manual) != 4 {
			t.Errorf("%q: %s", more, glance.Status(v))
		}
		w.do("release all")
		w.settle()
		w.holds(0, "/m/1 0", "/m/2 0", "/m/11 0")
		if _, err := w.Do("release all"); err == nil {
			t.Error("released twice")
		}
	}
}

// A link that is down is reported at once, a go meanwhile is not lost, and everything is sent again when it is back.
func TestLinkDown(t *testing.T) {
	w := begin(t, "", run.Options{To: []string{"main", "spare"}})
	w.do("go")
	w.settle()
	w.Mixers[0].Cut = fmt.Errorf("main is down")
	w.do("jump 2")
	w.Run(2 * time.Second)
	v := w.Engine.View(w.Now)
	if v.Mixers[0].Up || !strings.Contains(v.Mixers[0].String(), "main is down") || !v.Mixers[1].Up ||
		v.Problem != "main is down" {
		t.Errorf("%+v, %s", v.Mixers, v.Problem)
	}
	w.holds(1, "/m/2 0", "/l/2 0", "/l/1 -12")
	w.holds(0, "/m/2 1")
	w.Mixers[0].Cut = nil
	w.Run(3 * time.Second)
	w.settle()
	w.holds(0, "/m/2 0", "/l/2 0", "/l/1 -12")
	if v := w.Engine.View(w.Now); !v.Mixers[0].Up {
		t.Errorf("%s", glance.Status(v))
	}
	n := 0
	for _, e := range w.entries {
		if e.Kind == "problem" {
			n++
		}
	}
	if n != 2 {
		t.Errorf("%d problems in the journal, want 2", n)
	}
}

// Who holds a channel holds it over a handover: it is the next wearer's, who is meant by its number then, and whom the
// screen names.
func TestHoldOverHandover(t *testing.T) {
	w := &world{t: t, mixer: readMixer(t, "")}
	s := show()
	for i := range s.Cues[3:] { // from cue 3 on A and B have traded packs
		channels := s.Cues[3+i].Channels
		channels[0].Player, channels[1].Player = "B", "A"
	}
	w.plan = run.ShowSetup{Show: s, Mixer: w.mixer, Time: timeline{}}
	e := run.New(w.plan, run.Options{To: []string{"mixer"}}, start)
	w.World = simulate.New(e, start, virtual.Faults{}, 1, w.mixers(1)...)
	w.do("jump 2", "hold A", "jump 3", "nudge 1 +2")
	v := w.Engine.View(w.Now)
	if got := fmt.Sprint(v.Holds, v.Nudges); got != "[B (channel 1)] [B +2 dB]" {
		t.Errorf("held and nudged: %s", got)
	}
	if _, err := w.Do("release A"); err == nil ||
		!strings.Contains(err.Error(), "A (channel 2) is not held and not manual; held: B (channel 1)") {
		t.Errorf("release A: %v", err)
	}
	w.do("release B")
}

// Whoever has handed over the pack has no mic: a command with that name is not taken for the next wearer's.
func TestNameAfterHandover(t *testing.T) {
	t.Parallel()
	w := &world{t: t, mixer: readMixer(t, "")}
	s := show()
	for i := range s.Cues[3:] { // from cue 3 on D wears A's pack
		s.Cues[3+i].Channels[0].Player = "D"
	}
	w.plan = run.ShowSetup{Show: s, Mixer: w.mixer, Time: timeline{}}
	e := run.New(w.plan, run.Options{To: []string{"mixer"}}, start)
	w.World = simulate.New(e, start, virtual.Faults{}, 1, w.mixers(1)...)
	w.do("jump 2", "hold A", "release A", "jump 3")
	for _, line := range []string{"hold A", "swap A to 21", "nudge A +2"} {
		if _, err := w.Do(line); err == nil || err.Error() != "A has no mic now: channel 1 is D's" {
			t.Errorf("%s: %v", line, err)
		}
	}
	w.do("hold D")
}

// What a journal holds brings a run back, whatever its last line lost.
func TestResume(t *testing.T) {
	w := begin(t, "", run.Options{})
	w.do("go", "jump 2", "hold A", "swap B to 21", "nudge C -2", "go", "hush")
	var lines []byte
	for _, e := range w.entries {
		lines = append(lines, e.Line()...)
	}
	entries, skipped, err := journal.Read(strings.NewReader(string(lines) + `{"at":"2`))
	if err != nil || len(skipped) != 1 || len(entries) != len(w.entries) {
		t.Fatalf("%d of %d entries, %v, %v", len(entries), len(w.entries), skipped, err)
	}
	state, ok := journal.Last(entries)
	if !ok {
		t.Fatal("no state")
	}
	e, err := run.Resume(w.plan, run.Options{To: []string{"mixer"}}, state, w.Now)
	if err != nil {
		t.Fatal(err)
	}
	before, after := w.Engine.View(w.Now), e.View(w.Now)
	before.Mixers, after.Mixers, before.Problem, before.ProblemAgoS, after.ProblemAgoS = nil, nil, "", 0, 0
	if before, after := glance.Status(before), glance.Status(after); before != after {
		t.Errorf("resumed:\n%s\nbefore:\n%s", after, before)
	}
	again := &world{t: t, mixer: w.mixer}
	again.World = simulate.New(e, w.Now, virtual.Faults{}, 1, again.mixers(1)...)
	again.settle()
	w.settle()
	a, b := again.Mixers[0].Mixer.State().Addresses, w.Mixers[0].Mixer.State().Addresses
	if fmt.Sprint(a) != fmt.Sprint(b) {
		t.Errorf("the mixers hold\n%v\nand\n%v", a, b)
	}
	state.Step = "gone"
	if _, err := run.Resume(w.plan, run.Options{}, state, w.Now); err == nil {
		t.Error("a journal of another show was taken")
	}
	if _, _, err := journal.Read(strings.NewReader("rubbish\n")); err == nil {
		t.Error("rubbish was taken for a journal")
	}
}

// Nothing is settled while no mixer is in reach.
func TestSettledNeedsAMixer(t *testing.T) {
	w := begin(t, "", run.Options{})
	w.Engine.LinkDown(0, fmt.Errorf("gone"), w.Now)
	if w.Engine.Settled() {
		t.Error("settled without a mixer")
	}
}

// The next cue is shown with the operator's changes.
func TestPreview(t *testing.T) {
	w := begin(t, "", run.Options{})
	w.do("go", "nudge A +2")
	if v := w.Engine.View(w.Now); !slices.Equal(v.Next.Levels, []string{"A 2 to -10 dB"}) ||
		!slices.Equal(v.Next.Opens, []string{"B"}) {
		t.Errorf("%+v", v.Next)
	}
	w.do("hush")
	if v := w.Engine.View(w.Now); len(v.Next.Opens) > 0 || len(v.Next.Levels) > 0 {
		t.Errorf("under hush: %+v", v.Next)
	}
}

// What the next cue changes is what cue/step says of it, in the same words: also of a pack that changes hands, a
// player who changes channels, a parameter and an extra message.
func TestPreviewSaysWhatStepSays(t *testing.T) {
	show := show()
	show.Params = []cue.MixerParam{{Name: "presence", Unit: "dB"}}
	last := &show.Cues[4]
	last.Auto = false
	last.Channels[2] = channel(3, "D", 3, true, -0.5, 30)   // C hands the pack to D
	last.Channels[1] = channel(2, "pit", -6, true, 0.6, 22) // who changes channels
	last.Also = []cue.Extra{{Address: "/room/b/quiet", Types: "i", Args: []any{1.0}}}
	for i := range show.Cues {
		for c := range show.Cues[i].Channels {
			show.Cues[i].Channels[c].Params = []cue.ParamValue{{Name: "presence", Value: float64(i / 2)}}
		}
	}
	p := run.ShowSetup{Show: show, Mixer: readMixer(t, ""), Time: timeline{}}
	w := simulate.New(run.New(p, run.Options{}, start), start, virtual.Faults{}, 1)
	said := ""
	for i := range show.Cues {
		var before *cue.Snapshot
		if i > 0 {
			before = &show.Cues[i-1]
		}
		want := strings.Join(step.Between(show.Params, before, &show.Cues[i]).Summary().Kinds(), "; ")
		v := w.Engine.View(w.Now)
		next := v.Next
		if show.Cues[i].Auto {
			next = v.NextAuto
		}
		if got := strings.Join(next.Kinds(), "; "); next.ID != show.Cues[i].ID || got != want {
			t.Errorf("cue %s: %s, want %s", next.ID, got, want)
		}
		said = glance.Status(v)
		if _, err := w.Do("jump " + show.Cues[i].ID); err != nil {
			t.Fatal(err)
		}
		w.Run(time.Second)
	}
	want := "; channel 3 goes from C to D; pit switches from channel 11 to channel 2; " +
		"presence 2 dB: D; sends /room/b/quiet i 1"
	if !strings.Contains(said, want) {
		t.Errorf("status says\n%s\nwithout %s", said, want)
	}
}

// A mixer's scenes are recalled, and what the operator has changed is sent after.
func TestRecall(t *testing.T) {
	w := begin(
		t,
		"[echo]\n[store]\naddress = \"/s/{slot}\"\nslots = 10\nsettle = \"200 ms\"\n[recall]\naddress = \"/r/{slot}\"\n",
		run.Options{Recall: true},
	)
	plain := begin(t, "[echo]\n[store]\naddress = \"/s/{slot}\"\nslots = 10\n", run.Options{})
	for i, s := range plain.plan.Show.Cues {
		plain.do("jump " + s.ID)
		plain.settle()
		_ = i
	}
	w.do("go", "nudge B -3")
	w.settle()
	w.do("jump 2")
	w.settle()
	w.holds(0, "/m/1 0", "/l/1 -12", "/l/2 -3", "/m/2 0")
}

// A go or back that names the next cue is taken only while that is the next one. Automatic cues since then do not
// change the next cue, so they make no press void.
func TestGoForTheCueOnTheScreen(t *testing.T) {
	w := begin(t, "", run.Options{})
	press := func(verb run.Verb, next, refused string) {
		t.Helper()
		_, err := w.Engine.Do(run.Command{Verb: verb, Next: &next}, w.Now)
		if got := fmt.Sprint(err); refused == "" && err != nil || refused != "" && !strings.Contains(got, refused) {
			t.Errorf("%s for %q: %v", verb, next, err)
		}
		w.Run(500 * time.Millisecond)
	}
	press(run.Go, "1", "")
	press(run.Go, "1", "the next cue was 1 and is now 2; go ignored")
	press(run.Back, "1", "back ignored")
	press(run.Go, "2", "")
	w.Run(3 * time.Second) // 2A has gone
	w.inStep("2A")
	press(run.Go, "3", "")
	press(run.Go, "4", "the next cue was 4 and is now none") // 4 is automatic
	press(run.Back, "", "")
	press(run.Back, "", "was none and is now 3")
	w.inStep("2A")
}

// The wait for the next cue starts at the last pressed one, and has a tick for each automatic step in it.
func TestWaitCounts(t *testing.T) {
	w := begin(t, "", run.Options{})
	view := func(way float64, itself bool, ticks ...run.Tick) {
		t.Helper()
		v := w.Engine.View(w.Now)
		same := len(v.Ticks) == len(ticks)
		for i := range v.Ticks {
			same = same && v.Ticks[i].ID == ticks[i].ID && math.Abs(v.Ticks[i].Counts-ticks[i].Counts) < 1e-6
		}
		if v.WaitCounts != way || !same || v.Next != nil && v.Next.Auto != itself {
			t.Errorf(
				"in %q: wait %g, ticks %v, next is automatic %v", v.Step, v.WaitCounts, v.Ticks,
				v.Next != nil && v.Next.Auto,
			)
		}
	}
	view(0, false)
	w.do("go", "stop")
	view(8, false)
	w.do("jump 2")
	view(8, false, run.Tick{ID: "2A", Counts: 4})
	w.do("jump 2A")
	view(8, false)
	w.do("jump 3")
	view(0, false, run.Tick{ID: "4", Counts: 8})
	w = begin(t, "", run.Options{ByClock: true})
	w.do("jump 3")
	view(8, true)
}
