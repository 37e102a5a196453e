package glance

import (
	"slices"
	"strings"
	"testing"

	"backfield/cue"
	"backfield/osc/feed"
	"backfield/osc/run"
)

// The worst comes first, and each alarm says what to do.
func TestAlarms(t *testing.T) {
	t.Parallel()
	moved := run.ChannelRow{Channel: 2, Player: "Tpt 3", MixerChannel: feed.MixerChannel{
		Sign: feed.ChannelManual, LevelKnown: true, LevelDB: -31, ShowOpen: true, ShowDB: 0.5,
	}}
	muted, still := moved, moved
	muted.Channel, muted.Sign, muted.MuteKnown, muted.Muted = 10, feed.ChannelMuted, true, true
	still.Channel, still.Sign, still.ShowOpen = 14, feed.ChannelStillOpen, false
	acked := still
	acked.Acked = true
	v := run.View{
		Hush: true, Rows: []run.ChannelRow{moved, muted, still}, Next: &run.NextCue{ID: "7", Counts: -2.2},
		Running: true,
		Mixers: []run.MixerView{
			{To: "udp://a", Up: true}, {To: "udp://b", Up: true, Restarted: true},
			{To: "udp://c", Up: true, NoReply: true, ReplyAgoS: 12},
		},
	}
	var got []string
	for _, a := range Alarms(v) {
		got = append(got, string(a.Kind)+": "+a.Pressing("["+string(a.Key)+"]"))
	}
	want := `mixer: NO REPLY FROM MIXER c for 12 s: check power and cable (and 1 more)
hushed: HUSHED: closing, the mixer cannot confirm it. [unhush] opens them again
manual: 3 MANUAL: ch 2 down, ch 10 muted, ch 14 still open
overdue: OVERDUE by 2 counts. [go] starts cue 7`
	if strings.Join(got, "\n") != want {
		t.Errorf("%s\nwant\n%s", strings.Join(got, "\n"), want)
	}
	v.Mixers[0].Contested = true
	if a := Alarms(v)[0]; !strings.HasPrefix(a.Text, "ANOTHER PROGRAM IS SENDING TO THIS MIXER a") {
		t.Errorf("%+v", a)
	}
	v.Pair = &run.PairView{Headline: "STANDBY: this laptop sends nothing", Mixers: v.Mixers}
	v.Mixers = nil // which it does not hear itself
	list := Alarms(v)
	if len(list) != 5 || list[0].Kind != AlarmStandby || list[1].Kind != AlarmMixer {
		t.Errorf("a standby shows %+v", list)
	}
	for _, a := range list {
		if a.Key != "" || a.Type != "" {
			t.Errorf("a standby, whose keys are not taken, says %q", a.Text)
		}
	}
	v.Pair = &run.PairView{Headline: "LAPTOP 1 IS GONE for 3 s", Gone: true, Ask: "Is it off?"}
	if list := Alarms(v); list[1].Text != v.Pair.Headline || list[0].Kind != AlarmMixer || list[0].Text != v.Pair.Ask {
		t.Errorf("what there is to decide, and a laptop that is gone, do not come first: %+v", list)
	}
	if a := Alarms(v)[4]; a.Text != "OVERDUE by 2 counts, and nobody is known to send: cue 7" {
		t.Errorf("%+v", a)
	}
	v.Mixers = []run.MixerView{{Up: true, NoReply: true}}
	v.Pair = &run.PairView{Sends: true, Headline: "This laptop sends; laptop 2 stands by"}
	if list := Alarms(v); list[0].Kind != AlarmMixer || list[1].Kind != AlarmHushed {
		t.Errorf("a laptop that sends shows %+v", list)
	}
	v.Pair.Alone, v.Pair.Headline = true, "THIS LAPTOP SENDS NOW: laptop 1 is silent for 7 s"
	if list := Alarms(v); list[4].Text != v.Pair.Headline || list[4].Type != ":ack laptop hides this" {
		t.Errorf("a laptop that is alone shows %+v", list)
	}
	v.Pair = nil
	if got, want := Alarms(v)[2].Type, ":release all sets the show's values (opens ch 10; closes ch 14)"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	off := moved
	off.LevelDB = cue.Silent
	for does, r := range map[string]run.ChannelRow{
		"sets 0.5 dB": moved, "opens it": muted, "closes it": still, "": {MixerChannel: feed.MixerChannel{Sign: feed.ChannelOK}},
	} {
		if got := ReleaseWords(r); got != does {
			t.Errorf("release %q, want %q", got, does)
		}
	}
	if ReleaseWords(off) != "opens it" {
		t.Error("release of a channel whose fader is at the bottom does not open it")
	}
	worn := still
	worn.Channel, worn.Player, worn.Kind = 1, "Tpt 1", cue.Worn
	confirms := []run.MixerView{{Up: true, Confirms: true}}
	said := Alarms(run.View{Hush: true, Mixers: confirms, Rows: []run.ChannelRow{worn}})[0]
	open := said.Text + ". " + said.Type
	if n := len(Alarms(run.View{Hush: true, Mixers: confirms, Rows: []run.ChannelRow{worn}})); n != 1 {
		t.Errorf("a mic that is still open is said %d times", n)
	}
	if open != "HUSHED, BUT 1 CHANNEL STILL OPEN: ch 1 Tpt 1. :hush closes them" {
		t.Errorf("hushed with a worn mic open at the mixer: %q", open)
	}
	outside := run.ChannelRow{Channel: 9, MixerChannel: feed.MixerChannel{
		Sign: feed.ChannelOutside, LevelKnown: true, LevelDB: -3, MuteKnown: true,
	}}
	open = Alarms(run.View{Hush: true, Mixers: confirms, Rows: []run.ChannelRow{outside}})[0].Text
	if open != "HUSHED, BUT 1 CHANNEL STILL OPEN: ch 9 (not in the show)" {
		t.Errorf("hushed with a channel open that the show does not use: %q", open)
	}
	if list := Alarms(run.View{Rows: []run.ChannelRow{outside}}); list != nil {
		t.Errorf("a channel that is used outside the show is an alarm: %+v", list)
	}
	if got := Line(outside); got != "ch 9  not in the show  -3.0 dB  OPEN AT THE MIXER" {
		t.Errorf("%q", got)
	}
	late := run.View{Next: &run.NextCue{ID: "7", Counts: -2.2}} // the clock was stopped
	if got := Alarms(late)[0].Pressing("GO"); got != "CLOCK STOPPED with cue 7 late by 2 counts. GO takes it" {
		t.Errorf("%q", got)
	}
	refused := run.View{Mixers: []run.MixerView{{To: "udp://10.0.0.7:9000", Reason: "10.0.0.7:9000 is up, but its OSC port is closed"}}}
	if got := Alarms(refused)[0].Text; got != "NO LINK TO MIXER: it is up, but its OSC port is closed" {
		t.Errorf("%q", got)
	}
	if list := Alarms(run.View{Rows: []run.ChannelRow{acked}}); list != nil {
		t.Errorf("%+v", list)
	}
}

