package standby_test

import (
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
