package explain

import (
	"fmt"
	"math"

	"backfield/cue"
)

// glide writes the knots of the path after the cue's moment.
func (e *explainer) glide() {
	if len(e.w.Glide) == 0 {
		return
	}
	jumps := e.moves() != cue.Glides
	zones := e.w.Pan.Sends != nil
	what, where := "pan", "pan"
	if zones {
		what, where = "place", "place along the row of stacks"
	}
	lines := "delay and " + where + " go"
	if jumps {
		lines = "the delay holds from each knot on; the " + where + " goes"
	}
	level := e.w.Glide[0].LevelDB != nil
	head := fmt.Sprintf("  %-10s %9s %9s %9s %8s %7s", "count", "time s", "delay ms", what, "ms/s", "cents")
	if level {
		head += "  level dB"
	}
	e.say("GLIDE\n  %s straight from each knot to the next, until the next cue\n%s", lines, head)
	before := cue.Knot{
		Movement: e.snapshot.Movement, Count: e.snapshot.Count, TimeS: e.snapshot.TimeS, DelayMS: e.w.Delay.RawMS,
		Pan: e.w.Pan.Raw,
	}
	if zones {
		before.Place = &e.w.Pan.Place
	}
	if level {
		db := cue.Level(e.w.Level.RawDB)
		before.LevelDB = &db
	}
	e.knot(before, "")
	for _, k := range e.w.Glide {
		speed := fmt.Sprintf(" %8s %7s", "-", "-")
		if seconds := k.TimeS - before.TimeS; seconds > 0 && !jumps {
			v := (k.DelayMS - before.DelayMS) / seconds
			speed = fmt.Sprintf(" %8.2f %7.1f", v+0, Cents(v)+0)
		}
		e.knot(k, speed)
		before = k
	}
	if !jumps {
		e.say("  cents       1200 log2(1 - (ms/s) / 1000): how far the pitch is off while the delay moves")
	}
	e.say("")
}

// Cents is how far a delay that grows by so many ms a second moves the pitch, in hundredths of a semitone: the Doppler
// shift of a source that goes away that fast.
func Cents(msPerS float64) float64 { return 1200 * math.Log2(1-msPerS/1000) }

// knot writes one knot; speed is from the one before.
func (e *explainer) knot(k cue.Knot, speed string) {
	where := k.Pan
	if k.Place != nil {
		where = *k.Place
	}
	text := fmt.Sprintf("  %-10s %9.3f %9.1f %9.4f%s", fmt.Sprintf("%d:%.6g", k.Movement, k.Count), k.TimeS, k.DelayMS,
		where+0, speed)
	if k.LevelDB != nil {
		if speed == "" {
			text += fmt.Sprintf(" %8s %7s", "", "")
		}
		text += fmt.Sprintf("  %8.2f", float64(*k.LevelDB))
	}
	e.say("%s", text)
}
