// Package accept checks the state in a journal against a show and its mixers before a run resumes from it. A journal may
// be damaged, or edited, or from another version of the show.
package accept

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"backfield/cue"
	"backfield/osc/journal"
	"backfield/osc/mixer"
)

// StateLimits are what a run keeps to, so that no state of its own is ever over them.
type StateLimits struct {
	Presses          int     // that the tempo is computed from
	Past             int     // that back can undo
	NudgeDB          float64 // of one nudge, up or down
	Slowest, Fastest float64 // tempo, as a share of the written tempo
}

const (
	longestRun   = 24 * time.Hour // a show clock that has run for longer was forgotten, or its time is wrong
	beyondEndS   = 3600           // how far after its last cue, or before its first count, a show's time can be
	mostDelayMS  = 10_000         // far more than any delay of a field
	quietestDB   = -1000          // far below any level of a mixer
	mostSendDB   = 100            // far above any
	mostRefusals = 30             // that are listed
)

// accepting is a state that is being checked.
type accepting struct {
	show    *cue.Show
	mixer   *mixer.Mixer
	mixers  int
	limits  StateLimits
	now     time.Time
	refused []string
}

func (a *accepting) refuse(format string, args ...any) {
	a.refused = append(a.refused, fmt.Sprintf(format, args...))
}

// State is the part of a state that a run of this show at so many mixers can have, and a problem that lists the rest;
// "" for none. The show must have the state's step.
func State(
	s journal.RunState, show *cue.Show, m *mixer.Mixer, mixers int, limits StateLimits, now time.Time,
) (fit journal.RunState, problem string) {
	a := &accepting{show: show, mixer: m, mixers: mixers, limits: limits, now: now}
	step := a.find(s.Step)
	s.Clock = a.clock(s.Clock, step, "the show's time")
	s.Presses = a.presses(s.Presses, "the tempo")
	s.Past = a.past(s.Past)
	s.Swaps = a.swaps(s.Swaps)
	used := func(channel int) bool {
		return a.inShow(channel) ||
			slices.ContainsFunc(s.Swaps, func(w journal.Swap) bool { return w.Spare == channel })
	}
	if s.Only != 0 && !a.inShow(s.Only) {
		a.refuse("channel %d open alone", s.Only)
		s.Only = 0
	}
	s.OldSpares = a.oldSpares(s.OldSpares, used)
	s.Holds = a.holds(s.Holds, s.Swaps, used, step)
	s.Nudges = a.nudges(s.Nudges)
	s.Manual = a.manual(s.Manual, func(n int) bool { return used(n) || slices.Contains(s.OldSpares, n) })
	s.Outside = a.outside(s.Outside, s.Hush, func(n int) bool { return used(n) || slices.Contains(s.OldSpares, n) })
	if len(a.refused) == 0 {
		return s, ""
	}
	more := ""
	if n := len(a.refused) - mostRefusals; n > 0 {
		more = fmt.Sprintf("; and %d more", n)
	}
	list := strings.Join(a.refused[:min(len(a.refused), mostRefusals)], "; ")
	return s, "left out of the journal's state, since this show and its mixers cannot have it: " + list + more
}

// find is the index of a snapshot, -1 if the show does not have it.
func (a *accepting) find(id string) int {
	return slices.IndexFunc(a.show.Cues, func(s cue.Snapshot) bool { return s.ID == id })
}

// inShow reports whether the show itself uses a channel, which means that every snapshot has it.
func (a *accepting) inShow(channel int) bool {
	return len(a.show.Cues) > 0 && slices.ContainsFunc(a.show.Cues[0].Channels, is(channel))
}

// is matches a channel by its number.
func is(channel int) func(cue.Channel) bool {
	return func(c cue.Channel) bool { return c.Channel == channel }
}

