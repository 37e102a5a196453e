// Package propose makes of what each cue of a show wants the levels of roles, the nudges of cues and the trims of fixed
// mics that give it. All of them are in whole dB, downward so that no limit is passed, and none is under 2 dB.
package propose

import (
	"math"
	"slices"

	"backfield/cue/balance"
	"backfield/cue/keep"
	"backfield/cue/score"
	"backfield/cue/work"
	"backfield/layout/level/advice"
)

// Whole is a change as it is proposed: whole dB, downward; 0 where it is under 2 dB.
func Whole(db float64) float64 {
	if v := math.Floor(db + 1e-9); math.Abs(v) >= advice.LeastDB {
		return v
	}
	return 0
}

// LevelPlan is where the faders of a whole show should start.
type LevelPlan struct {
	keep.Changes
	Levels []RoleLevel `json:"role_levels,omitempty"`         // of the roles that change, in the order of [mix]
	Left   []TooClose  `json:"worn_mics_too_close,omitempty"` // to feedback, whatever fixed mics do
}

// RoleLevel is the level of a role.
type RoleLevel struct {
	Role     string  `json:"role"`
	WasDB    float64 `json:"was_db"`
	ChangeDB float64 `json:"change_db"` // as the cues want it, on the grid of 0.5 dB
	IsDB     float64 `json:"is_db"`     // in whole dB from what it was
}

// TooClose is a cue whose worn mics are too close to feedback even so.
type TooClose struct {
	Cue    string  `json:"cue"`
	OverDB float64 `json:"over_db"` // by which these have to come down
}

// New is the plan for cues that are computed. Cues without a proposal get none.
func New(x *work.CompileSetup, ids []string, cues []*balance.CueLoudness) *LevelPlan {
	p := &LevelPlan{}
	var wants []advice.RoleCue
	var of []*balance.CueLoudness
	for _, c := range cues {
		if c.Advice != nil && c.Measured.Calibrated() {
			of = append(of, c)
			wants = append(wants, advice.RoleCue{Role: c.Role, Mics: len(featured(c)), ChangeDB: c.Advice.ChangeDB})
		}
	}
	groups, own := advice.RoleChanges(wants)
	for _, r := range x.Score.Roles {
		if g := largest(groups, r.Name); g != nil && Whole(g.ChangeDB) != 0 {
			p.Levels = append(p.Levels, RoleLevel{r.Name, r.LevelDB, g.ChangeDB, r.LevelDB + Whole(g.ChangeDB)})
			p.Roles = append(p.Roles, keep.RoleStep{Role: r.Name, DB: Whole(g.ChangeDB)})
		}
	}
	p.keepFeatured(x, cues)
	for _, g := range groups {
		for _, i := range g.Cues {
			nudge := Whole(g.ChangeDB + own[i] - p.step(g.Role))
			if nudge == 0 {
				continue
			}
			for _, name := range short(of[i]) {
				p.Nudges = append(p.Nudges, keep.KeptNudge{Cue: ids[of[i].Cue], Name: name, DB: nudge})
			}
		}
	}
	slices.SortStableFunc(p.Nudges, func(a, b keep.KeptNudge) int {
		return slices.Index(ids, a.Cue) - slices.Index(ids, b.Cue)
	})
	p.hush(x.Score.Goals.MarginDB, ids, cues)
	return p
}

// keepFeatured leaves out the steps of roles with which a cue would feature others than it does: featured is who is open in
// the loudest role of which a lead is wanted. Their cues are nudged instead.
func (p *LevelPlan) keepFeatured(x *work.CompileSetup, cues []*balance.CueLoudness) {
	front := func(worn []string, steps bool) []string {
		roles := slices.Clone(x.Score.Roles)
		for i := range roles {
			if steps {
				roles[i].LevelDB += p.step(roles[i].Name)
			}
		}
		closed := func(r score.Role) bool { return !slices.Contains(worn, r.Name) }
		return x.Score.Goals.Front(slices.DeleteFunc(roles, closed))
	}
	for again := true; again; {
		again = false
		for _, c := range cues {
			if slices.Equal(front(c.Worn, false), front(c.Worn, true)) {
				continue
			}
			again = true // without these steps, others may not keep it either
			p.Roles = slices.DeleteFunc(p.Roles, func(r keep.RoleStep) bool { return slices.Contains(c.Worn, r.Role) })
			p.Levels = slices.DeleteFunc(p.Levels, func(r RoleLevel) bool { return slices.Contains(c.Worn, r.Role) })
		}
	}
}

// largest is the group of a role with the most cues: [mix] has one level for all of them, and the others are nudged.
func largest(groups []advice.RoleChange, role string) (most *advice.RoleChange) {
	for i := range groups {
		if g := &groups[i]; g.Role == role && (most == nil || len(g.Cues) > len(most.Cues)) {
			most = g
		}
	}
	return most
}

// step is the change of a role's level.
func (p *LevelPlan) step(role string) float64 {
	i := slices.IndexFunc(p.Roles, func(r keep.RoleStep) bool { return r.Role == role })
	if i < 0 {
		return 0
	}
	return p.Roles[i].DB
}

// openMic is a worn mic that is open in a cue.
type openMic struct {
	name, section string
	featured      bool
}

// worn are the worn mics that are open at either end of a cue.
func worn(c *balance.CueLoudness) (list []openMic) {
	for _, e := range c.Ends {
		for _, m := range e.Playing.Worn {
			who := &e.Playing.Performers[m.Wearer]
			if o := (openMic{m.Name, who.Section, who.Featured}); !slices.Contains(list, o) {
				list = append(list, o)
			}
		}
	}
	return list
}

// featured are the featured ones of these.
func featured(c *balance.CueLoudness) []openMic {
	return slices.DeleteFunc(worn(c), func(o openMic) bool { return !o.featured })
}

// short names the featured mics of a cue in few words: a section whose open mics are all featured by its group.
func short(c *balance.CueLoudness) (names []string) {
	all := worn(c)
	for _, o := range featured(c) {
		mics, others := 0, 0
		for _, x := range all {
			if x.section == o.section {
				mics++
				if !x.featured {
					others++
				}
			}
		}
		name := o.name
		if mics > 1 && others == 0 {
			name = "@" + o.section
		}
		if !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	return names
}
