package page

import (
	"fmt"
	"strings"

	"backfield/cue/step"
)

// says puts into words what a cue changes, those who do the same in one line.
func says(s *step.Step) []string {
	out := []string{}
	for _, g := range groups(s.Channels) {
		out = append(out, g.before+strings.Join(g.names, ", ")+g.after)
	}
	for _, c := range s.Switches() {
		out = append(out, c.Switch()+heard(c))
	}
	for _, x := range s.Settings() {
		out = append(out, x.String())
	}
	for _, m := range s.Messages() {
		out = append(out, "sends "+m+", once")
	}
	if n := len(s.Moved()); n > 0 {
		out = append(out, fmt.Sprintf("moves pan or delay of %d open", n))
	}
	return out
}

// group is a line about some who do the same: what is said before and after their names.
type group struct {
	before, after string
	names         []string
}

// groups are the lines about single channels, in the order of the channels that each is about first.
func groups(channels []step.ChannelChange) []group {
	var list []group
	for i := range channels {
		g := one(&channels[i])
		if g.names == nil {
			continue
		}
		at := 0
		for at < len(list) && (list[at].before != g.before || list[at].after != g.after) {
			at++
		}
		if at == len(list) {
			list = append(list, g)
		} else {
			list[at].names = append(list[at].names, g.names...)
		}
	}
	return list
}

// one is the line about one channel; it has no names where there is nothing to say.
func one(c *step.ChannelChange) group {
	switch {
	case c.Kind == step.HandsOver:
		return group{"", heard(c), []string{c.Handover()}}
	case c.Kind == step.Opens && c.From == 0:
		return group{"opens ", heard(c), []string{c.Player()}}
	case c.Kind == step.Closes && c.To == 0:
		return group{"closes ", "", []string{c.Player()}}
	case c.Level:
		from, to := float64(c.Was.LevelDB), float64(c.Is.LevelDB)
		return group{"", fmt.Sprintf(": %.4g to %.4g dB, %s", from, to, c.Is.Role), []string{c.Player()}}
	case c.Role:
		return group{"", ": now " + c.Is.Role, []string{c.Player()}}
	}
	return group{}
}

// heard is how a channel is heard from now on, to stand behind a name.
func heard(c *step.ChannelChange) string {
	return fmt.Sprintf(": %s, %.4g dB", c.Is.Role, float64(c.Is.LevelDB))
}
