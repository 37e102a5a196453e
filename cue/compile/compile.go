// Package compile turns a show's files into snapshots. It is a list of passes, each a function that says what it needs
// and what it makes. It writes nothing and knows nothing about OSC: all it gets of the mixer is its limits.
package compile

import (
	"backfield/cue"
	"backfield/cue/clock"
	"backfield/cue/parts"
	"backfield/cue/rules"
	"backfield/cue/timeline"
	"backfield/cue/work"
	"backfield/layout/source"
)

// Input is the files of a show, and what helps to compile it.
type Input struct {
	timeline.Files
	Memo     *work.Memo         // what the last compile found, or nil
	Progress func(part float64) // called from any goroutine with how much of the numbers is done, 0 to 1
}

// Result is a compiled show, and where its numbers come from.
type Result struct {
	Input
	Show *cue.Show // nil after errors

	Clock *clock.Clock
	Lines *timeline.Lines
	Cues  []timeline.TimedCue // in order of time

	Setup       *work.CompileSetup   // this and what follows is missing if the show has no counts
	Spans       []work.CueSpan       // by cue
	Derivations [][]*work.Derivation // by cue, of the lines that it has open

	Remarks   []timeline.Remark // the warnings about cues, accepted or not, in the order of the rules
	Attention []Attention       // what a person should look at before the show, worst first
}

// Compile runs the passes. All of them run, so that all problems are reported at once. What one pass or one file could
// not read, the next leaves alone instead of reporting it again in other words. Show is nil after errors, including
// those that were in p before.
func Compile(in Input, p *source.Problems) *Result {
	r := &Result{Input: in}
	f, remarks := &r.Files, timeline.NewRemarks(in.Score, p)
	defer func() { r.Remarks = remarks.List }()

	// Who is open when.
	doubt := timeline.CheckFiles(f, p)
	f.Doubt = f.Doubt || doubt
	r.Clock = timeline.NewClock(f, p)
	r.Lines = timeline.NewLines(f, r.Clock, p)
	placed, unplaced := timeline.PlaceCues(f, r.Clock, p)
	rules.CheckAllow(f.Score, p)
	timeline.CheckParams(f, remarks, p)
	timeline.CheckParts(f, p)
	lanes := parts.Read(f, p)
	r.Cues = timeline.Open(f, r.Lines, placed, unplaced, remarks, p)
	r.Cues = timeline.Played(f, r.Clock, r.Lines, r.Cues, p)
	if len(r.Clock.Movements) == 0 {
		return r // no cue has a time
	}

	// The numbers. After errors nobody uses them, and they are computed only to find what is wrong with dots and levels.
	r.Setup = work.NewCompileSetup(f, lanes, in.Memo, p.Errors() > 0)
	checkPolicies(r.Setup, r.Cues, p)
	checkZones(f, p)
	r.Spans = work.Walk(r.Clock, r.Lines, r.Cues)
	r.Derivations = work.Compute(r.Setup, r.Clock, r.Lines, r.Cues, in.Progress)
	r.Attention = report(f, r.Cues, r.Derivations, remarks, p)

	// The snapshots, and the checks that need them.
	show := header(r.Setup, r.Clock)
	show.Cues = snapshots(r.Setup, r.Clock, r.Lines, r.Cues, r.Derivations)
	if !f.Doubt && p.Errors() == 0 {
		rules.Judge(&rules.Compiled{
			CompileSetup: r.Setup, Clock: r.Clock, Lines: r.Lines, Cues: r.Cues,
			Spans: r.Spans, Derivations: r.Derivations, Show: show,
		}, remarks)
	}
	if p.Errors() == 0 {
		r.Show = show
	}
	return r
}
