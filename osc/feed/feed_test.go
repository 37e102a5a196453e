package feed

import (
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"backfield/cue"
	"backfield/layout/source"
	"backfield/osc"
	"backfield/osc/hold"
	"backfield/osc/mixer"
)

const file = `to = "127.0.0.1:9000"
rate = 1000
channels = 8
pan_law = "linear"
[mute]
address = "/m/{channel}"
type = "i"
scale = { on = 1, off = 0 }
[level]
address = "/l/{channel}"
type = "f"
off = -120
[delay]
address = "/d/{channel}"
type = "f"
unit = "ms"
max = 100
`

// rig is a feed, its table, and what it has reported.
type rig struct {
	*Feed
	table    *hold.TargetTable
	now      time.Time
	problems []string
	manual   []string
	journal  []string
	answers  bool // the mixer has a query
}

func newRig(t *testing.T, text string, channels ...cue.Channel) *rig {
	t.Helper()
	var p source.Problems
	mixer := mixer.Read(&source.File{Name: "mixer.toml", Text: text}, &p)
	if p.Errors() > 0 {
		source.Print(os.Stderr, p.All())
		t.Fatal("the mixer file has errors")
	}
	r := &rig{table: hold.New(mixer), now: time.Unix(1_700_000_000, 0)}
	problem := func(text string, _ time.Time) { r.problems = append(r.problems, text) }
	r.Feed = New(r.table, "main", Reports{
		Problem: problem, Silent: problem, News: problem, Restart: problem,
		Manual: func(channel int, what string, _ time.Time) {
			r.manual = append(r.manual, fmt.Sprintf("%d: %s", channel, what))
		},
		Sent: func(list []string, _ time.Time) { r.journal = append(r.journal, list...) },
	})
	r.set(channels...)
	return r
}

// set has the mixer brought to some channels.
func (r *rig) set(channels ...cue.Channel) {
	n := 0
	r.table.Mixer.Each(&cue.Snapshot{Channels: channels}, func(place mixer.Control, arg osc.Arg) {
		r.table.Set(r.table.Row(place, n), arg, nil)
		n++
	})
	for _, c := range channels {
		r.table.SetOpen(c.Channel, c.Open)
	}
	r.MarkAll()
}

// play lets time pass, and returns what is sent. With an echo the mixer has what it was sent, and says so;
// when it is asked, too, if it answers.
func (r *rig) play(d time.Duration, echo bool) (sent []string) {
	for end := r.now.Add(d); r.now.Before(end); r.now = r.now.Add(time.Millisecond) {
		r.Advance(r.now)
		list := slices.Clone(r.Take(r.now))
		if len(list) == 0 {
			continue
		}
		r.Sent(r.now)
		for _, m := range list {
			sent = append(sent, m.OSC().String())
			asked := ""
			if r.answers {
				asked, _ = r.table.Mixer.Query.Match(m.OSC())
			}
			switch i, known := r.table.Find(asked); {
			case echo && m.Row >= 0:
				r.Heard(m.OSC(), r.now)
			case echo && known:
				r.says(asked, r.slots[i].Sent)
			}
		}
	}
	return sent
}

func horn(n int, levelDB, delayMS float64) cue.Channel {
	return cue.Channel{Channel: n, Open: true, LevelDB: cue.Level(levelDB), DelayMS: delayMS}
}

func closed(n int, delayMS float64) cue.Channel {
	return cue.Channel{Channel: n, LevelDB: cue.Silent, DelayMS: delayMS}
}

// A mixer of which nothing is known is sent everything closed before any mic opens. Then what closes goes first, what
// moves next, and what opens last.
func TestOrder(t *testing.T) {
	r := newRig(t, "repeat = false\n"+file, horn(1, -3, 10), closed(2, 20))
	r.LinkUp(r.now)
	got := strings.Join(r.play(time.Second, false), ", ")
	want := "/m/1 i 1, /m/2 i 1, /l/1 f -120, /l/2 f -120, /d/1 f 10, /d/2 f 20, /m/1 i 0, /l/1 f -3"
	if got != want || !r.Settled() {
		t.Errorf("%s, want %s", got, want)
	}
	r.set(closed(1, 11), horn(2, 0, 21))
	got = strings.Join(r.play(time.Second, false), ", ")
	want = "/m/1 i 1, /l/1 f -120, /d/1 f 11, /d/2 f 21, /m/2 i 0, /l/2 f 0"
	if got != want {
		t.Errorf("%s, want %s", got, want)
	}
	if len(r.journal) != 14 || len(r.problems) > 0 {
		t.Errorf("the journal has %v, the problems are %v", r.journal, r.problems)
	}
}

// What is not confirmed is sent again until it is, and nothing is settled before.
func TestRepeats(t *testing.T) {
	r := newRig(t, file+"[echo]\n", horn(1, -3, 10))
	r.LinkUp(r.now)
	if r.play(time.Second, false); r.Settled() || r.Status().Unconfirmed != 3 {
		t.Errorf("settled without an echo: %+v", r.Status())
	}
	if sent := r.play(time.Second, false); !slices.Contains(sent, "/l/1 f -3") {
		t.Errorf("the level is not sent again: %v", sent)
	}
	if r.play(time.Second, true); !r.Settled() {
		t.Errorf("not settled: %+v", r.Status())
	}
}

