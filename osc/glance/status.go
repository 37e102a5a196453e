package glance

import (
	"fmt"
	"strings"

	"backfield/cue"
	"backfield/osc/feed"
	"backfield/osc/run"
)

// Status is a run in a few lines, for the command status: what the screens show, from the same words.
func Status(v run.View) string {
	var b strings.Builder
	say := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	for _, a := range Alarms(v) {
		text := a.Pressing(string(a.Key)) // typed
		if a.Type != "" {
			text += " (" + strings.TrimPrefix(a.Type, ":") + ")"
		}
		say("%s", text)
	}
	if p := v.Pair; p != nil {
		if p.Sends && !p.Gone && p.Headline != "" {
			say("%s", p.Headline)
		}
		say("term %d, %d journal entries", p.Term, p.Entries)
	}
	v = Heard(v)
	step := "before the first cue"
	if v.Step != "" {
		step = "cue " + v.Step
		if v.Name != "" {
			step += fmt.Sprintf(" %q", v.Name)
		}
	}
	clock := strings.TrimSpace("show clock stopped " + v.Stopped)
	switch {
	case v.Running:
		clock = v.Tempo()
	case v.Outer != nil:
		clock += "; " + v.Outer.Text
	}
	say("%s, %s at %d:%.4g; %s", step, cue.ClockTime(v.ShowS), v.Now.Movement, v.Now.Count, clock)
	if words := RingWords(v); words != "" {
		say("%s", words)
	}
	if len(v.Rows) == 0 {
		say("%s", ClosedWords(v))
	}
	for _, r := range v.Rows {
		say("%s", Line(r))
	}
	if v.NextAuto != nil {
		say("AUTO: %s", upcoming(v.NextAuto))
	}
	switch {
	case v.Next != nil && v.Next.Auto:
		say("next, AUTO: %s", upcoming(v.Next))
	case v.Next != nil:
		say("next: %s", upcoming(v.Next))
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
		say("mixer %s: %s", d.To, d)
	}
	if v.Problem != "" {
		say("last problem, %.0f s ago: %s", v.ProblemAgoS, Problem(v))
	}
	return strings.TrimSuffix(b.String(), "\n")
}

// upcoming is a cue in one line.
func upcoming(n *run.NextCue) string {
	text := fmt.Sprintf("cue %s at %s", n.ID, n.At)
	if n.Name != "" {
		text += fmt.Sprintf(" %q", n.Name)
	}
	text += ", " + n.Away()
	if what := strings.Join(Kinds(n), "; "); what != "" {
		text += "; " + what
	}
	return text
}

// Line is a channel in one line: "ch 2  Tpt 3  -31.0 dB  MANUAL (show +0.5)". Of one that is as the show has it, it says no
// more than the level.
func Line(r run.ChannelRow) string {
	level, mark := NotedLevel(r)
	who := r.Player
	if who == "" && r.Sign == feed.ChannelOutside {
		who = "not in the show"
	}
	text := fmt.Sprintf("ch %d  %s  %s", r.Channel, who, strings.TrimSpace(level+mark))
	switch r.Sign {
	case feed.ChannelOK:
		return text
	case feed.ChannelOutside:
		return text + "  OPEN AT THE MIXER"
	}
	return text + "  " + Note(r)
}

// NotedLevel is LevelText with its unit, for a line that has the note, too: that says whether the channel is muted.
func NotedLevel(r run.ChannelRow) (level, mark string) {
	level, mark = LevelText(r)
	if r.Sign == feed.ChannelMuted {
		level, mark = "?", " "
		if r.LevelKnown {
			level = fmt.Sprintf("%.1f", float64(r.LevelDB))
		}
	}
	switch level {
	case "mute", "off", "-Inf":
	case "?":
		level = "level unknown"
	default:
		level += " dB"
	}
	return strings.Replace(level, "-Inf", "off", 1), mark
}

// ClosedWords is for a run with no open channel. That every channel is closed is said only where every mixer has confirmed
// it, for the channels that the show does not use too.
func ClosedWords(v run.View) string {
	v = Heard(v)
	unknown := 0
	for _, d := range v.Mixers {
		if !d.Confirms || d.Unconfirmed > 0 || d.Waiting || d.Alarm() && d.SlowS == 0 {
			return "the show has every channel closed, and the mixer has not confirmed that"
		}
		unknown = max(unknown, d.Unknown)
	}
	switch {
	case len(v.Mixers) == 0:
		return "the show has every channel closed"
	case unknown == 1:
		return "every channel of the show is closed; 1 other channel of the mixer is unknown"
	case unknown > 1:
		return fmt.Sprintf("every channel of the show is closed; %d other channels of the mixer are unknown", unknown)
	}
	return "every channel is closed"
}
