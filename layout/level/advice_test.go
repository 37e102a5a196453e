package level_test

import (
	"math/rand/v2"
	"slices"
	"testing"

	"backfield/layout/level"
	"backfield/layout/level/advice"
)

// moved is a scene with the featured faders moved by x and all others by y.
func moved(p *level.Playing, x, y float64) *level.Playing {
	q := *p
	q.Worn, q.Fixed = slices.Clone(p.Worn), slices.Clone(p.Fixed)
	for i := range q.Worn {
		if q.Performers[q.Worn[i].Wearer].Featured {
			q.Worn[i].FaderDB += x
		} else {
			q.Worn[i].FaderDB += y
		}
	}
	for i := range q.Fixed {
		q.Fixed[i].FaderDB += y
	}
	return &q
}

// grid are the changes from lo to hi.
func grid(lo, hi float64) (list []float64) {
	for x := lo; x <= hi; x += 0.5 {
		list = append(list, x)
	}
	return list
}

// plainProposal is the proposal by its definition: every change is tried on the scenes themselves.
func plainProposal(s *level.Stadium, scenes []*level.Playing, g advice.Goal) (p advice.Proposal) {
	const tiny = 1e-9
	leads := func(x, y float64) bool {
		return !slices.ContainsFunc(scenes, func(q *level.Playing) bool {
			lead, _ := level.Ends{s.Hear(moved(q, x, y))}.LeadAt(g.SharePct)
			return lead.DB < g.TargetDB-tiny
		})
	}
	loop := func(x float64, count func(m level.MicLoop) bool) (worst float64) {
		for _, q := range scenes {
			var total level.Energies
			for _, m := range s.Loops(moved(q, x, 0)).Mics {
				for b := range m.Loop {
					if count(m) {
						total[b] += m.Loop[b]
					}
				}
			}
			worst = max(worst, slices.Max(total[:]))
		}
		return level.Decibels(worst)
	}
	over := func(x float64) (worst float64) {
		worst = -999
		for _, q := range scenes {
			if v := s.Hear(moved(q, x, 0)).Box.Over(); v.OK {
				worst = max(worst, v.DB)
			}
		}
		return worst
	}
	all := func(level.MicLoop) bool { return true }
	p.Others = loop(0, func(m level.MicLoop) bool { return !m.Featured }) > -g.MarginDB+tiny
	keeps := []func(x float64) bool{
		func(x float64) bool {
			if p.Others {
				return loop(x, func(m level.MicLoop) bool { return m.Featured }) <= -g.MarginDB-10+tiny
			}
			return loop(x, all) <= -g.MarginDB+tiny
		},
		func(x float64) bool { return over(x) <= g.OverDB+tiny },
		func(x float64) bool { return x <= g.RoomDB+tiny },
	}
	p.CapDB = 99
	for i, limit := range []advice.Limit{advice.LoopLimit, advice.OverLimit, advice.CeilingLimit} {
		most := -20.0
		for _, x := range grid(-20, 20) {
			if keeps[i](x) {
				most = x
			}
		}
		if most < p.CapDB {
			p.CapDB, p.Limit = most, limit
		}
	}
	for _, x := range grid(-20, 20) {
		if leads(x, 0) {
			p.Need = level.Figure{DB: x, OK: true}
			break
		}
	}
	switch need := p.Need.DB; {
	case !p.Need.OK:
		p.ChangeDB = p.CapDB
	case need > 0:
		p.ChangeDB = min(need, p.CapDB)
	case p.CapDB >= 0:
	case p.Limit == advice.LoopLimit:
		p.ChangeDB = p.CapDB
	default:
		p.ChangeDB = max(p.CapDB, need)
	}
	if p.Need.OK {
		p.Short = level.Figure{DB: max(0, p.Need.DB-p.ChangeDB), OK: true}
	}
	if p.BedAsked = !p.Need.OK || p.ChangeDB < p.Need.DB; p.BedAsked {
		for _, y := range grid(-12, 0) {
			if leads(p.ChangeDB, y) {
				p.Bed = level.Figure{DB: y, OK: true}
			}
		}
	}
	return p
}

