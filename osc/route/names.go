package route

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"backfield/cue"
)

// Channel is the mixer channel for a name or number. A player's channel is the one worn in this step, else in the
// nearest later step, else in the nearest earlier one. target is what the mixers should hold.
func (r Route) Channel(name string, step int, target []cue.Channel) (channel int, err error) {
	cues, from := r.Cues, max(step, 0)
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
			if now := playerOn(target, channel); now != "" && !strings.EqualFold(now, name) {
				return 0, fmt.Errorf("%s has no mic now: channel %d is %s's", name, channel, now)
			}
			return channel, nil
		}
	}
	number := strings.TrimSpace(strings.TrimPrefix(strings.ToLower(name), "ch "))
	if n, err := strconv.Atoi(number); err == nil {
		if slices.ContainsFunc(target, is(n)) {
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

// Player is the name that a nudge belongs to, spelled as in the show: a player, or whoever is on a channel.
func (r Route) Player(name string, channel int, target []cue.Channel) string {
	for i := range r.Cues {
		for _, c := range r.Cues[i].Channels {
			if strings.EqualFold(c.Player, name) {
				return c.Player
			}
		}
	}
	if now := playerOn(target, channel); now != "" {
		return now
	}
	return name
}

// playerOn is the player on a channel, empty for none.
func playerOn(list []cue.Channel, channel int) string {
	if i := slices.IndexFunc(list, is(channel)); i >= 0 {
		return list[i].Player
	}
	return ""
}

// is matches a channel by its number.
func is(channel int) func(cue.Channel) bool {
	return func(c cue.Channel) bool { return c.Channel == channel }
}
