// Package compile turns a score and a drill into snapshots. It is a list of passes:
//
//	resolve  positions to moments, packs to who wears them when           -> the clock, lines
//	open     for each cue, which line is open, in which role              -> openings
//	track    each open line's way through its cue, cut for follow-ons     -> spans, pieces
//	work     for each open line of a piece, its pan, delay, level and fit -> workings
//	settle   closed lines take the pan and delay that they need next      -> snapshots
//	rules    what the trade knows about the result                        -> warnings
//
// It writes nothing and knows no OSC: of the desk it is told the limits only.
package compile

import (
	"cmp"
	"math"
	"slices"

	"backfield/cue"
	"backfield/cue/clock"
	"backfield/cue/roster"
	"backfield/cue/score"
	"backfield/layout/drill"
	"backfield/layout/rig"
	"backfield/layout/sound"
	"backfield/layout/source"
	"backfield/layout/table"
)

// Limits are what a desk parameter can hold: its range, and the step of its grid.
type Limits struct{ Min, Max, Step float64 }

// Desk is what the numbers depend on of the desk: pan -1 to 1, delay in ms, level in dB.
type Desk struct {
	Channels          int
	Law               sound.Law
	Pan, Delay, Level Limits
	Send              Limits // of a channel to a zone

	Params []Param // the desk's own

	CeilingDB func(channel int) float64 // the highest level of a channel; nil where Level.Max is all there is to say
	CheckRaw  CheckRaw                  // nil where nobody knows
}

// CheckRaw holds a message that a cue sends besides to what the desk can be sent. That it stores or recalls a scene is told
// to warn, since a cue may accept it.
type CheckRaw func(raw cue.Raw, address table.Text, p *source.Problems, warn func(at source.Span, what, do string))

// Input is a show, read.
type Input struct {
	Score    *score.Score
	Drill    *drill.Drill
	Roster   *roster.Roster
	Rig      *rig.Rig
	Desk     Desk
	Memo     *Memo              // what the last compile worked out, or nil
	Progress func(part float64) // told how much of the work on the numbers is done, 0 to 1, from any goroutine; or nil
	Doubt    bool               // rig, drill or desk were read with errors: no number that comes of them is worth a word
}

// Result is a compiled show, and what stands behind its numbers.
type Result struct {
	Input
	Show  *cue.Show
	Clock *clock.Clock
	Cues  []Moment // in order of time, as Show.Cues
	lines []line

	seats  int     // of the stand, with weight
	spans  []span  // by cue
	pieces []piece // as Show.Cues
	works  [][]*Working

	broken   bool            // there were errors before any number was computed: the stand is left out
	unplaced []*score.Cue    // cues whose moment could not be found
	unsure   map[string]bool // players whose pack could not be placed in time

	attention []Attention
	cautions  []Caution
}

// Attention is something about one open channel that a person should look at before the show.
type Attention struct {
	Cue, Player, Text string
	weight            float64 // how bad, in ms or what is worth as much
}

// Attention lists what needs attention, worst first.
func (r *Result) Attention() []Attention {
	list := slices.Clone(r.attention)
	slices.SortStableFunc(list, func(a, b Attention) int { return cmp.Compare(b.weight, a.weight) })
	return list
}

// Moment is a cue that has found its place in time, and what is open in it, by line.
type Moment struct {
	Cue  *score.Cue
	At   clock.Moment
	open map[int]opening
}

// Compile runs the passes. All of them run, so that all problems are told at once: what one pass or one
// file could not make out is left alone by the next, not reported again in other words. Show is nil after
// errors, those in p before included.
func Compile(in Input, p *source.Problems) *Result {
	r := &Result{Input: in, unsure: map[string]bool{}}
	r.resolve(p)
	r.openAll(p)
	if len(r.Clock.Movements) == 0 {
		return r // and no cue has a moment
	}
	if show := r.settle(p); p.Errors() == 0 {
		r.Show = show
	}
	return r
}

// head is the part of the result that all cues share.
func (r *Result) head(system *sound.System) *cue.Show {
	show := &cue.Show{
		Format: cue.Format, Title: r.Score.Title, Venue: r.Rig.Name, AirC: tidy(r.Rig.AirC), SoundMPS: tidy(system.SpeedMPS), EndS: tidy(r.Clock.Seconds(r.Clock.End())),
		Rig: cue.Rig{
			LatencyMS: tidy(r.Rig.LatencyS * 1000),
			Reference: place(r.Rig.Reference.X, r.Rig.Reference.Y, r.Rig.Reference.Z),
			Delay:     cue.Settings{Policy: r.Score.Policy.Or(r.standing()), LeadMS: r.Score.LeadMS, WindowMS: r.Score.WindowMS, Feed: r.feed(), PanBy: r.panBy(), Seats: r.seats, PanLaw: system.Law.String(), PanWidth: r.Score.PanWidth},
		},
		Cues: []cue.Snapshot{},
	}
	for _, d := range r.Desk.Params {
		show.Params = append(show.Params, d.Own)
	}
	for _, k := range r.Rig.Stacks {
		if !k.Sub {
			show.Rig.Stacks = append(show.Rig.Stacks, cue.Stack{Name: k.Name, Place: place(k.At.X, k.At.Y, k.At.Z), Left: k.Left, Right: k.Right, TrimDB: k.TrimDB, DelayMS: tidy(k.DelayS * 1000), Zone: k.Zone})
		}
	}
	return show
}

func place(x, y, z float64) cue.Place { return cue.Place{X: tidy(x), Y: tidy(y), Z: tidy(z)} }

// tidy cuts binary dust off what is only told, not computed with: six decimals of a metre or second.
func tidy(v float64) float64 {
	if v = math.Round(v*1e6) / 1e6; v == 0 {
		return 0 // no -0
	}
	return v
}
