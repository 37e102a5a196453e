package run

import (
	"fmt"
	"math"
	"strings"

	"backfield/cue"
	"backfield/layout/source"
)

// say says how this laptop stands to the other one.
func (p *PairView) say(say func(format string, args ...any)) {
	if p == nil {
		return
	}
	if p.Headline != "" {
		say("%s", p.Headline)
	}
	if p.Ask != "" {
		say("%s", p.Ask)
	}
	say("term %d, %d journal entries", p.Term, p.Entries)
}

// String is the view in a few lines, for the command status.
func (v View) String() string {
	var b strings.Builder
	say := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	v.Pair.say(say)
	for _, d := range v.Mixers {
		if d.Alarm() {
			say("mixer %s: %s", d.To, d)
		}
	}
	step := "before the first cue"
	if v.Step != "" {
		step = "cue " + v.Step
		if v.Name != "" {
			step += fmt.Sprintf(" %q", v.Name)
		}
	}
	clock := "show clock stopped"
	if v.Running {
		clock = v.Tempo()
	}
	say("%s, %s at %d:%.4g; %s", step, cue.ClockTime(v.ShowS), v.Now.Movement, v.Now.Count, clock)
	if len(v.Rows) == 0 {
		say("every channel is closed")
	}
	for _, r := range v.Rows {
		say("%s", r)
	}
	if v.Hush {
		say("HUSHED: every worn mic is closed until unhush")
	}
	if v.NextAuto != nil {
		say("AUTO: %s", v.NextAuto)
	}
	switch {
	case v.Next != nil && v.Next.Auto:
		say("next, AUTO: %s", v.Next)
	case v.Next != nil:
		say("next: %s", v.Next)
	default:
		say("END OF SHOW")
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
		if !d.Alarm() {
			say("mixer %s: %s", d.To, d)
		}
	}
	if v.Problem != "" {
		say("last problem, %.0f s ago: %s", v.ProblemAgoS, v.Problem)
	}
	return strings.TrimSuffix(b.String(), "\n")
}

// String is the channel in one line.
func (r ChannelRow) String() string {
	return fmt.Sprintf("ch %d  %s  %s", r.Channel, r.Player, r.MixerChannel.String())
}

// Tempo is the tempo as played: "132 bpm (as written)", or "131 bpm (99 % of written)".
func (v View) Tempo() string {
	percent := math.Round(100 * v.Rate)
	if percent == 100 {
		return fmt.Sprintf("%.0f bpm (as written)", v.BPM)
	}
	return fmt.Sprintf("%.0f bpm (%.0f %% of written)", v.BPM, percent)
}

// String is the cue in one line.
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

// Away says how far away the cue is.
func (n *NextCue) Away() string {
	counts := math.Round(n.Counts)
	if counts < 0 {
		return source.Count(-counts, "count") + " overdue"
	}
	return "in " + source.Count(max(counts, 0), "count")
}

// Alarm reports whether the mixer's state must come before everything else.
func (d MixerView) Alarm() bool { return !d.Up || d.NoReply || d.Restarted || d.Contested }

// Done reports whether the mixer holds what it should, as far as that can be known.
func (d MixerView) Done() bool {
	return d.Up && !d.NoReply && !d.Waiting && d.Unconfirmed == 0
}

// String is the mixer's state in a few words.
func (d MixerView) String() string {
	switch {
	case !d.Up && d.Reason != "":
		return "DOWN: " + d.Reason
	case !d.Up:
		return "not connected yet"
	case d.NoReply:
		return "NO REPLY: check power and cable"
	case d.Contested:
		return "ANOTHER PROGRAM IS SENDING TO THIS MIXER: end it, then type resend"
	case d.Restarted:
		return "MIXER RESTARTED: resending everything"
	case d.Waiting:
		return "sending"
	case d.Confirms && d.Unconfirmed > 0:
		return "waiting for " + source.Count(float64(d.Unconfirmed), "value")
	case d.Confirms:
		return "OK"
	}
	return "sent (this mixer cannot confirm)"
}
