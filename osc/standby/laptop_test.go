package standby_test

import (
	"strings"
	"testing"
	"time"

	"backfield/osc/journal"
	"backfield/osc/standby"
)

const beat = 100 * time.Millisecond

// pair is two laptops on a link without faults.
type pair struct {
	first, second *standby.Laptop
	now           time.Time
	skew          time.Duration // of the second's clock
	cut           bool
}

func newPair(o standby.LaptopOptions, skew time.Duration) *pair {
	p := &pair{now: start, skew: skew}
	p.second = standby.New(o, start.Add(skew))
	o.First, o.Automatic = true, 0
	p.first = standby.New(o, start)
	p.first.Linked(start)
	p.second.Linked(start.Add(skew))
	p.first.Record(journal.Entry{At: start, Kind: "start"})
	p.run(2 * beat)
	p.second.Entries()
	return p
}

func (p *pair) run(d time.Duration) {
	for end := p.now.Add(d); p.now.Before(end); p.now = p.now.Add(5 * time.Millisecond) {
		p.first.Advance(p.now)
		p.second.Advance(p.now.Add(p.skew))
		p.pass()
	}
}

func (p *pair) pass() {
	there, back := p.first.Take(p.now), p.second.Take(p.now.Add(p.skew))
	if p.cut {
		return
	}
	for _, l := range there {
		p.second.Receive(l, p.now.Add(p.skew))
	}
	for _, l := range back {
		p.first.Receive(l, p.now)
	}
}

func (p *pair) sends() (first, second bool) {
	return p.first.Sends(p.now), p.second.Sends(p.now.Add(p.skew))
}

func (p *pair) expect(t *testing.T, first, second bool) {
	t.Helper()
	if a, b := p.sends(); a != first || b != second {
		t.Errorf("laptop 1 sends: %t, laptop 2: %t; wanted %t and %t", a, b, first, second)
	}
}

// A state that the standby follows has its times on the standby's clock, and nothing of it lies ahead.
func TestFollowedStateIsOnTheStandbysClock(t *testing.T) {
	for _, skew := range []time.Duration{0, time.Minute, -time.Minute} {
		p := newPair(standby.LaptopOptions{}, skew)
		p.run(time.Second)
		pressed := p.now
		state := journal.RunState{
			Step: "q1", Clock: journal.PlayClock{ShowS: 10, At: pressed, Rate: 1, Running: true},
			Presses: []journal.Press{{PlannedS: 10, At: pressed}},
			Past:    []journal.Past{{Step: "q0", Clock: journal.PlayClock{At: pressed, Rate: 1}}},
		}
		p.first.Record(journal.Entry{At: pressed, Kind: "step", Step: "q1", State: &state})
		p.run(50 * time.Millisecond)
		s := p.second.State()
		for _, at := range []time.Time{s.Clock.At, s.Presses[0].At, s.Past[0].Clock.At} {
			if off := at.Sub(pressed.Add(skew)); off > 0 || off < -6*time.Millisecond {
				t.Errorf("clock off by %v: a time is off by %v", skew, off)
			}
		}
		list := p.second.Entries()
		if len(list) != 1 || list[0].Step != "q1" || list[0].At.After(p.now.Add(skew)) {
			t.Errorf("entries: %+v", list)
		}
	}
}

