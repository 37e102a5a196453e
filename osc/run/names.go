package run

import (
	"fmt"
	"slices"

	"backfield/cue"
)

// lookup returns the mixer channel for a name or number, as it is in the current step.
func (e *Engine) lookup(name string) (channel int, err error) {
	return e.route.Channel(name, e.step, e.target.Channels)
}

// who names a channel for messages.
func (e *Engine) who(channel int) string {
	for _, c := range e.target.Channels {
		if c.Channel == channel && c.Player != "" {
			return fmt.Sprintf("%s (channel %d)", c.Player, channel)
		}
	}
	return fmt.Sprintf("channel %d", channel)
}

// whoAll names several channels.
func (e *Engine) whoAll(channels []int) (names []string) {
	for _, channel := range channels {
		names = append(names, e.who(channel))
	}
	return names
}

// playerOn is the player on a channel now, empty for none.
func (e *Engine) playerOn(channel int) string {
	if i := slices.IndexFunc(e.target.Channels, is(channel)); i >= 0 {
		return e.target.Channels[i].Player
	}
	return ""
}

// is matches a channel by its number.
func is(channel int) func(cue.Channel) bool {
	return func(c cue.Channel) bool { return c.Channel == channel }
}
