// Package step finds what a cue changes. It compares the snapshot before with the snapshot after and says, channel by
// channel, who opens, who closes, which pack goes to another player, whose level, pan, delay, sends or parameters
// change, and which extra messages are sent. Everything that shows people what a cue does (the run sheet, the pages, the
// run's screen, status, the picture, diff and report) uses this package, so that no two of them can disagree.
//
// Step.Summary has it in words, in the order in which people want it. For marks and columns use the lists Opens, Closes,
// Handovers, Switches, StayOpen, Leveled, Moved and Settings. For marks on players use ChannelStep.Starts and
// ChannelStep.Stops: in a handover the first player stops being heard and the second one starts.
package step

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"backfield/cue"
)

// Step is what changes from one snapshot to the next.
type Step struct {
	// Channels are all channels that either snapshot has, changed or not, by number.
	Channels []ChannelStep
	// WasAlso and Also are the extra messages of the snapshot before and of this one, in the order of sending. This step
	// sends only Also.
	WasAlso, Also []cue.Extra

	// Own are the mixer's own parameters, as given to Between.
	Own []cue.MixerParam
}

// Transition is what happens to a channel. Each channel has exactly one.
type Transition int

// What can happen to a channel.
const (
	StaysClosed Transition = iota // closed before and after
	Opens                         // closed before, open after
	Closes                        // open before, closed after
	// open before and after, with another player after: the pack goes to another player while it is heard
	HandsOver
	StaysOpen // open before and after, with the same player
)

// ChannelStep is one channel before and after.
type ChannelStep struct {
	Channel int // its number
	Kind    Transition
	// Was and Is are the channel in the two snapshots, never nil. If a snapshot lacks the channel, it counts as closed
	// and without a player, and Came or Gone is true.
	Was, Is    *cue.Channel
	Came, Gone bool
	// From is the channel on which this channel's player was heard before, and To the channel on which its last player is
	// heard now; 0 for none. A player who switches channels neither opens nor closes.
	From, To int
	// Before is the channel as it was on which Is.Player was heard before, for a player who switches channels. For all
	// others it is Was.
	Before *cue.Channel

	// What differs between Was and Is, heard or not. All are false and empty for a channel that came or is gone.
	Wearer            bool // the pack went to another player, open or closed
	Role, Level       bool // only if the channel is open before and after
	Pan, Delay, Place bool // Place is where the mic is, at the beginning or at the end of the cue
	Sends             []SendChange
	Params            []ParamChange
}

// SendChange is a change of a channel's level on the bus of one zone, in dB; cue.Silent is off.
type SendChange struct {
	Zone     int
	From, To cue.Level
}

// ParamChange is a change of one of the mixer's own parameters, in that parameter's unit.
type ParamChange struct {
	Own      cue.MixerParam
	From, To float64
}

// Between compares a snapshot with the one before it in a show. By then, open channels are where their paths have brought
// them, so that a path that goes on is no change. own are the mixer's own parameters (Show.Params), in the order in which
// to list them. If before is nil, nothing is open before. The two may have different channels, in any order. The result
// points into both snapshots.
func Between(own []cue.MixerParam, before, now *cue.Snapshot) *Step {
	return between(own, before, now, true)
}

// Versions compares a cue of one show with the same cue of another, both as they begin; else it is as Between.
func Versions(own []cue.MixerParam, old, new *cue.Snapshot) *Step {
	return between(own, old, new, false)
}

func between(own []cue.MixerParam, before, now *cue.Snapshot, arrives bool) *Step {
	s := &Step{Also: now.Also, Own: own}
	var was []*cue.Channel
	if before != nil {
		was, s.WasAlso = byNumber(before), before.Also
	}
	is := byNumber(now)
	s.Channels = make([]ChannelStep, 0, max(len(was), len(is)))
	for len(was) > 0 || len(is) > 0 {
		switch {
		case len(is) == 0 || len(was) > 0 && was[0].Channel < is[0].Channel:
			s.add(was[0], nil)
			was = was[1:]
		case len(was) == 0 || is[0].Channel < was[0].Channel:
			s.add(nil, is[0])
			is = is[1:]
		default:
			from := was[0]
			if arrives {
				from = arrived(from, is[0])
			}
			s.add(from, is[0])
			was, is = was[1:], is[1:]
		}
	}
	s.matchSwitches()
	return s
}

func byNumber(s *cue.Snapshot) []*cue.Channel {
	list := make([]*cue.Channel, len(s.Channels))
	for i := range s.Channels {
		list[i] = &s.Channels[i]
	}
	slices.SortStableFunc(list, func(a, b *cue.Channel) int { return cmp.Compare(a.Channel, b.Channel) })
	return list
}

