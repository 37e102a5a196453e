package run

import (
	"fmt"
	"time"

	"backfield/osc/hold"
	"backfield/osc/journal"
	"backfield/osc/override"
)

// onlyAgain is how soon the same command must come again to count as a yes.
const onlyAgain = 2 * time.Second

// doAfterOnly ends only, which opens one mic until the next command, and carries out a command. A refused command
// changes nothing, and quit leaves the mixers as they are.
func (e *Engine) doAfterOnly(c Command, now time.Time) (string, error) {
	only := e.overrides.Only
	if only == nil || c.Verb == Only || c.Verb == Status || c.Verb == Quit {
		return e.do(c, now)
	}
	e.endOnly(now)
	said, err := e.do(c, now)
	if err != nil {
		e.overrides.Only = only
		e.apply(now)
		return said, err
	}
	return said + "; no longer only " + e.who(e.overrides.Spare(only.Channel)), nil
}

func (e *Engine) endOnly(now time.Time) {
	e.overrides.Only = nil
	e.apply(now)
}

// only opens one mic and closes every other channel of the show. While a cue plays, that must be meant.
func (e *Engine) only(c Command, now time.Time) (string, error) {
	channel, err := e.lookup(c.Name)
	if err != nil {
		return "", err
	}
	alone := override.Alone(e.route.Cues, max(e.step, 0), e.overrides.Own(channel))
	if alone == nil {
		return "", fmt.Errorf("%s is never open in this show, so there is no level to open it at", e.who(channel))
	}
	again := c.Name == e.onlyName && now.Sub(e.onlyAt) <= onlyAgain
	e.onlyName, e.onlyAt = c.Name, now
	if plays := e.step >= 0 && !e.overrides.Hush && e.overrides.Only == nil; plays && !c.Sure && !again {
		c.Sure = true
		return "", fmt.Errorf("a cue is playing, and this would close every other mic. "+
			"If you mean it, type it again within %.0f s, or type: %s", onlyAgain.Seconds(), c)
	}
	e.overrides.Only = alone
	for _, x := range e.target.Channels {
		e.endManual(x.Channel) // one that was opened or muted at the mixer must follow too
	}
	e.aim(now, hold.Entering{Cut: true})
	for _, f := range e.feeds {
		f.Interrupt(now)
	}
	return fmt.Sprintf("only %s opens, until the next command", e.who(e.overrides.Spare(alone.Channel))), nil
}

// loadOnly opens again what was open alone in a state.
func (e *Engine) loadOnly(s journal.RunState) {
	if s.Only != 0 {
		e.overrides.Only = override.Alone(e.route.Cues, max(e.step, 0), s.Only)
	}
}
