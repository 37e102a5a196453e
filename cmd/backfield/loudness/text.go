package loudness

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"strings"
	"unicode/utf8"

	"backfield/cue"
	"backfield/layout/level"
)

const (
	measureFirst = "measure first: noise and brass"
	nothingThere = "nothing to compare"
)

// Table writes a line a cue.
func (r *LoudnessReport) Table(out io.Writer) {
	fmt.Fprintln(out, r.readings())
	id, role := len("cue"), len("featured")
	for i := range r.Cues {
		id, role = max(id, utf8.RuneCountInString(r.Cues[i].ID)), max(role, utf8.RuneCountInString(r.Cues[i].Role))
	}
	const columns = "%-*s  %-*s  %10s  %8s%-2s  %9s  %6s  %9s  %-8s  %4s  %6s  %6s\n"
	seats := fmt.Sprintf("at %.0f %%", r.SharePct)
	fmt.Fprintf(out, "%*s  lead, dB\n", id+2+role, "")
	fmt.Fprintf(out, columns, id, "cue", role, "featured", "at the box", seats, "", "all play", "wanted",
		"best band", "heard", "over", "margin", "change")
	for i := range r.Cues {
		c, under := &r.Cues[i], ""
		if c.under() {
			under = " <"
		}
		fmt.Fprintf(out, columns, id, c.ID, role, cmp.Or(c.Role, "-"),
			signed(c.LeadBoxDB), signed(c.LeadSeatsDB), under, signed(c.LeadAllDB), signed(c.WantedDB),
			signed(c.BestDB), cmp.Or(string(c.Heard), "-"), r.heldWord(c.OverBoxDB, signed),
			r.heldWord(c.MarginDB, whole), r.changeWord(c))
	}
	r.takes(out)
}

// takes writes what the columns of the table mean, and how far off they may be.
func (r *LoudnessReport) takes(out io.Writer) {
	fmt.Fprintf(out, "lead and best band: give or take %s; best band and heard: at %.0f %% of the seats\n",
		plain(r.spread.LeadDB), r.SharePct)
	fmt.Fprintf(out, "all play: the lead at %.0f %%, with those who are not counted at mf\n", r.SharePct)
	fmt.Fprintln(out, "\"<\": under the wanted lead; \"-\": nothing to compare, or no lead is wanted of that role")
	for i := range r.Cues {
		if r.measured() && r.Cues[i].Solo {
			fmt.Fprintln(out, "cues whose featured players were each measured alone: 1 dB less (lead, best band)")
			break
		}
	}
	if r.measured() {
		fmt.Fprintf(out, "over (the stacks over the player, at the box): give or take %s; margin (to feedback): %s\n",
			plain(r.spread.OverDB), plain(r.spread.LoopDB))
	} else {
		fmt.Fprintln(out, "over, margin and change, \"?\": "+measureFirst)
	}
	r.worst(out)
	r.plan(out)
	r.near(out, r.Near, r.spread.NearDB)
	r.leftOut(out)
}

// under reports whether a lead is under the one that is wanted, as both are printed.
func (c *LoudnessCue) under() bool {
	return c.LeadSeatsDB != nil && c.WantedDB != nil && math.Round(*c.LeadSeatsDB) < math.Round(*c.WantedDB)
}

// worst writes which cue is furthest from its lead.
func (r *LoudnessReport) worst(out io.Writer) {
	worst, most := -1, math.Inf(-1)
	for i := range r.Cues {
		c := &r.Cues[i]
		if c.LeadSeatsDB != nil && c.WantedDB != nil && *c.WantedDB-*c.LeadSeatsDB > most {
			worst, most = i, *c.WantedDB-*c.LeadSeatsDB
		}
	}
	if worst < 0 {
		return
	}
	c := &r.Cues[worst]
	fmt.Fprintf(out, "WORST  cue %s, %s: lead %s at %.0f %% of the seats, wanted %s: %s\n", c.ID, some(c.names()),
		signed(c.LeadSeatsDB), r.SharePct, signed(c.WantedDB), c.Reached)
}

