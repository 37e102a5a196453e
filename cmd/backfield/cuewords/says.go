// Package cuewords says in words what a cue is and changes, for the card of the designer's page.
package cuewords

import (
	"fmt"
	"strings"

	"backfield/cue/step"
	"backfield/layout/source"
)

// Says lists what a cue changes. Players with the same change share a line.
func Says(s *step.Step) []string {
	out := []string{}
	for _, g := range sharedLines(s.Channels) {
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
		out = append(out, "moves pan or delay of "+source.Count(float64(n), "open mic"))
	}
	switch n := len(s.Gliding()); {
	case n == 1:
		out = append(out, "then 1 open mic glides until the next cue")
	case n > 1:
		out = append(out, fmt.Sprintf("then %d open mics glide until the next cue", n))
	}
	return out
}

// sharedLine is one line about the players with the same change: the text before and after their names.
type sharedLine struct {
	before, after string
	names         []string
}

// sharedLines are the lines about single channels, in the order of each line's first channel.
func sharedLines(channels []step.ChannelStep) []sharedLine {
	var list []sharedLine
	for i := range channels {
		g := lineOf(&channels[i])
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

// lineOf is the line about one channel. It has no names if there is nothing to say.
func lineOf(c *step.ChannelStep) sharedLine {
	switch {
	case c.HandedOver() && c.From != 0: // the line about the switch says the level
		return sharedLine{"", "", []string{c.Handover()}}
	case c.HandedOver():
		return sharedLine{"", heard(c), []string{c.Handover()}}
	case c.Kind == step.HandsOver:
		return sharedLine{}
	case c.Kind == step.Opens && c.From == 0:
		return sharedLine{"opens ", heard(c), []string{c.Player()}}
	case c.Kind == step.Closes && c.To == 0:
		return sharedLine{"closes ", "", []string{c.Player()}}
	case c.Level:
		from, to := float64(c.Was.LevelDB), float64(c.Is.LevelDB)
		return sharedLine{"", fmt.Sprintf(": %.4g to %.4g dB, %s", from, to, c.Is.Role), []string{c.Player()}}
	case c.Role:
		return sharedLine{"", ": now " + c.Is.Role, []string{c.Player()}}
	}
	return sharedLine{}
}

// heard is the new role and level of a channel, to follow what happens. Handovers and switches say a level that
// changes.
func heard(c *step.ChannelStep) string {
	if c.Before.Open && c.NewLevel() {
		return ": " + c.Is.Role
	}
	return fmt.Sprintf(": %s, %.4g dB", c.Is.Role, float64(c.Is.LevelDB))
}
