package explain

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"backfield/cue/work"
	"backfield/layout"
	"backfield/layout/stands"
)

// seatSheet is what each seat needs of the mic at the cue's moment.
type seatSheet struct {
	*stands.SeatNeeds
	seats  []stands.Seat
	window stands.Window
	total  float64 // of the weights
}

// needs computes what the seats need at the cue's moment, once.
func (e *explainer) needs() *seatSheet {
	if e.now == nil {
		e.now = e.needsOf(e.w.Pan.Gains, e.w.Place.Start)
	}
	return e.now
}

// needsOf computes what the seats need of a mic at a place that the stacks carry with some gains.
func (e *explainer) needsOf(gains []float64, at layout.Point) *seatSheet {
	n := &seatSheet{SeatNeeds: e.s.Setup.Listeners.SeatNeeds(), window: e.s.Setup.Window()}
	line := &e.s.Lines.List[e.w.Line]
	if line.Fixed == nil || line.Fixed.HasPlayer() {
		n.LaterMS = 1000 * work.LaterS(e.s.Rig, line)
		n.Hear(gains, at)
	}
	if n.Heard {
		n.seats = e.s.Rig.Seats()
	}
	for _, s := range n.seats {
		n.total += s.Weight
	}
	return n
}

// Len is how many seats hear the mic.
func (n *seatSheet) Len() int { return len(n.seats) }

// inTime is the share of the seats in time with a delay, by weight; a seat near the edge of the window counts in part.
func (n *seatSheet) inTime(ms float64) float64 {
	sum := 0.0
	for j := range n.seats {
		sum += n.seats[j].Weight * n.window.Share(ms-n.MS[j])
	}
	return sum / n.total
}

// seatsNow writes three seats at the cue's moment: those whose arrival gap is nearest to the middle of the window and
// farthest from it, and the one in between, with half of the weight before it.
func (e *explainer) seatsNow() {
	n := e.needs()
	if n.Len() == 0 {
		return
	}
	sent, w := e.w.Delay.MS, n.window
	middle := (w.LeastMS + w.MostMS) / 2
	order := make([]int, n.Len())
	for j := range order {
		order[j] = j
	}
	off := func(j int) float64 { return math.Abs(sent - n.MS[j] - middle) }
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(off(a), off(b)) })
	half, k := n.seats[order[0]].Weight, 0
	for ; half < n.total/2 && k < len(order)-1; half += n.seats[order[k]].Weight {
		k++
	}
	e.say("SEATS\n  a gap of %.4g to %.4g ms counts in full, one under %.4g or over %.4g ms not at all, in between "+
		"in part",
		w.LeastMS+w.MarginMS, w.MostMS-w.MarginMS, w.LeastMS-w.MarginMS, w.MostMS+w.MarginMS)
	e.say("  gap = %g ms sent - need; need = own - first", sent)
	rows := []int{order[0], order[k], order[len(order)-1]}
	width := len("first")
	for _, j := range rows {
		width = max(width, len(e.firstAt(j)))
	}
	e.say("  %-7s %9s %9s %6s %9s  %-*s %9s %8s %7s", "seat", "x m", "y m", "z m", "own ms", width, "first", "need ms",
		"gap ms", "counts")
	for i, j := range rows {
		at := n.seats[j].At
		ownMS := 1000 * e.w.Place.Start.Distance(at) / e.s.Setup.System.SpeedMPS
		gap := sent - n.MS[j]
		e.say("  %-7s %9.3f %9.3f %6.2f %9.3f  %-*s %9.3f %8.3f %7.4f", [...]string{"best", "median", "worst"}[i], at.X,
			at.Y, at.Z, ownMS, width, e.firstAt(j), n.MS[j], gap, w.Share(gap))
	}
	e.say("")
}

// firstAt says which stack a seat hears first, and when, at a delay of 0.
func (e *explainer) firstAt(seat int) string {
	n := e.needs()
	first := e.s.Setup.System.First(n.seats[seat].At, e.w.Pan.Gains)
	return fmt.Sprintf("%9.3f %s", 1000*first.TimeS+n.LaterMS, e.s.Setup.System.Stacks[first.Stack].Name)
}

// fit writes how the path works for the seats, over the whole cue.
func (e *explainer) fit() {
	for i := range e.snapshot.Channels {
		c := &e.snapshot.Channels[i]
		f := c.Fit
		if c.Channel != e.w.Channel || f == nil {
			continue
		}
		e.say("FIT\n  of %s, over this cue: %s", e.seats(), f.Figures())
		e.say("  %.0f %% early (loudspeaker ahead, worst %.1f ms), %.0f %% late (worst %.1f ms past the window)",
			100*f.Early, f.WorstEarlyMS, 100*f.Late, f.WorstLateMS)
		when, ms := "after", f.MedianMS
		if ms < 0 {
			when, ms = "before", -ms
		}
		e.say("  median: the loudspeaker %.1f ms %s the player\n", ms, when)
	}
}
