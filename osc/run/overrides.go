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

// overrides is what the operator has changed over the score: hush, held channels, packs swapped for spares, and nudged
// levels. It knows no time and sends nothing.
type overrides struct {
	mixer  *mixer.Mixer
	shows  []bool // by channel: whether it is one of the show's, and so of every snapshot
	hush   bool
	holds  map[int]cue.Channel // as they are held
	swaps  []journal.Swap
	nudges []journal.RunNudge
}

func newOverrides(p Setup) overrides {
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

// over is what the mixers should hold in place of a snapshot of the score. closed closes every channel of it. before is
// what they should hold now: a channel that was a spare there and is none any more stays closed.
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
		inPlace := i < len(s.Channels) && s.Channels[i].Channel == c.Channel // as mostly
		if inPlace || slices.ContainsFunc(s.Channels, is(c.Channel)) {
			continue
		}
		closeChannel(&c)
		s.Channels = append(s.Channels, c)
	}
	for i := range s.Channels {
		c := &s.Channels[i]
		if held, ok := o.holds[c.Channel]; ok && !(o.hush && c.Kind == cue.Worn) {
			held.Player = c.Player // who wears it by now
			*c = held
		}
	}
	return s
}

// is finds the channel of a number.
func is(channel int) func(cue.Channel) bool {
	return func(c cue.Channel) bool { return c.Channel == channel }
}

// shut closes a channel.
func closeChannel(c *cue.Channel) { c.Open, c.Role, c.LevelDB = false, "", cue.Silent }

// hold keeps a channel as it is.
func (o *overrides) hold(c cue.Channel) { o.holds[c.Channel] = c }

// release gives a channel back to the cues, and reports whether it was held.
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

// heldChannels lists the channels that are held, ascending.
func (o *overrides) heldChannels() []int { return slices.Sorted(maps.Keys(o.holds)) }

// spare is the channel on which a show's channel comes in: its own, or the spare that it is swapped for.
func (o *overrides) spare(channel int) int {
	for _, s := range o.swaps {
		if s.Channel == channel {
			return s.Spare
		}
	}
	return channel
}

// swapOf is the index of the swap that a channel is part of, -1 for none.
func (o *overrides) swapOf(channel int) int {
	return slices.IndexFunc(o.swaps, func(s journal.Swap) bool { return s.Channel == channel || s.Spare == channel })
}

// inUse reports whether a channel is the show's or a spare in use.
func (o *overrides) inUse(channel int) bool {
	inShow := channel < len(o.shows) && o.shows[channel]
	return inShow || slices.ContainsFunc(o.swaps, func(s journal.Swap) bool { return s.Spare == channel })
}

// swap has a channel come in on a spare. at is the index of its swap so far, -1 for none. It returns the channel on
// which it came in before.
func (o *overrides) swap(at, channel, spare int) (before int) {
	o.swaps = slices.Clone(o.swaps) // a state has the old ones
	if at < 0 {
		o.swaps = append(o.swaps, journal.Swap{Channel: channel, Spare: spare})
		before = channel
	} else {
		before, o.swaps[at].Spare = o.swaps[at].Spare, spare
	}
	o.moveHold(before, spare)
	return before
}

// unswap undoes the swap of an index.
func (o *overrides) unswap(at int) journal.Swap {
	s := o.swaps[at]
	o.moveHold(s.Spare, s.Channel)
	o.swaps = slices.Delete(slices.Clone(o.swaps), at, at+1)
	return s
}

// moveHold takes a player's hold along to another channel; what was held there before is nobody's.
func (o *overrides) moveHold(from, to int) {
	c, held := o.holds[from]
	delete(o.holds, from)
	delete(o.holds, to)
	if held {
		c.Channel = to
		o.holds[to] = c
	}
}

// nudge moves a player's level, from a step on.
func (o *overrides) nudge(n journal.RunNudge) { o.nudges = append(slices.Clone(o.nudges), n) }

// nudgedDB is by how much a player's level is moved in this run.
func (o *overrides) nudgedDB(name string) (dB float64) {
	for _, n := range o.nudges {
		if strings.EqualFold(n.Name, name) {
			dB += n.DB
		}
	}
	return dB
}

// overCeilingDB is by how much an open channel's level in a step, with all nudges, is over what it may be sent.
func (o *overrides) overCeilingDB(channel int, step *cue.Snapshot) float64 {
	i := slices.IndexFunc(step.Channels, func(c cue.Channel) bool { return c.Channel == channel && c.Open })
	if i < 0 {
		return 0
	}
	c := &step.Channels[i]
	ceiling := min(o.mixer.CeilingDB(channel), o.mixer.CeilingDB(o.spare(channel)))
	return float64(c.LevelDB) + o.nudgedDB(c.Player) - ceiling
}

// nudgeWords says how each player is nudged, in the order in which they were first nudged.
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

// save writes the overrides into a state.
func (o *overrides) save(s *journal.RunState) {
	s.Hush, s.Swaps, s.Nudges = o.hush, o.swaps, o.nudges
	for _, c := range o.holds {
		s.Holds = append(s.Holds, c)
	}
	slices.SortFunc(s.Holds, func(a, b cue.Channel) int { return cmp.Compare(a.Channel, b.Channel) })
}

// load takes the overrides of a state.
func (o *overrides) load(s journal.RunState) {
	o.hush, o.swaps, o.nudges = s.Hush, s.Swaps, s.Nudges
	for _, c := range s.Holds {
		o.holds[c.Channel] = c
	}
}
