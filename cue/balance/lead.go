package balance

import (
	"fmt"
	"math"
	"strings"

	"backfield/cue/work"
	"backfield/layout/level"
	"backfield/layout/level/advice"
)

// CueLead is how much louder the featured players of a cue are than all others, at the share of the seats that the show
// names.
type CueLead struct {
	Names    []string // who is featured
	DB       float64
	TakeDB   float64  // give or take
	WantedDB *float64 // nil where no lead is wanted of the role
	Measured bool     // noise and brass were read
}

// Lead computes the lead of one cue, by its place in the order of time: nil where nobody is featured or there is nothing
// to compare with.
func (l *Loudness) Lead(i int) *CueLead {
	set := &l.cues[i]
	if set.role == "" {
		return nil
	}
	var heard level.Ends
	x := &CueLead{TakeDB: advice.SpreadOf(l.measuredOf(set)).LeadDB, Measured: l.Measured.Calibrated()}
	for end, at := range l.ends(i) {
		playing, _ := l.scene(i, at, nil)
		for _, p := range playing.Performers {
			if end == 0 && p.Featured {
				x.Names = append(x.Names, p.Name)
			}
		}
		heard = append(heard, l.Stadium.HearWith(playing, l.heard.own(playing.Performers)))
	}
	goals := &l.x.Score.Goals
	lead, _ := heard.LeadAt(goals.SharePct)
	if !lead.OK {
		return nil
	}
	x.DB = lead.DB
	if target, ok := goals.TargetOf(set.role); ok {
		x.WantedDB = &target
	}
	return x
}

// Words say the lead in whole dB: "+3 dB?, give or take 5, wanted +6". "?" is for nothing measured.
func (x *CueLead) Words() string {
	asked := ""
	if !x.Measured {
		asked = "?"
	}
	words := fmt.Sprintf("%s dB%s, give or take %.0f", wholeDB(x.DB), asked, math.Ceil(x.TakeDB))
	if x.WantedDB != nil {
		words += ", wanted " + wholeDB(*x.WantedDB)
	}
	return words
}

// wholeDB is a difference in whole dB, with a true minus sign.
func wholeDB(db float64) string {
	if math.Round(db) == 0 {
		return "0"
	}
	return strings.Replace(fmt.Sprintf("%+.0f", db), "-", "−", 1)
}

// Leads computes the leads of all cues, spread over the cores.
func (l *Loudness) Leads() []*CueLead {
	list := make([]*CueLead, len(l.cues))
	work.Spread(len(list), func() func(i int) { return func(i int) { list[i] = l.Lead(i) } })
	return list
}
