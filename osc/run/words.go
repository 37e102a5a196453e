package run

import (
	"fmt"
	"math"

	"backfield/layout/source"
)

// Follows reports whether this laptop only shows what another one does: then its keys are not taken.
func (v View) Follows() bool { return v.Pair != nil && !v.Pair.Sends }

// Tempo is the tempo as played: "132 bpm (as written)", or "131 bpm (99 % of written)".
func (v View) Tempo() string {
	percent := math.Round(100 * v.Rate)
	switch {
	case v.Outer != nil:
		return fmt.Sprintf("%.0f bpm, %s", v.BPM, v.Outer.Text)
	case percent == 100:
		return fmt.Sprintf("%.0f bpm (as written)", v.BPM)
	}
	return fmt.Sprintf("%.0f bpm (%.0f %% of written)", v.BPM, percent)
}

const (
	// CountSlack is how far counts may be over a whole number and still be that many: cue times are rounded.
	CountSlack = 1e-4
	// leastWaitS is how long a wait between movements, in which no count passes, must be to be counted in seconds.
	leastWaitS = 0.2
)

// WholeCount is the count that has begun.
func (m ScoreMoment) WholeCount() float64 { return math.Floor(m.Count + CountSlack) }

// InWait reports whether the ensemble waits between movements: no count is left to the cue, but time is.
func (n *NextCue) InWait() bool { return math.Abs(n.Counts) < CountSlack && n.InS >= leastWaitS }

// Away says how far away the cue is: in seconds in a wait between movements, where no count is left but time is.
func (n *NextCue) Away() string {
	counts := math.Round(n.Counts)
	if n.InWait() {
		return fmt.Sprintf("in %.1f s", n.InS)
	}
	if counts < 0 {
		return source.Count(-counts, "count") + " overdue"
	}
	return "in " + source.Count(max(counts, 0), "count")
}

// Alarm reports whether the mixer's state must come before everything else.
func (d MixerView) Alarm() bool {
	return !d.Up || d.NoReply || d.Restarted || d.Overwritten || d.Contested || d.SlowS > 0
}

// Done reports whether the mixer holds what it should, as far as that can be known.
func (d MixerView) Done() bool {
	return d.Up && !d.NoReply && !d.Waiting && d.Unconfirmed == 0
}

// String is the mixer's state in a few words.
func (d MixerView) String() string {
	switch {
	case !d.Up && d.Reason != "":
		return "NO LINK: " + d.Reason
	case !d.Up:
		return "not connected yet"
	case d.NoReply:
		return "NO REPLY: check power and cable"
	case d.Contested:
		return "ANOTHER PROGRAM IS SENDING TO THIS MIXER: end it, then type resend"
	case d.Overwritten:
		return "MANY VALUES CHANGED AT THE MIXER: resending everything"
	case d.Restarted:
		return "MIXER RESTARTED: resending everything"
	case d.SlowS > 0:
		return fmt.Sprintf("MIXER SLOW: replies take %.1f s, and cues may too: check the network", d.SlowS)
	case d.Waiting:
		return "sending"
	case d.Confirms && d.Unconfirmed > 0:
		return "waiting for " + source.Count(float64(d.Unconfirmed), "value")
	case d.Confirms:
		return "OK"
	}
	return "sent (this mixer cannot confirm)"
}
