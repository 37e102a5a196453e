// Package heard has the checks of how loud a show is: whether the featured players are heard, whether the ear stays on
// them, how close the open mics are to feedback, and how loud it is near people. Their names and texts are among those of
// package rules. It computes no sound.
package heard

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"backfield/cue"
	"backfield/cue/balance"
	"backfield/cue/clock"
	"backfield/cue/timeline"
	"backfield/cue/work"
	"backfield/layout"
	"backfield/layout/level"
	"backfield/layout/level/advice"
	"backfield/layout/source"
)

// JudgedShow is a compiled show with what is heard of it.
type JudgedShow struct {
	*work.CompileSetup
	Cues  []timeline.TimedCue
	Show  *cue.Show
	Heard []*balance.CueLoudness // by cue, as balance.CuesToCheck computes them
	Near  *balance.ShowNear      // nil before noise and brass were measured
	Where func(name string, at clock.Moment) (place layout.Point, ok bool)
}

// slackDB is what a figure may be past its limit and still keep it.
const slackDB = 1e-9

// Judge warns about what is too soft, too loud, or too close to feedback. What means nothing before noise and brass were
// measured is left out until then.
func Judge(x *JudgedShow, remarks *timeline.Remarks) {
	for i, c := range x.Heard {
		x.openRests(i, remarks)
		x.dynamicsUnused(c, remarks)
		if !x.notHeard(i, c, remarks) { // which says the same of more
			x.leadShort(i, c, remarks)
		}
		if c.Measured.Calibrated() {
			x.stackLeads(i, c, remarks)
		}
	}
	x.ringMargin(remarks)
	if x.Near != nil {
		x.loudNear(remarks)
		x.dose(remarks)
	}
}

// featured are those whom a cue features, and where the score opens the first of them.
func (x *JudgedShow) featured(i int, c *balance.CueLoudness) (list []string, at source.Span) {
	for _, e := range c.Ends {
		for _, p := range e.Playing.Performers {
			if p.Featured && !slices.Contains(list, p.Name) {
				list = append(list, p.Name)
			}
		}
	}
	at = x.Cues[i].Cue.ID.Span
	open := x.Cues[i].Open
	for _, n := range timeline.Sorted(open) {
		if slices.Contains(list, open[n].Name) {
			at = open[n].At
			break
		}
	}
	return list, at
}

// namedParts is how many parts of the bed a warning names.
const namedParts = 2

// covers names the loudest others at one end of a cue.
func covers(c *balance.CueLoudness, end int) string {
	var words []string
	for _, p := range c.Heard[end].Parts[:min(namedParts, len(c.Heard[end].Parts))] {
		if p.Stacks {
			words = append(words, fmt.Sprintf("%s mics (%d)", p.Name, p.Mics))
		} else {
			words = append(words, fmt.Sprintf("%s (%d)", p.Name, p.Players))
		}
	}
	if len(words) == 0 {
		return ""
	}
	loudest := ". Loudest others: "
	if !c.Measured.Calibrated() { // which of stacks and own sound is louder is not clear then
		loudest = ". Loudest others, perhaps: "
	}
	return loudest + strings.Join(words, ", ")
}

// bringDown is what helps whoever is covered.
func bringDown(cue string) string {
	return fmt.Sprintf("bring these down or the featured up: backfield balance SHOW %s", cue)
}

// db is a difference in whole dB, with its sign.
func db(v float64) string {
	if math.Round(v) == 0 {
		return "0 dB"
	}
	return fmt.Sprintf("%+.0f dB", v)
}

// past is a figure past its limit in whole dB, also where the two are the same number then.
func past(v, limit float64, over string) string {
	if math.Round(v) == math.Round(limit) {
		return fmt.Sprintf("just %s %.0f dB", over, limit)
	}
	return fmt.Sprintf("%.0f dB", v)
}

// take says how far off a figure may be.
func take(db float64) string { return fmt.Sprintf("give or take %.0f dB", math.Ceil(db)) }

// notHeard warns about a feature that does not stand out in any octave, and reports whether there is one.
func (x *JudgedShow) notHeard(i int, c *balance.CueLoudness, remarks *timeline.Remarks) bool {
	share, least := x.Score.Goals.SharePct, x.Score.Rules.BestDB
	best, end := c.Heard.BestAt(share)
	if !best.OK || best.DB >= least-slackDB {
		return false
	}
	spreadDB := advice.SpreadOf(c.Measured).LeadDB
	how := "most likely not heard"
	if advice.AtLeast(best.DB, least, spreadDB) == advice.No {
		how = "not heard"
	}
	names, at := x.featured(i, c)
	const text = "cue %q, %s: %s: best octave %s at %.0f %% of the seats, %s; wanted %s%s"
	q := x.Cues[i].Cue
	remarks.About(q, "not-heard", at,
		fmt.Sprintf(text, q.ID.V, timeline.Few(names), how, db(best.DB), share, take(spreadDB), db(least),
			covers(c, end)), bringDown(q.ID.V))
	return true
}

// leadShort warns about a lead that is far under its target.
func (x *JudgedShow) leadShort(i int, c *balance.CueLoudness, remarks *timeline.Remarks) {
	share := x.Score.Goals.SharePct
	target, wanted := x.Score.Goals.TargetOf(c.Role)
	lead, end := c.Heard.LeadAt(share)
	if !wanted || !lead.OK || target-lead.DB <= x.Score.Rules.LeadDB+slackDB {
		return
	}
	names, at := x.featured(i, c)
	const text = "cue %q, %s: lead %s at %.0f %% of the seats, %s; wanted %s%s"
	q := x.Cues[i].Cue
	remarks.About(q, "lead-short", at,
		fmt.Sprintf(text, q.ID.V, timeline.Few(names), db(lead.DB), share,
			take(advice.SpreadOf(c.Measured).LeadDB), db(target), covers(c, end)), bringDown(q.ID.V))
}