// Under hush, only what every mixer has confirmed is called closed.
func TestHushSaysWhatIsConfirmed(t *testing.T) {
	all := run.MixerView{Up: true, Confirms: true}
	one, many, none := all, all, run.MixerView{Up: true}
	one.NotClosed, many.NotClosed = []int{18}, []int{20, 1, 2, 3, 18}
	still := run.ChannelRow{Channel: 1, Player: "Tpt 1", Kind: cue.Worn}
	still.Sign = feed.ChannelStillOpen
	for want, mixers := range map[string][]run.MixerView{
		"HUSHED: all worn mics closed. h h opens them again":                 {all, all},
		"HUSHED: closing, ch 18 not confirmed. h h opens them again":         {all, one},
		"HUSHED: closing, 5 not confirmed. h h opens them again":             {one, many},
		"HUSHED: closing, the mixer cannot confirm it. h h opens them again": {all, none},
	} {
		v := run.View{Hush: true, Mixers: mixers}
		if got := hushAlarm(v); got.Pressing("h h") != want || (got.Short == "HUSHED") != strings.Contains(want, "all worn mics closed") {
			t.Errorf("%+v, want %q", got, want)
		}
	}
	if got := hushAlarm(run.View{Hush: true, Mixers: []run.MixerView{many}, Rows: []run.ChannelRow{still}}).Text; got !=
		"HUSHED, BUT 1 CHANNEL STILL OPEN: ch 1 Tpt 1; 5 not confirmed" {
		t.Errorf("%q", got)
	}
	v := run.View{Hush: true, Pair: &run.PairView{Headline: "STANDBY", Mixers: []run.MixerView{one}}}
	if got := hushAlarm(Heard(v)).Text; got != "HUSHED on the other laptop: closing, ch 18 not confirmed" {
		t.Errorf("%q", got)
	}
	v.Pair.Mixers = nil
	if got := hushAlarm(Heard(v)).Text; got != "HUSHED on the other laptop: closing, nothing is heard of the mixers" {
		t.Errorf("%q", got)
	}
}

