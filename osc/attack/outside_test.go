package attack

import (
	"fmt"
	"maps"
	"testing"
	"time"

	"backfield/osc"
	"backfield/osc/feed"
	"backfield/osc/run"
)

// Channels outside the show, which someone opens and closes at the mixer, over a network that is late and loses a fifth of
// the packets each way. The run sends them nothing, except under hush: then none of them stays open, and unhush leaves
// each as it was.
func TestOutsideTheShow(t *testing.T) {
	seeds(t, 7, func(seed uint64) error {
		a := newArena(seed)
		a.sent = func([]feed.Outgoing) bool { return a.random.IntN(5) > 0 }
		a.delay = func() time.Duration {
			if a.random.IntN(5) == 0 {
				return time.Hour // lost
			}
			return time.Duration(a.random.IntN(int(seed%3)*300+1)) * time.Millisecond
		}
		if err := a.jump(0); err != nil {
			return err
		}
		for range 6 {
			if err := a.hushOnce(); err != nil {
				return err
			}
		}
		return nil
	})
}

// hushOnce has someone move the channels outside the show, and hushes and unhushes the run.
func (a *arena) hushOnce() error {
	for n := channels + 1; n <= 16; n++ {
		if a.random.IntN(2) == 0 {
			continue
		}
		for param, arg := range map[string]osc.Arg{
			"mute": osc.Int32(int32(a.random.IntN(2))), "level": osc.Float32(0.1 * float32(a.random.IntN(8))),
		} {
			replies, err := a.device.Move(a.now, fmt.Sprintf("/in/%d/%s", n, param), arg)
			if err != nil {
				return err
			}
			a.reply(replies)
		}
	}
	before := a.outside()
	// What was moved just before a hush is not known yet over such a network: a round of questions is lost in part.
	if err := a.play(time.Duration(10+a.random.IntN(10)) * time.Second); err != nil {
		return err
	}
	if now := a.outside(); !maps.Equal(now, before) {
		return fmt.Errorf("without a hush, channels outside the show become %v from %v", now, before)
	}
	if err := a.do("hush"); err != nil {
		return err
	}
	if err := a.pass(6 * time.Second); err != nil { // not play: the cue's mics are closed
		return err
	}
	for n := channels + 1; n <= 16; n++ {
		mute, _ := a.device.Value(fmt.Sprintf("/in/%d/mute", n))
		level, _ := a.device.Value(fmt.Sprintf("/in/%d/level", n))
		if level != osc.Float32(0) && mute == osc.Int32(0) {
			return fmt.Errorf("channel %d is open under hush\n%s", n, a.rows())
		}
	}
	if err := a.do("unhush"); err != nil {
		return err
	}
	if err := a.pass(6 * time.Second); err != nil {
		return err
	}
	if now := a.outside(); !maps.Equal(now, before) {
		return fmt.Errorf("after unhush, channels outside the show are %v, and were %v\n%s", now, before, a.rows())
	}
	return nil
}

// outside is what the mixer has on the channels outside the show.
func (a *arena) outside() map[string]osc.Arg {
	list := map[string]osc.Arg{}
	for n := channels + 1; n <= 16; n++ {
		for _, param := range []string{"mute", "level", "pan", "delay"} {
			address := fmt.Sprintf("/in/%d/%s", n, param)
			list[address], _ = a.device.Value(address)
		}
	}
	return list
}

func (a *arena) do(line string) error {
	c, err := run.Parse(line)
	if err == nil {
		_, err = a.engine.Do(c, a.now)
	}
	return err
}

// pass lets time pass, unchecked.
func (a *arena) pass(d time.Duration) error {
	for end := a.now.Add(d); a.now.Before(end); a.now = a.now.Add(tick) {
		a.exchange()
	}
	clear(a.bad)
	clear(a.lied)
	return nil
}