// TestProposals: what Propose finds by halving is what trying every change finds.
func TestProposals(t *testing.T) {
	limits, beds, none, others := map[advice.Limit]int{}, 0, 0, 0
	for seed := range uint64(60) {
		r := rand.New(rand.NewPCG(seed, 17))
		c, p := randomScene(r)
		c.Seats = c.Seats[:2]
		_, other := randomScene(r)
		s := level.NewStadium(c)
		other.Performers = p.Performers // the same people, with other mics and faders
		for _, q := range []*level.Playing{p, other} {
			for i := range q.Worn {
				q.Worn[i].SendDB = slices.Repeat([]float64{0}, len(c.Stacks))
			}
		}
		scenes := []*level.Playing{p, other}
		var ends level.Ends
		var loops []*level.LoopGains
		for _, q := range scenes {
			ends, loops = append(ends, s.Hear(q)), append(loops, s.Loops(q))
		}
		// The goal is near what there is, so that each of its parts may be the one that decides.
		around := func(v, by float64) float64 { return v + by*(2*r.Float64()-1) }
		lead, _ := ends.LeadAt(90)
		over, _ := ends.OverAtBox()
		_, loop := level.WorstLoop(loops)
		g := advice.Goal{TargetDB: around(lead.DB, 12), SharePct: 90, OverDB: around(over.DB, 15),
			MarginDB: around(-loop-5, 12), RoomDB: around(8, 8)}
		got, ok := advice.Propose(ends, loops, g)
		if want := plainProposal(s, scenes, g); !ok || got != want {
			t.Fatalf("seed %d: %+v, want %+v", seed, got, want)
		}
		limits[got.Limit]++
		if got.Bed.OK {
			beds++
		}
		if !got.Need.OK {
			none++
		}
		if got.Others {
			others++
		}
	}
	if len(limits) < 3 || beds < 5 || none < 5 || others < 5 {
		t.Errorf("limits %v, %d beds, %d without a need, %d whose other mics ring: the scenes try too little", limits, beds,
			none, others)
	}
}

// TestNothingToPropose: without a featured mic, or with nothing to lead over, there is no proposal.
func TestNothingToPropose(t *testing.T) {
	s, p := smallStadium(100, 0), smallScene(0)
	loops := []*level.LoopGains{s.Loops(p)}
	p.Performers[0].Featured = false
	if _, ok := advice.Propose(level.Ends{s.Hear(p)}, loops, advice.DefaultGoal(6, 9)); ok {
		t.Error("a proposal for a cue in which nobody is featured")
	}
	p.Performers[0].Featured = true
	p.Performers, p.Worn, p.Fixed = p.Performers[:1], p.Worn[:1], nil
	if _, ok := advice.Propose(level.Ends{s.Hear(p)}, loops, advice.DefaultGoal(6, 9)); ok {
		t.Error("a proposal for a cue in which nobody else plays")
	}
}

func TestRoleChanges(t *testing.T) {
	var cues []advice.RoleCue
	add := func(role string, mics int, db float64) {
		cues = append(cues, advice.RoleCue{Role: role, Mics: mics, ChangeDB: db})
	}
	add("solo", 1, 2)
	add("feature", 5, -3)
	add("solo", 2, 3.5)
	add("solo", 3, 9)
	add("solo", 1, 5)
	add("solo", 1, 3)
	add("feature", 1, 1)
	groups, nudges := advice.RoleChanges(cues)
	want := []advice.RoleChange{
		{Role: "solo", ChangeDB: 3.5, Cues: []int{0, 2, 4, 5}}, // 2 3 3.5 5: 3.25, halves up
		{Role: "feature", Many: true, ChangeDB: -3, Cues: []int{1}},
		{Role: "solo", Many: true, ChangeDB: 9, Cues: []int{3}},
		{Role: "feature", ChangeDB: 1, Cues: []int{6}},
	}
	if !slices.EqualFunc(groups, want, func(a, b advice.RoleChange) bool {
		return a.Role == b.Role && a.Many == b.Many && a.ChangeDB == b.ChangeDB && slices.Equal(a.Cues, b.Cues)
	}) {
		t.Errorf("groups %+v, want %+v", groups, want)
	}
	if !slices.Equal(nudges, []float64{-1.5, 0, 0, 0, 1.5, 0, 0}) {
		t.Errorf("nudges %v", nudges)
	}
}