// What differs at a mixer that cannot be asked was moved there. That parameter is left alone, and it alone, until its
// channel is released.
func TestManual(t *testing.T) {
	r := newRig(t, file+"[echo]\n", horn(1, -3, 10), horn(2, -3, 10))
	r.LinkUp(r.now)
	r.play(3*time.Second, true)
	r.Heard(osc.Message{Address: "/l/1", Args: []osc.Arg{osc.Float32(-20)}}, r.now)
	r.Heard(osc.Message{Address: "/l/1", Args: []osc.Arg{osc.Float32(-21)}}, r.now)
	r.play(time.Second, true)
	if want := "1: level -21.0 dB (show -3.0 dB)"; len(r.manual) != 1 || r.manual[0] != want {
		t.Errorf("reported: %q, want once %q", r.manual, want)
	}
	r.set(horn(1, -9, 12), horn(2, -9, 12))
	sent := strings.Join(r.play(time.Second, true), ", ")
	if strings.Contains(sent, "/l/1 ") || !strings.Contains(sent, "/d/1 f 12") ||
		!strings.Contains(sent, "/l/2 f -9") || !r.Settled() {
		t.Errorf("with the level of channel 1 manual: %s", sent)
	}
	if !slices.Equal(r.Manual(), []int{1}) || !r.Release(1) || r.Release(1) || r.Release(2) {
		t.Error("channel 1, and it alone, can be released once")
	}
	r.MarkAll()
	if sent = strings.Join(r.play(time.Second, true), ", "); !strings.Contains(sent, "/l/1 f -9") {
		t.Errorf("after release: %s", sent)
	}
}

// A mixer that answers, and then answers nothing, is reported once, and again when it is back.
func TestNoReply(t *testing.T) {
	r := newRig(t, file+"[echo]\n", horn(1, -3, 10))
	r.LinkUp(r.now)
	r.play(time.Second, true)
	r.play(10*time.Second, false)
	if len(r.problems) != 1 || !strings.Contains(r.problems[0], "NO REPLY from") || r.Settled() {
		t.Errorf("%q", r.problems)
	}
	if r.play(time.Second, true); len(r.problems) != 2 || r.problems[1] != "main replies again and may have been off: resending everything" {
		t.Errorf("%q", r.problems)
	}
}

// A link that fails is tried, and everything is sent again once it has held for a while. An extra message is lost with
// it, which is said; one that a mixer off the network misses, too.
func TestLinkDown(t *testing.T) {
	r := newRig(t, file, horn(1, -3, 10))
	extra := []osc.Message{{Address: "/fx", Args: []osc.Arg{osc.Int32(1)}}}
	r.SendOnce(extra, r.now)
	r.LinkUp(r.now)
	r.play(time.Second, false)
	r.SendOnce(extra, r.now)
	list := slices.Clone(r.Take(r.now))
	if len(list) != 1 || list[0].OSC().String() != "/fx i 1" {
		t.Fatalf("the extra message is not next: %v", list)
	}
	r.SendFailed(list, errors.New("main is down"), r.now)
	if r.Reached() {
		t.Error("a link that has failed is up")
	}
	sent := strings.Join(r.play(3*time.Second, false), ", ")
	if !r.Reached() || !strings.Contains(sent, "/d/1 f 10") || strings.Contains(sent, "/fx") {
		t.Errorf("after the failure: %s", sent)
	}
	want := []string{
		"main MISSED /fx i 1, which is not sent again: set it at the mixer, or jump to the cue",
		"main is down",
		"main MISSED /fx i 1, which is not sent again: set it at the mixer, or jump to the cue",
		"main is back: resending everything except the extra messages of cues",
	}
	if !slices.Equal(r.problems, want) {
		t.Errorf("%q\nwant\n%q", r.problems, want)
	}
}

// Another program checks each value in the same moment as this run, so each other value is followed at once by the run's
// own. No doubt lasts, and yet the two fight: when it goes on, the run says so and stops.
func TestInStep(t *testing.T) {
	r := newRig(t, file+"[echo]\n", horn(1, -3, 10), horn(2, -3, 10), horn(3, -3, 10))
	r.LinkUp(r.now)
	r.play(5*time.Second, true)
	own := map[string]osc.Arg{}
	for i := range r.slots {
		own[r.table.Address(i)] = r.slots[i].Sent
	}
	for range 10 {
		for n := 1; n <= 3; n++ {
			for address, other := range map[string]osc.Arg{"/m/": osc.Int32(1), "/l/": osc.Float32(-30), "/d/": osc.Float32(40)} {
				address += fmt.Sprint(n)
				r.Heard(osc.Message{Address: address, Args: []osc.Arg{other}}, r.now)
				r.Heard(osc.Message{Address: address, Args: []osc.Arg{own[address]}}, r.now)
			}
			r.play(300*time.Millisecond, true)
		}
	}
	if !r.Contested() || len(r.manual) > 0 {
		t.Errorf("contested: %v, manual: %v, reported: %q", r.Contested(), r.manual, r.problems)
	}
	if sent := r.play(time.Second, false); len(sent) > 0 {
		t.Errorf("it goes on: %v", sent)
	}
}

// A late echo of the run's own value clears a doubt here and there. That is nobody's fight.
func TestFewCross(t *testing.T) {
	r := newRig(t, file+"[echo]\n", horn(1, -3, 10), horn(2, -3, 10), horn(3, -3, 10))
	r.LinkUp(r.now)
	r.play(5*time.Second, true)
	for n := range 30 {
		delay := fmt.Sprintf("/d/%d", 1+n%3)
		r.Heard(osc.Message{Address: delay, Args: []osc.Arg{osc.Float32(40)}}, r.now)
		r.Heard(osc.Message{Address: delay, Args: []osc.Arg{osc.Float32(10)}}, r.now)
		r.play(300*time.Millisecond, true)
	}
	if r.Contested() || len(r.manual)+len(r.problems) > 0 {
		t.Errorf("contested: %v, manual: %v, reported: %q", r.Contested(), r.manual, r.problems)
	}
}
