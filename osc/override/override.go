// Package override is what the operator has changed in a run: hush, held channels, packs swapped for spares, and nudged
// levels. It lays them over the snapshots of the show. It has no clock and sends nothing.
package override

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"backfield/cue"
	"backfield/osc/journal"
	"backfield/osc/mixer"
)

// Overrides is what the operator has changed in a run. Make one with New.
type Overrides struct {
	mixer  *mixer.Mixer
	shows  []bool // by channel: whether the show uses it, which means that every snapshot has it
	Hush   bool
	Only   *Lone               // the only channel of the show that is open; nil for what the cues and hush have open
	holds  map[int]cue.Channel // by channel, frozen
	Swaps  []journal.Swap
	nudges []journal.RunNudge
}

// New makes overrides of a show, in which nothing is changed yet.
func New(show *cue.Show, d *mixer.Mixer) Overrides {
	o := Overrides{mixer: d, holds: map[int]cue.Channel{}}
	for i := range show.Cues {
		for _, c := range show.Cues[i].Channels {
			for len(o.shows) <= c.Channel {
				o.shows = append(o.shows, false)
			}
			o.shows[c.Channel] = true
		}
	}
	return o
}

// ApplyTo is a snapshot of the score with the overrides. closed closes every channel. before is the current target: a
// channel in it that is no longer a spare stays closed.
func (o *Overrides) ApplyTo(s cue.Snapshot, closed bool, before []cue.Channel) cue.Snapshot {
	s.Channels = slices.Clone(s.Channels)
	for i := range s.Channels {
		c := &s.Channels[i]
		if closed || o.Hush && c.Kind == cue.Worn || o.Only != nil && o.Only.Channel != c.Channel {
			closeChannel(c)
		}
		if x := o.Only; x != nil && x.Channel == c.Channel && !c.Open {
			c.Open, c.Role, c.LevelDB, c.Early = true, x.role, x.levelDB, nil
		}
		if c.Open {
			c.LevelDB += cue.Level(o.NudgedDB(c.Player))
			c.LevelDB = min(c.LevelDB, cue.Level(o.mixer.CeilingDB(c.Channel)))
		}
	}
	for _, w := range o.Swaps {
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
		if held, ok := o.holds[c.Channel]; ok && o.keeps(&held) {
			held.Player = c.Player // the mic may have changed players
			*c = held
		}
	}
	return s
}

// keeps reports whether a held channel stays as it was held: hush closes it, and so does only, unless it is the one.
func (o *Overrides) keeps(held *cue.Channel) bool {
	if o.Only != nil {
		return held.Open && o.Own(held.Channel) == o.Only.Channel
	}
	return !(o.Hush && held.Kind == cue.Worn)
}

// is matches a channel by its number.
func is(channel int) func(cue.Channel) bool {
	return func(c cue.Channel) bool { return c.Channel == channel }
}

// closeChannel closes a channel of a snapshot.
func closeChannel(c *cue.Channel) { c.Open, c.Role, c.LevelDB = false, "", cue.Silent }

// Hold freezes a channel.
func (o *Overrides) Hold(c cue.Channel) { o.holds[c.Channel] = c }

// Release returns a channel to the cues, and reports whether it was held.
func (o *Overrides) Release(channel int) bool {
	_, held := o.holds[channel]
	delete(o.holds, channel)
	return held
}

// Held reports whether a channel is held.
func (o *Overrides) Held(channel int) bool {
	_, held := o.holds[channel]
	return held
}

// HeldShut reports whether a channel is held closed that a snapshot of the score has open.
func (o *Overrides) HeldShut(channel int, s *cue.Snapshot) bool {
	i := slices.IndexFunc(s.Channels, is(o.Own(channel)))
	return i >= 0 && s.Channels[i].Open && !o.holds[channel].Open
}

// HeldChannels lists the held channels, ascending.
func (o *Overrides) HeldChannels() []int { return slices.Sorted(maps.Keys(o.holds)) }

// Spare is the channel that stands in for a show's channel: the spare that it is swapped for, else itself.
func (o *Overrides) Spare(channel int) int {
	for _, s := range o.Swaps {
		if s.Channel == channel {
			return s.Spare
		}
	}
	return channel
}

// Own is the show's channel that a channel stands in for: the one that was swapped for it, else itself.
func (o *Overrides) Own(channel int) int {
	for _, s := range o.Swaps {
		if s.Spare == channel {
			return s.Channel
		}
	}
	return channel
}

// SwapOf is the index of the swap that a channel is part of, -1 if it is not swapped.
func (o *Overrides) SwapOf(channel int) int {
	return slices.IndexFunc(o.Swaps, func(s journal.Swap) bool { return s.Channel == channel || s.Spare == channel })
}