// A standby that was away for a while gets the entries that it has missed, each once; one whose journal is another gets
// the state.
func TestJournalIsCaughtUp(t *testing.T) {
	p := newPair(standby.LaptopOptions{}, 0)
	record := func(l *standby.Laptop, step string) {
		l.Record(journal.Entry{At: p.now, Kind: "step", Step: step, State: &journal.RunState{Step: step}})
	}
	steps := func() (text string) {
		for _, e := range p.second.Entries() {
			text += e.Step + ","
		}
		return text
	}
	record(p.first, "a")
	p.run(beat)
	p.cut = true
	record(p.first, "b")
	record(p.first, "c")
	p.run(beat)
	p.cut = false
	p.first.Cut(p.now)
	p.second.Cut(p.now)
	p.first.Linked(p.now)
	p.second.Linked(p.now)
	p.run(beat)
	record(p.first, "d")
	p.run(beat)
	if got := steps(); got != "a,b,c,d," {
		t.Errorf("it has %s", got)
	}
	p.second.Press(p.now)
	p.run(beat)
	record(p.second, "e")
	p.run(beat)
	if got := p.first.State().Step; got != "e" {
		t.Errorf("laptop 1 follows to %q", got)
	}
	other := standby.New(standby.LaptopOptions{}, p.now)
	other.Linked(p.now)
	other.Receive(standby.PairLine{Kind: standby.Have, Term: 1}, p.now)
	p.first, p.second = p.second, other
	p.first.Linked(p.now)
	p.run(beat)
	if got := p.second.State().Step; got != "e" {
		t.Errorf("a new standby follows to %q", got)
	}
}

// A standby that has got nothing yet would close every mic: it does not take over.
func TestNothingToTakeOver(t *testing.T) {
	l := standby.New(standby.LaptopOptions{}, start)
	l.Press(start)
	l.Press(start.Add(time.Second))
	if l.Sends(start.Add(time.Second)) || l.View(start).Ask == "" {
		t.Error("it takes over, or does not say why not")
	}
}

func TestTakeOverAndBack(t *testing.T) {
	p := newPair(standby.LaptopOptions{}, time.Minute)
	p.run(time.Second)
	p.expect(t, true, false)
	p.second.Press(p.now.Add(p.skew))
	p.run(20 * time.Millisecond)
	p.expect(t, false, true)
	p.first.Press(p.now)
	p.run(20 * time.Millisecond)
	p.expect(t, true, false)
	if v := p.first.View(p.now); v.Term != 3 {
		t.Errorf("term %d", v.Term)
	}
	p.first.Quit()
	p.run(20 * time.Millisecond)
	p.second.Press(p.now.Add(p.skew))
	p.expect(t, false, true)
}

// Where the link is cut and no mixer echoes, nothing happens by itself, and the key asks again; a press right after the
// first is the same press.
func TestNothingShowsThatTheOtherIsSilent(t *testing.T) {
	p := newPair(standby.LaptopOptions{Mixers: 1, Automatic: 2 * time.Second}, 0)
	p.run(time.Second)
	p.cut = true
	p.second.Cut(p.now)
	p.run(10 * time.Second)
	p.expect(t, true, false)
	p.second.Press(p.now)
	p.run(beat)
	p.second.Press(p.now)
	p.run(time.Second)
	p.expect(t, true, false)
	if p.second.View(p.now).Ask == "" {
		t.Error("it does not ask")
	}
	p.second.Press(p.now)
	p.expect(t, true, true)
	p.cut = false
	p.second.Linked(p.now)
	p.run(2 * beat)
	p.expect(t, false, true)
}

// A laptop that was stopped asks before it sends, and goes on where the other does not send.
func TestThawedLaptopAsks(t *testing.T) {
	p := newPair(standby.LaptopOptions{}, 0)
	p.run(time.Second)
	p.now = p.now.Add(3 * time.Second)
	if first, _ := p.sends(); first {
		t.Error("it sends at once after three seconds of nothing")
	}
	p.run(20 * time.Millisecond)
	p.expect(t, true, false)
	p.cut = true
	p.first.Cut(p.now)
	p.now = p.now.Add(3 * time.Second)
	p.run(time.Second)
	p.expect(t, false, false)
	p.cut = false
	p.first.Linked(p.now)
	p.second.Linked(p.now)
	p.run(20 * time.Millisecond)
	p.expect(t, true, false)
	p.first.Cut(p.now)
	p.now = p.now.Add(3 * time.Second)
	p.run(time.Second)
	p.expect(t, false, false)
	p.first.Press(p.now)
	p.expect(t, true, false)
}