// absent is what a channel is in a snapshot that lacks it.
var absent = &cue.Channel{LevelDB: cue.Silent}

func (s *Step) add(was, is *cue.Channel) {
	c := ChannelStep{Was: was, Is: is, Came: was == nil, Gone: is == nil}
	if c.Came {
		c.Was = absent
	}
	if c.Gone {
		c.Is = absent
	}
	c.Channel = max(c.Was.Channel, c.Is.Channel)
	c.Kind, c.Before = kind(c.Was, c.Is), c.Was
	if !c.Came && !c.Gone {
		c.differ(s.Own)
	}
	s.Channels = append(s.Channels, c)
}

func kind(was, is *cue.Channel) Transition {
	switch {
	case !was.Open && !is.Open:
		return StaysClosed
	case !was.Open:
		return Opens
	case !is.Open:
		return Closes
	case was.Player != is.Player:
		return HandsOver
	}
	return StaysOpen
}

func (c *ChannelStep) differ(own []cue.MixerParam) {
	was, is := c.Was, c.Is
	heard := was.Open && is.Open
	c.Wearer = was.Player != is.Player
	c.Role = heard && was.Role != is.Role
	c.Level = heard && was.LevelDB != is.LevelDB
	c.Pan = was.Pan != is.Pan
	c.Delay = was.DelayMS != is.DelayMS
	c.Place = was.Location != is.Location || was.End != is.End
	if !slices.Equal(was.Sends, is.Sends) {
		c.Sends = sends(was, is)
	}
	if slices.Equal(was.Params, is.Params) {
		return
	}
	for _, o := range own {
		from, had := was.Value(o.Name)
		to, has := is.Value(o.Name)
		if had && has && from != to {
			c.Params = append(c.Params, ParamChange{o, from, to})
		}
	}
}

// sends lists the zones whose send differs, in ascending order. A zone without a send is off.
func sends(was, is *cue.Channel) []SendChange {
	var list []SendChange
	for _, x := range was.Sends {
		list = append(list, SendChange{x.Zone, x.LevelDB, level(is, x.Zone)})
	}
	for _, x := range is.Sends {
		if !slices.ContainsFunc(list, func(y SendChange) bool { return y.Zone == x.Zone }) {
			list = append(list, SendChange{x.Zone, cue.Silent, x.LevelDB})
		}
	}
	list = slices.DeleteFunc(list, func(x SendChange) bool { return x.From == x.To })
	slices.SortStableFunc(list, func(a, b SendChange) int { return cmp.Compare(a.Zone, b.Zone) })
	return list
}

func level(c *cue.Channel, zone int) cue.Level {
	for _, x := range c.Sends {
		if x.Zone == zone {
			return x.LevelDB
		}
	}
	return cue.Silent
}

// matchSwitches finds the players who are heard before and after, on different channels.
func (s *Step) matchSwitches() {
	for i := range s.Channels {
		old := &s.Channels[i]
		if old.Kind != Closes && old.Kind != HandsOver {
			continue
		}
		for j := range s.Channels {
			now := &s.Channels[j]
			if (now.Kind == Opens || now.Kind == HandsOver) && now.From == 0 && now.Is.Player == old.Was.Player {
				old.To, now.From, now.Before = now.Channel, old.Channel, old.Was
				break
			}
		}
	}
}

// Player is who the change is about: the player after it, or the one who closes.
func (c *ChannelStep) Player() string {
	if c.Kind == Closes || c.Gone {
		return c.Was.Player
	}
	return c.Is.Player
}

// Starts reports whether Is.Player begins to be heard: opens, or takes over an open channel, and was not heard on
// another one.
func (c *ChannelStep) Starts() bool { return (c.Kind == Opens || c.Kind == HandsOver) && c.From == 0 }

// Stops reports whether Was.Player stops being heard: closes, or gives up an open channel, and is not heard on another
// one.
func (c *ChannelStep) Stops() bool { return (c.Kind == Closes || c.Kind == HandsOver) && c.To == 0 }

// Moves reports whether a channel that the same player keeps open changes pan, delay or sends at once, with the cue.
func (c *ChannelStep) Moves() bool {
	return c.Kind == StaysOpen && (c.Pan || c.Delay || len(c.Sends) > 0)
}

// Glides reports whether a channel is open after the step and then moves along its path, up to the next cue.
func (c *ChannelStep) Glides() bool { return c.Is.Open && len(c.Is.Glide) > 0 }

// NewLevel reports whether a player who is handed a channel, or switches to it, is heard on it with another level than
// was heard before: on this channel, or on the one that the player comes from.
func (c *ChannelStep) NewLevel() bool { return c.Before.LevelDB != c.Is.LevelDB }

