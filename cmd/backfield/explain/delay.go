package explain

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"backfield/cue"
	"backfield/cue/work"
	"backfield/layout/source"
	"backfield/layout/stands"
)

// stretch writes for how long the mic stays open around the cue: its path is found for all of that.
func (e *explainer) stretch() {
	x := e.w.Stretch
	from, to := x.Samples[0].Moment, x.Samples[len(x.Samples)-1].Moment
	e.say("STRETCH\n  open        from %s to %s, without a break: %s",
		moment(from.Movement, from.Count(), e.s.Clock.Seconds(from)),
		moment(to.Movement, to.Count(), e.s.Clock.Seconds(to)), e.cuesOpen())
	if !e.w.Delay.Manual {
		e.say("  one path of delay and pan is found for all of it")
	}
	e.say("")
}

// cuesOpen lists the cues of the stretch.
func (e *explainer) cuesOpen() string {
	x := e.w.Stretch
	var ids []string
	for i := x.Cues[0]; i <= x.Cues[1]; i++ {
		ids = append(ids, e.s.Cues[i].Cue.ID.V)
	}
	switch n := len(ids); {
	case n > 6:
		return fmt.Sprintf("%d cues, %s to %s", n, ids[0], ids[n-1])
	case n > 1:
		return "cues " + source.And(ids)
	}
	return "cue " + ids[0]
}

// moment writes a moment of the show as a count and a time.
func moment(movement int, count, timeS float64) string {
	return fmt.Sprintf("%d:%.6g (%s)", movement, count, cue.ClockTime(timeS))
}

func (e *explainer) delay() {
	w, sys := e.w, e.s.Setup.System
	e.say("DELAY")
	if w.Delay.Manual {
		if mic := e.s.Lines.List[w.Line].Fixed; mic.DelaySet {
			e.say("  set in the rig: %.4g ms", w.Delay.RawMS)
		} else {
			e.say("  %.4g ms, as for every %s that the rig gives no delay", w.Delay.RawMS, mic.KindWords())
		}
		e.round("delay", w.Delay.RawMS, w.Delay.MS, e.s.Input.Mixer.Delay)
		return
	}
	e.say("  own sound   %.4f m to the reference seat / %.3f m/s = %.3f ms", w.Place.ReferenceM, sys.SpeedMPS,
		w.Delay.PlayerMS)
	if w.Pan.Sends == nil {
		left, right := sys.Law.Gains(w.Pan.Raw)
		e.say("  pan %.5f: left %.5f, right %.5f   (%s; before it is rounded)", w.Pan.Raw, left, right, sys.Law)
	}
	e.stacks()
	if w.Delay.Unheard {
		e.say("  no stack is heard at the reference seat: 0 ms\n")
		return
	}
	e.first()
	needMS := w.Delay.PlayerMS - w.Delay.FirstMS
	e.say("  need        %.3f - %.3f = %.3f ms, so that both arrive together at the reference seat", w.Delay.PlayerMS,
		w.Delay.FirstMS, needMS)
	if w.Delay.Policy.FromSeats() {
		e.bound(needMS)
	} else {
		e.say("  %-11s %s", w.Delay.Policy.Name, w.Delay.Policy.Explain(stands.Explained{
			NeedMS: needMS, LeadMS: w.Delay.LeadMS, Seats: e.seats(), Delay: fmt.Sprintf("%.3f ms", w.Delay.WantMS),
		}))
	}
	if w.Delay.BelowMS > 0 {
		e.say("  below 0     %.3f ms would be needed while this cue lasts, and a mixer cannot send sound before it "+
			"comes in", -w.Delay.BelowMS)
	}
	e.found()
	e.round("delay", w.Delay.RawMS, w.Delay.MS, e.s.Input.Mixer.Delay)
}

// counts is how much a stack counts at the press box, 0 to 1, by its amplitude there as a part of the loudest one's.
func counts(ofLoudest float64) float64 { return max(0, min((ofLoudest-0.2)/0.3, 1)) }

