package loudness

import (
	"fmt"
	"io"
	"math"
	"strings"

	"backfield/cue/balance"
	"backfield/cue/keep"
	"backfield/cue/propose"
	"backfield/layout/level/advice"
)

// CueProposal is where the faders of one cue should start, on a grid of 0.5 dB.
type CueProposal struct {
	ChangeDB float64      `json:"change_db"` // of all featured faders
	NeedDB   *float64     `json:"need_db"`   // the least change that reaches the lead; null: none does
	CapDB    float64      `json:"cap_db"`
	Limit    advice.Limit `json:"limit"` // what the cap comes from
	ShortDB  *float64     `json:"short_db"`
	BedAsked bool         `json:"others_asked"`       // the change alone does not reach the lead
	BedDB    *float64     `json:"others_db"`          // the change of all others that reaches it then; null: none does
	Others   bool         `json:"others_over_margin"` // the other mics alone are too close to feedback
}

// ProposedPlan is where the faders of the whole show should start.
type ProposedPlan struct {
	*propose.LevelPlan
	Lines  []keep.LineChange `json:"lines,omitempty"`       // that give all of this
	Unable []string          `json:"not_written,omitempty"` // what has to be written by hand
}

// Propose adds the plan for the whole show: hunks are its lines, left what cannot be written.
func (r *LoudnessReport) Propose(plan *propose.LevelPlan, hunks []keep.Hunk, left []string) {
	if !r.measured() {
		return
	}
	r.Proposed = &ProposedPlan{LevelPlan: plan, Unable: left}
	for _, h := range hunks {
		r.Proposed.Lines = append(r.Proposed.Lines, h.Lines()...)
	}
}

// proposal is that of one cue; nil where there is none, or where it is held back.
func (r *LoudnessReport) proposal(c *balance.CueLoudness) *CueProposal {
	a := c.Advice
	if a == nil || !r.measured() {
		return nil
	}
	return &CueProposal{a.ChangeDB, figure(a.Need), a.CapDB, a.Limit, figure(a.Short), a.BedAsked, figure(a.Bed),
		a.Others}
}

// wholeDB is the change as it is printed; nil for none.
func (p *CueProposal) wholeDB() *float64 {
	if p == nil {
		return nil
	}
	db := propose.Whole(p.ChangeDB)
	return &db
}

// proposed writes where the faders of one cue should start, and what stops them.
func (r *LoudnessReport) proposed(say func(string, ...any), c *LoudnessCue) {
	p := c.Proposed
	switch {
	case c.LeadSeatsDB == nil:
		return
	case c.WantedDB == nil:
		say("PROPOSED  nothing: no lead is wanted of this role")
		return
	case !r.measured():
		say("PROPOSED  " + measureFirst)
		return
	case p == nil:
		say("PROPOSED  nothing: no worn mic is featured")
		return
	}
	change, limit, spread := propose.Whole(p.ChangeDB), "", c.spread.LeadDB
	if p.BedAsked || p.ChangeDB < 0 {
		switch p.Limit {
		case advice.LoopLimit:
			limit, spread = "feedback stops it there", c.spread.LoopDB
		case advice.OverLimit:
			limit, spread = "the player leads up to there", c.spread.OverDB
		case advice.CeilingLimit:
			limit = "the mixer's ceiling is there"
		}
	}
	what := c.Role + " as it is"
	if change != 0 {
		what = fmt.Sprintf("%s %+.0f dB", c.Role, change)
	}
	var why string
	switch {
	case !p.BedAsked && p.ChangeDB >= 0 && change == 0 && p.ChangeDB > 0:
		why = "less than 2 dB are missing"
	case !p.BedAsked && p.ChangeDB >= 0:
		why = "the lead is reached then"
	case !p.BedAsked:
		why = limit
	case p.NeedDB == nil:
		why = limit + "; no fader reaches the lead"
	default:
		why = fmt.Sprintf("%s; the lead wants %+.0f", limit, math.Ceil(*p.NeedDB))
	}
	say("PROPOSED  %s, give or take %s: %s", what, plain(spread), why)
	switch {
	case !p.BedAsked:
	case p.BedDB == nil:
		say("  with all others 12 dB down it is still not reached; the loudest of them:")
		say("  %s", c.loudest())
	case propose.Whole(*p.BedDB) != 0:
		say("  and all others %+.0f dB: then it is reached", propose.Whole(*p.BedDB))
	}
	if p.Others {
		say("  the other mics alone are too close to feedback: bring them down first")
	}
}

// loudest names the loudest parts of the bed.
func (c *LoudnessCue) loudest() string {
	var words []string
	for _, p := range c.Bed {
		words = append(words, p.words())
	}
	return strings.Join(words, "; ")
}

// plan writes the lines that give the levels for the whole show.
func (r *LoudnessReport) plan(out io.Writer) {
	p := r.Proposed
	switch {
	case !r.measured():
		fmt.Fprintln(out, "PROPOSED  "+measureFirst)
		return
	case p == nil:
		return
	case len(p.Lines)+len(p.Unable)+len(p.Left) == 0:
		fmt.Fprintln(out, "PROPOSED  nothing: no role and no cue wants a change of 2 dB or more")
		return
	}
	if len(p.Lines) > 0 {
		fmt.Fprintf(out, "PROPOSED  lines to start from, in whole dB, give or take %s (--apply asks, and writes)\n",
			plain(max(r.spread.LeadDB, r.spread.OverDB, r.spread.LoopDB)))
	}
	for _, x := range p.Lines {
		was := "new, below that line"
		if len(x.Was) > 0 {
			was = "was " + strings.Join(x.Was, "; ")
		}
		fmt.Fprintf(out, "  # %s:%d (%s), %s\n", x.File, x.Line, x.About, was)
		for _, is := range x.Is {
			fmt.Fprintln(out, "  "+strings.TrimSpace(is))
		}
	}
	for _, text := range p.Unable {
		fmt.Fprintf(out, "PROPOSED  by hand: %s\n", text)
	}
	for _, x := range p.Left {
		fmt.Fprintf(out, "PROPOSED  cue %s: bring its worn mics down by %.0f dB: they alone are too close to "+
			"feedback\n", x.Cue, math.Ceil(x.OverDB))
	}
}
