package run_test

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"backfield/cue"
	"backfield/osc"
	"backfield/osc/journal"
	"backfield/osc/run"
	"backfield/osc/run/simulate"
	"backfield/osc/virtual"
)

const ownParams = `
[param.air]
address = "/a/{channel}"
default = 0
fade = true
[param.cut]
address = "/c/{channel}"
scale = { on = 1, off = 0 }
default = true
`

// own gives the channels of every cue of the test's show parameters of the mixer's own, and some of its cues raw
// lines: air rises with the cue and is less on each next channel, cut is on in the even cues.
func own(s *cue.Show) {
	for i := range s.Cues {
		n := i
		if s.Cues[i].ID == "2A" { // which sets no other than cue 2
			n--
		}
		for j := range s.Cues[i].Channels {
			c := &s.Cues[i].Channels[j]
			c.Params = []cue.ParamValue{
				{Name: "air", Value: float64(10*n - c.Channel)}, {Name: "cut", Value: float64(n % 2)},
			}
		}
	}
	raw := func(i int, address string, v float64) {
		s.Cues[i].Also = append(s.Cues[i].Also, cue.Extra{Address: address, Types: "i", Args: []any{v}})
	}
	raw(0, "/room/b", 1)
	raw(0, "/room/a", 2)
	raw(1, "/room/b", 3)
	raw(3, "/room/b", 4)
	raw(4, "/room/b", 5)
}

// withOwn is a run with them. The mixer's raw messages end up in w.taken, too.
func withOwn(t *testing.T, more string, faults virtual.Faults, o run.Options) *world {
	t.Helper()
	w := &world{t: t, mixer: readMixer(t, ownParams+more)}
	s := show()
	own(s)
	w.plan = run.ShowSetup{Show: s, Mixer: w.mixer, Time: timeline{}}
	o.To = []string{"mixer"}
	o.Record = func(e journal.Entry) {
		w.entries = append(w.entries, e)
		w.taken = append(w.taken, e.Sent...)
	}
	w.World = simulate.New(run.New(w.plan, o, start), start, faults, 1, virtual.New(w.mixer))
	w.settle()
	return w
}

// raws are the raw lines that the run has sent.
func (w *world) raws() (list []string) {
	for _, m := range w.taken {
		if strings.HasPrefix(m, "/room/") {
			list = append(list, m)
		}
	}
	return list
}

func (w *world) sent(want ...string) {
	w.t.Helper()
	if got := w.raws(); !slices.Equal(got, want) {
		w.t.Errorf("raw lines sent: %v, want %v", got, want)
	}
}

// A parameter that fades moves with the levels while it is heard; one that steps, and one behind a closed mic, is
// there at once, before the mic opens.
func TestOwnParamsFade(t *testing.T) {
	w := withOwn(t, "", virtual.Faults{}, run.Options{})
	w.do("go")
	w.settle()
	w.do("stop")
	w.holds(0, "/a/1 -1", "/c/1 0", "/a/3 -3")
	var air, closed []float64
	var order []string
	mixer := w.Mixers[0].Mixer
	mixer.Changed = func(m osc.Message) {
		switch v, _ := m.Args[0].Number(); m.Address {
		case "/a/1":
			air = append(air, v)
		case "/a/3":
			closed = append(closed, v)
		}
		if m.Address == "/a/2" || m.Address == "/m/2" {
			order = append(order, m.String())
		}
	}
	w.do("go")
	w.settle()
	if len(air) < 80 || air[len(air)-1] != 9 || !slices.IsSorted(air) {
		t.Errorf("air of the open channel goes %v", air)
	}
	for i := 1; i < len(air); i++ {
		if air[i]-air[i-1] > 0.5 {
			t.Errorf("air jumps from %v to %v", air[i-1], air[i])
		}
	}
	if slices.ContainsFunc(closed, func(v float64) bool { return v != 7 }) {
		t.Errorf("air of the closed channel goes %v", closed)
	}
	if len(order) < 2 || order[0] != "/a/2 f 8" || !slices.Contains(order, "/m/2 i 0") {
		t.Errorf("a channel that opens is sent %v", order)
	}
	w.holds(0, "/a/1 9", "/c/1 1", "/a/2 8", "/a/3 7")
}

// A hold keeps a parameter where it is on its way, a spare has them at once, and a new cue takes the way over.
func TestOwnParamsInHold(t *testing.T) {
	w := withOwn(t, "", virtual.Faults{}, run.Options{})
	w.do("go")
	w.settle()
	w.do("stop", "go")
	w.Run(500 * time.Millisecond) // 1 s of 2: from -1 to 9, half way
	w.do("hold A")
	w.settle()
	half := 0.0
	for _, a := range w.Mixers[0].Mixer.State().Channels[0].Params {
		if a.Name == "air" {
			half = a.Value
		}
	}
	if math.Abs(half-4) > 0.3 {
		t.Errorf("held half way, air is %v", half)
	}
	w.do("release A", "swap A to 20")
	w.settle()
	w.holds(0, "/a/20 9", "/c/20 1")
	back, err := run.Resume(w.plan, run.Options{To: []string{"mixer"}}, w.Engine.State(), w.Now)
	if err != nil {
		t.Fatal(err)
	}
	w.World = simulate.New(back, w.Now, virtual.Faults{}, 2, virtual.New(w.mixer))
	w.settle()
	w.holds(0, "/a/20 9", "/c/20 1")
}