// stacks writes how loud each stack is at the reference seat, and when it is heard there.
func (e *explainer) stacks() {
	sys, seat := e.s.Setup.System, e.s.Rig.Reference
	width := len("stack")
	for _, k := range sys.Stacks {
		width = max(width, len(k.Name))
	}
	e.say("  %-*s  amplitude  distance m  there      of the loudest  counts  latency + output delay + travel", width,
		"stack")
	there, loudest := make([]float64, len(sys.Stacks)), 0.0
	for i, k := range sys.Stacks {
		there[i] = e.w.Pan.Gains[i] / max(k.At.Distance(seat), 0.001)
		loudest = max(loudest, there[i])
	}
	latencyS := sys.LatencyS
	if mic := e.s.Lines.List[e.w.Line].Fixed; mic != nil {
		latencyS = mic.LatencyS
	}
	for i, k := range sys.Stacks {
		d := k.At.Distance(seat)
		if e.w.Pan.Gains[i] == 0 {
			e.say("  %-*s  %9s  %10.4f  %-9s  %14s  %6s  does not carry this channel", width, k.Name, "0", d, "0", "0",
				"0")
			continue
		}
		travel := 1000 * d / sys.SpeedMPS
		total := 1000*(latencyS+k.DelayS) + travel
		e.say("  %-*s  %9.5f  %10.4f  %-9.7f  %14.4f  %6.4f  %.2f + %.2f + %.3f = %.3f ms", width, k.Name,
			e.w.Pan.Gains[i], d, there[i], there[i]/loudest, counts(there[i]/loudest), 1000*latencyS, 1000*k.DelayS,
			travel, total)
	}
	e.say("  counts      (of the loudest - 0.2) / 0.3, from 0 to 1: in full to 6 dB below it, not at all from 14 dB on")
}

// first writes what is heard first at the reference seat: the mean of the stacks' arrivals by what each adds.
func (e *explainer) first() {
	stacks := e.s.Setup.System.Stacks
	parts := e.w.Delay.Parts
	if len(parts) == 1 {
		e.say("  first       %s, after %.3f ms", stacks[parts[0].Stack].Name, parts[0].MS)
		return
	}
	var words []string
	for _, part := range parts {
		words = append(words, fmt.Sprintf("%.4f x %.3f (%s)", part.Share, part.MS, stacks[part.Stack].Name))
	}
	e.say("  first       %s = %.3f ms\n              in order of time, each by what it counts over those before it",
		strings.Join(words, " + "), e.w.Delay.FirstMS)
}

// bound writes between which delays the press box holds the path.
func (e *explainer) bound(needMS float64) {
	box := e.w.Delay.Box
	if box.Free {
		e.say("  press box   no bound (box = \"free\")")
		return
	}
	for i, name := range []string{"from", "to"} {
		held := ""
		if needMS+box.MS[i] < 0 {
			held = ", so 0"
		}
		e.say("  %-11s %.3f + %.4g = %.3f ms%s", "box "+name, needMS, box.MS[i], needMS+box.MS[i], held)
	}
}

// found writes what the search has found for the cue's moment, what decides it, and what it costs to be elsewhere.
func (e *explainer) found() {
	here := e.w.Stretch.DelayMS[e.w.Lo]
	found := "the path with the most seats in time"
	if !e.w.Delay.Policy.FromSeats() {
		found = "the path that is nearest to that"
	}
	e.say("  path        %.1f ms here: %s over the whole stretch", here, found)
	if words := e.jumpWords(); words != "" {
		e.say("              %s", words)
	}
	if e.w.Delay.RawMS != here {
		e.say("  knot        %.1f ms: %.4g ms off the path, since that takes fewer knots", e.w.Delay.RawMS,
			math.Abs(e.w.Delay.RawMS-here))
	}
	e.say("  held by     %s", e.heldBy())
	if e.w.Delay.Policy.FromSeats() {
		e.around()
	}
}

// jumpWords says when the delay of a mixer that clicks may change; "" for one that glides.
func (e *explainer) jumpWords() string {
	words := ""
	switch e.moves() {
	case cue.Closed:
		rests := slices.ContainsFunc(e.w.Stretch.Samples, func(s work.StretchSample) bool { return s.MayJump })
		switch dips := e.s.Score.DipS > 0; {
		case dips && rests:
			words = "it changes only in a dip (delay.dip) or in a rest of the player: this mixer's delay clicks"
		case dips:
			words = "it changes only in a dip (delay.dip): this mixer's delay clicks"
		case rests:
			words = "it changes only in a rest of the player: this mixer's delay clicks"
		default:
			words = "one delay for the stretch: this mixer's delay moves only while the channel is closed"
		}
	case cue.AtCues:
		words = "it changes only at a cue: this mixer's delay clicks"
		if e.s.Score.DipS > 0 {
			words = "it changes only at a cue or in a dip (delay.dip): this mixer's delay clicks"
		}
	}
	return words
}

func (e *explainer) moves() cue.Moves { return e.s.Show.Rig.Delay.Moves }

