package propose

import (
	"math"
	"sort"

	"backfield/cue/balance"
	"backfield/cue/keep"
	"backfield/layout/level"
	"backfield/layout/level/advice"
)

// The grid on which fixed mics come down.
const (
	gridDB    = 0.5
	lowestDB  = -60
	gridSteps = -lowestDB/gridDB + 1
)

// hush brings down the fixed mics of cues in which the loops of all open mics are over the margin: those with the
// greatest loops, all to the same one, and no others. level.md proposes nothing for them. What worn mics do alone is not
// theirs to mend, and is left.
func (p *LevelPlan) hush(marginDB float64, ids []string, cues []*balance.CueLoudness) {
	trims := map[string]float64{}
	var names []string
	for _, c := range cues {
		if !c.Measured.Calibrated() {
			continue
		}
		up := level.Energy(p.change(ids[c.Cue], c))
		limit := level.Energy(-marginDB + 1e-9)
		keeps := func(capDB float64) bool { return loudest(c, up, level.Energy(capDB)) <= limit }
		if keeps(math.Inf(1)) {
			continue
		}
		down := sort.Search(gridSteps, func(i int) bool { return keeps(-gridDB * float64(i)) })
		if down == gridSteps {
			over := level.Decibels(loudest(c, up, 0)) + marginDB
			p.Left = append(p.Left, TooClose{ids[c.Cue], over})
			continue
		}
		for _, m := range c.Loops {
			for i := range m.Gains.Mics {
				mic := &m.Gains.Mics[i]
				db, _ := mic.GreatestDB()
				over := db + gridDB*float64(down)
				if !mic.Fixed || over <= 0 {
					continue
				}
				if _, known := trims[mic.Name]; !known {
					names = append(names, mic.Name)
				}
				trims[mic.Name] = min(trims[mic.Name], math.Floor(-over+1e-9))
			}
		}
	}
	for _, name := range names {
		p.Trims = append(p.Trims, keep.Trim{Name: name, DB: min(trims[name], -advice.LeastDB)})
	}
}

// change is by how much the featured faders of a cue go up.
func (p *LevelPlan) change(id string, c *balance.CueLoudness) float64 {
	db := p.step(c.Role)
	for _, n := range p.Nudges {
		if n.Cue == id {
			return db + n.DB // all of a cue are alike
		}
	}
	return db
}

// loudest is the greatest loop of all open mics over a cue, as an energy, with the featured ones up by a factor and each
// fixed one held to a cap.
func loudest(c *balance.CueLoudness, up, hold float64) (most float64) {
	for _, m := range c.Loops {
		var total level.Energies
		for i := range m.Gains.Mics {
			mic := &m.Gains.Mics[i]
			by := 1.0
			if mic.Featured {
				by = up
			}
			if db, _ := mic.GreatestDB(); mic.Fixed && level.Energy(db) > hold {
				by = hold / level.Energy(db)
			}
			for b := range total {
				total[b] += by * mic.Loop[b]
			}
		}
		for b := range total {
			most = max(most, total[b])
		}
	}
	return most
}
