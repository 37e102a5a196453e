package run_test

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"backfield/cue"
	"backfield/layout/source"
	"backfield/osc"
	"backfield/osc/mixer"
	"backfield/osc/run"
	"backfield/osc/run/simulate"
	"backfield/osc/virtual"
)

const (
	mutes  = "[mute]\naddress = \"/in/{channel}/mute\"\n"
	levels = "[level]\naddress = \"/in/{channel}/level\"\nscale = { table = [[-70, 0], [0, 0.8], [6, 1]] }\noff = 0\n"
	delays = "[delay]\naddress = \"/in/{channel}/delay\"\nmax = 500\n"
	scenes = "[store]\naddress = \"/store\"\nargs = [\"{slot}\"]\nslots = 9\n" +
		"[recall]\naddress = \"/recall\"\nargs = [\"{slot}\"]\n"
)

// plan is a show of the given number of channels: all are closed in the first cue, and open in the others, a dB up
// and a millisecond later in each.
func plan(t testing.TB, channels, cues int, mixerFile string) run.ShowSetup {
	t.Helper()
	var p source.Problems
	d := mixer.Read(&source.File{Name: "mixer.toml", Text: "to = \"127.0.0.1:9000\"\nchannels = 64\n" + mixerFile}, &p)
	if p.Errors() > 0 {
		t.Fatal(p.All())
	}
	s := &cue.Show{}
	for i := range cues {
		c := cue.Snapshot{ID: fmt.Sprint(i + 1), TimeS: float64(10 * i), FadeS: 2}
		for n := 1; n <= channels; n++ {
			ch := cue.Channel{
				Channel: n, Player: fmt.Sprint("Tpt ", n), Kind: cue.Worn, Open: i > 0, LevelDB: cue.Level(i - 20),
				DelayMS: float64(i + 1),
			}
			if !ch.Open {
				ch.LevelDB = cue.Silent
			}
			c.Channels = append(c.Channels, ch)
		}
		s.Cues = append(s.Cues, c)
	}
	return run.ShowSetup{Show: s, Mixer: d}
}

// taken lets time pass and takes all that a mixer is sent in it.
func taken(e *run.Engine, now *time.Time, d time.Duration) (out []osc.Message) {
	for end := now.Add(d); now.Before(end); *now = now.Add(500 * time.Microsecond) {
		e.Advance(*now)
		for _, t := range e.Take(0, *now) {
			out = append(out, t.OSC())
		}
	}
	return out
}

func do(t testing.TB, e *run.Engine, line string, now time.Time) {
	t.Helper()
	c, err := run.Parse(line)
	if err == nil {
		_, err = e.Do(c, now)
	}
	if err != nil {
		t.Fatal(line, err)
	}
}

// A mixer need not have every parameter: delays may be set by hand from the paper.
func TestMixersThatLackParameters(t *testing.T) {
	for _, file := range []string{mutes + levels, mutes + levels + delays} {
		p := plan(t, 3, 3, file)
		mixer := virtual.New(p.Mixer)
		w := simulate.New(run.New(p, run.Options{To: []string{"mixer"}}, start), start, virtual.Faults{}, 1, mixer)
		for range p.Show.Cues {
			w.Run(5 * time.Second)
			if _, err := w.Do("go"); err != nil {
				t.Fatal(err)
			}
		}
		if _, err := w.Settle(10 * time.Second); err != nil {
			t.Error(err)
		}
		w.Run(10 * time.Millisecond) // the last is under way
		held := map[string]osc.Arg{}
		for _, a := range mixer.State().Addresses {
			held[a.Address] = a.Value
		}
		for _, x := range p.Mixer.Settings(&p.Show.Cues[2]) {
			if held[x.Message.Address] != x.Message.Args[0] {
				t.Errorf(
					"%s is %v, wanted %v; the mixer has\n%s", x.Message.Address, held[x.Message.Address],
					x.Message.Args[0], file,
				)
			}
		}
	}
}