// One value that is moved at the mixer makes laptop 1 pause for a moment; several at once stop it, but only while
// nothing on the link shows that laptop 2 stands by.
func TestAnotherWriterIsHeard(t *testing.T) {
	p := newPair(standby.LaptopOptions{Echo: true, Mixers: 1}, 0)
	p.run(time.Second)
	for _, address := range []string{"/a", "/b", "/c", "/d"} {
		p.first.Heard(0, address, false, p.now)
	}
	p.expect(t, true, false)
	p.cut = true
	p.run(time.Second)
	for range 5 {
		p.first.Heard(0, "/a", false, p.now)
	}
	p.expect(t, false, false)
	p.run(200 * time.Millisecond)
	p.expect(t, true, false)
	for _, address := range []string{"/a", "/b", "/c"} {
		p.first.Heard(0, address, false, p.now)
	}
	p.run(5 * time.Second)
	p.expect(t, false, false)
	if v := p.first.View(p.now); v.Mode != standby.Stopped || v.Ask == "" {
		t.Errorf("%+v", v)
	}
}

// A laptop that has stopped for another program, and hears it again after the key, says so. The next key is obeyed.
func TestKeyAgainstAnotherWriter(t *testing.T) {
	p := newPair(standby.LaptopOptions{Echo: true, Mixers: 1}, 0)
	p.cut = true
	p.run(time.Second)
	other := func() {
		for _, address := range []string{"/a", "/b", "/c"} {
			p.first.Heard(0, address, false, p.now)
		}
		p.first.OtherWriter(p.now)
	}
	other()
	p.expect(t, false, false)
	before := p.first.View(p.now).Ask
	p.run(time.Second)
	p.first.Press(p.now)
	p.expect(t, true, false)
	other()
	p.expect(t, false, false)
	const heard = "After the takeover, another program was heard still sending. Stop laptop 2 first"
	if ask := p.first.View(p.now).Ask; ask == before || ask != heard {
		t.Errorf("after the first key it says %q", ask)
	}
	p.first.Press(p.now) // the same press
	p.expect(t, false, false)
	p.run(time.Second)
	if ask := p.first.View(p.now).Ask; ask != heard {
		t.Errorf("a second later it says %q", ask)
	}
	p.first.Press(p.now)
	for range 3 {
		other()
		p.expect(t, true, false)
		p.run(time.Second)
	}
	p.run(11 * time.Second) // the other has stopped; what comes now is new
	other()
	p.expect(t, false, false)
	if ask := p.first.View(p.now).Ask; ask != before {
		t.Errorf("later it says %q", ask)
	}
}

// A standby that stood still itself does not take that for a silent laptop 1.
func TestFrozenStandbyDoesNotTakeOver(t *testing.T) {
	p := newPair(standby.LaptopOptions{Echo: true, Mixers: 1, Automatic: 2 * time.Second}, 0)
	p.first.Record(journal.Entry{At: p.now, Kind: "step", Step: "a", State: &journal.RunState{Step: "a"}})
	p.run(time.Second)
	p.now = p.now.Add(5 * time.Second)
	p.second.Advance(p.now)
	if v := p.second.View(p.now); v.Mode != standby.Watching {
		t.Errorf("it is %s", v.Mode)
	}
}