// If someone turns one of the mixer's own parameters, the channel is manual until it is released.
func TestOwnParamsBecomeManual(t *testing.T) {
	w := withOwn(t, "[echo]\n[query]\naddress = \"{address}\"\n", virtual.Faults{}, run.Options{})
	w.do("go")
	w.settle()
	w.do("stop")
	w.Run(3 * time.Second)
	replies, err := w.Mixers[0].Mixer.Move(w.Now, "/a/1", osc.Float32(6))
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range replies {
		w.Mixers[0].Back.Send(w.Now, r.Packet)
	}
	w.Run(3 * time.Second)
	if v := w.Engine.View(w.Now); len(v.Mixers[0].Manual) != 1 ||
		!strings.Contains(v.Mixers[0].Manual[0], "air 6 (show -1)") {
		t.Fatalf("manual: %v", v.Mixers[0].Manual)
	}
	w.do("jump 3")
	w.settle()
	w.holds(0, "/a/1 6", "/a/3 27")
	w.do("release A")
	w.settle()
	w.holds(0, "/a/1 29")
}

// Over bad links the mixer ends with every snapshot, own parameters included, and each raw line was sent once.
func TestOwnParamsInAStorm(t *testing.T) {
	faults := virtual.Faults{
		Drop: 0.3, Duplicate: 0.1, Reorder: 0.1, Delay: 2 * time.Millisecond, Jitter: 8 * time.Millisecond,
	}
	for seed := range 20 {
		w := &world{t: t, mixer: readMixer(t, ownParams+"[echo]\n[query]\naddress = \"{address}\"\n")}
		s := show()
		own(s)
		w.plan = run.ShowSetup{Show: s, Mixer: w.mixer, Time: timeline{}}
		o := run.Options{To: []string{"mixer"}, Record: func(e journal.Entry) { w.taken = append(w.taken, e.Sent...) }}
		w.World = simulate.New(run.New(w.plan, o, start), start, faults, uint64(seed), virtual.New(w.mixer))
		for i := range s.Cues {
			w.Run(time.Second)
			if i == 2 || i == 4 {
				w.do("jump " + s.Cues[i].ID)
			} else {
				w.do("go")
			}
			w.do("stop")
			w.settle()
			for _, x := range w.mixer.Settings(&s.Cues[i]) {
				if got, ok := w.Mixers[0].Mixer.Value(x.Message.Address); !ok || got != x.Message.Args[0] {
					t.Fatalf(
						"seed %d, cue %s: %s is %v, wanted %v", seed, s.Cues[i].ID, x.Message.Address, got,
						x.Message.Args[0],
					)
				}
			}
		}
		w.Run(20 * time.Second)
		w.sent(
			"/room/b i 1", "/room/a i 2", "/room/b i 3", "/room/b i 4", "/room/b i 5",
		) // 2A has none
	}
}

// Raw lines go once, after what closes and before what opens: at a go, an automatic cue and a jump, not at a back or a
// resume.
func TestRawLines(t *testing.T) {
	w := withOwn(t, "", virtual.Faults{}, run.Options{})
	said, err := w.Do("go")
	if err != nil || said != "cue 1; extra messages: /room/b i 1, /room/a i 2" {
		t.Errorf("%q %v", said, err)
	}
	w.settle()
	order := func(before, after string) {
		t.Helper()
		if a, b := slices.Index(w.taken, before), slices.Index(w.taken, after); a < 0 || b < a {
			t.Errorf("%s is not sent before %s: %v", before, after, w.taken)
		}
	}
	order("/room/b i 1", "/m/1 i 0")
	w.sent("/room/b i 1", "/room/a i 2")
	w.Run(20 * time.Second)
	w.sent("/room/b i 1", "/room/a i 2")
	w.do("stop", "go")
	w.settle()
	said, err = w.Do("back")
	if err != nil || said != "back to cue 1; the extra messages of cue 2 cannot be undone" {
		t.Errorf("%q %v", said, err)
	}
	w.settle()
	w.sent("/room/b i 1", "/room/a i 2", "/room/b i 3")
	back, err := run.Resume(
		w.plan,
		run.Options{To: []string{"mixer"}, Record: func(e journal.Entry) { w.taken = append(w.taken, e.Sent...) }},
		w.Engine.State(), w.Now,
	)
	if err != nil {
		t.Fatal(err)
	}
	w.World = simulate.New(back, w.Now, virtual.Faults{}, 2, virtual.New(w.mixer))
	w.settle()
	w.sent("/room/b i 1", "/room/a i 2", "/room/b i 3")
	w.taken = nil
	w.do("jump 4")
	if said, err = w.Do("back"); err != nil || strings.Contains(said, "cue 3") ||
		!strings.Contains(said, "the extra messages of cue 4") { // 3 was passed over
		t.Errorf("%q %v", said, err)
	}
	w.do("jump 1")
	w.settle()
	w.taken = nil
	w.do("jump 3")
	w.settle()
	order("/m/1 i 1", "/room/b i 4")
	order("/room/b i 4", "/m/3 i 0")
	w.do("start")
	w.Run(6 * time.Second) // cue 4 is automatic
	w.inStep("4")
	w.sent("/room/b i 4", "/room/b i 5")
}

