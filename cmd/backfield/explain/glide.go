package explain

import (
	"fmt"
	"math"

	"backfield/cue"
)

// pathRow is one moment of the path: the cue's, or a knot after it.
type pathRow struct {
	cue.Knot
	sample int // of the stretch
}

// glide writes the path after the cue's moment, a line a knot: where it goes, and what the press box and the seats hear.
// Where the player walks and nothing glides, it writes the beginning and the end.
func (e *explainer) glide() {
	rows := e.path()
	if len(rows) == 1 {
		return
	}
	jumps := e.moves() != cue.Glides
	what, where := "pan", "pan"
	if rows[0].Place != nil {
		what, where = "place", "place along the row of stacks"
	}
	lines := "delay and " + where + " go straight from each knot to the next, until the next cue"
	switch {
	case len(e.w.Glide) == 0:
		lines = "delay and " + where + " stay while the player walks, until the next cue"
	case jumps:
		lines = "the delay holds from each knot on; the " + where + " goes straight from each knot to the next, " +
			"until the next cue"
	}
	seats := e.needs().Len() > 0
	head := fmt.Sprintf("  %-10s %9s %9s %9s %9s %9s", "count", "time s", "delay ms", what, "need ms", "gap ms")
	if seats {
		head += "  in time %"
	}
	head += fmt.Sprintf(" %8s %7s", "ms/s", "cents")
	if rows[0].LevelDB != nil {
		head += "  level dB"
	}
	e.say("GLIDE\n  %s\n%s", lines, head)
	for i, r := range rows {
		speed := ""
		if i > 0 {
			speed = fmt.Sprintf(" %8s %7s", "-", "-")
			before := rows[i-1]
			if seconds := r.TimeS - before.TimeS; seconds > 0 && !jumps {
				v := (r.DelayMS - before.DelayMS) / seconds
				speed = fmt.Sprintf(" %8.2f %7.1f", v+0, Cents(v)+0)
			}
		}
		e.knot(r, seats, speed)
	}
	e.say("  gap         delay - need, at the reference seat: so much later than the player; below 0 it is earlier")
	if !jumps {
		e.say("  cents       1200 log2(1 - (ms/s) / 1000): how far the pitch is off while the delay moves")
	}
	e.say("")
}

// path lists the cue's moment and the knots after it; where nothing glides and the player walks, the end of the walk.
func (e *explainer) path() []pathRow {
	first := cue.Knot{
		Movement: e.snapshot.Movement, Count: e.snapshot.Count, TimeS: e.snapshot.TimeS, DelayMS: e.w.Delay.RawMS,
		Pan: e.w.Pan.Raw,
	}
	if e.w.Pan.Sends != nil {
		first.Place = &e.w.Pan.Place
	}
	if len(e.w.Glide) > 0 && e.w.Glide[0].LevelDB != nil {
		db := cue.Level(e.w.Level.RawDB)
		first.LevelDB = &db
	}
	rows := []pathRow{{first, e.w.Lo}}
	for _, k := range e.w.Stretch.Knots {
		if n := len(rows) - 1; k.Sample > e.w.Lo && k.Sample <= e.w.Hi && n < len(e.w.Glide) {
			rows = append(rows, pathRow{e.w.Glide[n], k.Sample})
		}
	}
	if len(rows) == 1 && e.w.Place.Start != e.w.Place.End {
		last := first
		last.Movement, last.Count, last.TimeS = e.w.To.Movement, e.w.To.Count(), e.s.Clock.Seconds(e.w.To)
		rows = append(rows, pathRow{last, e.w.Hi})
	}
	return rows
}

// Cents is how far a delay that grows by so many ms a second moves the pitch, in hundredths of a semitone: the Doppler
// shift of a source that goes away that fast.
func Cents(msPerS float64) float64 { return 1200 * math.Log2(1-msPerS/1000) }

// knot writes one knot; speed is from the one before.
func (e *explainer) knot(r pathRow, seats bool, speed string) {
	where := r.Pan
	if r.Place != nil {
		where = *r.Place
	}
	text := fmt.Sprintf("  %-10s %9.3f %9.1f %9.4f", fmt.Sprintf("%d:%.6g", r.Movement, r.Count), r.TimeS, r.DelayMS,
		where+0)
	if needMS := e.w.Stretch.NeedMS[r.sample]; math.IsNaN(needMS) {
		text += fmt.Sprintf(" %9s %9s", "-", "-")
	} else {
		text += fmt.Sprintf(" %9.3f %9.3f", needMS, r.DelayMS-needMS+0)
	}
	if seats {
		x := e.w.Stretch
		n := e.needsOf(e.s.Setup.GainsAt(x.Want[r.sample]), x.Samples[r.sample].At)
		if n.Len() > 0 {
			text += fmt.Sprintf("  %9.2f", 100*n.inTime(r.DelayMS))
		} else {
			text += fmt.Sprintf("  %9s", "-")
		}
	}
	if text += speed; r.LevelDB != nil {
		if speed == "" {
			text += fmt.Sprintf(" %8s %7s", "", "")
		}
		text += fmt.Sprintf("  %8.2f", float64(*r.LevelDB))
	}
	e.say("%s", text)
}
