// Package rules has the checks of what is likely to go wrong at the show although the score has no mistake. Each rule
// is one value in one list. What it finds is a warning, which a cue or the whole score may accept by the rule's code.
package rules

import (
	"fmt"
	"slices"

	"backfield/cue"
	"backfield/cue/clock"
	"backfield/cue/score"
	"backfield/cue/timeline"
	"backfield/cue/work"
	"backfield/layout/source"
	"backfield/layout/table"
)

// Rule is one kind of warning about a cue. Its functions find it, each looking at a show part by part. The warnings of a
// rule without functions come from the pass of the compiler that finds them.
type Rule struct {
	Code        string
	Section     Section
	Help        string // what it means, in lines, for the page on checks
	Fix         string // what it means and what to do, in lines, for the page of problems
	Heard       bool   // package heard finds it
	ForDesigner bool   // only the designer can fix it; an operator has nothing to watch for

	EachCue      func(x *Compiled, cue int, say Say)
	EachOpen     func(x *Compiled, cue int, t *work.Track, say Say) // the path of each open line through a cue
	EachFieldMic func(x *Compiled, cue int, h micHearing, say Say)  // each field mic that is open in a cue
	EachSnapshot func(x *Compiled, cue int, say Say)
	OnceAShow    func(x *Compiled, say Say)
}

// Section is what a rule is about, and its heading on the page on checks.
type Section string

// The sections, by their headings.
const (
	Safety      Section = "Safety"
	TheMixer    Section = "The mixer"
	TheOperator Section = "The operator"
	TheScore    Section = "The score"
	TheSound    Section = "The sound"
)

// Say reports what a rule finds about a cue, or about the show if the cue is nil.
type Say func(c *score.Cue, at source.Span, what, do string)

// Compiled is a compiled show as the rules see it.
type Compiled struct {
	*work.CompileSetup
	Clock       *clock.Clock
	Lines       *timeline.Lines
	Cues        []timeline.TimedCue
	Spans       []work.CueSpan
	Derivations [][]*work.Derivation // by cue
	Show        *cue.Show
}

// List is every rule, in the order in which a cue's warnings and a section's lines come.
var List = slices.Concat(scoreRules, timingRules, safetyRules, levelRules, musicRules, soundRules, mixerRules,
	pathRules, handoverRules)

// Codes lists the rules' codes in alphabetical order.
func Codes() []string {
	var codes []string
	for _, r := range List {
		codes = append(codes, r.Code)
	}
	slices.Sort(codes)
	return codes
}

// ForDesigner reports whether only the designer can fix what a code warns about.
func ForDesigner(code string) bool {
	return slices.ContainsFunc(List, func(r Rule) bool { return r.Code == code && r.ForDesigner })
}

// CheckAllow reports accepted codes that do not exist.
func CheckAllow(s *score.Score, p *source.Problems) {
	codes := Codes()
	check := func(list []table.Text) {
		for _, code := range list {
			if code.Set && code.V == "masked" { // before 0.6.0
				p.Error("unknown-code", code.Span, "masked is now called not-heard", "write not-heard")
			} else if code.Set && !slices.Contains(codes, code.V) {
				p.Error("unknown-code", code.Span, fmt.Sprintf("no warning that can be accepted has the code %q",
					code.V),
					source.DidYouMean(code.V, codes, "use "+source.OneOf(codes)+"; errors cannot be accepted"))
			}
		}
	}
	check(s.Allow)
	for i := range s.Cues {
		check(s.Cues[i].Allow)
	}
}

// Judge applies every rule to a compiled show. Rules only warn; none stops a compile.
func Judge(x *Compiled, remarks *timeline.Remarks) {
	each := func(do func(r *Rule, say Say)) {
		for n := range List {
			r := &List[n]
			do(r, func(c *score.Cue, at source.Span, what, do string) { remarks.About(c, r.Code, at, what, do) })
		}
	}
	for i := range x.Cues {
		judgeCue(x, i, each)
	}
	for n := range x.Cues {
		each(func(r *Rule, say Say) {
			if r.EachSnapshot != nil {
				r.EachSnapshot(x, n, say)
			}
		})
	}
	each(func(r *Rule, say Say) {
		if r.OnceAShow != nil {
			r.OnceAShow(x, say)
		}
	})
}

// judgeCue applies the rules about one cue and about what is open in it.
func judgeCue(x *Compiled, i int, each func(do func(r *Rule, say Say))) {
	each(func(r *Rule, say Say) {
		if r.EachCue != nil {
			r.EachCue(x, i, say)
		}
	})
	for n := range x.Spans[i].Tracks {
		each(func(r *Rule, say Say) {
			if r.EachOpen != nil {
				r.EachOpen(x, i, &x.Spans[i].Tracks[n], say)
			}
		})
	}
	for _, h := range hearings(x, i) {
		each(func(r *Rule, say Say) {
			if r.EachFieldMic != nil {
				r.EachFieldMic(x, i, h, say)
			}
		})
	}
}