// InShow reports whether the show uses a channel as its own.
func (o *Overrides) InShow(channel int) bool {
	return channel > 0 && channel < len(o.shows) && o.shows[channel]
}

// InUse reports whether the show uses a channel, as its own or as a spare.
func (o *Overrides) InUse(channel int) bool {
	return o.InShow(channel) || slices.ContainsFunc(o.Swaps, func(s journal.Swap) bool { return s.Spare == channel })
}

// Swap replaces a channel with a spare. at is the index of its swap so far, -1 if it has none. It returns the channel
// that was in use before.
func (o *Overrides) Swap(at, channel, spare int) (before int) {
	o.Swaps = slices.Clone(o.Swaps) // a saved state keeps the old list
	if at < 0 {
		o.Swaps = append(o.Swaps, journal.Swap{Channel: channel, Spare: spare})
		before = channel
	} else {
		before, o.Swaps[at].Spare = o.Swaps[at].Spare, spare
	}
	o.moveHold(before, spare)
	return before
}

// Unswap undoes the swap at an index.
func (o *Overrides) Unswap(at int) journal.Swap {
	s := o.Swaps[at]
	o.moveHold(s.Spare, s.Channel)
	o.Swaps = slices.Delete(slices.Clone(o.Swaps), at, at+1)
	return s
}

// moveHold moves a player's hold to another channel and replaces any hold there.
func (o *Overrides) moveHold(from, to int) {
	c, held := o.holds[from]
	delete(o.holds, from)
	delete(o.holds, to)
	if held {
		c.Channel = to
		o.holds[to] = c
	}
}

// Nudge adds a nudge.
func (o *Overrides) Nudge(n journal.RunNudge) { o.nudges = append(slices.Clone(o.nudges), n) }

// NudgedDB is the sum of a player's nudges in this run, without the dust of sums such as 0.7 + 0.2 + 1.2.
func (o *Overrides) NudgedDB(name string) (dB float64) {
	for _, n := range o.nudges {
		if strings.EqualFold(n.Name, name) {
			dB += n.DB
		}
	}
	return math.Round(dB*1e6) / 1e6
}

// RoomDB is how far a player can still be nudged up until the ceiling, and that ceiling. It is below 0 if the nudges so far
// are over it. The step from counts if the player is open in it, else the next step with the player open, else the last one
// before. The lower ceiling of the channel and its spare counts. A player who is open nowhere has room without end.
func (o *Overrides) RoomDB(player string, steps []cue.Snapshot, from int) (roomDB, ceilingDB float64) {
	in := func(step int) bool {
		roomDB, ceilingDB = math.Inf(1), math.Inf(1)
		for i := range steps[step].Channels {
			c := &steps[step].Channels[i]
			if !c.Open || !strings.EqualFold(c.Player, player) {
				continue
			}
			ceiling := min(o.mixer.CeilingDB(c.Channel), o.mixer.CeilingDB(o.Spare(c.Channel)))
			if room := ceiling - float64(c.LevelDB) - o.NudgedDB(player); room < roomDB {
				roomDB, ceilingDB = math.Round(room*1e6)/1e6, ceiling
			}
		}
		return !math.IsInf(roomDB, 1)
	}
	for step := max(from, 0); step < len(steps); step++ {
		if in(step) {
			return roomDB, ceilingDB
		}
	}
	for step := from - 1; step >= 0; step-- {
		if in(step) {
			break
		}
	}
	return roomDB, ceilingDB
}

// NudgeWords lists each nudged player with the total, in the order of their first nudges.
func (o *Overrides) NudgeWords() (list []string) {
	var seen []string
	for _, n := range o.nudges {
		if !slices.Contains(seen, n.Name) {
			seen = append(seen, n.Name)
			list = append(list, fmt.Sprintf("%s %+g dB", n.Name, o.NudgedDB(n.Name)))
		}
	}
	return list
}

// Save writes the overrides to a state.
func (o *Overrides) Save(s *journal.RunState) {
	s.Hush, s.Swaps, s.Nudges = o.Hush, o.Swaps, o.nudges
	if o.Only != nil {
		s.Only = o.Only.Channel
	}
	for _, c := range o.holds {
		s.Holds = append(s.Holds, c)
	}
	slices.SortFunc(s.Holds, func(a, b cue.Channel) int { return cmp.Compare(a.Channel, b.Channel) })
}

// Load reads the overrides from a state.
func (o *Overrides) Load(s journal.RunState) {
	o.Hush, o.Swaps, o.nudges = s.Hush, s.Swaps, s.Nudges
	for _, c := range s.Holds {
		o.holds[c.Channel] = c
	}
}
