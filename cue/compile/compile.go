// Package compile turns a show that was read into snapshots. It is a list of passes, each a function that says what it
// needs and what it makes. It writes nothing and knows no OSC: of the mixer it is told the limits only.
package compile

import (
	"backfield/cue"
	"backfield/cue/clock"
	"backfield/cue/rules"
	"backfield/cue/timeline"
	"backfield/cue/work"
	"backfield/layout/source"
)

// Input is a show that was read, and what helps to compile it.
type Input struct {
	timeline.Files
	Memo     *work.Memo         // what the last compile found, or nil
	Progress func(part float64) // called with how much of the work on the numbers is done, 0 to 1, from any goroutine
}

// Result is a compiled show, and what stands behind its numbers.
type Result struct {
	Input
	Show *cue.Show // nil after errors

	Clock *clock.Clock
	Lines *timeline.Lines
	Cues  []timeline.TimedCue // in order of time

	Setup       *work.Setup          // this and what follows is left out where the show has no time
	Spans       []work.CueSpan       // by cue
	Pieces      []work.CuePiece      // as Show.Cues
	Derivations [][]*work.Derivation // by piece

	Remarks   []timeline.Remark // what the rules found about cues, accepted or not, in the order of the rules
	Attention []Attention       // what a person should look at before the show, worst first
}

// Compile runs the passes. All of them run, so that all problems are reported at once: what one pass or one file could
// not make out is left alone by the next, not reported again in other words. Show is nil after errors, those in p
// before included.
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
	r.Cues = timeline.Open(f, r.Lines, placed, unplaced, remarks, p)
	if len(r.Clock.Movements) == 0 {
		return r // and no cue has a moment
	}

	// The numbers. After errors nobody will use them: then only what is wrong with dots and levels is found.
	r.Setup = work.NewSetup(f, in.Memo, p.Errors() > 0)
	checkPolicies(r.Setup, r.Cues, p)
	checkZones(f, p)
	r.Spans = work.Walk(r.Setup, r.Clock, r.Lines, r.Cues)
	r.Pieces = work.Divide(f, r.Cues, r.Spans)
	r.Derivations = work.Compute(r.Setup, r.Lines, r.Cues, r.Spans, r.Pieces, in.Progress)
	r.Attention = report(f, r.Cues, r.Pieces, r.Derivations, remarks, p)
	work.KeepOpenAfterHandover(r.Spans, r.Pieces, r.Derivations)

	// The snapshots, and what the trade knows about them.
	show := header(r.Setup, r.Clock)
	show.Cues = snapshots(r.Setup, r.Clock, r.Lines, r.Cues, r.Spans, r.Pieces, r.Derivations)
	if !f.Doubt && p.Errors() == 0 {
		rules.Judge(&rules.Compiled{
			Setup: r.Setup, Clock: r.Clock, Lines: r.Lines, Cues: r.Cues,
			Spans: r.Spans, Pieces: r.Pieces, Derivations: r.Derivations, Show: show,
		}, remarks)
	}
	if p.Errors() == 0 {
		r.Show = show
	}
	return r
}
