package standby_test

import (
	"strings"
	"testing"
	"time"

	"backfield/osc"
	"backfield/osc/standby"
	"backfield/osc/virtual"
)

// A laptop whose standby has died goes on, however late, doubled and mixed up the mixer's echoes come.
func TestLateAndDoubledEchoesStopNobody(t *testing.T) {
	for _, faults := range []virtual.Faults{
		{Reorder: 0.2, Duplicate: 0.2},
		{Delay: 110 * time.Millisecond, Duplicate: 0.02},
		{Delay: 150 * time.Millisecond, Jitter: 300 * time.Millisecond, Duplicate: 0.3},
	} {
		for seed := range uint64(8) {
			w := newWorld(t, seed, 0)
			if !w.echo || !w.d.Repeat {
				continue
			}
			first, second := w.both[0], w.both[1]
			first.out, first.back = virtual.NewFaultyLink(faults, seed), virtual.NewFaultyLink(faults, seed+100)
			w.run(2 * time.Second)
			second.dead = true
			w.cut(first, 0)
			for range 8 {
				w.goOn(first)
				w.run(1500 * time.Millisecond)
				if v := first.machine.View(first.clock(w.now)); v.Mode == standby.Stopped {
					for _, line := range w.log {
						t.Log(line)
					}
					t.Fatalf("faults %+v, seed %d: %s %s", faults, seed, v.Headline, v.Ask)
				}
			}
		}
	}
}

// A laptop that thaws just when the other has taken over, with the link cut, hears that the other sends the same values as
// it did before the freeze, and sends nothing.
func TestThawAtATakeover(t *testing.T) {
	played := 0
	for seed := range uint64(30) {
		for _, after := range []time.Duration{0, 50 * time.Millisecond, 150 * time.Millisecond, 400 * time.Millisecond} {
			w := newWorld(t, seed, 0)
			if !w.echo || w.doubles || w.late {
				continue
			}
			first, second := w.both[0], w.both[1]
			w.run(2 * time.Second)
			w.goOn(first)
			w.run(2200 * time.Millisecond)
			first.frozen, w.linkUp = true, false
			w.run(500 * time.Millisecond)
			second.machine.Press(second.clock(w.now))
			for range 400 {
				if second.machine.Sends(second.clock(w.now)) {
					break
				}
				w.run(5 * time.Millisecond)
			}
			w.run(after)
			w.thaw()
			w.run(4 * time.Second)
			if played++; w.twoMost > 60*time.Millisecond || w.sender() != second || !w.twoFrom.IsZero() {
				t.Errorf("seed %d, thawed %v after the takeover: both sent for %v\n%s", seed, after, w.twoMost,
					strings.Join(w.log, "\n"))
			}
		}
	}
	if played == 0 {
		t.Fatal("no mixer echoes")
	}
}

// A laptop that pauses, since it heard the other, when it learns that the other is silent sends everything again after
// the pause.
func TestRegainedWhilePausing(t *testing.T) {
	p := newPair(standby.LaptopOptions{Echo: true, Mixers: 1}, 0)
	p.cut = true
	p.run(time.Second)
	p.second.Press(p.now)
	p.run(2 * time.Second) // no mixer answers, and it asks
	p.second.Press(p.now)
	p.expect(t, true, true)
	p.second.Heard(0, "/a", false, p.now)
	p.cut = false
	p.run(120 * time.Millisecond)
	p.expect(t, false, false)
	if again, _ := p.second.Regained(); again {
		t.Error("told to send everything while it pauses")
	}
	p.run(100 * time.Millisecond)
	p.expect(t, false, true)
	if again, fought := p.second.Regained(); !again || !fought {
		t.Errorf("after the pause: again %t, fought %t", again, fought)
	}
	if again, _ := p.second.Regained(); again {
		t.Error("told twice")
	}
}

// What another program sets is heard, even right after this laptop's own value.
func TestAnothersValueIsNotOwn(t *testing.T) {
	ear := standby.NewEar(readMixer(t, talks[0].text), true)
	now := start
	value := func(v float32) osc.Message {
		return osc.Message{Address: "/l/1", Args: []osc.Arg{osc.Float32(v)}}
	}
	hear := func(v float32, foreign, own bool) {
		t.Helper()
		if f, o := ear.Heard(value(v), now); f != foreign || o != own {
			t.Errorf("%v after %v: foreign %t, own %t", v, now.Sub(start), f, o)
		}
	}
	ear.Sent(value(0.5), now)
	now = now.Add(100 * time.Millisecond)
	hear(0.5, false, true)
	now = now.Add(400 * time.Millisecond)
	hear(0.5, true, true)
	hear(0.25, true, false)
	now = now.Add(3 * time.Second)
	ear.Sent(osc.Message{Address: "/l/2", Args: []osc.Arg{osc.Float32(0)}}, now) // a laptop that sends is not frozen
	hear(0.5, true, false)
}
