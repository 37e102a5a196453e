package journal

import (
	"fmt"
	"math"
	"strings"
	"time"

	"backfield/cue"
)

// The commands that the report does not list with the others, as the journal has them.
const (
	goCommand   = "go"
	quitCommand = "quit"
)

// RunReport is a summary of a run from its journal.
type RunReport struct {
	Title    string
	Started  time.Time
	Ended    time.Time
	Resumed  int
	Cues     []CueTime
	Commands []Entry // except go and quit
	Problems []Entry
	Changes  []LastingChange
}

// CueTime is when a step went.
type CueTime struct {
	Step     string
	At       time.Time
	PlannedS float64
	AheadS   float64 // how early it went, from the step before at the written tempo; below 0 it was late
	Timed    bool    // whether AheadS is known
	Rate     float64 // the tempo as played, as a share of the written tempo
	By       string  // the command that led to it; empty if it was automatic
}

// NewReport summarizes a run's entries. openIn lists the cues of the score, in order, in which a player is open; it is
// nil if the show is not known.
func NewReport(entries []Entry, openIn func(name string) []string) RunReport {
	var r RunReport
	running := false // the clock, after the step before
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
			if e.Step != "" {
				r.step(e, running)
				running = e.State != nil && e.State.Clock.Running
			}
		case "command":
			if e.Command != quitCommand && (e.Command != goCommand || e.State == nil) {
				r.Commands = append(r.Commands, e)
			}
		case "problem":
			r.Problems = append(r.Problems, e)
		}
	}
	r.Changes = lastingChanges(entries, openIn)
	return r
}

// step adds a step. It is early or late from the step before, if the clock has been running since.
func (r *RunReport) step(e Entry, running bool) {
	g := CueTime{Step: e.Step, At: e.At, PlannedS: e.PlannedS, Rate: e.Rate, By: e.Command}
	if n := len(r.Cues); n > 0 && running && (g.By == "" || g.By == goCommand) {
		before := r.Cues[n-1]
		g.AheadS, g.Timed = (e.PlannedS-before.PlannedS)-e.At.Sub(before.At).Seconds(), true
	}
	r.Cues = append(r.Cues, g)
}

// String is the report as text.
func (r RunReport) String() string {
	var b strings.Builder
	r.head(&b)
	r.cues(&b)
	r.commands(&b)
	r.problems(&b)
	r.changes(&b)
	return strings.TrimSuffix(b.String(), "\n")
}

func (r RunReport) head(b *strings.Builder) {
	title := r.Title
	if title == "" {
		title = "untitled show"
	}
	lasted := cue.ClockTime(r.Ended.Sub(r.Started).Seconds())
	fmt.Fprintf(b, "%s, started %s, ran %s\n", title, r.Started.Format("2006-01-02 15:04:05"), lasted)
	if r.Resumed > 0 {
		fmt.Fprintf(b, "resumed: %d\n", r.Resumed)
	}
}

func (r RunReport) cues(b *strings.Builder) {
	fmt.Fprintf(b, "\n%-8s %-12s %9s %12s %7s\n", "cue", "went at", "planned", "timing", "tempo")
	for _, g := range r.Cues {
		how := ""
		switch g.By {
		case "":
			how = "   AUTO"
		case goCommand:
		default:
			how = "   " + g.By
		}
		at, planned := g.At.Format("15:04:05.000"), cue.ClockTime(g.PlannedS)
		fmt.Fprintf(b, "%-8s %-12s %9s %12s %6.1f%%%s\n", g.Step, at, planned, g.timing(), 100*g.Rate, how)
	}
	b.WriteString("timing: early or late from the cue before, at the written tempo; tempo: percent of written\n")
}

// timing is "0.40 s late", empty if it is not known.
func (g CueTime) timing() string {
	switch ahead := math.Round(g.AheadS*100) / 100; {
	case !g.Timed:
		return ""
	case ahead < 0:
		return fmt.Sprintf("%.2f s late", -ahead)
	case ahead > 0:
		return fmt.Sprintf("%.2f s early", ahead)
	}
	return "on time"
}

func (r RunReport) commands(b *strings.Builder) {
	if len(r.Commands) == 0 {
		return
	}
	b.WriteString("\nOTHER COMMANDS\n")
	for _, e := range r.Commands {
		by, refused := "", ""
		if e.From != "" {
			by = " (from " + e.From + ")"
		}
		if e.State == nil {
			refused = "REFUSED: "
		}
		fmt.Fprintf(b, "  %s  %s%s: %s%s\n", e.At.Format("15:04:05"), e.Command, by, refused, e.Text)
	}
}

func (r RunReport) problems(b *strings.Builder) {
	if len(r.Problems) == 0 {
		return
	}
	b.WriteString("\nPROBLEMS\n")
	for _, e := range r.Problems {
		fmt.Fprintf(b, "  %s  %s\n", e.At.Format("15:04:05"), e.Text)
	}
}

func (r RunReport) changes(b *strings.Builder) {
	if len(r.Changes) == 0 {
		return
	}
	b.WriteString("\nNUDGED, OR MOVED AT THE MIXER\n")
	for _, c := range r.Changes {
		fmt.Fprintf(b, "  %s %s\n", c.Name, c.words())
	}
}

const mostNamedCues = 5 // of one player's changes, in the text; the lines that keep them have all

// words are "+1.5 dB to the end, in 3 of 4 cues; +3 dB more in cue 2".
func (c *LastingChange) words() string {
	if c.Cues == 0 {
		return fmt.Sprintf("%+g dB to the end", c.LastDB)
	}
	var parts []string
	more := ""
	if c.TrimDB != 0 {
		parts = append(parts, fmt.Sprintf("%+g dB to the end, in %d of %d cues", c.TrimDB, c.Held, c.Cues))
		more = " more"
	}
	for i, n := range c.Nudges {
		if i == mostNamedCues {
			parts = append(parts, fmt.Sprintf("and in %d other cues", len(c.Nudges)-i))
			break
		}
		parts = append(parts, fmt.Sprintf("%+g dB%s in cue %s", n.DB, more, n.Cue))
	}
	return strings.Join(parts, "; ")
}
