package sheet

import (
	"fmt"
	"strings"

	"backfield/cue"
)

// Row is one cue of the run sheet: what changes at it against the moment before, and what goes by itself in it.
type Row struct {
	*cue.Snapshot
	AfterS    float64 // since the cue before; 0 for the first
	Opens     []Mic
	Closes    []Mic // with the role and level that they had
	Changes   []Change
	Params    []string // what changes of the desk's own parameters while it is heard, in words
	FollowOns []*cue.Snapshot
	Open      int // mics, once it has happened
	Watch     []string
}

// Mic is one open channel.
type Mic struct {
	Channel int
	Player  string // or the fixed mic
	Kind    string // cue.Worn or cue.Fixed
	Role    string
	LevelDB float64
}

// Change is an open channel that stays open and gets another role or level.
type Change struct {
	Mic
	WasRole string
	WasDB   float64
}

// Note is something to watch in a cue or in one of its follow-ons.
type Note struct{ Cue, Text string }

// QuickS is the time since the cue before under which the run sheet warns the operator's hand.
const QuickS = 3.0

// Rows are the cues of the score in order of time, follow-ons under the cue that they belong to. Each note stands
// with its cue, in the order given.
func Rows(s *cue.Show, notes []Note) []Row {
	rows := []Row{}
	of := map[string]int{} // the row of a cue or follow-on
	var before *cue.Snapshot
	for i := range s.Cues {
		now := &s.Cues[i]
		if now.FollowOn && len(rows) > 0 {
			last := &rows[len(rows)-1]
			last.FollowOns = append(last.FollowOns, now)
		} else {
			r := Row{Snapshot: now}
			if n := len(rows); n > 0 {
				r.AfterS = now.TimeS - rows[n-1].TimeS
				if r.AfterS < QuickS && !now.Auto {
					r.Watch = append(r.Watch, fmt.Sprintf("quick: %.1f s after cue %s", r.AfterS, rows[n-1].ID))
				}
			}
			r.compare(before, now)
			r.Params = ParamChanges(s.Params, before, now)
			rows = append(rows, r)
		}
		of[now.ID] = len(rows) - 1
		before = now
	}
	for _, n := range notes {
		if i, ok := of[n.Cue]; ok {
			rows[i].Watch = append(rows[i].Watch, n.Text)
		}
	}
	return rows
}

// compare fills in what opens, closes and changes from one snapshot to the next; before is nil for the first.
func (r *Row) compare(before, now *cue.Snapshot) {
	for i, ch := range now.Channels {
		was := cue.Channel{}
		if before != nil {
			was = before.Channels[i]
		}
		if ch.Open {
			r.Open++
		}
		same := was.Player == ch.Player
		switch {
		case ch.Open && was.Open && same:
			if ch.Role != was.Role || ch.LevelDB != was.LevelDB {
				r.Changes = append(r.Changes, Change{mic(ch), was.Role, float64(was.LevelDB)})
			}
		case ch.Open && was.Open: // the pack has changed hands
			r.Closes = append(r.Closes, mic(was))
			r.Opens = append(r.Opens, mic(ch))
		case ch.Open:
			r.Opens = append(r.Opens, mic(ch))
		case was.Open:
			r.Closes = append(r.Closes, mic(was))
		}
	}
}

// ParamChanges tells which of the desk's own parameters change on channels that stay open, a line for each parameter
// and value: "presence 5.5 dB: Tpt 1, Tpt 4". before is nil for the first snapshot.
func ParamChanges(own []cue.Own, before, now *cue.Snapshot) []string {
	var lines []string
	who := map[string][]string{}
	for n, o := range own {
		for i, ch := range now.Channels {
			if before == nil || !ch.Open || !before.Channels[i].Open || n >= len(ch.Params) || n >= len(before.Channels[i].Params) {
				continue
			}
			if v := ch.Params[n].Value; v != before.Channels[i].Params[n].Value {
				line := o.Name + " " + o.Words(v)
				if who[line] == nil {
					lines = append(lines, line)
				}
				who[line] = append(who[line], ch.Player)
			}
		}
	}
	for i, line := range lines {
		lines[i] = line + ": " + strings.Join(who[line], ", ")
	}
	return lines
}

func mic(c cue.Channel) Mic {
	return Mic{c.Channel, c.Player, c.Kind, c.Role, float64(c.LevelDB)}
}