// boundMS is the press box's bound on the delay at the cue's moment; ok is false if it has none.
func (e *explainer) boundMS() (least, most float64, ok bool) {
	needMS, box := e.w.Stretch.NeedMS[e.w.Lo], e.w.Delay.Box
	if box.Free || !e.w.Delay.Policy.FromSeats() || math.IsNaN(needMS) {
		return 0, math.Inf(1), false
	}
	least, most = box.DelayMS(needMS)
	return least, most, true
}

// heldBy says what decides the path's delay at the cue's moment.
func (e *explainer) heldBy() string {
	here, grid := e.w.Stretch.DelayMS[e.w.Lo], e.s.Setup.GridMS()+1e-6
	least, most, bound := e.boundMS()
	outside := here < least-grid || here > most+grid
	best, hasBest := e.bestMS()
	switch {
	case e.slews() && (outside || !hasBest):
		return e.slewWords()
	case outside:
		return "the rest of the stretch: the press box's bound is missed here"
	case bound && here >= most-grid:
		return fmt.Sprintf("the press box, %.4g ms", e.w.Delay.Box.MS[1])
	case bound && here <= least+grid:
		return fmt.Sprintf("the press box, %.4g ms", e.w.Delay.Box.MS[0])
	case hasBest && math.Abs(here-best) <= grid && e.w.Delay.Policy.FromSeats():
		return "the seats: here it is the delay with the most of them in time"
	case hasBest && math.Abs(here-best) <= grid:
		return "what is wanted here"
	case e.slews():
		return e.slewWords()
	case !hasBest:
		return "the rest of the stretch: no seat is in time here"
	}
	return fmt.Sprintf("the rest of the stretch: here alone, %.1f ms would be best", best)
}

func (e *explainer) slewWords() string {
	return fmt.Sprintf("the slew: the delay moves as fast as it may, %.4g ms a second", e.s.Score.SlewMSPS)
}

// slews reports whether the delay moves as fast as it may, to one step of the search, just before or after the cue.
func (e *explainer) slews() bool {
	x, grid := e.w.Stretch, e.s.Setup.GridMS()
	if e.moves() != cue.Glides {
		return false
	}
	for _, k := range []int{e.w.Lo, e.w.Lo + 1} {
		if k < 1 || k >= len(x.Samples) {
			continue
		}
		most := grid * math.Floor(e.s.Score.SlewMSPS*x.Samples[k].StepS/grid+1e-9)
		if by := math.Abs(x.DelayMS[k] - x.DelayMS[k-1]); by > 1e-6 && by >= most-grid-1e-6 {
			return true
		}
	}
	return false
}

// bestMS is the delay that would be best at the cue's moment alone, within the press box's bound: the nearest to the
// path's of those with the most seats in time. ok is false if none has a seat in time.
func (e *explainer) bestMS() (ms float64, ok bool) {
	if !e.w.Delay.Policy.FromSeats() {
		return max(0, e.w.Stretch.WantMS[e.w.Lo]), true
	}
	n := e.needs()
	if n.Len() == 0 {
		return 0, false
	}
	least, most, bound := e.boundMS()
	if !bound {
		least, most = 0, n.MostMS+n.window.MostMS
	}
	here, grid, share := e.w.Stretch.DelayMS[e.w.Lo], e.s.Setup.GridMS(), 0.0
	most = min(most, e.s.Input.Mixer.Delay.Max)
	for i := math.Ceil(least/grid - 1e-9); i*grid <= most+1e-9; i++ {
		d := i * grid
		s := n.inTime(d)
		if s > share+1e-9 || s > share-1e-9 && math.Abs(d-here) < math.Abs(ms-here) {
			ms, share = d, max(s, share)
		}
	}
	return ms, share > 1e-9
}

// around writes how many seats are in time with this delay and others.
func (e *explainer) around() {
	n := e.needs()
	if n.Len() == 0 {
		return
	}
	type row struct {
		ms   float64
		what string
	}
	sent, needMS := e.w.Delay.MS, e.w.Stretch.NeedMS[e.w.Lo]
	rows := []row{{sent - 2, "2 ms less"}, {sent, "sent"}, {sent + 2, "2 ms more"}}
	if least, most, bound := e.boundMS(); bound {
		rows = append(rows, row{least, "the press box's least"}, row{most, "the press box's most"})
	}
	if best, ok := e.bestMS(); ok {
		rows = append(rows, row{best, "best here alone, within the press box's bound"})
	}
	slices.SortStableFunc(rows, func(a, b row) int { return cmp.Compare(a.ms, b.ms) })
	e.say("              delay ms   in time %%   press box ms")
	for _, r := range rows {
		if r.ms >= 0 {
			e.say("            %10.3f   %9.2f   %12.3f   %s", r.ms, 100*n.inTime(r.ms), r.ms-needMS, r.what)
		}
	}
}