// A mixer comes back in an unknown state, and a go comes while everything is still being sent closed. No mic may open
// before its level and its delay are sent.
func TestGoWhileEverythingIsResent(t *testing.T) {
	p := plan(t, 32, 2, "repeat = false\n"+mutes+levels+delays)
	for ms := range 60 {
		now := start
		e := run.New(p, run.Options{To: []string{"mixer"}}, now)
		e.LinkUp(0, now)
		do(t, e, "go", now)
		taken(e, &now, time.Second)
		e.LinkDown(0, errors.New("pulled"), now)
		e.LinkUp(0, now)
		sent := taken(e, &now, time.Duration(ms)*time.Millisecond)
		do(t, e, "go", now)
		sent = append(sent, taken(e, &now, time.Second)...)
		known := map[string]bool{}
		for _, m := range sent {
			if channel, isMute := strings.CutSuffix(m.Address, "/mute"); isMute && m.Args[0] == osc.Int32(0) {
				if !known[channel+"/level"] || !known[channel+"/delay"] {
					t.Fatalf(
						"go %d ms after the mixer came back: %s opens before level (sent: %t) and delay (sent: %t)",
						ms, channel, known[channel+"/level"], known[channel+"/delay"],
					)
				}
			}
			known[m.Address] = true
		}
	}
}

// What a mixer must hear every so often does not pile up while the mixer is off, to be sent before all else once it is
// back; nor do recalls, which would have it go through every scene that was missed.
func TestNothingPilesUpForAMixerThatIsOff(t *testing.T) {
	keepalives := "[[keepalive]]\naddress = \"/one\"\nevery = \"100 ms\"\n" +
		"[[keepalive]]\naddress = \"/two\"\nevery = \"100 ms\"\n"
	p := plan(t, 2, 6, mutes+levels+keepalives+scenes)
	count := func(sent []osc.Message, address string) (n int) {
		for _, m := range sent {
			if m.Address == address {
				n++
			}
		}
		return n
	}
	t.Run("refused", func(t *testing.T) {
		now := start
		e := run.New(p, run.Options{To: []string{"mixer"}}, now)
		e.LinkUp(0, now)
		for ; now.Before(start.Add(10 * time.Minute)); now = now.Add(10 * time.Millisecond) {
			e.Advance(now)
			if ms := e.Take(0, now); len(ms) > 0 {
				e.SendFailed(0, ms, errors.New("port closed"), now)
			}
		}
		var sent []osc.Message
		for end := now.Add(800 * time.Millisecond); now.Before(end); now = now.Add(500 * time.Microsecond) {
			e.Advance(now)
			if ms := e.Take(0, now); len(ms) > 0 {
				for _, t := range ms {
					sent = append(sent, t.OSC())
				}
				e.Sent(0, now)
			}
		}
		if n := count(sent, "/one"); n < 5 || n > 15 {
			t.Errorf("in the first 0.8 s the mixer hears %d keepalives that it is owed every 100 ms", n)
		}
		if count(sent, "/in/1/mute") == 0 {
			t.Error("its mutes are not sent")
		}
	})
	t.Run("cut", func(t *testing.T) {
		now := start
		e := run.New(p, run.Options{To: []string{"mixer"}, Recall: true}, now)
		e.LinkUp(0, now)
		do(t, e, "go", now)
		taken(e, &now, 500*time.Millisecond)
		e.LinkDown(0, errors.New("pulled"), now)
		for range 4 {
			now = now.Add(time.Second)
			do(t, e, "go", now)
		}
		e.LinkUp(0, now)
		if sent := taken(e, &now, 500*time.Millisecond); count(sent, "/recall") > 1 || count(sent, "/in/1/level") == 0 {
			t.Errorf(
				"back after four cues it is sent %d recalls, and its level %d times", count(sent, "/recall"),
				count(sent, "/in/1/level"),
			)
		}
	})
}

