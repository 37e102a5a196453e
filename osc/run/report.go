package run

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"backfield/cue"
)

// Report is what a journal tells of a run.
type Report struct {
	Title    string
	Started  time.Time
	Ended    time.Time
	Resumed  int
	Cues     []Gone
	Commands []Entry // all but go
	Problems []Entry
	Nudges   []Permanent
}

// Gone is a step that went.
type Gone struct {
	Step     string
	At       time.Time
	PlannedS float64
	AheadS   float64 // against where the step before put it at the written tempo; below 0 it came late
	Timed    bool    // whether there is a step before to tell that by
	Rate     float64 // the tempo that was played, against the written
	By       string  // the command that led to it; empty where it went by itself
}

// Permanent is a nudge as it would stand in the score: by player, with the cues in which it was heard.
type Permanent struct {
	Name string
	DB   float64
	Cues []string
}

// NewReport reads a run's entries. openIn lists the cues of the score, in order, in which a player is open; nil where
// the show is not at hand.
func NewReport(entries []Entry, openIn func(name string) []string) Report {
	var r Report
	pressed := false
	for i, e := range entries {
		if i == 0 {
			r.Started = e.At
		}
		r.Ended = e.At
		switch e.Kind {
		case "start":
			if r.Title = e.Title; i > 0 {
				r.Resumed++
			}
		case "step":
			if e.Step == "" {
				continue
			}
			g := Gone{Step: e.Step, At: e.At, PlannedS: e.PlannedS, Rate: e.Rate}
			g.By = e.Command
			if n := len(r.Cues); n > 0 && pressed && (g.By == "" || g.By == string(Go)) {
				before := r.Cues[n-1]
				g.AheadS, g.Timed = (e.PlannedS-before.PlannedS)-e.At.Sub(before.At).Seconds(), true
			}
			pressed = e.State != nil && e.State.Clock.Running
			r.Cues = append(r.Cues, g)
		case "command":
			if e.Command != string(Quit) && (e.Command != string(Go) || e.State == nil) {
				r.Commands = append(r.Commands, e)
			}
		case "problem":
			r.Problems = append(r.Problems, e)
		}
	}
	state, _ := Last(entries)
	for _, n := range state.Nudges {
		at := slices.IndexFunc(r.Nudges, func(p Permanent) bool { return strings.EqualFold(p.Name, n.Name) })
		if at < 0 {
			at = len(r.Nudges)
			r.Nudges = append(r.Nudges, Permanent{Name: n.Name})
			if openIn != nil {
				r.Nudges[at].Cues = from(openIn(n.Name), n.Step)
			}
		}
		r.Nudges[at].DB += n.DB
	}
	r.Nudges = slices.DeleteFunc(r.Nudges, func(p Permanent) bool { return p.DB == 0 })
	return r
}

// from is the cues from a step on, which is one of them or a follow-on of one; all of them where it is neither.
func from(cues []string, step string) []string {
	i := slices.Index(cues, step)
	if dot := strings.LastIndexByte(step, '.'); i < 0 && dot > 0 {
		i = slices.Index(cues, step[:dot])
	}
	return cues[max(i, 0):]
}

// String is the report as text.
func (r Report) String() string {
	var b strings.Builder
	say := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	title := r.Title
	if title == "" {
		title = "untitled show"
	}
	say("%s, begun %s, %s long", title, r.Started.Format("2006-01-02 15:04:05"), cue.ClockTime(r.Ended.Sub(r.Started).Seconds()))
	if r.Resumed > 0 {
		say("resumed: %d", r.Resumed)
	}
	say("\n%-8s %-12s %9s %10s %7s", "cue", "went at", "planned", "against", "tempo")
	for _, g := range r.Cues {
		against := ""
		if g.Timed {
			against = fmt.Sprintf("%+.2f s", g.AheadS)
		}
		how := ""
		switch g.By {
		case "":
			how = "   by itself"
		case string(Go):
		default:
			how = "   " + g.By
		}
		say("%-8s %-12s %9s %10s %6.1f%%%s", g.Step, g.At.Format("15:04:05.000"), cue.ClockTime(g.PlannedS), against, 100*g.Rate, how)
	}
	say("against: how much sooner (+) or later (-) than at the tempo written, from the cue before")
	if len(r.Commands) > 0 {
		say("\nBESIDES GO")
		for _, e := range r.Commands {
			by := ""
			if e.From != "" {
				by = " (from " + e.From + ")"
			}
			refused := ""
			if e.State == nil {
				refused = "NOT TAKEN: "
			}
			say("  %s  %s%s: %s%s", e.At.Format("15:04:05"), e.Command, by, refused, e.Text)
		}
	}
	if len(r.Problems) > 0 {
		say("\nPROBLEMS")
		for _, e := range r.Problems {
			say("  %s  %s", e.At.Format("15:04:05"), e.Text)
		}
	}
	if len(r.Nudges) > 0 {
		say("\nNUDGED")
		for _, n := range r.Nudges {
			say("  %s %+.4g dB", n.Name, n.DB)
		}
		say("To keep it, put this into the score, and add it to a nudge that a cue has already:")
		for _, n := range r.Nudges {
			if len(n.Cues) == 0 {
				say("  nudge = { %q = %.4g }    # in the cues that open %s", n.Name, n.DB, n.Name)
			}
			for _, cue := range n.Cues {
				say("  cue %-6s nudge = { %q = %.4g }", cue, n.Name, n.DB)
			}
		}
	}
	return strings.TrimSuffix(b.String(), "\n")
}
