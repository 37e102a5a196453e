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
	Key   run.Verb  `json:"key"`   // what to press about it, which each screen names as it is there; empty for nothing
	Does  string    `json:"does"`  // what that does, such as "opens them again"
	Type  string    `json:"-"`     // what to type at the terminal about it, empty for nothing
	Short string    `json:"short"` // where there is no room for the text
}

// Pressing is the text with what to press, by its name on the screen.
func (a Alarm) Pressing(name string) string {
	if a.Key == "" {
		return a.Text
	}
	return a.Text + ". " + name + " " + a.Does
}

// AlarmKind says how an alarm looks.
type AlarmKind string

const (
	AlarmStandby AlarmKind = "standby" // another laptop sends; this one only shows what it does
	AlarmMixer   AlarmKind = "mixer"   // what is heard cannot be known, or is not what the show wants
	AlarmHushed  AlarmKind = "hushed"  // every worn mic is closed
	AlarmManual  AlarmKind = "manual"  // someone moved channels at a mixer
	AlarmOverdue AlarmKind = "overdue" // the next cue should have been pressed, or when it comes is not sure
)

// LevelToleranceDB is how far two levels may be apart and still read the same: they are shown to a tenth.
const LevelToleranceDB = 0.05

// Alarms lists all alarms of a run, the worst first.
func Alarms(v run.View) (list []Alarm) {
	v = Heard(v)
	list = append(pairAlarms(v.Pair), mixerAlarm(v)...)
	switch {
	case v.Only != "":
		list = append(list, onlyAlarm(v))
	case v.Hush:
		list = append(list, hushAlarm(v))
	}
	if text := manualWords(v); text != "" {
		short, _, _ := strings.Cut(text, ":")
		a := Alarm{Kind: AlarmManual, Text: text, Short: short}
		if !v.Follows() {
			a.Type = ":release all" + allWords(v)
		}
		list = append(list, a)
	}
	if n := v.Next; n != nil && !n.Auto && n.Counts <= -1 {
		list = append(list, overdueAlarm(n, v))
	}
	if v.Outer != nil && v.Outer.Alarm {
		list = append(list, outerAlarm(v))
	}
	if p := v.Pair; p != nil && p.Alone {
		list = append(list, Alarm{
			Kind: AlarmStandby, Text: p.Headline, Type: ":ack laptop hides this", Short: "NO STANDBY",
		})
	}
	return list
}

// outerAlarm says what is wrong with the time of another machine, which the run goes by.
func outerAlarm(v run.View) Alarm {
	return Alarm{Kind: AlarmOverdue, Text: strings.ToUpper(v.Outer.Text[:1]) + v.Outer.Text[1:], Short: "OUTSIDE TIME"}
}

// pairAlarms are what the operator must know of another laptop: which one sends, and what there is to decide.
func pairAlarms(v *run.PairView) (list []Alarm) {
	if v == nil {
		return nil
	}
	if v.Ask != "" {
		list = append(list, Alarm{Kind: AlarmMixer, Text: v.Ask, Short: "LOOK AT THE LAPTOPS"}.takeOver(v.AskPress))
	}
	switch {
	case v.Gone:
		list = append(list, Alarm{Kind: AlarmMixer, Text: v.Headline, Short: "LOOK AT THE LAPTOPS"}.takeOver(v.Press))
	case !v.Sends:
		list = append(list, Alarm{Kind: AlarmStandby, Text: v.Headline, Short: "STANDBY"})
	}
	return list
}

// takeOver is the alarm with what taking over does about it.
func (a Alarm) takeOver(does string) Alarm {
	if a.Does = does; does != "" {
		a.Key = run.TakeOver
	}
	return a
}

// Heard is a view with the mixers as the laptop that sends hears them.
func Heard(v run.View) run.View {
	if v.Follows() {
		v.Mixers = v.Pair.Mixers
	}
	return v
}

// Orphan reports whether no laptop is known to send: the one that did is gone, and this one has not taken over.
func Orphan(v run.View) bool { return v.Follows() && v.Pair.Gone }

// overdueAlarm says that the next cue should have been pressed, or that the clock was stopped after it.
func overdueAlarm(n *run.NextCue, v run.View) Alarm {
	late := -math.Ceil(n.Counts)
	counts := source.Count(late, "count")
	a := Alarm{Kind: AlarmOverdue, Text: "OVERDUE by " + counts, Short: fmt.Sprintf("OVERDUE by %.0f", late)}
	switch {
	case Orphan(v):
		a.Text += ", and nobody is known to send: cue " + n.ID
	case v.Follows():
		a.Text = fmt.Sprintf("OVERDUE on the other laptop by %s: cue %s", counts, n.ID)
	case !v.Running:
		a.Text, a.Short = fmt.Sprintf("CLOCK STOPPED with cue %s late by %s", n.ID, counts), "CLOCK STOPPED"
		a.Key, a.Does = run.Go, "takes it"
	default:
		a.Key, a.Does = run.Go, "starts cue "+n.ID
	}
	return a
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
		name += " " + MixerName(d.To)
	}
	text, short := alarmWords(d, name)
	if len(bad) > 1 {
		text += fmt.Sprintf(" (and %d more)", len(bad)-1)
	}
	return []Alarm{{Kind: AlarmMixer, Text: text, Short: short}}
}

