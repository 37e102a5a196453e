package run

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"backfield/osc/hold"
	"backfield/osc/journal"
)

// Do carries out a command and returns the answer for the operator. After an error nothing has changed.
func (e *Engine) Do(c Command, now time.Time) (string, error) {
	e.Advance(now)
	e.cause = c.Verb
	said, err := e.doAfterOnly(c, now)
	e.cause = ""
	if c.Verb == Status {
		return said, err
	}
	entry := journal.Entry{At: now, Kind: "command", Command: c.String(), From: c.From, Text: said}
	if err != nil {
		entry.Text = err.Error()
	} else {
		state := e.State()
		entry.State = &state
		entry.Step, entry.Rate = e.route.ID(e.step), e.clock.Rate
		if c.From != "" {
			e.byOthers++
		}
	}
	e.record(entry)
	return said, err
}

func (e *Engine) do(c Command, now time.Time) (string, error) {
	switch c.Verb {
	case Go, Back:
		return e.press(c, now)
	case Jump:
		return e.jump(c.Name, now)
	case Start:
		return e.start(now), nil
	case Stop:
		e.clock, e.presses = e.clock.Stopped(now, journal.StoppedByStop), nil
		e.motion.Wake(now)
		return "show clock stopped: nothing is automatic until start", nil
	case Hush:
		return e.hush(now), nil
	case Unhush:
		return e.unhush(now), nil
	case Only:
		return e.only(c, now)
	case Hold:
		return e.hold(c.Name, now)
	case Release:
		return e.release(c.Name, now)
	case Ack:
		return e.acknowledge(c.Name)
	case Resend:
		return e.resend(now), nil
	case Swap:
		return e.swap(c.Name, c.Channel, now)
	case Nudge:
		return e.nudge(c.Name, c.DB, now)
	case Status:
		return "", fmt.Errorf("whoever drives the run answers that from its view")
	case TakeOver: // whoever drives two laptops takes it
		return "", fmt.Errorf("there is no other laptop to take over from; see backfield help standby")
	case Quit:
		e.motion.Wake(now)
		e.clock = e.clock.Stopped(now, journal.StoppedAtEnd) // a resumed run waits for the operator
		return "ended", nil
	}
	return "", fmt.Errorf("no command %q", c.Verb)
}

func (e *Engine) start(now time.Time) string {
	if e.clock.Running {
		return "the show clock is already running"
	}
	e.clock.At, e.clock.Running, e.clock.Why = now, true, ""
	e.motion.Wake(now)
	e.Advance(now)
	return "show clock running"
}

func (e *Engine) hold(name string, now time.Time) (string, error) {
	channel, err := e.lookup(name)
	if err != nil {
		return "", err
	}
	channel = e.overrides.Spare(channel)
	if !e.overrides.InUse(channel) {
		return "", fmt.Errorf("channel %d is no longer a spare and stays closed", channel)
	}
	if i := slices.IndexFunc(e.target.Channels, is(channel)); i >= 0 {
		e.overrides.Hold(e.frozen(e.target.Channels[i], now))
	}
	e.apply(now)
	return fmt.Sprintf("%s is held until you release it", e.who(channel)), nil
}

func (e *Engine) release(name string, now time.Time) (string, error) {
	channel, err := e.lookup(name)
	if err != nil && strings.EqualFold(name, "all") {
		return e.releaseAll(now)
	}
	if err != nil {
		return "", err
	}
	own := channel
	channel = e.overrides.Spare(channel)
	did := e.overrides.Release(channel)
	did = e.endManual(channel) || did
	did = e.endManual(own) || did // someone may have moved the dead pack's channel too
	if !did {
		others := ""
		if held := e.overrides.HeldChannels(); len(held) > 0 {
			others = "; held: " + strings.Join(e.whoAll(held), ", ")
		}
		return "", fmt.Errorf("%s is not held and not manual%s", e.who(channel), others)
	}
	e.apply(now)
	return fmt.Sprintf("%s follows the cues again", e.who(channel)), nil
}