// A first laptop that the system stopped finds another one sending when it goes on. Its first line says why it is silent,
// until it sends again.
func TestThawedLaptopSaysWhyItIsSilent(t *testing.T) {
	p := newPair(standby.LaptopOptions{Echo: true, Mixers: 1}, 0)
	p.first.Record(journal.Entry{At: p.now, Kind: "step", State: &journal.RunState{Clock: journal.PlayClock{Rate: 1}}})
	p.run(beat)
	for end := p.now.Add(3 * time.Second); p.now.Before(end); p.now = p.now.Add(5 * time.Millisecond) { // the first is stopped
		p.second.Advance(p.now)
		if p.second.View(p.now).Mode == standby.Listening {
			p.second.Heard(0, "", false, p.now)
		}
		if p.second.View(p.now).HeardAgoS > 1 && p.second.View(p.now).Mode == standby.Watching {
			p.second.Press(p.now)
		}
	}
	p.run(5 * beat)
	p.expect(t, false, true)
	if got := p.first.View(p.now).Headline; got != "THIS LAPTOP FROZE for 3.0 s: laptop 2 sends now. Nothing to do here" {
		t.Errorf("%q", got)
	}
	p.first.Press(p.now)
	p.run(2 * beat)
	p.expect(t, true, false)
	p.second.Press(p.now)
	p.run(2 * beat)
	if got := p.first.View(p.now).Headline; !strings.HasPrefix(got, "STANDBY: this laptop sends nothing. Laptop 2 alive") {
		t.Errorf("after a takeover that it consented to: %q", got)
	}
}

// headline expects the first line of a laptop's screen.
func headline(t *testing.T, l *standby.Laptop, now time.Time, gone bool, want string) {
	t.Helper()
	if v := l.View(now); v.Gone != gone || !strings.HasPrefix(v.Headline, want) {
		t.Errorf("gone %t: %q, want %t: %q", v.Gone, v.Headline, gone, want)
	}
}

// The first line says what has happened to the other laptop, and what the key does; and nothing of it stays after a takeover.
func TestHeadlines(t *testing.T) {
	p := newPair(standby.LaptopOptions{}, 0)
	p.run(time.Second)
	headline(t, p.second, p.now, false, "STANDBY: this laptop sends nothing. Laptop 1 alive")
	p.cut = true
	p.first.Cut(p.now)
	p.second.Cut(p.now)
	p.run(3 * time.Second)
	headline(t, p.second, p.now, true, "LAPTOP 1 IS GONE for 3 s. This is laptop 2")
	p.second.Press(p.now)
	if v := p.second.View(p.now); v.Ask != "NOT TAKEN OVER: laptop 1 may still send. Switch it off" ||
		v.AskPress != "then takes over" || v.Press != "" {
		t.Errorf("%+v", v)
	}
	p.run(11 * time.Second)
	if v := p.second.View(p.now); v.Ask != "" || v.Press != "takes over" {
		t.Errorf("a question that no longer holds is still there: %+v", v)
	}
	p.second.Press(p.now)
	p.run(time.Second)
	p.second.Press(p.now)
	p.expect(t, true, true)
	if v := p.second.View(p.now); v.Ask != "" || v.Gone || !v.Alone {
		t.Errorf("after the takeover: %+v", v)
	}
	headline(t, p.second, p.now, false, "THIS LAPTOP SENDS NOW: laptop 1 is silent for 1")
	headline(t, p.first, p.now, false, "NO STANDBY: laptop 2 is silent for 1")
	p.second.Acknowledge()
	if v := p.second.View(p.now); v.Alone {
		t.Error("it is still alone after the operator has acknowledged that")
	}
	p.cut = false
	p.first.Linked(p.now)
	p.second.Linked(p.now)
	p.run(2 * beat)
	headline(t, p.first, p.now, false, "THE LINK WAS CUT: laptop 2 took over and sends. Nothing to do here")
	headline(t, p.second, p.now, false, "This laptop sends; laptop 1 stands by")
	if v := p.first.View(p.now); !v.Yielded || v.Gone {
		t.Errorf("a laptop that was taken over from: %+v", v)
	}
	p.cut = true // what was acknowledged was another silence
	p.first.Cut(p.now)
	p.second.Cut(p.now)
	p.run(time.Second)
	if v := p.second.View(p.now); !v.Alone {
		t.Errorf("a link that was cut again: %+v", v)
	}
}
