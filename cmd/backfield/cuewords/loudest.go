package cuewords

import (
	"fmt"
	"slices"
	"strings"

	"backfield/cmd/backfield/picture"
	"backfield/cue"
	"backfield/cue/step"
)

// Loudest says who has the highest level, of the worn mics if one is open: "Tpt 3, solo, +0.5 dB".
func Loudest(c *cue.Snapshot) string {
	var most []*cue.Channel
	for i := range c.Channels {
		ch := &c.Channels[i]
		switch {
		case !ch.Open:
		case len(most) == 0, ch.Kind == cue.Worn && most[0].Kind == cue.Fixed,
			ch.Kind == most[0].Kind && ch.LevelDB > most[0].LevelDB:
			most = []*cue.Channel{ch}
		case ch.Kind == most[0].Kind && ch.LevelDB == most[0].LevelDB:
			most = append(most, ch)
		}
	}
	if len(most) == 0 {
		return "nobody: every mic is closed"
	}
	var names, roles []string
	for _, ch := range most {
		names = append(names, ch.Player)
		if !slices.Contains(roles, ch.Role) {
			roles = append(roles, ch.Role)
		}
	}
	who := fitting(names, c, twoLines-28)
	if most[0].Kind == cue.Fixed {
		return fmt.Sprintf("no worn mic is open; of the fixed: %s, %s dB", who, picture.LevelText(most[0].LevelDB))
	}
	return fmt.Sprintf("%s, %s, %s dB", who, strings.Join(roles, " and "), picture.LevelText(most[0].LevelDB))
}

// twoLines is how many characters a card has in two lines.
const twoLines = 78

// Short names players as a card has room for them.
func Short(names []string, c *cue.Snapshot) string { return fitting(names, c, twoLines) }

// fitting names players in so many characters: each; or a whole section as one, "all 8 Tpt"; or how many of each.
func fitting(names []string, c *cue.Snapshot, room int) string {
	if len(names) == 0 {
		return "nobody"
	}
	var mics []string
	for _, ch := range c.Channels {
		mics = append(mics, ch.Player)
	}
	text := strings.Join(step.Shorthand(names), ", ")
	if whole, counted := step.BySection(names, mics); len(text) > room {
		if text = whole; len(text) > room {
			text = counted
		}
	}
	return text
}
