package run

import (
	"fmt"
	"math"
	"strings"

	"backfield/cue"
	"backfield/layout/source"
)

// String is the view in a few lines, for a terminal without a screen.
func (v View) String() string {
	var b strings.Builder
	say := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	step := "before the first cue"
	if v.Step != "" {
		step = "cue " + v.Step
		if v.Name != "" {
			step += fmt.Sprintf(" %q", v.Name)
		}
	}
	clock := "the show clock stands"
	if v.Running {
		clock = fmt.Sprintf("%.0f bpm, %.1f %% of the tempo written", v.BPM, 100*v.Rate)
	}
	say("%s, %s at %d:%.4g; %s", step, cue.ClockTime(v.ShowS), v.Now.Movement, v.Now.Count, clock)
	var open []string
	for _, o := range v.Open {
		open = append(open, fmt.Sprintf("%s %.1f", o.Player, o.LevelDB))
	}
	if len(open) == 0 {
		open = []string{"nothing"}
	}
	say("open: %s", strings.Join(open, ", "))
	if v.Hush {
		say("HUSHED: every worn mic is closed until unhush")
	}
	if v.NextAuto != nil {
		say("by itself: %s", v.NextAuto)
	}
	switch {
	case v.Next != nil && v.Next.Auto:
		say("next, by itself: %s", v.Next)
	case v.Next != nil:
		say("next: %s", v.Next)
	default:
		say("next: no further cue")
	}
	for _, list := range []struct {
		name string
		what []string
	}{{"held", v.Holds}, {"swapped", v.Swaps}, {"nudged", v.Nudges}} {
		if len(list.what) > 0 {
			say("%s: %s", list.name, strings.Join(list.what, ", "))
		}
	}
	for _, d := range v.Mixers {
		say("mixer %s: %s", d.To, d)
		for _, h := range d.Manual {
			say("  in hand: %s", h)
		}
	}
	if v.Problem != "" {
		say("last problem, %.0f s ago: %s", v.ProblemAgoS, v.Problem)
	}
	return strings.TrimSuffix(b.String(), "\n")
}

// String is the cue in a line.
func (n *NextCue) String() string {
	text := fmt.Sprintf("cue %s at %s", n.ID, n.At)
	if n.Name != "" {
		text += fmt.Sprintf(" %q", n.Name)
	}
	text += ", " + n.Away()
	if what := n.Changes(); what != "" {
		text += "; " + what
	}
	return text
}

// Away tells how far off it is.
func (n *NextCue) Away() string {
	counts := math.Round(n.Counts*10) / 10
	if counts < 0 {
		return fmt.Sprintf("%g counts overdue", -counts)
	}
	return fmt.Sprintf("in %g counts", counts)
}

// Done reports whether the mixer holds what is meant, as far as it can be known.
func (d MixerView) Done() bool {
	return d.Up && !d.NoReply && !d.Waiting && d.Unconfirmed == 0
}

// String is the mixer's state in words.
func (d MixerView) String() string {
	switch {
	case !d.Up && d.Reason != "":
		return "DOWN: " + d.Reason
	case !d.Up:
		return "not connected yet"
	case d.NoReply:
		return "NO REPLY: check power and cable"
	case d.Waiting:
		return "sending"
	case d.Confirms && d.Unconfirmed > 0:
		return "waiting for " + source.Count(float64(d.Unconfirmed), "value")
	case d.Confirms:
		return "OK"
	}
	return "sent (this mixer cannot confirm)"
}
