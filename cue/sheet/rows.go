package sheet

import (
	"cmp"
	"fmt"
	"slices"

	"backfield/cue"
	"backfield/cue/step"
)

// RunRow is one cue of the run sheet, and what it changes.
type RunRow struct {
	*cue.Snapshot
	AfterS  float64    // since the cue before; 0 for the first
	Step    *step.Step // what it changes; the next six fields come from it
	Opens   []ChannelMic
	Closes  []ChannelMic // with the role and level that they had
	Packs   []Pack       // who gives up an open channel or switches channels
	Changes []LevelChange
	Params  []string // changes of the mixer's own parameters on open channels, in words
	Glides  []string // who then moves along a path, up to the next cue
	Open    int      // how many mics are open after it
	Early   []EarlyRow
	Watch   []string
}

// EarlyRow is who opens by the clock at a moment after a cue, for the next one.
type EarlyRow struct {
	At      string // movement and count
	TimeS   float64
	Players []string
	For     string // the cue that they open for
}

// ChannelMic is one open channel.
type ChannelMic struct {
	Channel int
	Player  string // or the name of the fixed mic
	Kind    string // cue.Worn or cue.Fixed
	Role    string
	LevelDB float64
}

// Pack is a channel that goes to another player while it is open, or a player who switches channels: in words, and the
// role of the player who is heard then.
type Pack struct{ Text, Role string }

// LevelChange is an open channel that stays open and gets another role or level.
type LevelChange struct {
	ChannelMic
	WasRole string
	WasDB   float64
}

// WatchNote is something to watch for in a cue.
type WatchNote struct{ Cue, Text string }

// QuickS is the time since the cue before below which the run sheet marks a cue as quick.
const QuickS = 3.0

// Rows are the cues in order of time. Each note is with its cue, in the order given.
func Rows(s *cue.Show, notes []WatchNote) []RunRow {
	rows := []RunRow{}
	of := map[string]int{} // the row of a cue
	var before *cue.Snapshot
	for i := range s.Cues {
		now := &s.Cues[i]
		r := RunRow{Snapshot: now}
		if before != nil {
			r.AfterS = now.TimeS - before.TimeS
			if r.AfterS < QuickS && !now.Auto {
				r.Watch = append(r.Watch, fmt.Sprintf("quick: %.1f s after cue %s", r.AfterS, before.ID))
			}
		}
		r.fill(step.Between(s.Params, before, now))
		if i+1 < len(s.Cues) {
			r.early(s.Cues[i+1].ID)
		}
		of[now.ID] = len(rows)
		rows, before = append(rows, r), now
	}
	for _, n := range notes {
		if i, ok := of[n.Cue]; ok {
			rows[i].Watch = append(rows[i].Watch, n.Text)
		}
	}
	return rows
}

// fill sets what the step changes.
func (r *RunRow) fill(s *step.Step) {
	r.Step, r.Open = s, len(s.Open())
	for _, c := range s.Opens() {
		r.Opens = append(r.Opens, mic(c.Is))
	}
	for _, c := range s.Closes() {
		r.Closes = append(r.Closes, mic(c.Was))
	}
	for _, c := range s.Handovers() {
		r.Packs = append(r.Packs, Pack{c.Handover(), c.Is.Role})
	}
	for _, c := range s.Switches() {
		r.Packs = append(r.Packs, Pack{c.Switch(), c.Is.Role})
	}
	for _, c := range s.Leveled() {
		r.Changes = append(r.Changes, LevelChange{mic(c.Is), c.Was.Role, float64(c.Was.LevelDB)})
	}
	r.Glides = step.Names(s.Gliding())
	for _, x := range s.Settings() {
		r.Params = append(r.Params, x.String())
	}
}

// early lists who opens after the cue for the next one, in order of time.
func (r *RunRow) early(next string) {
	for i := range r.Channels {
		x := r.Channels[i].Early
		if x == nil {
			continue
		}
		n := slices.IndexFunc(r.Early, func(e EarlyRow) bool { return e.TimeS == x.TimeS })
		if n < 0 {
			n = len(r.Early)
			at := fmt.Sprintf("%d:%.6g", x.Movement, x.Count)
			r.Early = append(r.Early, EarlyRow{At: at, TimeS: x.TimeS, For: next})
		}
		r.Early[n].Players = append(r.Early[n].Players, x.Player)
	}
	slices.SortStableFunc(r.Early, func(a, b EarlyRow) int { return cmp.Compare(a.TimeS, b.TimeS) })
}

func mic(c *cue.Channel) ChannelMic {
	return ChannelMic{c.Channel, c.Player, c.Kind, c.Role, float64(c.LevelDB)}
}