func (r *LoudnessReport) leftOut(out io.Writer) {
	if r.Seats == 0 {
		fmt.Fprintln(out, "NO SEATS  the rig has no stands: the press box is taken as the only seat")
	}
	words := []string{"reflections, wind, crowd, equalizers, compressors"}
	for _, x := range []struct {
		what  string
		names []string
	}{{"subs", r.LeftOut.Subs}, {"lines", r.LeftOut.Lines}, {"without an instrument", r.LeftOut.Sections}} {
		if len(x.names) > 0 {
			words = append(words, x.what+" ("+strings.Join(x.names, ", ")+")")
		}
	}
	fmt.Fprintln(out, "LEFT OUT  "+strings.Join(words, "; "))
	fmt.Fprintln(out, "All of it is an estimate: see backfield help balance. Listen before you trust it.")
}

// readings says what was measured.
func (r *LoudnessReport) readings() string {
	switch {
	case r.measured():
		return "measured: noise, brass"
	case r.Noise:
		return "measured: noise alone, which counts as nothing without brass"
	case r.Brass:
		return "measured: brass alone, which counts as nothing without noise"
	}
	return "measured: nothing"
}

// Page writes all of one cue.
func (r *LoudnessReport) Page(out io.Writer, c *LoudnessCue) {
	title := "cue " + c.ID
	if c.Name != "" {
		title += fmt.Sprintf("  %q", c.Name)
	}
	readings := r.readings()
	if r.measured() && c.Solo {
		readings += ", the featured alone"
	}
	fmt.Fprintf(out, "%s   %s\n", title, readings)
	say := func(format string, args ...any) { fmt.Fprintf(out, format+"\n", args...) }
	r.featured(say, c)
	say("BED  loudest parts at the box")
	for _, p := range c.Bed {
		dba := ""
		if p.DBA != nil {
			dba = fmt.Sprintf("   %.0f dBA, give or take %s", *p.DBA, plain(c.spread.NearDB))
		}
		say("  %s%s", p.words(), dba)
	}
	switch {
	case len(c.Bed) == 0:
		say("  nobody else is heard")
	case !r.measured():
		say("  how loud, and the order of loudspeakers and own sound: %s", measureFirst)
	}
	r.feedback(say, c)
	noLowCut(out, c.NoLowCut)
	r.proposed(say, c)
	r.near(out, c.Near, c.spread.NearDB)
	for _, u := range c.NotStated {
		say("NOT STATED  %s (%d): dynamics, %s taken", u.Section, u.Players, u.Taken)
	}
	for _, u := range c.NotCounted {
		but := ""
		if len(u.But) > 0 {
			but = " other than " + some(u.But)
		}
		say("NOT COUNTED  %s%s (%d): plays only if a cue says so", u.Section, but, u.Players)
	}
	if len(c.NoDot) > 0 {
		say("NO DOT  %s: taken as silent", some(c.NoDot))
	}
	r.leftOut(out)
}

// featured writes whether the featured players are heard.
func (r *LoudnessReport) featured(say func(string, ...any), c *LoudnessCue) {
	if len(c.Featured) == 0 {
		say("FEATURED  nobody: no worn mic is open, or its player has no dot")
		return
	}
	take := "give or take " + plain(c.spread.LeadDB)
	var names []string
	for _, p := range c.Featured {
		how := mark(p.DynamicsDB)
		if p.Rests {
			how = "rests"
		}
		names = append(names, p.Name+" ("+how+")")
	}
	say("FEATURED  as %s: %s", c.Role, some(names))
	if b := c.Box; b != nil {
		say("  at the box    own %s, stacks %s, together %s, the bed %s dBA, give or take %s", whole(b.Own),
			whole(b.Stacks), whole(b.Together), whole(b.Bed), plain(c.spread.NearDB))
		if b.Background != nil && *b.Background > *b.Bed-10 { // otherwise it takes under 0.5 dB off the lead
			say("                and a background of %s dBA, which the lead is over, too", whole(b.Background))
		}
	}
	if c.LeadSeatsDB == nil {
		say("  lead          %s", nothingThere)
	} else {
		say("  lead          %s dB at the box, %s at %.0f %% of the seats, %s", signed(c.LeadBoxDB),
			signed(c.LeadSeatsDB), r.SharePct, take)
	}
	if c.ReachedAt != nil {
		say("                wanted %s: %s; at %s", signed(c.WantedDB), c.Reached, c.ReachedAt)
	} else if c.WantedDB == nil {
		say("                no lead is wanted of this role")
	}
	if c.LeadAllDB != nil {
		say("                %s at %.0f %% of the seats if those not counted play mf", signed(c.LeadAllDB), r.SharePct)
	}
	if c.BestDB != nil {
		band := ""
		if c.BestBoxHz > 0 {
			band = fmt.Sprintf(" (at the box the one at %d Hz)", c.BestBoxHz)
		}
		say("  best band     %s dB at %.0f %% of the seats%s, %s", signed(c.BestDB), r.SharePct, band, take)
		say("                heard: %s", c.Heard)
	}
	if c.BestAllDB != nil {
		say("                %s at %.0f %% of the seats if those not counted play mf", signed(c.BestAllDB), r.SharePct)
	}
	switch {
	case c.OverBoxDB != nil:
		say("  player leads  stacks %s dB over the player at the box: %s, give or take %s", signed(c.OverBoxDB),
			c.PlayerLeads, plain(c.spread.OverDB))
		if c.LeadsAt != nil {
			say("                within %.0f dB at %s%s", c.OverWanted, c.LeadsAt, c.inTime())
		}
	case r.measured():
		say("  player leads  %s", nothingThere)
	default:
		say("  player leads  %s", measureFirst)
	}
}

