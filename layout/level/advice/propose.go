package advice

import (
	"math"
	"slices"
	"sort"

	"backfield/layout/level"
)

// Goal is what a cue should reach and keep. DefaultGoal has what most shows want.
type Goal struct {
	TargetDB float64 // lead
	SharePct float64 // of the seats that should have it
	OverDB   float64 // the most that the stacks may be over the player, at the press box
	MarginDB float64 // wanted before feedback

	// RoomDB is how far the featured faders may go up before one of them is at its channel's ceiling: the least over all
	// snapshots of the cue, channels of players without a dot included. +Inf: the mixer has no ceiling.
	RoomDB float64
}

// DefaultGoal is a goal for the lead: at 90 % of the seats (assumed), with the stacks at most 10 dB over the player and 6 dB
// before feedback (both read).
func DefaultGoal(targetDB, roomDB float64) Goal {
	return Goal{TargetDB: targetDB, SharePct: 90, OverDB: 10, MarginDB: 6, RoomDB: roomDB}
}

// Limit is what stops the featured fader.
type Limit string

// The limits, in the order in which they are named where several stop at the same change.
const (
	LoopLimit    Limit = "loop"    // feedback
	OverLimit    Limit = "over"    // the stacks would be too far over the player
	CeilingLimit Limit = "ceiling" // the mixer's highest level
)

// Proposal is where the faders of a cue should start, on a grid of 0.5 dB.
type Proposal struct {
	Need     level.Figure // the least change of the featured faders that reaches the target; nothing: none on the grid
	CapDB    float64
	Limit    Limit        // what CapDB comes from
	ChangeDB float64      // of all featured faders
	Short    level.Figure // what the change is short of the need
	BedAsked bool         // the change alone does not reach the target
	Bed      level.Figure // the change of all other faders that reaches it then; nothing: none on the grid
	Others   bool         // the other mics alone are already over the margin
}

// The grid of changes.
const (
	gridDB     = 0.5
	mostDB     = 20
	leastBedDB = -12
	extraDB    = 10 // by which the featured mics stay under the margin where the others are over it already
)

// greatest is the greatest x on the grid from lo to hi with keep(x), where keep holds up to some x and not beyond; ok is
// false where none has.
func greatest(lo, hi float64, keep func(x float64) bool) (x float64, ok bool) {
	n := int((hi-lo)/gridDB) + 1
	first := sort.Search(n, func(i int) bool { return !keep(lo + gridDB*float64(i)) })
	if first == 0 {
		return 0, false
	}
	return lo + gridDB*float64(first-1), true
}

// least is the least x on the grid from lo to hi with reach(x), where reach holds from some x on.
func least(lo, hi float64, reach func(x float64) bool) (x float64, ok bool) {
	n := int((hi-lo)/gridDB) + 1
	i := sort.Search(n, func(i int) bool { return reach(lo + gridDB*float64(i)) })
	return lo + gridDB*float64(i), i < n
}

// Propose says how far the featured faders may go and what stops them. ends are those of all snapshots of the cue, loops
// those of every quarter count. ok is false where nothing is featured through a mic, or where there is nothing that it
// could lead.
func Propose(ends level.Ends, loops []*level.LoopGains, g Goal) (p Proposal, ok bool) {
	featured := slices.ContainsFunc(ends, func(b *level.Balance) bool { return b.FeaturedMics > 0 })
	if lead, _ := ends.LeadAt(g.SharePct); !featured || !lead.OK {
		return p, false
	}
	leads := func(x, y float64) bool { return ends.Leads(x, y, g.TargetDB, g.SharePct) }
	need, some := least(-mostDB, mostDB, func(x float64) bool { return leads(x, 0) })
	p.cap(ends, loops, g)
	switch {
	case !some:
		p.ChangeDB = p.CapDB
	case need > 0:
		p.ChangeDB = min(need, p.CapDB)
	case p.CapDB >= 0:
		p.ChangeDB = 0
	case p.Limit == LoopLimit:
		p.ChangeDB = p.CapDB
	default:
		p.ChangeDB = max(p.CapDB, need)
	}
	if some {
		p.Need, p.Short = level.Figure{DB: need, OK: true}, level.Figure{DB: max(need-p.ChangeDB, 0), OK: true}
	}
	if p.BedAsked = !some || p.ChangeDB < need; p.BedAsked {
		p.Bed.DB, p.Bed.OK = greatest(leastBedDB, 0, func(y float64) bool { return leads(p.ChangeDB, y) })
	}
	return p, true
}

