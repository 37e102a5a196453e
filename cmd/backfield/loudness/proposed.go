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

// stuck reports whether the lead is not reached and no featured fader moves.
func (c *LoudnessCue) stuck() bool {
	return c.Proposed != nil && c.Proposed.BedAsked && propose.Whole(c.Proposed.ChangeDB) == 0 && c.under()
}

// changeWord is the change in the table.
func (r *LoudnessReport) changeWord(c *LoudnessCue) string {
	switch {
	case !r.measured():
		return "?"
	case c.Proposed == nil:
		return signed(nil)
	case c.stuck():
		return "stuck"
	}
	db := propose.Whole(c.Proposed.ChangeDB)
	return signed(&db)
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
	what, spread := c.Role+" as it is", c.spread.LeadDB
	if change := propose.Whole(p.ChangeDB); change != 0 {
		what = fmt.Sprintf("%s %+.0f dB", c.Role, change)
	}
	if p.stopped() {
		switch p.Limit {
		case advice.LoopLimit:
			spread = c.spread.LoopDB
		case advice.OverLimit:
			spread = c.spread.OverDB
		}
	}
	say("PROPOSED  %s, give or take %s: %s", what, plain(spread), p.why())
	switch {
	case !p.BedAsked:
	case p.BedDB == nil:
		say("  with all others 12 dB down it is still not reached; the loudest of them:")
		say("  %s", c.loudest(printedParts))
	case propose.Whole(*p.BedDB) != 0:
		say("  and all others %+.0f dB: then it is reached", propose.Whole(*p.BedDB))
	}
	if p.Others {
		say("  the other mics alone are too close to feedback: bring them down first")
	}
}

// stopped reports whether a limit decides the change.
func (p *CueProposal) stopped() bool { return p.BedAsked || p.ChangeDB < 0 }

// why says what decides the change.
func (p *CueProposal) why() string {
	if !p.stopped() {
		if p.ChangeDB > 0 && propose.Whole(p.ChangeDB) == 0 {
			return "less than 2 dB are missing"
		}
		return "the lead is reached then"
	}
	switch {
	case !p.BedAsked:
		return p.limit()
	case p.NeedDB == nil:
		return p.limit() + "; no fader reaches the lead"
	}
	return fmt.Sprintf("%s; the lead wants %+.0f", p.limit(), math.Ceil(*p.NeedDB))
}

// limit says what stops the featured faders.
func (p *CueProposal) limit() string {
	switch p.Limit {
	case advice.LoopLimit:
		return "feedback stops it there"
	case advice.OverLimit:
		return "the player leads up to there"
	}
	return "the mixer's ceiling is there"
}

// Unreached says what the proposed lines leave, and why: a line for each cue whose lead they do not reach or whose stacks
// stay too far over the player, and one for all that want less than 2 dB.
func (r *LoudnessReport) Unreached() (lines []string) {
	var small []string
	for i := range r.Cues {
		c := &r.Cues[i]
		p := c.Proposed
		if p == nil {
			continue
		}
		change := "stays"
		if db := propose.Whole(p.ChangeDB); db != 0 {
			change = fmt.Sprintf("%+.0f dB", db)
		}
		say := func(format string, args ...any) {
			text := fmt.Sprintf("cue %s: lead %s, wanted %s: %s %s, ", c.ID, signed(c.LeadSeatsDB), signed(c.WantedDB),
				c.Role, change)
			lines = append(lines, text+fmt.Sprintf(format, args...))
		}
		switch {
		case p.ChangeDB-p.CapDB >= advice.LeastDB:
			say("since the lead needs it, %.0f dB too much for the ear on the player", p.ChangeDB-p.CapDB)
		case !c.stuck() && propose.Whole(p.ChangeDB) == 0:
			if p.ChangeDB != 0 || p.BedAsked {
				small = append(small, c.ID)
			}
		case p.BedAsked && p.BedDB == nil:
			say("%s; all others 12 dB down would not do: %s", p.limit(), c.loudest(2))
		case p.BedAsked:
			say("%s; all others %.0f dB would do", p.limit(), math.Floor(*p.BedDB))
		}
	}
	if len(small) > 0 {
		lines = append(lines, "by less than 2 dB, which nobody can tell: cue "+some(small))
	}
	return lines
}

// loudest names the loudest parts of the bed, at most so many.
func (c *LoudnessCue) loudest(most int) string {
	var words []string
	for _, p := range c.Bed[:min(most, len(c.Bed))] {
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
	for _, text := range r.Unreached() {
		fmt.Fprintln(out, "NOT REACHED  "+text)
	}
}