// String is the share and its range in words: "69 % of the seats (12 to 100 %)".
func (s *SeatShare) String() string {
	return fmt.Sprintf("%.0f %% of the seats (%.0f to %.0f %%)", s.Pct, s.From, s.To)
}

// inTime says at how many seats the stacks come in time: only there does it mean something that they are not too loud.
func (c *LoudnessCue) inTime() string {
	if c.InTimePct == nil {
		return ""
	}
	return fmt.Sprintf("; the stacks are in time at %.0f %%", *c.InTimePct)
}

// feedback writes the mics that ring first, and where.
func (r *LoudnessReport) feedback(say func(string, ...any), c *LoudnessCue) {
	switch {
	case c.Rings == nil:
		say("FEEDBACK  no open mic reaches a stack")
		return
	case c.MarginDB != nil:
		say("FEEDBACK  margin %s dB, wanted %.0f: %s, give or take %s", whole(c.MarginDB), c.MarginWanted, c.MarginKept,
			plain(c.spread.LoopDB))
	default:
		say("FEEDBACK  margin: %s", measureFirst)
	}
	x := c.Rings
	say("  rings first, closest at %d:%.6g (%s):", x.Movement, x.Count, cue.ClockTime(x.TimeS))
	names := 0
	for _, m := range x.Mics {
		names = max(names, utf8.RuneCountInString(m.Name))
	}
	for _, m := range x.Mics {
		loop := ""
		if m.LoopDB != nil {
			loop = fmt.Sprintf(", loop %.0f dB", *m.LoopDB)
		}
		say("  %-*s  at %d Hz%s   %s", names, m.Name, m.BandHz, loop, m.Where)
	}
}

// words name a part of the bed.
func (p *LoudPart) words() string {
	switch {
	case p.Fixed:
		return fmt.Sprintf("%s mics (%d), through the stacks", p.Name, p.Mics)
	case p.Stacks:
		return fmt.Sprintf("%s, through the stacks (%d worn)", p.Name, p.Mics)
	}
	return fmt.Sprintf("%s (%d), own sound", p.Name, p.Players)
}

// mark is how loudly somebody plays: a dynamic mark, or dB from forte.
func mark(db float64) string {
	for _, name := range level.DynamicsNames() {
		if v, _ := level.DynamicsDB(name); v == db {
			return name
		}
	}
	return fmt.Sprintf("%+.0f dB from f", db)
}

// some is a list of names, of a long one the first six.
func some(names []string) string {
	if n := len(names); n > 7 {
		return fmt.Sprintf("%s and %d more", strings.Join(names[:6], ", "), n-6)
	}
	return strings.Join(names, ", ")
}

// signed is a difference in whole dB; "-" for none.
func signed(db *float64) string {
	if db == nil {
		return "-"
	}
	v := math.Round(*db)
	if v == 0 {
		return "0"
	}
	return fmt.Sprintf("%+.0f", v)
}

// whole is a level or a margin in whole dB; "-" for none.
func whole(db *float64) string {
	if db == nil {
		return "-"
	}
	return fmt.Sprintf("%.0f", math.Round(*db)+0)
}

// heldWord is a cell of what may be held back.
func (r *LoudnessReport) heldWord(db *float64, word func(*float64) string) string {
	if !r.measured() {
		return "?"
	}
	return word(db)
}

// plain is a spread, upward to the whole dB.
func plain(db float64) string { return fmt.Sprintf("%.0f dB", math.Ceil(db)) }