// cap finds how far the featured faders may go.
func (p *Proposal) cap(ends level.Ends, loops []*level.LoopGains, g Goal) {
	var other, total float64
	for _, l := range loops {
		for b := range l.Other {
			other = max(other, l.Other[b])
		}
	}
	limit := -g.MarginDB + slack
	p.Others = level.Decibels(other) > limit
	p.CapDB, p.Limit = capOf(func(x float64) bool {
		up := level.Energy(x)
		total = 0
		for _, l := range loops {
			for b := range l.Other {
				if p.Others {
					total = max(total, up*l.Featured[b])
				} else {
					total = max(total, up*l.Featured[b]+l.Other[b])
				}
			}
		}
		if p.Others {
			return level.Decibels(total) <= limit-extraDB
		}
		return level.Decibels(total) <= limit
	}), LoopLimit
	over, _ := ends.OverAtBox()
	if c := capOf(func(x float64) bool { return !over.OK || over.DB+x <= g.OverDB+slack }); c < p.CapDB {
		p.CapDB, p.Limit = c, OverLimit
	}
	if c := capOf(func(x float64) bool { return x <= g.RoomDB+slack }); c < p.CapDB {
		p.CapDB, p.Limit = c, CeilingLimit
	}
}

// capOf is the greatest change that keeps a limit, or the least of all where none does.
func capOf(keep func(x float64) bool) float64 {
	if x, ok := greatest(-mostDB, mostDB, keep); ok {
		return x
	}
	return -mostDB
}

// RoleCue is what one cue of a role wants.
type RoleCue struct {
	Role     string
	Mics     int // featured worn mics
	ChangeDB float64
}

// RoleChange is what all cues of a role want together, with one or two featured mics, or with more.
type RoleChange struct {
	Role     string
	Many     bool // three mics or more
	ChangeDB float64
	Cues     []int // indices of these cues
}

// nudgeDB is the least difference from its role's change that a cue gets as a nudge.
const nudgeDB = 1.5

// RoleChanges groups the proposals of cues by role and number of mics. A group's change is the median of its cues', of an
// even number the mean of the middle two, rounded to 0.5 dB, halves up. The nudges are what each cue needs on top, 0 where
// that is less than 1.5 dB. Groups are in the order of their first cue.
func RoleChanges(cues []RoleCue) (groups []RoleChange, nudges []float64) {
	for i, c := range cues {
		many := c.Mics > 2
		at := slices.IndexFunc(groups, func(g RoleChange) bool { return g.Role == c.Role && g.Many == many })
		if at < 0 {
			at = len(groups)
			groups = append(groups, RoleChange{Role: c.Role, Many: many})
		}
		groups[at].Cues = append(groups[at].Cues, i)
	}
	nudges = make([]float64, len(cues))
	for i := range groups {
		g := &groups[i]
		var changes []float64
		for _, cue := range g.Cues {
			changes = append(changes, cues[cue].ChangeDB)
		}
		slices.Sort(changes)
		n := len(changes)
		median := (changes[(n-1)/2] + changes[n/2]) / 2
		g.ChangeDB = math.Floor(median/gridDB+0.5) * gridDB
		for _, cue := range g.Cues {
			if d := cues[cue].ChangeDB - g.ChangeDB; math.Abs(d) >= nudgeDB-slack {
				nudges[cue] = d
			}
		}
	}
	return groups, nudges
}
