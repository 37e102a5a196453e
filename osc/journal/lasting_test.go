package journal

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// in is an entry at a step with these nudges, written "A +1 A -1 B +2".
func in(step string, words ...any) Entry {
	s := &RunState{Step: step}
	for i := 0; i < len(words); i += 2 {
		s.Nudges = append(s.Nudges, RunNudge{Name: words[i].(string), DB: words[i+1].(float64), Step: step})
	}
	return Entry{Kind: "step", Step: step, State: s}
}

// moved is an entry at a step in which a player's fader is moved at the mixer.
func moved(step, player string, dB float64) Entry {
	return Entry{Kind: "problem", State: &RunState{Step: step, Manual: []ManualChannel{
		{Channel: 1, Player: player, OffsetDB: dB}, {Mixer: 1, Channel: 1, Player: player, OffsetDB: dB},
	}}}
}

// words are changes as "A trim +1.5, A 4 -1".
func words(list []LastingChange) string {
	var out []string
	for _, c := range list {
		if c.TrimDB != 0 {
			out = append(out, fmt.Sprintf("%s trim %+g", c.Name, c.TrimDB))
		}
		for _, n := range c.Nudges {
			out = append(out, fmt.Sprintf("%s %s %+g", n.Name, n.Cue, n.DB))
		}
	}
	return strings.Join(out, ", ")
}

// A change that held in half of the cues or more, up to the end, is one trim. Whatever else was changed is a nudge in its
// cue.
func TestLastingChanges(t *testing.T) {
	for _, x := range []struct {
		name    string
		entries []Entry
		want    string
	}{
		{"from the first cue on", []Entry{in("1", "A", 1.5), in("2", "A", 1.5), in("3", "A", 1.5), in("4", "A", 1.5)}, "A trim +1.5"},
		{"noticed at the second", []Entry{in("1"), in("2", "A", 1.5), in("3", "A", 1.5), in("4", "A", 1.5)}, "A trim +1.5"},
		{"the run ended early", []Entry{in("1"), in("2", "A", 1.5)}, "A trim +1.5"},
		{"undone", []Entry{in("1"), in("2", "A", 2.), in("3", "A", 2., "A", -2.), in("4", "A", 2., "A", -2.)}, "A 2 +2"},
		{"at the end only", []Entry{in("1"), in("2"), in("3"), in("4", "A", -2.)}, "A 4 -2"},
		{"more at the end of a cue", []Entry{in("1"), in("2", "A", 1.), in("2", "A", 1., "A", .5)}, "A trim +1.5"},
		{"more in one cue", []Entry{in("1", "A", 1.), in("2", "A", 1., "A", 3.), in("3", "A", 1., "A", 3., "A", -3.), in("4", "A", 1.)},
			"A trim +1, A 2 +3"},
		{"a cue played twice", []Entry{in("1"), in("2", "A", 2.), in("1"), in("2"), in("3"), in("4")}, ""},
		{"case", []Entry{in("1", "A", 1.), in("2", "a", 1.), in("3", "A", 1.), in("4", "a", 1.)}, "A trim +1"},
		{"two players", []Entry{in("1", "B", 1., "A", 1.), in("2", "A", 1., "B", 1.)}, "B trim +1, A trim +1"},
		{"a fader that held", []Entry{moved("1", "A", -3), moved("2", "A", -3), moved("3", "A", -3), moved("4", "A", -3)}, "A trim -3"},
		{"a fader in one cue", []Entry{in("1"), moved("2", "A", -3.04), in("3"), in("4")}, "A 2 -3"},
		{"a fader, and cues that never ran", []Entry{moved("2", "A", -3), in("4")}, "A 2 -3"},
		{"a fader, and the run ended there", []Entry{moved("1", "A", -3)}, "A 1 -3"},
		{"a nudge, and cues that never ran", []Entry{in("3", "A", 2.), in("1", "A", 2., "A", -2.)}, "A trim +2"},
		{"nudges undone, and a cue that never ran", []Entry{in("1", "A", 2.), in("3", "A", 2., "A", -2.), in("4")}, "A 1 +2"},
		{"numbers that are none", []Entry{moved("1", "A", math.MaxFloat64), in("1", "A", math.NaN())}, ""},
	} {
		open := func(string) []string { return []string{"1", "2", "3", "4"} }
		if got := words(lastingChanges(x.entries, open)); got != x.want {
			t.Errorf("%s: %q, want %q", x.name, got, x.want)
		}
	}
}

// TestNoFalseCalm09: three nudges in a show of 80 cues are three trims, not a line for every cue.
func TestNoFalseCalm09(t *testing.T) {
	var ids []string
	var entries []Entry
	for n := range 80 {
		ids = append(ids, fmt.Sprint(n+1))
		entries = append(entries, in(ids[n], "A", 1., "B", -2., "C", .5))
	}
	r := NewReport(entries, func(string) []string { return ids })
	if got := words(r.Changes); got != "A trim +1, B trim -2, C trim +0.5" {
		t.Error(got)
	}
	_, text, _ := strings.Cut(r.String(), "MOVED AT THE MIXER\n")
	if strings.Count(text, "\n") != 2 || !strings.Contains(text, "  B -2 dB to the end, in 80 of 80 cues\n") {
		t.Errorf("the report has %q", text)
	}
}

// The report says what held, and names the cues of the rest.
func TestWordsOfChanges(t *testing.T) {
	many := make([]NudgeOfCue, 7)
	for i := range many {
		many[i] = NudgeOfCue{fmt.Sprint(i), "A", -2}
	}
	for _, x := range []struct {
		c    LastingChange
		want string
	}{
		{LastingChange{LastDB: 1.5}, "+1.5 dB to the end"},
		{LastingChange{LastDB: 1.5, TrimDB: 1.5, Held: 3, Cues: 4}, "+1.5 dB to the end, in 3 of 4 cues"},
		{LastingChange{LastDB: 1, TrimDB: 1, Held: 3, Cues: 4, Nudges: many[:1]}, "+1 dB to the end, in 3 of 4 cues; -2 dB more in cue 0"},
		{LastingChange{Cues: 4, Nudges: many[:2]}, "-2 dB in cue 0; -2 dB in cue 1"},
		{LastingChange{Cues: 9, Nudges: many}, "-2 dB in cue 0; -2 dB in cue 1; -2 dB in cue 2; -2 dB in cue 3; -2 dB in cue 4; and in 2 other cues"},
	} {
		if got := x.c.words(); got != x.want {
			t.Errorf("%+v: %q, want %q", x.c, got, x.want)
		}
	}
}
