// Package glance says what an operator must see at a glance of a run's view: what is wrong, the worst first, and how each
// channel is at the mixer. Every screen shows the same.
package glance

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"backfield/cue"
	"backfield/layout/source"
	"backfield/osc/feed"
	"backfield/osc/run"
)

// Alarm is what an operator must see first.
type Alarm struct {
	Kind  AlarmKind `json:"kind"`
	Text  string    `json:"text"`
	Short string    `json:"short"` // where there is no room for the text
}

// AlarmKind says how an alarm looks.
type AlarmKind string

const (
	AlarmMixer   AlarmKind = "mixer"   // what is heard cannot be known, or is not what the show wants
	AlarmHushed  AlarmKind = "hushed"  // every worn mic is closed
	AlarmManual  AlarmKind = "manual"  // someone moved channels at a mixer
	AlarmOverdue AlarmKind = "overdue" // the next cue should have been pressed
)

// LevelToleranceDB is how far two levels may be apart and still read the same: they are shown to a tenth.
const LevelToleranceDB = 0.05

// Alarms lists all alarms of a run, the worst first.
func Alarms(v run.View) (list []Alarm) {
	if v.Pair != nil && !v.Pair.Sends { // the mixers and the keys are the other laptop's
		if v.Hush {
			list = append(list, Alarm{AlarmHushed, "HUSHED on the other laptop: all worn mics closed", "HUSHED"})
		}
		return list
	}
	list = append(list, mixerAlarm(v)...)
	if v.Hush {
		list = append(list, hushAlarm(v))
	}
	if text := manualWords(v); text != "" {
		short, _, _ := strings.Cut(text, ":")
		list = append(list, Alarm{AlarmManual, text, short})
	}
	if n := v.Next; n != nil && !n.Auto && n.Counts <= -1 {
		late := -math.Ceil(n.Counts)
		text := fmt.Sprintf("OVERDUE by %s: press SPACE for cue %s", source.Count(late, "count"), n.ID)
		list = append(list, Alarm{AlarmOverdue, text, fmt.Sprintf("OVERDUE by %.0f", late)})
	}
	return list
}

// hushAlarm says that the run is hushed, and which worn mics are open at a mixer all the same.
func hushAlarm(v run.View) Alarm {
	var open []string
	for _, r := range v.Rows {
		if r.Kind == cue.Worn && r.Sign == feed.ChannelStillOpen {
			open = append(open, fmt.Sprintf("ch %d %s", r.Channel, r.Player))
		}
	}
	if len(open) == 0 {
		return Alarm{AlarmHushed, "HUSHED: all worn mics closed. h h opens them again", "HUSHED"}
	}
	are := strings.ToUpper(source.Count(float64(len(open)), "mic")) + " STILL OPEN"
	return Alarm{AlarmHushed, "HUSHED, BUT " + are + ": " + strings.Join(open, ", ") + ". :hush closes them", are}
}

// mixerAlarm is the worst mixer's problem; none if all are well.
func mixerAlarm(v run.View) []Alarm {
	bad := slices.DeleteFunc(slices.Clone(v.Mixers), func(d run.MixerView) bool { return !d.Alarm() })
	if len(bad) == 0 {
		return nil
	}
	slices.SortStableFunc(bad, func(a, b run.MixerView) int { return urgency(a) - urgency(b) })
	d, name := bad[0], "MIXER"
	if len(v.Mixers) > 1 {
		name += " " + d.To
	}
	text, short := alarmWords(d, name)
	if len(bad) > 1 {
		text += fmt.Sprintf(" (and %d more)", len(bad)-1)
	}
	return []Alarm{{AlarmMixer, text, short}}
}

// urgency is lowest for the mixer that the operator must look at first.
func urgency(d run.MixerView) int {
	switch {
	case d.Contested:
		return 0
	case !d.Up:
		return 1
	case d.NoReply:
		return 2
	}
	return 3
}

