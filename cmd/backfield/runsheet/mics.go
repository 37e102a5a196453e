package runsheet

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"backfield/cmd/backfield/picture"
	"backfield/cue"
	"backfield/cue/sheet"
)

// opening lists the mics that open, a line for each role, with its level: "all 4 trumpet (feature ±0)".
func (s *Source) opening(list []sheet.ChannelMic, atS float64) (lines []string) {
	for i, m := range list {
		if slices.ContainsFunc(list[:i], func(x sheet.ChannelMic) bool { return x.Role == m.Role }) {
			continue
		}
		var channels []int
		low, high := m.LevelDB, m.LevelDB
		for _, x := range list {
			if x.Role == m.Role {
				channels = append(channels, x.Channel)
				low, high = min(low, x.LevelDB), max(high, x.LevelDB)
			}
		}
		level := picture.LevelText(cue.Level(low))
		if high != low {
			level += " to " + picture.LevelText(cue.Level(high))
		}
		lines = append(lines, fmt.Sprintf("%s (%s %s)", s.who(channels, list, atS), m.Role, level))
	}
	return lines
}

// closing lists the mics that close, of any role.
func (s *Source) closing(list []sheet.ChannelMic, atS float64) string {
	var channels []int
	for _, m := range list {
		channels = append(channels, m.Channel)
	}
	return s.who(channels, list, atS)
}

// who lists the mics that are on one of the channels. Three or more become "all 4 trumpet" if they are all mics of a
// section, or all fixed mics of a kind. atS is the time, since packs change hands.
func (s *Source) who(channels []int, list []sheet.ChannelMic, atS float64) string {
	var words []string
	left := slices.Clone(channels)
	for _, g := range s.groups(atS) {
		if len(g.channels) < 3 || slices.ContainsFunc(g.channels,
			func(c int) bool { return !slices.Contains(left, c) }) {
			continue
		}
		words = append(words, fmt.Sprintf("all %d %s", len(g.channels), g.name))
		left = slices.DeleteFunc(left, func(c int) bool { return slices.Contains(g.channels, c) })
	}
	var rest []string
	for _, m := range list {
		if slices.Contains(left, m.Channel) {
			rest = append(rest, m.Player)
		}
	}
	if len(rest) > 0 {
		words = append(words, picture.List(rest))
	}
	return strings.Join(words, "; ")
}

// group is the channels of a section, or of a kind of fixed mic, at a time.
type group struct {
	name     string
	channels []int
}

func (s *Source) groups(atS float64) []group {
	var list []group
	add := func(name string, channel int) {
		for i := range list {
			if list[i].name == name {
				list[i].channels = append(list[i].channels, channel)
				return
			}
		}
		list = append(list, group{name, []int{channel}})
	}
	for _, w := range s.Wears {
		if w.Section != "" && w.FromS <= atS+1e-6 && atS+1e-6 < w.UntilS {
			add(w.Section, w.Channel)
		}
	}
	for _, m := range s.Show.Rig.Mics {
		add(m.Kind+" mics", m.Channel)
	}
	return list
}

// changes lists level changes, the same change only once: "Tpt 3, Tpt 4 down 9 dB, now support".
func (s *Source) changes(list []sheet.LevelChange, atS float64) []string {
	alike := func(a, b sheet.LevelChange) bool {
		return a.Role == b.Role && a.WasRole == b.WasRole && a.LevelDB-a.WasDB == b.LevelDB-b.WasDB
	}
	var words []string
	for i, c := range list {
		if slices.ContainsFunc(list[:i], func(x sheet.LevelChange) bool { return alike(x, c) }) {
			continue
		}
		var channels []int
		var mics []sheet.ChannelMic
		for _, x := range list {
			mics = append(mics, x.ChannelMic)
			if alike(x, c) {
				channels = append(channels, x.Channel)
			}
		}
		role := ""
		if c.Role != c.WasRole {
			role = ", now " + c.Role
		}
		direction := "up"
		if c.LevelDB < c.WasDB {
			direction = "down"
		}
		step := fmt.Sprintf("%s %s dB", direction, dB(math.Abs(c.LevelDB-c.WasDB)))
		if c.LevelDB == c.WasDB {
			step = "same level"
		}
		words = append(words, fmt.Sprintf("%s %s%s", s.who(channels, mics, atS), step, role))
	}
	return words
}