// A mixer that was away may have forgotten who wants to hear of changes, so its keepalives come first.
func TestKeepalivesComeFirstWhenAMixerIsBack(t *testing.T) {
	p := plan(t, 2, 2, mutes+levels+"[[keepalive]]\naddress = \"/subscribe\"\nevery = \"10 min\"\n")
	now := start
	e := run.New(p, run.Options{To: []string{"mixer"}}, now)
	for range 2 {
		e.LinkUp(0, now)
		heard := false
		for _, m := range taken(e, &now, 500*time.Millisecond) {
			heard = heard || m.Address == "/subscribe"
		}
		if !heard {
			t.Error("it does not hear its keepalive")
		}
		e.LinkDown(0, errors.New("pulled"), now)
	}
}

// The same commands at the same times lead to the same messages in the same order.
func TestFadesAreSentInTheSameOrderAlways(t *testing.T) {
	p := plan(t, 32, 3, mutes+levels+delays)
	played := func() (text string) {
		now := start
		e := run.New(p, run.Options{To: []string{"mixer"}}, now)
		e.LinkUp(0, now)
		for range p.Show.Cues {
			do(t, e, "go", now)
			text += fmt.Sprintln(taken(e, &now, 3*time.Second))
		}
		return text
	}
	if first := played(); first != played() {
		t.Error("two runs differ in what is sent when")
	}
}

// A run that has nothing to say sleeps.
func TestNothingToRepeat(t *testing.T) {
	e := run.New(plan(t, 0, 2, mutes+levels), run.Options{To: []string{"mixer"}}, start)
	e.LinkUp(0, start)
	now := start.Add(time.Second)
	e.Take(0, now)
	e.Take(0, now)
	if at, _ := e.Next(now); !at.After(now) {
		t.Error("it wants to be called again at once, for nothing")
	}
}

// basin is a small device: it has room for some messages, and takes its time for each.
type basin struct {
	room        int
	each        time.Duration
	free        time.Time // when it will have worked through all that it holds
	taken, lost int
}

func (b *basin) arrive(at time.Time) {
	if b.free.Before(at) {
		b.free = at
	}
	if b.free.Sub(at) > time.Duration(b.room-1)*b.each {
		b.lost++
		return
	}
	b.free = b.free.Add(b.each)
	b.taken++
}

// At the default rate a device with room for 9 messages that takes 0.1 ms for each loses none of the 256 of a cue, also
// where the computer is late now and then, or stands still for a while: what is late is not caught up with.
func TestSmallBuffer(t *testing.T) {
	for _, c := range []struct {
		settings string
		loses    bool
	}{
		{"", false},
		{"rate = 5000\n", false},
		{"rate = 20000\n", true}, // faster than the device
		{"rate = 2147483647\n", true},
	} {
		p := plan(
			t, 64, 2, c.settings+"repeat = false\n"+mutes+levels+delays+"[pan]\naddress = \"/in/{channel}/pan\"\n",
		)
		for i := range p.Show.Cues {
			for n := range p.Show.Cues[i].Channels {
				p.Show.Cues[i].Channels[n].Pan = float64(i) / 2
			}
		}
		e := run.New(p, run.Options{To: []string{"mixer"}}, start)
		now := start.Add(time.Second)
		e.LinkUp(0, now)
		b := &basin{room: 9, each: 100 * time.Microsecond}
		r := rand.New(rand.NewPCG(1, 2))
		stalls := 0
		play := func(line string) {
			do(t, e, line, now)
			for end := now.Add(3 * time.Second); now.Before(end); {
				e.Advance(now)
				for range e.Take(0, now) {
					b.arrive(now)
				}
				e.Sent(0, now)
				at, _ := e.Next(now)
				if at.After(now) {
					now = at
				}
				now = now.Add(time.Duration(r.IntN(300_000)))
				if r.IntN(40) == 0 {
					stalls++
					now = now.Add(time.Duration(r.IntN(20_000_000)))
				}
			}
		}
		play("go")
		play("jump 2") // all of its values
		before := b.taken + b.lost
		play("jump 1")
		if n := b.taken + b.lost - before; n != 256 {
			t.Errorf("%q: a cue has %d messages", c.settings, n)
		}
		if b.lost > 0 != c.loses || !c.loses && stalls < 5 {
			t.Errorf("%q: %d messages are lost of %d", c.settings, b.lost, b.taken+b.lost)
		}
	}
}
