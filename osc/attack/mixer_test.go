package attack

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"
	"time"

	"backfield/osc"
	"backfield/osc/feed"
	"backfield/osc/glance"
	"backfield/osc/run"
	"backfield/osc/wire"
)

// A mixer whose replies take 0.2 to 1.7 s, each its own time, so that they come out of order.
func TestLateEchoes(t *testing.T) {
	seeds(t, 30, func(seed uint64) error {
		a := newArena(seed)
		a.delay = func() time.Duration {
			return 200*time.Millisecond + time.Duration(a.random.IntN(1500))*time.Millisecond
		}
		if err := a.cues(); err != nil {
			return err
		}
		return a.noneManual()
	})
}

// A mixer that cannot be asked, and whose echoes take 1.5 to 3.2 s. It is not taken to have restarted, nor to be set by
// another program.
func TestVeryLateEchoes(t *testing.T) {
	seeds(t, 30, func(seed uint64) error {
		a := newArenaWith(seed, mixerText)
		a.delay = func() time.Duration {
			return 1500*time.Millisecond + time.Duration(a.random.IntN(1700))*time.Millisecond
		}
		for range 15 {
			if err := a.jump(a.random.IntN(len(a.show.Cues))); err != nil {
				return err
			}
			a.pass(time.Duration(500+a.random.IntN(4000)) * time.Millisecond)
			if d := a.engine.View(a.now).Mixers[0]; d.Contested || d.Overwritten {
				return fmt.Errorf("at %v it is called %q", a.now.Sub(start), d)
			}
			if err := a.noneManual(); err != nil {
				return err
			}
		}
		return a.play(late + 2*time.Second)
	})
}

// A mixer that can be asked and echoes, and whose replies take up to 0.5 to 4 s, each its own time. It is slow, and not set
// by another program; nor has it restarted, and nobody moved anything.
func TestSlowReplies(t *testing.T) {
	seeds(t, 32, func(seed uint64) error {
		a := newArena(seed)
		most := 500*time.Millisecond + time.Duration(seed%8)*500*time.Millisecond
		least := most * time.Duration(a.random.IntN(10)) / 10
		a.delay = func() time.Duration { return least + time.Duration(a.random.Int64N(int64(most-least))) }
		for range 15 {
			if err := a.jump(a.random.IntN(len(a.show.Cues))); err != nil {
				return err
			}
			for range 5 + a.random.IntN(40) {
				a.pass(100 * time.Millisecond)
				if d := a.engine.View(a.now).Mixers[0]; d.Contested || d.Overwritten || d.Restarted || len(d.Manual) > 0 {
					return fmt.Errorf("with replies up to %v late, at %v it is called %q, and manual is %q", most, a.now.Sub(start), d, d.Manual)
				}
			}
		}
		if err := a.pass(20 * time.Second); err != nil {
			return err
		}
		slow := a.engine.View(a.now).Mixers[0].SlowS > 0
		if must := least > 1100*time.Millisecond; must && !slow || slow && most < 700*time.Millisecond {
			return fmt.Errorf("with replies %v to %v late, slow is %v", least, most, slow)
		}
		return a.play(late + most)
	})
}

// A mixer that now and then says of a value what it was some time ago, without being asked.
func TestStaleEchoes(t *testing.T) {
	seeds(t, 30, func(seed uint64) error {
		a := newArena(seed)
		a.each = a.stale(400)
		if err := a.cues(); err != nil {
			return err
		}
		return a.noneManual()
	})
}

// The same from a mixer that cannot be asked. What it says then counts as moved, but every cue closes what it closes.
func TestStaleEchoesUnasked(t *testing.T) {
	seeds(t, 30, func(seed uint64) error {
		a := newArenaWith(seed, mixerText)
		a.each = a.stale(100)
		return a.cues()
	})
}

// Late and stale echoes at once, over a network that loses a fifth of the packets each way. Something wrong may last for two
// checks: each value is asked for every 2 to 4 s, and a third of the questions get no answer.
func TestEverythingLate(t *testing.T) {
	seeds(t, 30, func(seed uint64) error {
		a := newArena(seed)
		a.late = 2 * late
		a.sent = func([]feed.Outgoing) bool { return a.random.IntN(5) > 0 }
		a.delay = func() time.Duration {
			if a.random.IntN(5) == 0 {
				return time.Hour // lost
			}
			return 200*time.Millisecond + time.Duration(a.random.IntN(1500))*time.Millisecond
		}
		a.each = a.stale(400)
		return a.cues()
	})
}