// clock is a clock that this show can have: else it is stopped at the cue of a step.
func (a *accepting) clock(c journal.PlayClock, step int, what string) journal.PlayClock {
	if c.Running || c.Why.Words() == "" {
		c.Why = ""
	}
	if c.Rate == 0 { // the run was killed before its first command
		c.Rate = 1
	}
	if !(c.Rate >= a.limits.Slowest && c.Rate <= a.limits.Fastest) {
		a.refuse("a tempo of %.4g times the written one", c.Rate)
		c.Rate = 1
	}
	lastS := 0.0
	if n := len(a.show.Cues); n > 0 {
		lastS = a.show.Cues[n-1].TimeS
	}
	forgotten := c.Running && a.now.Sub(c.At) > longestRun
	if !forgotten && c.ShowS >= -beyondEndS && c.ShowS <= lastS+beyondEndS {
		return c
	}
	if forgotten {
		a.refuse("%s, which has run since %s", what, c.At.Format("2006-01-02 15:04"))
	} else {
		a.refuse("%s of %.4g s", what, c.ShowS)
	}
	c.ShowS, c.At, c.Running = 0, a.now, false
	if step >= 0 {
		c.ShowS = a.show.Cues[step].TimeS
	}
	return c
}

// presses are the presses that the tempo is computed from: all or none, and then the tempo starts again.
func (a *accepting) presses(list []journal.Press, what string) []journal.Press {
	for _, p := range list {
		if math.Abs(p.PlannedS) > 1e6 {
			a.refuse("the presses for %s, with one at %.4g s of the show", what, p.PlannedS)
			return nil
		}
		if a.now.Sub(p.At) > longestRun {
			a.refuse("the presses for %s, with one of %s", what, p.At.Format("2006-01-02 15:04"))
			return nil
		}
	}
	if n := len(list) - a.limits.Presses; n > 0 {
		a.refuse("%d of the presses for %s, more than a run keeps", n, what)
		list = list[n:]
	}
	return list
}

// past is what back can undo: from the oldest on that this show has.
func (a *accepting) past(list []journal.Past) (fit []journal.Past) {
	for _, p := range list {
		step := a.find(p.Step)
		if step < 0 && p.Step != "" {
			a.refuse("going back to cue %q (this show does not have it)", p.Step)
			fit = nil
			continue
		}
		if p.Clock = a.clock(p.Clock, step, "a time to go back to"); a.now.Before(p.Clock.At) {
			p.Clock.At, p.Clock.Running = a.now, false
		}
		p.Presses = a.presses(p.Presses, "a tempo to go back to")
		p.Sent = slices.DeleteFunc(slices.Clone(p.Sent), func(id string) bool {
			gone := a.find(id) < 0
			if gone {
				a.refuse("that going back would pass the messages of cue %q (this show does not have it)", id)
			}
			return gone
		})
		fit = append(fit, p)
	}
	if n := len(fit) - a.limits.Past; n > 0 {
		a.refuse("%d of the steps to go back, more than a run keeps", n)
		fit = fit[n:]
	}
	return fit
}

// spare reports whether the mixers have a channel that the show does not use.
func (a *accepting) spare(channel int) bool {
	return channel > 0 && channel <= a.mixer.Channels && !a.inShow(channel)
}

func (a *accepting) swaps(list []journal.Swap) (fit []journal.Swap) {
	for _, w := range list {
		again := slices.ContainsFunc(fit, func(x journal.Swap) bool {
			return x.Channel == w.Channel || x.Spare == w.Spare
		})
		if again || !a.inShow(w.Channel) || !a.spare(w.Spare) {
			a.refuse("swap of channel %d to %d", w.Channel, w.Spare)
			continue
		}
		fit = append(fit, w)
	}
	return fit
}

func (a *accepting) oldSpares(list []int, used func(int) bool) (fit []int) {
	for _, n := range list {
		if !a.spare(n) || used(n) || slices.Contains(fit, n) {
			a.refuse("former spare %d", n)
			continue
		}
		fit = append(fit, n)
	}
	return fit
}

