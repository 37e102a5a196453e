package diff

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"backfield/cue"
	"backfield/cue/step"
)

// One unit of size is as much as may pass unheard: 5 ms of delay or 0.1 of pan (the default limits for a walking
// player), or 1 dB of level. A mic that opens or closes, or a pack that goes to another player, is larger than any
// number.
const (
	unitDelayMS = 5
	unitPan     = 0.1
	unitLevelDB = 1
	sizeOpen    = 1e6
	sizePlayer  = 1e5
	ownSize     = 1 // how much a unit of a mixer's own parameter matters is unknown
)

// cueComparer compares the cues of two shows.
type cueComparer struct {
	old, new *cue.Show
	pairs    []cuePair
	steps    []*step.Step // from the old state of a pair's cue to its new one, nil for a cue that one show lacks
	whole    []Cause
}

// compare lists what differs in a pair, a cue that both shows have.
func (x *cueComparer) compare(pair int) CueDiff {
	old, new, s := &x.old.Cues[x.pairs[pair].old], &x.new.Cues[x.pairs[pair].new], x.steps[pair]
	c := describe(new, Changed)
	extra := extraWords(s)
	early := earlyWords(old, new)
	c.Mixer = old.FadeS != new.FadeS || old.Closing().S != new.Closing().S || extra != nil || early != nil
	for _, note := range []string{timeWords(old, new), fadeWords(old, new), nameWords(old, new)} {
		if note != "" {
			c.Notes = append(c.Notes, note)
		}
	}
	c.Notes = append(append(c.Notes, extra...), early...)
	for i := range s.Channels {
		ch := &s.Channels[i]
		path := pathChanges(version{old, x.old.Rig.Delay.Moves}, version{new, x.new.Rig.Delay.Moves}, ch)
		c.Mixer = c.Mixer || onMixer(ch) || len(path) > 0
		why := reasons{
			old: ch.Was, new: ch.Is, whole: x.whole, waiting: ch.Kind != step.StaysOpen && ch.Kind != step.HandsOver,
			elsewhere: func() string { return x.elsewhere(pair, ch) },
			moved:     x.otherCount(pair), nextMoved: x.otherCount(pair + 1),
		}
		if changes := compareChannel(ch, s.Own, path, why); len(changes) > 0 {
			c.Channels = append(c.Channels, ChannelDiff{ch.Channel, wearer(ch), changes[0].Size, changes})
		}
	}
	slices.SortStableFunc(c.Channels, func(x, y ChannelDiff) int {
		return cmp.Or(-cmp.Compare(x.Size, y.Size), cmp.Compare(x.Channel, y.Channel))
	})
	return c
}

// wearer is who wears a channel in the new show, or in the old one if the channel is gone or its player switches to
// another channel.
func wearer(c *step.ChannelStep) string {
	if c.Gone || c.Kind == step.Closes && c.To != 0 {
		return c.Was.Player
	}
	return c.Is.Player
}

// onMixer reports whether any message at the cue's moment would differ. No message says who wears a channel or in which role.
func onMixer(c *step.ChannelStep) bool {
	return c.Kind == step.Opens || c.Kind == step.Closes || c.Level || c.Pan || c.Delay || len(c.Sends) > 0 ||
		len(c.Params) > 0
}

// compareChannel lists what differs in a channel: first what is heard, then what waits for the next entry, each with the
// largest first. A channel that one show lacks counts as closed there. That a channel or a parameter came or went is
// said once for the show.
func compareChannel(c *step.ChannelStep, own []cue.MixerParam, path []pathChange, why reasons) []ParamDiff {
	var changes []ParamDiff
	if c.Kind == step.Opens || c.Kind == step.Closes {
		changes = append(changes, openChange(c, own))
	}
	changes = append(changes, wearChanges(c)...)
	changes = append(changes, numberChanges(c, why)...)
	if d, ok := pathDiff(path, why.path(path)); ok {
		changes = append(changes, d)
	}
	for i := range changes {
		if changes[i].Why == nil {
			changes[i].Why = []string{}
		}
	}
	slices.SortStableFunc(changes, func(x, y ParamDiff) int {
		if x.Waiting != y.Waiting {
			if x.Waiting {
				return 1
			}
			return -1
		}
		return -cmp.Compare(x.Size, y.Size)
	})
	return changes
}