// ByDB is the change of level, in dB, of a channel that is open before and after.
func (c *ChannelStep) ByDB() float64 { return float64(c.Is.LevelDB) - float64(c.Was.LevelDB) }

func (s *Step) filter(which func(c *ChannelStep) bool) []*ChannelStep {
	var list []*ChannelStep
	for i := range s.Channels {
		if c := &s.Channels[i]; which(c) {
			list = append(list, c)
		}
	}
	return list
}

// Opens lists who begins to be heard, by channel. It leaves out who takes over an open channel (Handovers) or only
// switches channels (Switches).
func (s *Step) Opens() []*ChannelStep {
	return s.filter(func(c *ChannelStep) bool { return c.Kind == Opens && c.From == 0 })
}

// Closes lists who stops being heard, by channel. It leaves out who gives up an open channel or only switches channels.
func (s *Step) Closes() []*ChannelStep {
	return s.filter(func(c *ChannelStep) bool { return c.Kind == Closes && c.To == 0 })
}

// HandedOver reports whether an open channel goes to another player who starts to be heard then, or from one who stops. If
// both are heard before and after, they switch channels, and Switches lists both.
func (c *ChannelStep) HandedOver() bool { return c.Kind == HandsOver && (c.Starts() || c.Stops()) }

// Handovers lists the channels that go to another player while open: Was.Player is heard before, Is.Player after.
func (s *Step) Handovers() []*ChannelStep { return s.filter((*ChannelStep).HandedOver) }

// Switches lists the players who are heard before and after, on different channels: From and Channel.
func (s *Step) Switches() []*ChannelStep {
	return s.filter(func(c *ChannelStep) bool { return c.From != 0 })
}

// StaysOpen lists the channels that the same player keeps open.
func (s *Step) StayOpen() []*ChannelStep {
	return s.filter(func(c *ChannelStep) bool { return c.Kind == StaysOpen })
}

// Leveled lists the channels that the same player keeps open with another level or role. A handover and a switch say in
// their own words how the level changes.
func (s *Step) Leveled() []*ChannelStep {
	return s.filter(func(c *ChannelStep) bool { return c.Kind == StaysOpen && (c.Level || c.Role) })
}

// Moved lists the channels that the same player keeps open and whose pan, delay or sends change at once.
func (s *Step) Moved() []*ChannelStep { return s.filter((*ChannelStep).Moves) }

// Gliding lists the channels that move along their paths after the step.
func (s *Step) Gliding() []*ChannelStep { return s.filter((*ChannelStep).Glides) }

// Open lists the channels that are open after the step.
func (s *Step) Open() []*ChannelStep {
	return s.filter(func(c *ChannelStep) bool { return c.Is.Open })
}

// ParamSetting is a new value of one of the mixer's own parameters on channels that are open before and after.
type ParamSetting struct {
	Own      cue.MixerParam
	To       float64
	Channels []*ChannelStep
}

// Settings lists the mixer's own parameters that change on open channels, in the order of the parameters, and for each
// its new values, in the order of the first channels that get them.
func (s *Step) Settings() []ParamSetting {
	var list []ParamSetting
	heard := s.filter(func(c *ChannelStep) bool {
		return (c.Kind == StaysOpen || c.Kind == HandsOver) && len(c.Params) > 0
	})
	for _, own := range s.Own {
		for _, c := range heard {
			i := slices.IndexFunc(c.Params, func(p ParamChange) bool { return p.Own.Name == own.Name })
			if i < 0 {
				continue
			}
			to := c.Params[i].To
			at := slices.IndexFunc(list, func(x ParamSetting) bool { return x.Own.Name == own.Name && x.To == to })
			if at < 0 {
				at = len(list)
				list = append(list, ParamSetting{Own: own, To: to})
			}
			list[at].Channels = append(list[at].Channels, c)
		}
	}
	return list
}

// offDB is what off counts as where the size of a change matters: -40 dB is as good as off.
const offDB = -40

// ByDB is the change of a send, in dB; off counts as -40 dB.
func (x SendChange) ByDB() float64 {
	return math.Max(float64(x.To), offDB) - math.Max(float64(x.From), offDB)
}

// OpenIn lists the cues of a show in which a player is open. Upper and lower case are the same.
func OpenIn(s *cue.Show, player string) (ids []string) {
	for i := range s.Cues {
		c := &s.Cues[i]
		for _, open := range Between(nil, nil, c).Open() {
			if strings.EqualFold(open.Is.Player, player) {
				ids = append(ids, c.ID)
			}
		}
	}
	return ids
}
