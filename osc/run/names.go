package run

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"backfield/cue"
)

// lookup returns the mixer channel for a name or number. A player's channel is the one worn in this step, else in the
// nearest later step, else in the nearest earlier one.
func (e *Engine) lookup(name string) (channel int, err error) {
	cues, from := e.route.Cues, max(e.step, 0)
	var names []string
	look := func(i int) bool {
		for _, c := range cues[i].Channels {
			if strings.EqualFold(c.Player, name) && name != "" {
				channel = c.Channel
				return true
			}
			if !slices.Contains(names, c.Player) {
				names = append(names, c.Player)
			}
		}
		return false
	}
	for i := from; i < len(cues); i++ {
		if look(i) {
			return channel, nil
		}
	}
	for i := from - 1; i >= 0; i-- {
		if look(i) {
			if now := e.playerOn(channel); now != "" && !strings.EqualFold(now, name) {
				return 0, fmt.Errorf("%s has no mic now: channel %d is %s's", name, channel, now)
			}
			return channel, nil
		}
	}
	number := strings.TrimSpace(strings.TrimPrefix(strings.ToLower(name), "ch "))
	if n, err := strconv.Atoi(number); err == nil {
		if slices.ContainsFunc(e.target.Channels, is(n)) {
			return n, nil
		}
		return 0, fmt.Errorf("the show does not use channel %d", n)
	}
	for _, n := range names { // "tpt3" is Tpt 3; a name that is merely near is another player's
		if n != "" && strings.EqualFold(strings.ReplaceAll(n, " ", ""), strings.ReplaceAll(name, " ", "")) {
			return 0, fmt.Errorf("no mic is called %q; did you mean %q?", name, n)
		}
	}
	return 0, fmt.Errorf("%q has no mic in this show; type a name from the run sheet, or a channel number", name)
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

// player is the name that a nudge belongs to, spelled as in the show: a player, or whoever is on a channel.
func (e *Engine) player(name string, channel int) string {
	for i := range e.route.Cues {
		for _, c := range e.route.Cues[i].Channels {
			if strings.EqualFold(c.Player, name) {
				return c.Player
			}
		}
	}
	if i := slices.IndexFunc(e.target.Channels, is(channel)); i >= 0 {
		return e.target.Channels[i].Player
	}
	return name
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
