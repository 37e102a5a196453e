package heard

import (
	"fmt"
	"math"
	"strings"

	"backfield/cue/balance"
	"backfield/cue/timeline"
	"backfield/layout/level/advice"
)

// who is somebody near loud sound.
func who(e *balance.NearEar) string {
	switch e.Kind {
	case balance.NearPeople:
		return fmt.Sprintf("people at %q", e.Name)
	case balance.NearSeat:
		return "the loudest seat"
	}
	return e.Name
}

// loudNear warns about loudspeakers that are loud at somebody's ear.
func (x *JudgedShow) loudNear(remarks *timeline.Remarks) {
	limit := x.Score.Rules.NearDBA
	for _, n := range x.Near.Cues {
		loudest := balance.Loudest(n.Ears, func(e *balance.NearEar) float64 { return e.Stacks.DBA })
		if loudest == nil || loudest.Stacks.DBA <= limit+slackDB {
			continue
		}
		over := 0
		for i := range n.Ears {
			if n.Ears[i].Stacks.DBA > limit+slackDB {
				over++
			}
		}
		more := ""
		if over > 1 {
			more = fmt.Sprintf(", and over %g at %d more", limit, over-1)
		}
		q, at := x.Cues[n.Cue].Cue, loudest.Stacks.At
		spreadDB := advice.SpreadOf(x.Heard[n.Cue].Measured).NearDB
		const text = "cue %q: loudspeakers %.0f dBA, %s, at %s at %d:%.4g (%s)%s"
		remarks.About(q, "loud-near", q.ID.Span,
			fmt.Sprintf(text, q.ID.V, loudest.Stacks.DBA, take(spreadDB), who(loudest), at.Movement, at.Count(),
				x.Rig.Field.Dot(loudest.Stacks.Ear), more),
			"keep people away, or bring the stacks down; hand out hearing protection, and measure; local codes "+
				"come first")
	}
}

// What of a day's dose is too much.
const (
	mostAllPct    = 100
	mostStacksPct = 50
)

// dose warns, once for the show, about days that are too loud for somebody.
func (x *JudgedShow) dose(remarks *timeline.Remarks) {
	var parts []string
	say := func(mostPct float64, of func(*balance.NearEar) float64, text string) {
		most, over := balance.Loudest(x.Near.Ears, of), 0
		for i := range x.Near.Ears {
			if of(&x.Near.Ears[i]) > mostPct {
				over++
			}
		}
		if over > 0 {
			parts = append(parts, fmt.Sprintf(text, over, len(x.Near.Ears), who(most), of(most)))
		}
	}
	say(mostAllPct, func(e *balance.NearEar) float64 { return e.All.DosePct },
		"over a day's dose of sound at %d of %d ears, most at %s with %.0f %%")
	say(mostStacksPct, func(e *balance.NearEar) float64 { return e.Stacks.DosePct },
		"over half a dose from the loudspeakers alone at %d of %d, most at %s with %.0f %%")
	if len(parts) == 0 {
		return
	}
	spreadDB := advice.SpreadOf(x.Heard[0].Measured).NearDB
	remarks.About(nil, "dose", x.Score.File.Whole(),
		fmt.Sprintf("%.4g h of rehearsal: %s, give or take a factor of %.1f", x.Near.DayS/3600,
			strings.Join(parts, "; "), math.Exp2(spreadDB/3)),
		"hand out hearing protection, rehearse shorter or softer, and measure; local codes come first")
}