// A value that the mixer has not confirmed looks different from one that it has.
func TestChannelWords(t *testing.T) {
	t.Parallel()
	for want, s := range map[string]feed.MixerChannel{
		"-1.5|feature":                    {Sign: feed.ChannelOK, LevelKnown: true, LevelDB: -1.5, MuteKnown: true},
		"-1.5~|feature":                   {Sign: feed.ChannelOK, LevelKnown: true, LevelDB: -1.5, Fading: true},
		"-9.0?|not confirmed (show -1.5)": {Sign: feed.ChannelWaiting, LevelKnown: true, LevelDB: -9, ShowDB: -1.5, ShowOpen: true},
		"-1.5?|not confirmed":             {Sign: feed.ChannelWaiting, LevelKnown: true, LevelDB: -1.5, ShowDB: -1.5, ShowOpen: true},
		"off?|not confirmed (show +0.0)":  {Sign: feed.ChannelWaiting, LevelKnown: true, LevelDB: cue.Silent, ShowOpen: true},
		"mute?|not confirmed (show +0.0)": {Sign: feed.ChannelWaiting, MuteKnown: true, Muted: true, ShowOpen: true},
		"-9.0?|not closed yet":            {Sign: feed.ChannelWaiting, LevelKnown: true, LevelDB: -9},
		"0.0?|sent, not confirmed":        {Sign: feed.ChannelSent, ShowOpen: true},
		"-31.0|MANUAL (show +0.5)":        {Sign: feed.ChannelManual, LevelKnown: true, LevelDB: -31, ShowOpen: true, ShowDB: 0.5},
		"0.5|MANUAL pan +0.20 (show +0.00)": {
			Sign: feed.ChannelManual, LevelKnown: true, LevelDB: 0.5, ShowOpen: true, ShowDB: 0.5,
			Moved: []string{"pan +0.20 (show +0.00)"},
		},
		"MUTED|MUTED AT MIXER (show +0.5)": {Sign: feed.ChannelMuted, MuteKnown: true, Muted: true, ShowOpen: true, ShowDB: 0.5},
		"-9.0|STILL OPEN (show closed)":    {Sign: feed.ChannelStillOpen, LevelKnown: true, LevelDB: -9, MuteKnown: true},
		"-9.0|still open, acknowledged":    {Sign: feed.ChannelStillOpen, LevelKnown: true, LevelDB: -9, MuteKnown: true, Acked: true},
	} {
		r := run.ChannelRow{Role: "feature", MixerChannel: s}
		level, mark := LevelText(r)
		if got := level + strings.TrimSpace(mark) + "|" + Note(r); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// That every channel is closed is said only where it is known.
func TestClosedWords(t *testing.T) {
	t.Parallel()
	good := run.MixerView{Up: true, Confirms: true}
	silent, mute, busy, unknown := good, good, good, good
	silent.NoReply, mute.Confirms, busy.Unconfirmed, unknown.Unknown = true, false, 3, 55
	for want, mixers := range map[string][]run.MixerView{
		"every channel is closed": {good, good},
		"every channel of the show is closed; 55 other channels of the mixer are unknown": {good, unknown},
	} {
		if got := ClosedWords(run.View{Mixers: mixers}); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	for _, d := range []run.MixerView{silent, mute, busy, {}} {
		got := ClosedWords(run.View{Mixers: []run.MixerView{good, d}})
		if got != "the show has every channel closed, and the mixer has not confirmed that" {
			t.Errorf("%+v: %q", d, got)
		}
	}
}

// A problem that an alarm says is not said again, and a single mixer is not named.
func TestProblem(t *testing.T) {
	t.Parallel()
	one := run.MixerView{To: "udp://10.0.0.2:9000", Up: true}
	two := run.MixerView{To: "udp://10.0.0.3:9000", Up: true}
	silent, down := one, two
	silent.NoReply = true
	down.Up, down.Reason = false, "10.0.0.3:9000 is up, but its OSC port is closed"
	for _, x := range []struct {
		mixers        []run.MixerView
		problem, want string
	}{
		{[]run.MixerView{one}, "udp://10.0.0.2:9000 MISSED /room: set it there", "The mixer MISSED /room: set it there"},
		{[]run.MixerView{one, two}, "cannot send /a to udp://10.0.0.3:9000", "cannot send /a to udp://10.0.0.3:9000"},
		{[]run.MixerView{silent, two}, "NO REPLY from udp://10.0.0.2:9000: check power and cable", ""},
		{[]run.MixerView{silent, two}, "NO REPLY from udp://10.0.0.3:9000: check power and cable",
			"NO REPLY from udp://10.0.0.3:9000: check power and cable"},
		{[]run.MixerView{one, down}, "udp://10.0.0.3:9000: " + down.Reason, ""},
		{nil, "the disk is full", "the disk is full"},
	} {
		if got := Problem(run.View{Mixers: x.mixers, Problem: x.problem}); got != x.want {
			t.Errorf("%+v: %q is %q, want %q", x.mixers, x.problem, got, x.want)
		}
	}
}

// One mic that is open alone is said before everything else of a hush, with what is open at a mixer all the same, and the
// key closes it.
func TestOnlySaysWhoIsOpen(t *testing.T) {
	v := run.View{
		Hush: true, Only: "Tpt 3 (channel 2)", Mixers: []run.MixerView{{Up: true, Confirms: true}},
		Rows: []run.ChannelRow{
			{Channel: 2, Player: "Tpt 3", Kind: cue.Worn},
			{Channel: 14, Player: "pit left", Kind: cue.Fixed, MixerChannel: feed.MixerChannel{Sign: feed.ChannelStillOpen}},
			{Channel: 30, MixerChannel: feed.MixerChannel{Sign: feed.ChannelOutside}},
		},
	}
	for n, want := range []string{
		"ONLY Tpt 3 (channel 2) IS OPEN, AND AT THE MIXER ch 14 pit left, ch 30 (not in the show), until the next command. " +
			"h h closes it",
		"ONLY Tpt 3 (channel 2) IS OPEN, until the next command. h h closes it",
		"ONLY Tpt 3 (channel 2) IS OPEN; others: ch 5 not confirmed, until the next command. h h closes it",
		"ONLY Tpt 3 (channel 2) IS OPEN on the other laptop; others: ch 5 not confirmed",
	} {
		switch n {
		case 1:
			v.Rows = v.Rows[:1]
		case 2:
			v.Mixers[0].NotClosed = []int{5}
		case 3:
			v.Pair = &run.PairView{Mixers: v.Mixers}
		}
		list := Alarms(v)
		a := list[slices.IndexFunc(list, func(a Alarm) bool { return a.Kind == AlarmHushed })]
		if got := a.Pressing("h h"); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