// alarmWords says what is wrong with a mixer that goes by this name.
func alarmWords(d run.MixerView, name string) (text, short string) {
	switch {
	case !d.Up && d.Reason == "":
		return name + " NOT CONNECTED YET", "MIXER NOT CONNECTED"
	case !d.Up:
		return name + " DOWN: " + d.Reason, "MIXER DOWN"
	case d.NoReply && d.ReplyAgoS >= 0:
		return fmt.Sprintf("NO REPLY FROM %s for %.0f s: check power and cable", name, d.ReplyAgoS), "NO REPLY"
	case d.NoReply:
		return "NO REPLY FROM " + name + ": check power and cable", "NO REPLY"
	}
	short, _, _ = strings.Cut(d.String(), ":")
	return strings.Replace(d.String(), "MIXER", name, 1), short
}

// manualWords says which channels someone moved at a mixer: "2 MANUAL: ch 2 down, ch 14 still open".
func manualWords(v run.View) string {
	var words []string
	for _, r := range v.Rows {
		if !Differs(r) || r.Sign == feed.ChannelStillOpen && r.Acked {
			continue
		}
		what := "moved"
		switch level, show := float64(r.LevelDB), float64(r.ShowDB); {
		case r.Sign == feed.ChannelMuted:
			what = "muted"
		case r.Sign == feed.ChannelStillOpen:
			what = "still open"
		case !r.ShowOpen: // it is muted
		case r.LevelKnown && level < show-LevelToleranceDB:
			what = "down"
		case r.LevelKnown && level > show+LevelToleranceDB:
			what = "up"
		}
		words = append(words, fmt.Sprintf("ch %d %s", r.Channel, what))
	}
	if len(words) == 0 {
		return ""
	}
	return fmt.Sprintf("%d MANUAL: %s", len(words), strings.Join(words, ", "))
}

// Differs reports whether someone moved the channel at the mixer.
func Differs(r run.ChannelRow) bool { return r.Sign.Rank() >= feed.ChannelManual.Rank() }

// LevelText is the mixer's level in dB, and a mark: "?" for one that the mixer has not confirmed, "~" for a fade. Where
// nothing is heard from the mixer, it is the show's level.
func LevelText(r run.ChannelRow) (level, mark string) {
	mark = " "
	switch {
	case r.Sign == feed.ChannelSent || r.Sign == feed.ChannelWaiting || !r.LevelKnown:
		mark = "?"
	case r.Fading:
		mark = "~"
	}
	at := r.LevelDB
	if !r.LevelKnown {
		at = r.ShowDB
	}
	switch {
	case r.MuteKnown && r.Muted && r.Sign == feed.ChannelMuted:
		return "MUTED", " "
	case r.MuteKnown && r.Muted && r.Sign != feed.ChannelSent:
		return "mute", mark
	case math.IsInf(float64(at), -1):
		return "off", mark
	}
	return fmt.Sprintf("%.1f", float64(at)), mark
}

// Note says in words how a channel is, and what the show has where that differs.
func Note(r run.ChannelRow) string {
	show := "show closed"
	if r.ShowOpen {
		show = fmt.Sprintf("show %+.1f", float64(r.ShowDB))
	}
	switch r.Sign {
	case feed.ChannelManual:
		if r.LevelKnown && math.Abs(float64(r.LevelDB-r.ShowDB)) > LevelToleranceDB {
			return "MANUAL (" + show + ")"
		}
		return "MANUAL (" + strings.Join(r.Moved, "; ") + ")"
	case feed.ChannelMuted:
		return "MUTED AT MIXER (" + show + ")"
	case feed.ChannelStillOpen:
		if r.Acked {
			return "still open, acknowledged"
		}
		return "STILL OPEN (" + show + ")"
	case feed.ChannelWaiting:
		if !r.ShowOpen {
			return "not closed yet"
		}
		return "not confirmed (" + show + ")"
	case feed.ChannelSent:
		return "sent, not confirmed"
	}
	if r.Role != "" {
		return r.Role
	}
	return r.Kind
}
