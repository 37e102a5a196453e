package score

import (
	"slices"

	"backfield/layout/level"
	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/layout/unit"
)

// LoudGoals are what the levels of a show should reach and keep, in [balance].
type LoudGoals struct {
	Targets   []LeadTarget
	SharePct  float64 // of the seats that should have the lead
	OverDB    float64 // the most that the stacks may be over the player, at the press box
	MarginDB  float64 // wanted before feedback
	RehearseS float64 // how long a day's rehearsal is, for doses
}

// LeadTarget is how much louder than all others the players of a role should be, in dB.
type LeadTarget struct {
	Role   table.Text // Set only where the score says it
	LeadDB float64
}

// TargetOf is the lead that a role should have; ok is false for a role without one.
func (g *LoudGoals) TargetOf(role string) (db float64, ok bool) {
	for _, t := range g.Targets {
		if t.Role.V == role {
			return t.LeadDB, true
		}
	}
	return 0, false
}

// Front names those of some roles that are featured where all of them are open: the loudest ones, of those of which a lead is
// wanted if there are any.
func (g *LoudGoals) Front(roles []Role) (names []string) {
	var front Role
	for _, wanted := range [...]bool{true, false} {
		for _, r := range roles {
			if _, ok := g.TargetOf(r.Name); ok != wanted || len(names) > 0 && r.LevelDB < front.LevelDB {
				continue
			}
			if len(names) > 0 && r.LevelDB > front.LevelDB {
				names = nil
			}
			if !slices.Contains(names, r.Name) {
				front, names = r, append(names, r.Name)
			}
		}
		if len(names) > 0 {
			return names
		}
	}
	return nil
}

// StatedDynamics is how loudly a player or a section plays in a cue, in dB from forte.
type StatedDynamics struct {
	Of table.Text // a player, or an @section
	DB float64
}

// StatedFacing is where a player or a section points in a cue.
type StatedFacing struct {
	Of     table.Text // a player, or an @section
	Facing level.Facing
}

// balanceTable is [balance]; the keys that it does not know are roles.
type balanceTable struct {
	Share   table.Num                 `key:"share"`
	Over    table.Quantity            `key:"over"`
	Margin  table.Quantity            `key:"margin"`
	Day     table.Quantity            `key:"day"`
	Targets table.Map[table.Quantity] `key:"*"`
}

// ownBalanceKeys are the names that a role may not have, since they mean something else in [balance].
var ownBalanceKeys = []string{"share", "over", "margin", "day"}

// defaultTargets hold for the roles that usually have these names.
var defaultTargets = []LeadTarget{{table.Text{V: "solo"}, 6}, {table.Text{V: "feature"}, 3}}

// readBalance reads the targets of lead by role, and the limits.
func (s *Score) readBalance(t *balanceTable, p *source.Problems) {
	s.Goals = LoudGoals{
		SharePct:  bounded(t.Share, 90, 1, 100, "the share, in percent of the seats,", p),
		OverDB:    t.Over.Within(unit.Level, 10, 0, 30, "over", p),
		MarginDB:  t.Margin.Within(unit.Level, 6, 0, 30, "the margin", p),
		RehearseS: t.Day.Within(unit.Duration, 3*3600, 60, 24*3600, "the day", p),
	}
	for _, e := range t.Targets.Entries {
		if _, ok := s.Role(e.Name.V); !ok {
			p.Add(targetWithoutRole(e.Name, s.RoleNames()))
			continue
		}
		db := e.Value.Within(unit.Level, 0, -20, 30, "a lead", p)
		s.Goals.Targets = append(s.Goals.Targets, LeadTarget{e.Name, db})
	}
	for _, d := range defaultTargets {
		if _, ok := s.Goals.TargetOf(d.Role.V); !ok {
			s.Goals.Targets = append(s.Goals.Targets, d)
		}
	}
}

// dynamicsValue is a dynamic mark, or dB from forte.
type dynamicsValue struct {
	DB  float64
	Set bool
}

// DecodeNode reads either.
func (v *dynamicsValue) DecodeNode(n *table.Node, p *source.Problems) {
	switch n.Kind {
	case table.String:
		db, ok := level.DynamicsDB(n.Text)
		if !ok {
			p.Add(unknownDynamics(n.Span, n.Text))
			return
		}
		v.DB, v.Set = db, true
	case table.Number:
		if n.Float < softestDB || n.Float > loudestMarkDB {
			p.Add(outOfBounds(n.Span, "dynamics, in dB from forte,", n.Float, softestDB, loudestMarkDB))
			return
		}
		v.DB, v.Set = n.Float, true
	default:
		table.WrongType(n, "a dynamic mark such as \"mf\", or dB from forte", p)
	}
}

// own is the value, nil where there is none.
func (v *dynamicsValue) own() *float64 {
	if !v.Set {
		return nil
	}
	return &v.DB
}

// The bounds of dynamics in dB from forte.
const (
	softestDB     = -30
	loudestMarkDB = 12
)

// readParts reads who plays in a cue, how loudly, and in which direction.
func (t *cueTable) readParts(c *Cue) {
	c.Plays, c.Rests = t.Plays, t.Rests
	for _, e := range t.Dynamics.Entries {
		if e.Value.Set {
			c.Dynamics = append(c.Dynamics, StatedDynamics{e.Name, e.Value.DB})
		}
	}
	for _, e := range t.Facing.Entries {
		if e.Value.Set {
			c.Facing = append(c.Facing, StatedFacing{e.Name, e.Value.Facing})
		}
	}
}
