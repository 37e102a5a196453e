package run

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"backfield/cue"
	"backfield/osc/journal"
	"backfield/osc/mixer"
)

// overrides is what the operator has changed in this run: hush, held channels, packs swapped for spares, and nudged
// levels. It has no clock and sends nothing.
type overrides struct {
	mixer  *mixer.Mixer
	shows  []bool // by channel: whether the show uses it, which means that every snapshot has it
	hush   bool
	holds  map[int]cue.Channel // by channel, frozen
	swaps  []journal.Swap
	nudges []journal.RunNudge
}

func newOverrides(p ShowSetup) overrides {
	o := overrides{mixer: p.Mixer, holds: map[int]cue.Channel{}}
	for i := range p.Show.Cues {
		for _, c := range p.Show.Cues[i].Channels {
			for len(o.shows) <= c.Channel {
				o.shows = append(o.shows, false)
			}
			o.shows[c.Channel] = true
		}
	}
	return o
}

// applyTo is a snapshot of the score with the overrides. closed closes every channel. before is the current target: a
// channel in it that is no longer a spare stays closed.
func (o *overrides) applyTo(s cue.Snapshot, closed bool, before []cue.Channel) cue.Snapshot {
	s.Channels = slices.Clone(s.Channels)
	for i := range s.Channels {
		c := &s.Channels[i]
		if closed || o.hush && c.Kind == cue.Worn {
			closeChannel(c)
		}
		if c.Open {
			c.LevelDB += cue.Level(o.nudgedDB(c.Player))
			c.LevelDB = min(c.LevelDB, cue.Level(o.mixer.CeilingDB(c.Channel)))
		}
	}
	for _, w := range o.swaps {
		if i := slices.IndexFunc(s.Channels, is(w.Channel)); i >= 0 {
			c := s.Channels[i]
			c.Channel = w.Spare
			c.LevelDB = min(c.LevelDB, cue.Level(o.mixer.CeilingDB(c.Channel)))
			closeChannel(&s.Channels[i])
			s.Channels = append(s.Channels, c)
		}
	}
	for i := range before {
		c := before[i]
		inPlace := i < len(s.Channels) && s.Channels[i].Channel == c.Channel // the usual case
		if inPlace || slices.ContainsFunc(s.Channels, is(c.Channel)) {
			continue
		}
		closeChannel(&c)
		s.Channels = append(s.Channels, c)
	}
	for i := range s.Channels {
		c := &s.Channels[i]
		if held, ok := o.holds[c.Channel]; ok && !(o.hush && c.Kind == cue.Worn) {
			held.Player = c.Player // the mic may have changed players
			*c = held
		}
	}
	return s
}

// is matches a channel by its number.
func is(channel int) func(cue.Channel) bool {
	return func(c cue.Channel) bool { return c.Channel == channel }
}

// closeChannel closes a channel of a snapshot.
func closeChannel(c *cue.Channel) { c.Open, c.Role, c.LevelDB = false, "", cue.Silent }

// hold freezes a channel.
func (o *overrides) hold(c cue.Channel) { o.holds[c.Channel] = c }

// release returns a channel to the cues, and reports whether it was held.
func (o *overrides) release(channel int) bool {
	_, held := o.holds[channel]
	delete(o.holds, channel)
	return held
}

// held reports whether a channel is held.
func (o *overrides) held(channel int) bool {
	_, held := o.holds[channel]
	return held
}

// heldChannels lists the held channels, ascending.
func (o *overrides) heldChannels() []int { return slices.Sorted(maps.Keys(o.holds)) }

// spare is the channel that stands in for a show's channel: the spare that it is swapped for, else itself.
func (o *overrides) spare(channel int) int {
	for _, s := range o.swaps {
		if s.Channel == channel {
			return s.Spare
		}
	}
	return channel
}

// swapOf is the index of the swap that a channel is part of, -1 if it is not swapped.
func (o *overrides) swapOf(channel int) int {
	return slices.IndexFunc(o.swaps, func(s journal.Swap) bool { return s.Channel == channel || s.Spare == channel })
}

// inUse reports whether the show uses a channel, as its own or as a spare.
func (o *overrides) inUse(channel int) bool {
	inShow := channel < len(o.shows) && o.shows[channel]
	return inShow || slices.ContainsFunc(o.swaps, func(s journal.Swap) bool { return s.Spare == channel })
}

// swap replaces a channel with a spare. at is the index of its swap so far, -1 if it has none. It returns the channel
// that was in use before.
func (o *overrides) swap(at, channel, spare int) (before int) {
	o.swaps = slices.Clone(o.swaps) // a saved state keeps the old list
	if at < 0 {
		o.swaps = append(o.swaps, journal.Swap{Channel: channel, Spare: spare})
		before = channel
	} else {
		before, o.swaps[at].Spare = o.swaps[at].Spare, spare
	}
	o.moveHold(before, spare)
	return before
}

// unswap undoes the swap at an index.
func (o *overrides) unswap(at int) journal.Swap {
	s := o.swaps[at]
	o.moveHold(s.Spare, s.Channel)
	o.swaps = slices.Delete(slices.Clone(o.swaps), at, at+1)
	return s
}

// moveHold moves a player's hold to another channel and replaces any hold there.
func (o *overrides) moveHold(from, to int) {
	c, held := o.holds[from]
	delete(o.holds, from)
	delete(o.holds, to)
	if held {
		c.Channel = to
		o.holds[to] = c
	}
}

// nudge adds a nudge.
func (o *overrides) nudge(n journal.RunNudge) { o.nudges = append(slices.Clone(o.nudges), n) }

// nudgedDB is the sum of a player's nudges in this run.
func (o *overrides) nudgedDB(name string) (dB float64) {
	for _, n := range o.nudges {
		if strings.EqualFold(n.Name, name) {
			dB += n.DB
		}
	}
	return dB
}

// overCeilingDB is how far an open channel's level in a step, with all nudges, is over its ceiling. The lower ceiling
// of the channel and its spare counts.
func (o *overrides) overCeilingDB(channel int, step *cue.Snapshot) float64 {
	i := slices.IndexFunc(step.Channels, func(c cue.Channel) bool { return c.Channel == channel && c.Open })
	if i < 0 {
		return 0
	}
	c := &step.Channels[i]
	ceiling := min(o.mixer.CeilingDB(channel), o.mixer.CeilingDB(o.spare(channel)))
	return float64(c.LevelDB) + o.nudgedDB(c.Player) - ceiling
}

// nudgeWords lists each nudged player with the total, in the order of their first nudges.
func (o *overrides) nudgeWords() (list []string) {
	var seen []string
	for _, n := range o.nudges {
		if !slices.Contains(seen, n.Name) {
			seen = append(seen, n.Name)
			list = append(list, fmt.Sprintf("%s %+g dB", n.Name, o.nudgedDB(n.Name)))
		}
	}
	return list
}

// save writes the overrides to a state.
func (o *overrides) save(s *journal.RunState) {
	s.Hush, s.Swaps, s.Nudges = o.hush, o.swaps, o.nudges
	for _, c := range o.holds {
		s.Holds = append(s.Holds, c)
	}
	slices.SortFunc(s.Holds, func(a, b cue.Channel) int { return cmp.Compare(a.Channel, b.Channel) })
}

// load reads the overrides from a state.
func (o *overrides) load(s journal.RunState) {
	o.hush, o.swaps, o.nudges = s.Hush, s.Swaps, s.Nudges
	for _, c := range s.Holds {
		o.holds[c.Channel] = c
	}
}