// farOverDB is from where the first sound no longer leads (Langmuir, as Wallach and others quote him in 1949).
const farOverDB = 15

// stackLeads warns about stacks that draw the ear away from the player, from where on a change is proposed for it.
func (x *JudgedShow) stackLeads(i int, c *balance.CueLoudness, remarks *timeline.Remarks) {
	over, _ := c.Heard.OverAtBox()
	within, known := c.Heard.ShareOver(farOverDB)
	atBox := over.OK && over.DB > x.Score.Goals.OverDB+advice.LeastDB+slackDB
	if !atBox && !(known && within <= 0.5) {
		return
	}
	spreadDB := advice.SpreadOf(c.Measured).OverDB
	goes := "may go"
	if atBox && advice.AtMost(over.DB, x.Score.Goals.OverDB, spreadDB) == advice.No {
		goes = "goes"
	}
	where := fmt.Sprintf("%.0f dB over the player at the box", over.DB)
	if !atBox {
		where = fmt.Sprintf("more than %d dB over the player at %.0f %% of the seats", farOverDB, 100*(1-within))
	}
	names, at := x.featured(i, c)
	fit := ""
	if share, ok := x.Show.Cues[i].InTimeOf(names); ok {
		fit = fmt.Sprintf(". In time at %.0f %% of the seats", 100*share)
	}
	q := x.Cues[i].Cue
	remarks.About(q, "stack-leads", at,
		fmt.Sprintf("cue %q, %s: the stacks are %s, %s: the ear %s to them%s", q.ID.V, timeline.Few(names), where,
			take(spreadDB), goes, fit),
		"bring these mics down, then whoever covers the player")
}

// ring is where a cue is closest to feedback.
type ring struct {
	cue      int
	marginDB float64
	at       clock.Moment
	mics     []level.MicLoop // the loudest three
}

// ringMargin warns about mics that are close to feedback. What only fixed mics do is one warning for all cues in which
// the same ones do it.
func (x *JudgedShow) ringMargin(remarks *timeline.Remarks) {
	var groups [][]ring
	for i, c := range x.Heard {
		if r, ok := x.ring(i, c); ok {
			g := slices.IndexFunc(groups, func(g []ring) bool { return r.joins(&g[0]) })
			if g < 0 {
				groups = append(groups, nil)
				g = len(groups) - 1
			}
			groups[g] = append(groups[g], r)
		}
	}
	for _, g := range groups {
		worst := slices.MinFunc(g, func(a, b ring) int {
			if a.marginDB < b.marginDB {
				return -1
			}
			return 1
		})
		x.sayRing(&worst, len(g)-1, remarks)
	}
}

// ring is the closest that a cue comes to feedback; false where that is far enough.
func (x *JudgedShow) ring(i int, c *balance.CueLoudness) (r ring, ok bool) {
	worst, db := c.WorstLoop()
	if worst == nil || -db >= x.Score.Goals.MarginDB-slackDB {
		return r, false
	}
	loudest := worst.Gains.Loudest()
	return ring{i, -db, worst.At, loudest[:min(3, len(loudest))]}, true
}

// joins reports whether two cues ring by the same fixed mics.
func (r *ring) joins(o *ring) bool {
	return len(r.mics) == len(o.mics) && !slices.ContainsFunc(r.mics, func(m level.MicLoop) bool {
		return !m.Fixed || !slices.ContainsFunc(o.mics, func(n level.MicLoop) bool { return n.Name == m.Name })
	})
}

func (x *JudgedShow) sayRing(r *ring, others int, remarks *timeline.Remarks) {
	var names []string
	for _, m := range r.mics {
		names = append(names, m.Name)
	}
	where := ""
	if p, ok := x.Where(names[0], r.at); ok {
		where = " (" + x.Rig.Field.Dot(p) + ")"
	}
	q := x.Cues[r.cue].Cue
	about, at, more := q, q.ID.Span, ""
	for _, n := range timeline.Sorted(x.Cues[r.cue].Open) {
		if o := x.Cues[r.cue].Open[n]; o.Name == names[0] {
			at = o.At
		}
	}
	if others > 0 {
		about, more = nil, fmt.Sprintf(" and %d more", others)
	}
	spreadDB := advice.SpreadOf(x.Heard[r.cue].Measured).LoopDB
	far := past(r.marginDB, x.Score.Goals.MarginDB, "under") + " before feedback"
	if r.marginDB < 0 {
		far = fmt.Sprintf("%.0f dB past feedback", math.Ceil(-r.marginDB))
	}
	const text = "cue %q%s: all open mics %s at %d:%.4g, %s; wanted %g dB. First %s%s"
	remarks.About(about, "ring-margin", at,
		fmt.Sprintf(text, q.ID.V, more, far, r.at.Movement, r.at.Count(), take(spreadDB), x.Score.Goals.MarginDB,
			names[0]+where, then(names[1:])),
		"bring these down or cut their lows; raise the stacks slowly, someone at the master")
}

// then lists those that come next.
func then(names []string) string {
	if len(names) == 0 {
		return ""
	}
	return ", then " + strings.Join(names, ", ")
}