// stale has the mixer say an old value once in so many ticks.
func (a *arena) stale(ticks int) func() {
	return func() {
		if len(a.older) == 0 || a.random.IntN(ticks) != 0 {
			return
		}
		address := slices.Sorted(maps.Keys(a.older))[a.random.IntN(len(a.older))]
		a.toRun = append(a.toRun, flight{a.now, wire.Encode(a.older[address])})
		delete(a.older, address)
	}
}

// A mixer that says something wrong several times a second: other values, other types, other addresses, no number.
func TestLyingMixer(t *testing.T) {
	seeds(t, 30, func(seed uint64) error {
		a := newArena(seed)
		lies := []osc.Arg{osc.Float32(0), osc.Float32(0.5), osc.Int32(1), osc.Int32(0), osc.String("on"), osc.Bool(true),
			osc.Float64(-1e300), osc.Number('f', nan), osc.Int64(1 << 60)}
		a.each = func() {
			if a.random.IntN(40) != 0 {
				return
			}
			param := []string{"mute", "level", "pan", "delay", "none"}[a.random.IntN(5)]
			m := osc.Message{Address: fmt.Sprintf("/in/%d/%s", 1+a.random.IntN(20), param)}
			for range a.random.IntN(3) {
				m.Args = append(m.Args, lies[a.random.IntN(len(lies))])
			}
			a.toRun = append(a.toRun, flight{a.now, wire.Encode(m)})
		}
		return a.cues()
	})
}

// noneManual: nobody moved anything at the mixer.
func (a *arena) noneManual() error {
	if m := a.engine.View(a.now).Mixers[0].Manual; len(m) > 0 {
		return fmt.Errorf("manual, and nobody moved it: %v", m)
	}
	return nil
}

// Two programs send to one mixer, which can be asked or only echoes. The other one hears what the run does there, or it is
// deaf to it. The run may not fight: it says so, and the mutes stop flipping.
func TestTwoSenders(t *testing.T) {
	seeds(t, 100, func(seed uint64) error {
		a := newArena(seed)
		if seed%2 == 0 {
			a = newArenaWith(seed, mixerText)
		}
		flips, mutes := 0, map[string]osc.Arg{}
		a.device.Changed = func(m osc.Message) {
			if strings.HasSuffix(m.Address, "/mute") && mutes[m.Address] != m.Args[0] {
				mutes[m.Address] = m.Args[0]
				flips++
			}
		}
		other := run.New(run.ShowSetup{Show: a.show, Mixer: a.mixer}, run.Options{To: []string{"mixer"}}, a.now)
		other.LinkUp(0, a.now)
		hear := func(packet []byte) {
			list, _ := wire.Decode(packet)
			for _, m := range list {
				other.Heard(0, m, a.now)
			}
		}
		if seed/2%2 == 0 {
			a.others = hear
		}
		a.each = func() {
			other.Advance(a.now)
			out := other.Take(0, a.now)
			for _, o := range out {
				for _, r := range a.device.Handle(a.now, "other", wire.Encode(o.OSC())) {
					if r.To == "other" {
						hear(r.Packet)
					} else {
						a.hear(r.Packet)
					}
				}
			}
			if len(out) > 0 {
				other.Sent(0, a.now)
			}
		}
		if err := a.jump(0); err != nil {
			return err
		}
		elsewhere, err := run.Parse("jump " + a.show.Cues[len(a.show.Cues)-1].ID)
		if err != nil {
			return err
		}
		if _, err := other.Do(elsewhere, a.now); err != nil {
			return err
		}
		quiet := func() error { // only what the two do to each other is of interest
			for end := a.now.Add(20 * time.Second); a.now.Before(end); a.now = a.now.Add(tick) {
				a.each()
				a.exchange()
			}
			return nil
		}
		if err := quiet(); err != nil {
			return err
		}
		flips = 0
		if err := quiet(); err != nil {
			return err
		}
		if flips > 2*channels {
			return fmt.Errorf("in the second 20 s the mutes flip %d times", flips)
		}
		if !a.engine.Contested() && !other.Contested() {
			return fmt.Errorf("neither says that another program sends\n%s", a.rows())
		}
		return nil
	})
}

