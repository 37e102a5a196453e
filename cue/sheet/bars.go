// Package sheet makes the data of the printed sheets and pictures from a compiled show: when each channel is open, the
// rows of the run sheet, who wears which pack, how few packs would do, and when to change batteries. Other packages
// draw it.
package sheet

import (
	"cmp"
	"slices"

	"backfield/cue"
)

// OpenBar is a time that a channel is open without a break, in one role and for one player. FromS is when it opens: at the
// snapshot FromCue, or before it if it opens early. ToS is when it ends: at the snapshot ToCue, which gives it another role
// or player; if that closes it, once it has faded out; or the end of the show if ToCue is "".
type OpenBar struct {
	Channel int
	Player  string // or the name of the fixed mic
	Kind    string // cue.Worn or cue.Fixed
	Role    string
	FromS   float64
	ToS     float64
	FromCue string // the snapshot that opens it, or gives it this role
	ToCue   string
	PeakDB  float64 // the highest level in it
}

// Bars lists when each channel is open, by channel and time. A change of role or player begins a new bar.
func Bars(s *cue.Show) []OpenBar {
	bars := []OpenBar{}
	for c := range channels(s) {
		var now *OpenBar // open, until something ends it
		begin := func(b OpenBar) {
			if now == nil && len(bars) > 0 { // it has not faded out when it opens again
				before := &bars[len(bars)-1]
				if before.Channel == b.Channel {
					before.ToS = min(before.ToS, b.FromS)
				}
			}
			bars = append(bars, b)
			now = &bars[len(bars)-1]
		}
		for i := range s.Cues {
			snap, ch := &s.Cues[i], &s.Cues[i].Channels[c]
			if now != nil && ch.Open && ch.Role == now.Role && ch.Player == now.Player {
				now.PeakDB = max(now.PeakDB, float64(ch.LevelDB))
				continue
			}
			if now != nil {
				now.ToS, now.ToCue = snap.TimeS, snap.ID
				if !ch.Open {
					now.ToS = min(snap.TimeS+snap.Closing().S, s.EndS)
				}
				now = nil
			}
			switch x := ch.Early; {
			case ch.Open:
				begin(OpenBar{Channel: ch.Channel, Player: ch.Player, Kind: ch.Kind, Role: ch.Role,
					FromS: snap.TimeS, ToS: s.EndS, FromCue: snap.ID, PeakDB: float64(ch.LevelDB)})
			case x != nil && i+1 < len(s.Cues):
				begin(OpenBar{Channel: ch.Channel, Player: x.Player, Kind: ch.Kind, Role: x.Role,
					FromS: x.TimeS, ToS: s.EndS, FromCue: s.Cues[i+1].ID, PeakDB: float64(x.LevelDB)})
			}
		}
	}
	return bars
}

// channels is how many channels every snapshot has.
func channels(s *cue.Show) int {
	if len(s.Cues) == 0 {
		return 0
	}
	return len(s.Cues[0].Channels)
}

// OpenStretch is a time that a channel is open for one player, in any roles: its bars in order.
type OpenStretch struct{ Bars []OpenBar }

// FromS is when it opens.
func (x OpenStretch) FromS() float64 { return x.Bars[0].FromS }

// ToS is when it closes.
func (x OpenStretch) ToS() float64 { return x.Bars[len(x.Bars)-1].ToS }

// Stretches joins consecutive bars of a channel that have the same player.
func Stretches(bars []OpenBar) []OpenStretch {
	list := []OpenStretch{}
	for _, b := range bars {
		if n := len(list); n > 0 {
			last := list[n-1].Bars[len(list[n-1].Bars)-1]
			if last.Channel == b.Channel && last.Player == b.Player && last.ToCue == b.FromCue {
				list[n-1].Bars = append(list[n-1].Bars, b)
				continue
			}
		}
		list = append(list, OpenStretch{[]OpenBar{b}})
	}
	return list
}

// OpenStep is how many mics are open from one moment to the next step.
type OpenStep struct {
	AtS    float64
	Cue    string // the snapshot that begins it, maybe after a fade, or for which a mic opens early
	Open   int
	CostDB float64 // cue.OpenCostDB
}

// OpenCount lists how many mics are open over the show, with a step wherever the number changes.
func OpenCount(s *cue.Show) []OpenStep {
	var moments []OpenStep
	for i := range s.Cues {
		moments = append(moments, OpenStep{AtS: s.Cues[i].TimeS, Cue: s.Cues[i].ID})
	}
	bars := Bars(s)
	for _, b := range bars {
		moments = append(moments, OpenStep{AtS: b.FromS, Cue: b.FromCue})
		if b.ToCue != "" {
			moments = append(moments, OpenStep{AtS: b.ToS, Cue: b.ToCue})
		}
	}
	slices.SortStableFunc(moments, func(a, b OpenStep) int { return cmp.Compare(a.AtS, b.AtS) })
	steps := []OpenStep{}
	for _, m := range moments {
		for _, b := range bars {
			if b.FromS <= m.AtS && m.AtS < b.ToS {
				m.Open++
			}
		}
		if n := len(steps); n == 0 || steps[n-1].Open != m.Open {
			m.CostDB = cue.OpenCostDB(m.Open)
			steps = append(steps, m)
		}
	}
	return steps
}