// Later reports whether what is sent now waits until a mixer hears it: as far as can be known, none does.
func Later(v run.View) bool {
	hears := func(d run.MixerView) bool { return d.Up && !d.NoReply }
	return len(v.Mixers) > 0 && !slices.ContainsFunc(v.Mixers, hears)
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
		return "NO LINK TO " + name + ": " + Reason(d), "NO LINK"
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
		said := r.Sign == feed.ChannelStillOpen && (r.Acked || v.Hush && r.Kind == cue.Worn) // hush says it
		if r.Sign == feed.ChannelOutside || !Differs(r) || said {
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

// ReleaseWords is what release does to a channel that someone moved: "closes it", "opens it" or "sets -1.5 dB". It is empty
// for a channel that release does nothing to.
func ReleaseWords(r run.ChannelRow) string {
	switch {
	case !Differs(r) || r.Sign == feed.ChannelOutside: // only hush closes one outside the show
		return ""
	case !r.ShowOpen && r.Sign == feed.ChannelStillOpen:
		return "closes it"
	case r.ShowOpen && (r.Muted || r.LevelKnown && math.IsInf(float64(r.LevelDB), -1)):
		return "opens it"
	case r.ShowOpen && r.LevelKnown && math.Abs(float64(r.LevelDB-r.ShowDB)) > LevelToleranceDB:
		return fmt.Sprintf("sets %.1f dB", float64(r.ShowDB))
	}
	return "sets the show's values"
}

// allWords says what it does to release every channel.
func allWords(v run.View) string {
	var opens, closes []int
	for _, r := range v.Rows {
		switch ReleaseWords(r) {
		case "opens it":
			opens = append(opens, r.Channel)
		case "closes it":
			closes = append(closes, r.Channel)
		}
	}
	var words []string
	if opens != nil {
		words = append(words, "opens "+channels(opens))
	}
	if closes != nil {
		words = append(words, "closes "+channels(closes))
	}
	if words == nil {
		return " sets the show's values"
	}
	return " sets the show's values (" + strings.Join(words, "; ") + ")"
}

// channels names some channels: "ch 3, 5".
func channels(numbers []int) string {
	var list []string
	for _, n := range numbers {
		list = append(list, fmt.Sprint(n))
	}
	return "ch " + strings.Join(list, ", ")
}

// Reason is why there is no link to a mixer, next to the mixer's name.
func Reason(d run.MixerView) string {
	return strings.ReplaceAll(d.Reason, MixerName(d.To), "it")
}

// Problem is the last problem that a run has reported and that no alarm says, without the address of its mixer if there
// is only one.
func Problem(v run.View) string {
	v = Heard(v)
	for _, d := range v.Mixers { // what an alarm says is not said again
		silent := d.NoReply && strings.HasPrefix(v.Problem, "NO REPLY from "+d.To)
		if silent || !d.Up && d.Reason != "" && strings.HasSuffix(v.Problem, d.Reason) {
			return ""
		}
	}
	if len(v.Mixers) != 1 || v.Mixers[0].To == "" {
		return v.Problem
	}
	text := strings.ReplaceAll(v.Problem, v.Mixers[0].To, "the mixer")
	if rest, ok := strings.CutPrefix(text, "the mixer"); ok {
		text = "The mixer" + rest
	}
	return text
}

// Differs reports whether someone moved the channel at the mixer, or opened one that the show does not use.
func Differs(r run.ChannelRow) bool { return r.Sign.Rank() >= feed.ChannelOutside.Rank() }

// LevelText is the mixer's level in dB, and a mark: "?" for one that the mixer has not confirmed, "~" for a fade. Where
// nothing is heard from the mixer, it is the show's level.
func LevelText(r run.ChannelRow) (level, mark string) {
	mark = " "
	switch {
	case r.Sign == feed.ChannelOutside && !r.LevelKnown:
		return "?", mark
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
	case feed.ChannelOutside:
		return "OPEN AT THE MIXER, not in the show"
	case feed.ChannelManual:
		return "MANUAL " + movedWords(r, show)
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
		if r.LevelKnown && math.Abs(float64(r.LevelDB-r.ShowDB)) <= LevelToleranceDB {
			return "not confirmed"
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

// movedWords says what someone moved. Of the level, which every screen has in the line already, it says only what the show
// has.
func movedWords(r run.ChannelRow, show string) string {
	list := slices.Clone(r.Moved)
	for n, what := range list {
		if strings.HasPrefix(what, cue.ParamLevel+" ") {
			list[n] = "(" + show + ")"
		}
	}
	if len(list) == 0 {
		return "(" + show + ")"
	}
	return strings.Join(list, "; ")
}
