package paper

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"backfield/cue/sheet"
)

// roleMics are the mics that share a role.
type roleMics struct{ Role, Who string }

// mics lists mics by role, in the order of the list. Three or more mics become "trumpet (all 4)" if they are all mics
// of a section, or all fixed mics of a kind. atS is the time, since packs change hands.
func (p *Papers) mics(list []sheet.ChannelMic, atS float64) []roleMics {
	var groups []roleMics
	for i, m := range list {
		if slices.ContainsFunc(list[:i], func(x sheet.ChannelMic) bool { return x.Role == m.Role }) {
			continue
		}
		var channels []int
		for _, x := range list {
			if x.Role == m.Role {
				channels = append(channels, x.Channel)
			}
		}
		groups = append(groups, roleMics{m.Role, p.who(channels, list, atS)})
	}
	return groups
}

// closing lists the mics that close, of any role.
func (p *Papers) closing(list []sheet.ChannelMic, atS float64) string {
	var channels []int
	for _, m := range list {
		channels = append(channels, m.Channel)
	}
	return p.who(channels, list, atS)
}

// who lists the mics that are on one of the channels.
func (p *Papers) who(channels []int, list []sheet.ChannelMic, atS float64) string {
	var words []string
	left := slices.Clone(channels)
	for _, g := range p.groups(atS) {
		if len(g.channels) < 3 || slices.ContainsFunc(g.channels,
			func(c int) bool { return !slices.Contains(left, c) }) {
			continue
		}
		words = append(words, fmt.Sprintf("%s (all %d)", g.name, len(g.channels)))
		left = slices.DeleteFunc(left, func(c int) bool { return slices.Contains(g.channels, c) })
	}
	for _, m := range list {
		if slices.Contains(left, m.Channel) {
			words = append(words, m.Player)
		}
	}
	return strings.Join(words, ", ")
}

// group is the channels of a section, or of a kind of fixed mic, at a time.
type group struct {
	name     string
	channels []int
}

func (p *Papers) groups(atS float64) []group {
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
	for _, w := range p.Wears {
		if w.Section != "" && w.FromS <= atS+1e-6 && atS+1e-6 < w.UntilS {
			add(w.Section, w.Channel)
		}
	}
	for _, m := range p.Show.Rig.Mics {
		add(m.Kind+" mics", m.Channel)
	}
	return list
}

// changes lists level changes, the same change only once: "Tpt 3, Tpt 4 down 9 dB, now support".
func (p *Papers) changes(list []sheet.LevelChange, atS float64) []string {
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
		step := fmt.Sprintf("%s %s dB", direction, number(math.Abs(c.LevelDB-c.WasDB)))
		if c.LevelDB == c.WasDB {
			step = "same level"
		}
		words = append(words, fmt.Sprintf("%s %s%s", p.who(channels, mics, atS), step, role))
	}
	return words
}