// releaseAll returns every channel to the cues, for example after a mute group at the mixer has made many manual.
func (e *Engine) releaseAll(now time.Time) (string, error) {
	back := e.overrides.HeldChannels()
	for _, f := range e.feeds {
		back = append(back, f.Manual()...)
	}
	if len(back) == 0 {
		return "", fmt.Errorf("no channel is held or manual")
	}
	slices.Sort(back)
	back = slices.Compact(back)
	for _, channel := range back {
		e.overrides.Release(channel)
		e.endManual(channel)
	}
	e.apply(now)
	return "released: " + strings.Join(e.whoAll(back), ", "), nil
}

func (e *Engine) swap(name string, to int, now time.Time) (string, error) {
	channel, err := e.lookup(name)
	if err != nil {
		return "", err
	}
	at := e.overrides.SwapOf(channel)
	if to == 0 {
		return e.unswap(at, channel, now)
	}
	if at >= 0 {
		channel = e.overrides.Swaps[at].Channel
	}
	if err := e.swappable(channel, to); err != nil {
		return "", err
	}
	from := e.overrides.Swap(at, channel, to)
	e.endManualBoth(from, to)
	e.aim(now, hold.Entering{AtOnce: []int{from}})
	return fmt.Sprintf("%s is now on channel %d; channel %d is closed", e.who(channel), to, channel), nil
}

// swappable returns why a spare cannot replace a channel, nil if it can.
func (e *Engine) swappable(channel, spare int) error {
	taken := func(s journal.Swap) bool { return s.Spare == spare && s.Channel != channel }
	switch {
	case !e.overrides.InUse(channel):
		return fmt.Errorf("channel %d is no longer a spare: no player is on it", channel)
	case spare > e.setup.Mixer.Channels:
		return fmt.Errorf("the mixer has no channel %d; its channels are 1 to %d", spare, e.setup.Mixer.Channels)
	case slices.ContainsFunc(e.overrides.Swaps, taken):
		return fmt.Errorf("channel %d is already in use as a spare", spare)
	}
	channels := e.route.Cues[0].Channels
	if i := slices.IndexFunc(channels, is(spare)); i >= 0 {
		return fmt.Errorf("channel %d belongs to %s; pick one that the show does not use", spare, channels[i].Player)
	}
	return nil
}

// unswap undoes a channel's swap, given by its index, which is -1 if there is none.
func (e *Engine) unswap(at, channel int, now time.Time) (string, error) {
	if at < 0 {
		return "", fmt.Errorf("%s is not swapped", e.who(channel))
	}
	s := e.overrides.Unswap(at)
	e.endManualBoth(s.Spare, s.Channel)
	e.aim(now, hold.Entering{AtOnce: []int{s.Spare}})
	return fmt.Sprintf("%s is back on channel %d; channel %d is closed", e.who(s.Channel), s.Channel, s.Spare), nil
}

func (e *Engine) nudge(name string, dB float64, now time.Time) (string, error) {
	channel, err := e.lookup(name)
	if err != nil {
		return "", err
	}
	name = e.route.Player(name, channel, e.target.Channels)
	if dB == 0 {
		return "", fmt.Errorf("a nudge of 0 dB changes nothing")
	}
	room, ceiling := e.overrides.RoomDB(name, e.route.Cues, e.step)
	if dB > 0 && room <= 0 {
		return "", fmt.Errorf("%s is at the ceiling of %g dB already, no higher", name, ceiling)
	}
	asked := dB
	dB = min(dB, max(room, 0))
	e.overrides.Nudge(journal.RunNudge{Name: name, DB: dB, Step: e.route.ID(e.step)})
	e.apply(now)
	said := fmt.Sprintf("%s: %+g dB, %+g dB in total for this run", name, dB, e.overrides.NudgedDB(name))
	if dB < asked {
		said += fmt.Sprintf("; that is the ceiling of %g dB", ceiling)
	} else if room < dB {
		said += fmt.Sprintf("; %.4g dB of that is over the ceiling and is not sent", dB-room)
	}
	if e.overrides.Held(e.overrides.Spare(channel)) {
		said += "; held, so it takes effect once you release it"
	}
	return said, nil
}
