// Package parts knows who plays when: the parts of the music, laid to the players who play them.
package parts

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"backfield/cue/clock"
	"backfield/cue/roster"
	"backfield/cue/score"
	"backfield/cue/timeline"
	"backfield/layout/source"
)

// Lanes are the lanes of a show's players, where [music.parts] maps parts to them. Those of a show without it are empty.
type Lanes struct {
	lanes map[laneKey]*PlayerLane
}

type laneKey struct {
	player   string
	movement int
}

// PlayerLane is what one player plays in one movement.
type PlayerLane struct {
	Notes []clock.PlayedNote // in order of time, in counts elapsed since the downbeat
	Runs  []PlayedRun        // in order of time
}

// PlayedRun is a time for which a player plays without a rest of a count or more.
type PlayedRun struct {
	From, To float64 // in counts elapsed since the downbeat
	LoudDB   float64 // its loudest note, in dB from forte
	Marked   bool    // the music says how loudly; else LoudDB is 0
	Solo     bool    // of a passage that the music calls solo or soli
}

// shortRestCounts is the rest that a lane no longer shows: what is shorter is how the notes are separated.
const shortRestCounts = 1

// Read lays the parts to the players, and reports parts that are in no file of music.
func Read(f *timeline.Files, p *source.Problems) *Lanes {
	x := &Lanes{lanes: map[laneKey]*PlayerLane{}}
	checkNames(f.Score, p)
	for i, m := range f.Score.Movements {
		if m.Music == nil {
			continue
		}
		for _, mapped := range f.Score.Parts {
			k := slices.IndexFunc(m.Music.Parts, func(part clock.MusicPart) bool { return part.Name == mapped.Part.V })
			if k < 0 {
				continue
			}
			x.give(m.Music.Parts[k].Notes, Players(f.Roster, mapped), i+1)
		}
	}
	for _, lane := range x.lanes {
		slices.SortStableFunc(lane.Notes, func(a, b clock.PlayedNote) int { return cmp.Compare(a.From, b.From) })
		lane.Runs = runs(lane.Notes)
	}
	return x
}

// Players are the players of a part, each once, in the order in which it names them.
func Players(r *roster.Roster, mapped score.PartPlayers) []string {
	var list []string
	for _, name := range mapped.Names {
		section, isSection := strings.CutPrefix(name.V, "@")
		for _, player := range r.Players {
			is := player.Name == name.V || isSection && player.Section == section
			if is && !slices.Contains(list, player.Name) {
				list = append(list, player.Name)
			}
		}
	}
	return list
}

// give lays notes to the players of their part.
func (x *Lanes) give(notes []clock.PlayedNote, players []string, movement int) {
	for i, player := range players {
		key := laneKey{player, movement}
		lane := x.lanes[key]
		if lane == nil {
			lane = &PlayerLane{}
			x.lanes[key] = lane
		}
		for _, n := range notes {
			if plays(n, i, len(players)) {
				lane.Notes = append(lane.Notes, n)
			}
		}
	}
}

// plays reports whether a note is for the player of a rank, from 0, among those of its part. Desks are shared out in
// order; a desk that nobody has goes to those who are there.
func plays(n clock.PlayedNote, rank, players int) bool {
	switch {
	case n.Desk == 0 || n.Desks == 0 && n.Desk > players:
		return true
	case n.Desks == 0:
		return rank == n.Desk-1
	case players < n.Desks:
		return (n.Desk-1)%players == rank
	}
	return rank*n.Desks/players == n.Desk-1
}

// runs joins notes up to the next rest.
func runs(notes []clock.PlayedNote) []PlayedRun {
	var list []PlayedRun
	for _, n := range notes {
		k := len(list) - 1
		if k < 0 || n.From >= list[k].To+shortRestCounts-1e-6 {
			list = append(list, runOf(n))
			continue
		}
		list[k].add(n)
	}
	return list
}

func runOf(n clock.PlayedNote) PlayedRun {
	return PlayedRun{From: n.From, To: n.To, LoudDB: n.DynamicsDB, Marked: n.Marked, Solo: n.Solo}
}

func (r *PlayedRun) add(n clock.PlayedNote) {
	r.To, r.LoudDB = max(r.To, n.To), max(r.LoudDB, n.DynamicsDB)
	r.Marked, r.Solo = r.Marked || n.Marked, r.Solo || n.Solo
}

// Passages are the runs of a lane, split where a solo begins or ends without a rest. Solo holds for all of each.
func (l *PlayerLane) Passages() []PlayedRun {
	var list []PlayedRun
	for _, run := range l.Runs {
		first := len(list)
		for _, n := range l.Notes {
			if n.From < run.From-1e-6 || n.From > run.To-1e-6 {
				continue
			}
			if k := len(list) - 1; k >= first && n.Solo == list[k].Solo {
				list[k].add(n)
				continue
			} else if k >= first {
				list[k].To = min(list[k].To, n.From)
			}
			list = append(list, runOf(n))
		}
	}
	return slices.DeleteFunc(list, func(p PlayedRun) bool { return p.To < p.From+1e-6 }) // of notes that begin together
}

// Empty reports whether no part of the show is mapped to anybody.
func (x *Lanes) Empty() bool { return len(x.lanes) == 0 }

// Of is what a player plays in a movement, nil where no part of it is mapped to them: then nobody knows.
func (x *Lanes) Of(player string, movement int) *PlayerLane {
	return x.lanes[laneKey{player, movement}]
}

// Playing is the run that sounds at a place, in counts elapsed since the downbeat, or begins there; ok is false in a
// rest.
func (l *PlayerLane) Playing(elapsed float64) (run PlayedRun, ok bool) {
	for _, r := range l.Runs {
		if elapsed > r.From-1e-6 && elapsed < r.To-1e-6 {
			return r, true
		}
	}
	return run, false
}

// Next is the first run that ends after a place.
func (l *PlayerLane) Next(elapsed float64) (run PlayedRun, ok bool) {
	for _, r := range l.Runs {
		if r.To > elapsed+1e-6 {
			return r, true
		}
	}
	return run, false
}

// Rests lists the rests between two places, in order: those before the first note and after the last too.
func (l *PlayerLane) Rests(from, to float64) []PlayedRun {
	var list []PlayedRun
	at := from
	for _, r := range l.Runs {
		if rest := min(r.From, to); rest > at+1e-6 && r.From > from {
			list = append(list, PlayedRun{From: at, To: rest})
		}
		at = math.Max(at, r.To)
	}
	if at < to-1e-6 {
		list = append(list, PlayedRun{From: at, To: to})
	}
	return list
}

// DynamicsDB is how loudly the player plays at a place or, in a rest, next; ok is false where the music does not say.
func (l *PlayerLane) DynamicsDB(elapsed float64) (db float64, ok bool) {
	var now *clock.PlayedNote
	for i := range l.Notes {
		n := &l.Notes[i]
		if n.From <= elapsed+1e-6 && n.To > elapsed+1e-6 || n.From > elapsed+1e-6 && now == nil {
			now = n
		}
		if n.From > elapsed+1e-6 {
			break
		}
	}
	if now == nil || !now.Marked {
		return 0, false
	}
	return now.DynamicsDB, true
}
