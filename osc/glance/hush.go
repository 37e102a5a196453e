package glance

import (
	"fmt"
	"slices"
	"strings"

	"backfield/cue"
	"backfield/layout/source"
	"backfield/osc/feed"
	"backfield/osc/run"
)

// hushAlarm says that the run is hushed, and which channels are open at a mixer all the same: worn mics, and what the
// show does not use. That all are closed it says only where every mixer has confirmed it.
func hushAlarm(v run.View) Alarm {
	open := stillOpen(v)
	doubt := notClosedWords(v)
	if len(open) == 0 {
		a := Alarm{Kind: AlarmHushed, Text: "HUSHED", Short: "HUSHED"}
		if v.Follows() {
			a.Text += " on the other laptop"
		}
		if doubt == "" {
			a.Text += ": all worn mics closed"
		} else {
			a.Text, a.Short = a.Text+": closing, "+doubt, "HUSHED?"
		}
		if !v.Follows() {
			a.Key, a.Does = run.Unhush, "opens them again"
		}
		return a
	}
	are := strings.ToUpper(source.Count(float64(len(open)), "channel")) + " STILL OPEN"
	a := Alarm{Kind: AlarmHushed, Text: "HUSHED, BUT " + are + ": " + strings.Join(open, ", "), Short: are}
	if doubt != "" {
		a.Text += "; " + doubt
	}
	if !v.Follows() {
		a.Type = ":hush closes them"
	}
	return a
}

// stillOpen names the channels that are open at a mixer although they are closed in the run: those that hush or only is to
// close, and those that the show does not use.
func stillOpen(v run.View) (open []string) {
	for _, r := range v.Rows {
		switch {
		case (r.Kind == cue.Worn || v.Only != "") && r.Sign == feed.ChannelStillOpen:
			open = append(open, fmt.Sprintf("ch %d %s", r.Channel, r.Player))
		case r.Sign == feed.ChannelOutside:
			open = append(open, fmt.Sprintf("ch %d (not in the show)", r.Channel))
		}
	}
	return open
}

// onlyAlarm says that one mic is open alone, which of the other channels are open at a mixer all the same, and what the
// next command does.
func onlyAlarm(v run.View) Alarm {
	a := Alarm{Kind: AlarmHushed, Text: "ONLY " + v.Only + " IS OPEN", Short: "ONLY " + v.Only}
	if v.Follows() {
		a.Text += " on the other laptop"
	}
	if open := stillOpen(v); len(open) > 0 {
		a.Text += ", AND AT THE MIXER " + strings.Join(open, ", ")
	}
	if doubt := notClosedWords(v); doubt != "" {
		a.Text += "; others: " + doubt
	}
	if !v.Follows() {
		a.Text += ", until the next command"
		a.Key, a.Does = run.Hush, "closes it"
	}
	return a
}

// notClosedWords says which channels are to be closed and are not confirmed: "18 not confirmed", or which, if they are
// few. It is empty where every mixer has confirmed all.
func notClosedWords(v run.View) string {
	if len(v.Mixers) == 0 {
		return "nothing is heard of the mixers"
	}
	var doubt []int
	for _, d := range v.Mixers {
		if !d.Confirms {
			return "the mixer cannot confirm it"
		}
		doubt = append(doubt, d.NotClosed...)
	}
	slices.Sort(doubt)
	switch doubt = slices.Compact(doubt); {
	case len(doubt) == 0:
		return ""
	case len(doubt) <= 3:
		return channels(doubt) + " not confirmed"
	}
	return fmt.Sprintf("%d not confirmed", len(doubt))
}
