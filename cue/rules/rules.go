// Package rules knows the trade: what is likely to go wrong at the show although a score has no mistake. Each rule is
// one value in one list; what it finds is a warning that a cue or the whole score may accept by the rule's code.
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

// Rule is one kind of warning about a cue. It is found by at most one of the functions; without any by the pass of the
// compiler that comes across it.
type Rule struct {
	Code        string
	ForDesigner bool // it is the designer's to fix and nothing that an operator could watch
	EachCue     func(x *Compiled, cue int, say Say)
	EachMic     func(x *Compiled, cue int, h hearing, say Say) // of each field mic that is open in a cue
	OnceAShow   func(x *Compiled, say Say)
}

// Say reports what a rule finds about a cue, or with nil about the show.
type Say func(c *score.Cue, at source.Span, what, do string)

// Compiled is a compiled show as the rules see it.
type Compiled struct {
	*work.Setup
	Clock  *clock.Clock
	Lines  *timeline.Lines
	Cues   []timeline.Cue
	Spans  []work.Span
	Pieces []work.Piece
	Works  [][]*work.Working // by piece
	Show   *cue.Show
}

// List is every rule. A cue's warnings come in this order.
var List = []Rule{
	{Code: "keep-nothing", ForDesigner: true},
	{Code: "close-nothing", ForDesigner: true},
	{Code: "nudge-closed", ForDesigner: true},
	{Code: "param-closed"},
	{Code: "param-range"},
	{Code: "raw-scene"},
	{Code: "level-range", ForDesigner: true},
	{Code: "cues-close", ForDesigner: true, EachCue: cuesClose},
	{Code: "fade-long", EachCue: fadeLong},
	{Code: "many-open", EachCue: manyOpen},
	{Code: "near-stack", EachCue: nearStack, OnceAShow: fixedNearStack},
	{Code: "loud-near-mic", EachMic: loudNearMic},
	{Code: "uneven-pickup", EachMic: unevenPickup},
	{Code: "masked", OnceAShow: masked},
	{Code: "walks-open", OnceAShow: walksOpen},
	{Code: "delay-negative", OnceAShow: delayNegative},
	{Code: "delay-max", OnceAShow: delayMax},
	{Code: "few-served", OnceAShow: fewServed},
	{Code: "opens-moving", OnceAShow: opensMoving},
	{Code: "changes-nothing", ForDesigner: true, OnceAShow: changesNothing},
	{Code: "handover-fast", OnceAShow: handoverFast},
	{Code: "handover-open", OnceAShow: handoverOpen},
}

// Codes lists the rules' codes by the alphabet.
func Codes() []string {
	var codes []string
	for _, r := range List {
		codes = append(codes, r.Code)
	}
	slices.Sort(codes)
	return codes
}

// ForDesigner reports whether what a code warns of is the designer's to fix and nothing that an operator could watch.
func ForDesigner(code string) bool {
	return slices.ContainsFunc(List, func(r Rule) bool { return r.Code == code && r.ForDesigner })
}

// CheckAllow finds accepted codes that there are not.
func CheckAllow(s *score.Score, p *source.Problems) {
	codes := Codes()
	check := func(list []table.Text) {
		for _, code := range list {
			if code.Set && !slices.Contains(codes, code.V) {
				p.Error("unknown-code", code.Span, fmt.Sprintf("no warning about a cue has the code %q", code.V),
					source.DidYouMean(code.V, codes, "it is "+source.OneOf(codes)+"; errors cannot be accepted"))
			}
		}
	}
	check(s.Allow)
	for i := range s.Cues {
		check(s.Cues[i].Allow)
	}
}

// Judge compares a compiled show with what the trade knows. Every rule warns; none stops a compile.
func Judge(x *Compiled, remarks *timeline.Remarks) {
	say := func(r *Rule) Say {
		return func(c *score.Cue, at source.Span, what, do string) { remarks.About(c, r.Code, at, what, do) }
	}
	for i := range x.Cues {
		for n := range List {
			if r := &List[n]; r.EachCue != nil {
				r.EachCue(x, i, say(r))
			}
		}
		for _, h := range hearings(x, i) {
			for n := range List {
				if r := &List[n]; r.EachMic != nil {
					r.EachMic(x, i, h, say(r))
				}
			}
		}
	}
	for n := range List {
		if r := &List[n]; r.OnceAShow != nil {
			r.OnceAShow(x, say(r))
		}
	}
}