// A mixer that restarts whenever it likes, twice within a few seconds too, and loses packets. It is never taken for
// another program.
func TestRestartingMixer(t *testing.T) {
	seeds(t, 30, func(seed uint64) error {
		a := newArena(seed)
		a.device.WakeOpen = true
		a.sent = func([]feed.Outgoing) bool { return a.random.IntN(5) > 0 }
		next, soon := a.now.Add(20*time.Second), false
		a.each = func() {
			if a.now.After(next) {
				a.device.Reboot(a.now)
				clear(a.bad)
				clear(a.lied)
				next = a.now.Add(time.Duration(25+a.random.IntN(30)) * time.Second)
				if soon = !soon; soon {
					next = a.now.Add(time.Duration(3000+a.random.IntN(7000)) * time.Millisecond)
				}
			}
		}
		if err := a.cues(); err != nil {
			return err
		}
		if a.engine.Contested() {
			return fmt.Errorf("it is taken for another program\n%s", a.rows())
		}
		return nil
	})
}

// The show closes a mic whose fader somebody moved: the fader is theirs, the mute is the show's.
func TestMovedFaders(t *testing.T) {
	seeds(t, 30, func(seed uint64) error {
		a := newArena(seed)
		a.each = func() {
			if a.random.IntN(600) != 0 {
				return
			}
			address := fmt.Sprintf("/in/%d/level", 1+a.random.IntN(channels))
			replies, err := a.device.Move(a.now, address, osc.Float32(float32(a.random.IntN(10))/10))
			if err == nil {
				a.reply(replies)
			}
		}
		return a.cues()
	})
}

// Under hush, a mixer takes nothing on some channels, loses packets, or is off for a while. While a mic is open there, no
// screen says that all are closed. Where it can confirm, the screen says so in the end.
func TestHushAtABadMixer(t *testing.T) {
	seeds(t, 60, func(seed uint64) error {
		text := strings.Replace(mixerText, "[echo]\n", "", 1)
		text = []string{mixerText + query, mixerText, text + query, text}[seed%4]
		a := newArenaWith(seed, text)
		locked, dead := "", false
		a.sent = func(out []feed.Outgoing) bool {
			return !dead && a.random.IntN(5) > 0 && (locked == "" || !strings.HasPrefix(out[0].Address, locked))
		}
		says := func() bool { return strings.Contains(glance.Status(a.engine.View(a.now)), "all worn mics closed") }
		var lie error
		a.each = func() {
			for n := 1; n <= channels && lie == nil && a.now.UnixMilli()%50 == 0; n++ {
				mute, _ := a.device.Value(fmt.Sprintf("/in/%d/mute", n))
				level, _ := a.device.Value(fmt.Sprintf("/in/%d/level", n))
				if m, _ := mute.Number(); m == 0 && level != osc.Float32(0) && says() {
					lie = fmt.Errorf("at %v channel %d is open, and all are called closed", a.now.Sub(start), n)
				}
			}
		}
		for range 2 {
			if err := a.jump(a.random.IntN(len(a.show.Cues))); err != nil {
				return err
			}
			a.pass(8 * time.Second)
			locked, dead = fmt.Sprintf("/in/%d/", 1+a.random.IntN(channels)), a.random.IntN(2) == 0
			if err := a.do("hush"); err != nil {
				return err
			}
			wait := func(d time.Duration) {
				for end := a.now.Add(d); a.now.Before(end); a.now = a.now.Add(tick) {
					a.exchange()
					a.each()
				}
			}
			wait(time.Duration(a.random.IntN(5000)) * time.Millisecond)
			locked, dead = "", false
			wait(8 * time.Second)
			if confirms := a.mixer.CanConfirm(); lie != nil || says() != confirms {
				return fmt.Errorf("says that all are closed: %v, can confirm: %v, %v\n%s", says(), confirms, lie, glance.Status(a.engine.View(a.now)))
			}
			if err := a.do("unhush"); err != nil {
				return err
			}
		}
		return nil
	})
}