// holds are held channels with numbers that a mixer can have. What a channel consists of is taken from the show.
func (a *accepting) holds(
	list []cue.Channel, swaps []journal.Swap, used func(int) bool, step int,
) (fit []cue.Channel) {
	for _, c := range list {
		if !used(c.Channel) {
			a.refuse("hold of channel %d (this show does not use it)", c.Channel)
			continue
		}
		of := c.Channel
		for _, w := range swaps {
			if w.Spare == of {
				of = w.Channel
			}
		}
		channels := a.show.Cues[max(step, 0)].Channels
		i := slices.IndexFunc(channels, is(of))
		if i < 0 || !a.holdable(c) {
			a.refuse("hold of channel %d", c.Channel)
			continue
		}
		fit = append(fit, a.shaped(c, channels[i]))
	}
	return fit
}

// holdable reports whether a held channel's numbers are in range. A closed channel has no level.
func (a *accepting) holdable(c cue.Channel) bool {
	level := float64(c.LevelDB)
	levelFits := !c.Open || level >= quietestDB && level <= a.mixer.Limits(cue.ParamLevel).Max+0.001
	return levelFits && math.Abs(c.Pan) <= 1 && c.DelayMS >= 0 && c.DelayMS <= mostDelayMS
}

// shaped is a held channel with the kind, the sends and the parameters that the show's channel has. A value of the held
// one that the mixer cannot have is the show's.
func (a *accepting) shaped(held, show cue.Channel) cue.Channel {
	held.Kind = show.Kind
	sends := slices.Clone(show.Sends)
	for _, x := range held.Sends {
		i := slices.IndexFunc(sends, func(s cue.Send) bool { return s.Zone == x.Zone })
		level := float64(x.LevelDB) // minus infinity is off
		if i < 0 || !(math.IsInf(level, -1) || level >= quietestDB && level <= mostSendDB) {
			a.refuse("send of held channel %d to zone %d, %.4g dB", held.Channel, x.Zone, level)
			continue
		}
		sends[i] = x
	}
	params := slices.Clone(show.Params)
	for _, x := range held.Params {
		i := slices.IndexFunc(params, func(p cue.ParamValue) bool { return p.Name == x.Name })
		if i < 0 || !a.settable(x) {
			a.refuse("%s %.4g of held channel %d", x.Name, x.Value, held.Channel)
			continue
		}
		params[i] = x
	}
	held.Sends, held.Params = sends, params
	return held
}

// settable reports whether the mixer can have a value of one of its own parameters.
func (a *accepting) settable(v cue.ParamValue) bool {
	if !a.mixer.Has(v.Name) {
		return false
	}
	l := a.mixer.Limits(v.Name)
	return v.Value >= l.Min-0.001 && v.Value <= l.Max+0.001
}

func (a *accepting) nudges(list []journal.RunNudge) (fit []journal.RunNudge) {
	for _, n := range list {
		known := slices.ContainsFunc(a.show.Cues, func(s cue.Snapshot) bool {
			return slices.ContainsFunc(s.Channels, func(c cue.Channel) bool {
				return c.Player != "" && strings.EqualFold(c.Player, n.Name)
			})
		})
		if !known || n.DB == 0 || math.Abs(n.DB) > a.limits.NudgeDB {
			a.refuse("nudge of %s by %.4g dB", n.Name, n.DB)
			continue
		}
		fit = append(fit, n)
	}
	return fit
}

// outside are the channels outside the show that hush closed: at a mixer of this run.
func (a *accepting) outside(
	list []journal.HushedChannel, hush bool, used func(int) bool,
) (fit []journal.HushedChannel) {
	for _, c := range list {
		if !hush || c.Mixer < 0 || c.Mixer >= a.mixers || !a.spare(c.Channel) || used(c.Channel) {
			a.refuse("channel %d of mixer %d, closed by hush", c.Channel, c.Mixer+1)
			continue
		}
		fit = append(fit, c)
	}
	return fit
}

func (a *accepting) manual(list []journal.ManualChannel, used func(int) bool) (fit []journal.ManualChannel) {
	for _, m := range list {
		if m.Mixer < 0 || m.Mixer >= a.mixers || !used(m.Channel) {
			a.refuse("manual channel %d of mixer %d", m.Channel, m.Mixer+1)
			continue
		}
		fit = append(fit, m)
	}
	return fit
}