// Where cues are recalled from scenes, raw lines are sent all the same, after the mixer has had its time.
func TestRawLinesWithRecall(t *testing.T) {
	w := withOwn(
		t,
		"[echo]\n[store]\naddress = \"/s/{slot}\"\nslots = 10\nsettle = \"200 ms\"\n[recall]\naddress = \"/r/{slot}\"\n",
		virtual.Faults{}, run.Options{Recall: true},
	)
	w.do("go")
	w.settle()
	w.sent("/room/b i 1", "/room/a i 2")
	if r, f := slices.Index(w.taken, "/r/1"), slices.Index(w.taken, "/room/b i 1"); r < 0 || f < r {
		t.Errorf("sent: %v", w.taken)
	}
	w.holds(0, "/a/1 -1", "/c/1 0")
}

// A mixer without a link misses extra messages for good, and the operator reads which.
func TestRawLinesAreMissed(t *testing.T) {
	w := withOwn(t, "", virtual.Faults{}, run.Options{})
	w.Engine.LinkDown(0, errors.New("pulled"), w.Now)
	w.do("go")
	if v := w.Engine.View(w.Now); !strings.Contains(v.Problem, "MISSED /room/b i 1, /room/a i 2") {
		t.Errorf("the problem is %q", v.Problem)
	}
	w.Engine.LinkUp(0, w.Now)
	w.settle()
	w.sent()
	w.Mixers[0].Cut = errors.New("refused")
	w.do("jump 3")
	if v := w.Engine.View(w.Now); !strings.Contains(v.Problem, "MISSED /room/b i 4") {
		t.Errorf("the problem is %q", v.Problem)
	}
	w.Mixers[0].Cut = nil
	w.Run(3 * time.Second)
	w.settle()
	if v := w.Engine.View(w.Now); !strings.Contains(
		v.Problem,
		"resending everything except the extra messages of cues",
	) {
		t.Errorf("the problem is %q", v.Problem)
	}
	w.Run(15 * time.Second) // good news goes, and what was missed is still missed
	if v := w.Engine.View(w.Now); !strings.Contains(v.Problem, "MISSED /room/b i 4") {
		t.Errorf("the problem is %q", v.Problem)
	}
}

// A message that can never be sent is reported once, and the run goes on without it.
func TestUnsendable(t *testing.T) {
	w := begin(t, "[echo]\n", run.Options{})
	w.do("go")
	w.settle()
	now := w.Now
	w.Engine.Unsendable(0, osc.Message{Address: "/l/1"}, errors.New("too long"), now)
	w.Engine.Unsendable(0, osc.Message{Address: "/l/1"}, errors.New("too long"), now)
	if _, err := w.Do("jump 2"); err != nil {
		t.Fatal(err)
	}
	var sent, last []string
	for range 4000 {
		now = now.Add(time.Millisecond)
		w.Engine.Advance(now)
		for _, x := range w.Engine.Take(0, now) {
			m := x.OSC()
			sent, last = append(sent, m.Address), append(last, m.String())
			w.Engine.Heard(0, m, now.Add(time.Microsecond))
		}
	}
	if slices.Contains(sent, "/l/1") || !slices.Contains(sent, "/d/1") || !w.Engine.Settled() {
		t.Errorf("settled %t, sent %v", w.Engine.Settled(), sent)
	}
	if !slices.Contains(last, "/m/1 i 1") || slices.Contains(last, "/m/1 i 0") {
		t.Errorf("a channel without a level does not stay closed: %v", last)
	}
	problems := 0
	for _, e := range w.entries {
		if e.Kind == "problem" {
			problems++
		}
	}
	if problems != 1 ||
		w.Engine.View(now).Problem != "cannot send /l/1 to mixer: too long; channel 1 stays closed" {
		t.Errorf("%d problems, %s", problems, fmt.Sprint(w.Engine.View(now).Problem))
	}
}