func openChange(c *step.ChannelStep, own []cue.MixerParam) ParamDiff {
	if c.Kind == step.Opens {
		words := openedWords(c.Is, own)
		if c.From != 0 {
			words = c.SwitchWords() + ", " + words
		}
		if c.Came {
			words += ", on a new channel"
		}
		return ParamDiff{Param: ParamOpen, New: 1, Words: words, Size: sizeOpen}
	}
	words := "closed"
	switch {
	case c.To != 0:
		words = fmt.Sprintf("closed: switches to channel %d", c.To)
	case c.Gone:
		words = "closed: the channel is gone"
	}
	return ParamDiff{Param: ParamOpen, Old: 1, Words: words, Size: sizeOpen}
}

// wearChanges lists a new player and a new role of the channel. Who wears a channel that opens or closes because its
// player switches channels is said there.
func wearChanges(c *step.ChannelStep) []ParamDiff {
	var changes []ParamDiff
	old, new := c.Was, c.Is
	said := c.Kind == step.Opens && c.From != 0 || c.Kind == step.Closes && c.To != 0
	if c.Wearer && !said {
		words := playerWords(old.Player, new.Player)
		if c.From != 0 {
			words = c.SwitchWords()
		}
		changes = append(changes, ParamDiff{
			Param: ParamPlayer, OldName: old.Player, NewName: new.Player, Words: words,
			Waiting: c.Kind == step.StaysClosed, Size: sizePlayer,
		})
	}
	if c.Role {
		changes = append(changes, ParamDiff{
			Param: ParamRole, OldName: old.Role, NewName: new.Role, Words: roleWords(old.Role, new.Role),
		})
	}
	return changes
}

// numberChanges lists the channel's numbers that differ.
func numberChanges(c *step.ChannelStep, why reasons) []ParamDiff {
	var changes []ParamDiff
	old, new := c.Was, c.Is
	if c.Level {
		changes = append(changes, ParamDiff{
			Param: ParamLevel, Old: old.LevelDB, New: new.LevelDB, Words: levelWords(old.LevelDB, new.LevelDB),
			Why: why.level(), Size: min(math.Abs(c.ByDB())/unitLevelDB, sizeOpen),
		})
	}
	if c.Pan {
		changes = append(changes, ParamDiff{
			Param: ParamPan, Old: cue.Level(old.Pan), New: cue.Level(new.Pan), Words: panWords(old.Pan, new.Pan),
			Why: why.arrival(ParamPan), Waiting: why.waiting, Size: math.Abs(new.Pan-old.Pan) / unitPan,
		})
	}
	if c.Delay {
		changes = append(changes, ParamDiff{
			Param: ParamDelay, Old: cue.Level(old.DelayMS), New: cue.Level(new.DelayMS),
			Words: delayWords(old.DelayMS, new.DelayMS),
			Why:   why.arrival(ParamDelay), Waiting: why.waiting, Size: math.Abs(new.DelayMS-old.DelayMS) / unitDelayMS,
		})
	}
	for _, x := range c.Sends {
		changes = append(changes, ParamDiff{
			Param: ParamSend, Zone: x.Zone, Old: x.From, New: x.To, Words: sendWords(x.Zone, x.From, x.To),
			Why: why.arrival(ParamSend), Waiting: why.waiting, Size: math.Abs(x.ByDB()) / unitLevelDB,
		})
	}
	for _, x := range c.Params {
		changes = append(changes, ParamDiff{
			Param: x.Own.Name, Old: cue.Level(x.From), New: cue.Level(x.To), Words: ownWords(x.Own, x.From, x.To),
			Why: why.own(), Waiting: why.waiting, Size: ownSize,
		})
	}
	return changes
}
