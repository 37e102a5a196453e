package override

import (
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"backfield/cue"
	"backfield/layout/source"
	"backfield/osc/journal"
	"backfield/osc/mixer"
)

// overridesOf are overrides over a show of one snapshot with channel 1, 2 and a fixed mic on 3, at a mixer whose
// channel 9 may go no higher than -8 dB.
func overridesOf(t *testing.T) (Overrides, cue.Snapshot) {
	t.Helper()
	text := `to = "127.0.0.1:9000"
rate = 1000
channels = 12
pan_law = "linear"
[mute]
address = "/m/{channel}"
scale = { on = 1, off = 0 }
[level]
address = "/l/{channel}"
off = -120
[safety]
ceiling = "3 dB"
[[safety.channel]]
channel = 9
ceiling = "-8 dB"
`
	var p source.Problems
	d := mixer.Read(&source.File{Name: "mixer.toml", Text: text}, &p)
	if p.Errors() > 0 {
		source.Print(os.Stderr, p.All())
		t.Fatal("the mixer file has errors")
	}
	s := cue.Snapshot{ID: "1", Channels: []cue.Channel{
		{Channel: 1, Player: "Tpt 1", Kind: cue.Worn, Open: true, LevelDB: -3},
		{Channel: 2, Player: "Tpt 2", Kind: cue.Worn, LevelDB: cue.Silent},
		{Channel: 3, Player: "pit", Kind: cue.Fixed, Open: true, LevelDB: -6},
	}}
	return New(&cue.Show{Cues: []cue.Snapshot{s}}, d), s
}

// inWords lists the channels of a snapshot that are open, with their levels, and those that are closed.
func inWords(s cue.Snapshot) string {
	var list []string
	for _, c := range s.Channels {
		word := fmt.Sprintf("%d %s closed", c.Channel, c.Player)
		if c.Open {
			word = fmt.Sprintf("%d %s %g", c.Channel, c.Player, float64(c.LevelDB))
		}
		list = append(list, word)
	}
	return strings.Join(list, ", ")
}

// Each override alone and together with others: hush closes worn mics even if they are held; a nudge ends at the
// ceiling; a spare has the lower of both ceilings and leaves the dead pack's channel closed; a hold keeps all but the
// player's name.
func TestOverrides(t *testing.T) {
	held := cue.Channel{Channel: 2, Player: "Tpt 9", Kind: cue.Worn, Open: true, LevelDB: -1}
	for _, c := range []struct {
		name   string
		do     func(o *Overrides)
		closed bool
		want   string
	}{
		{"none", func(o *Overrides) {}, false, "1 Tpt 1 -3, 2 Tpt 2 closed, 3 pit -6"},
		{"before the first cue", func(o *Overrides) {}, true, "1 Tpt 1 closed, 2 Tpt 2 closed, 3 pit closed"},
		{"hush", func(o *Overrides) { o.Hush = true }, false, "1 Tpt 1 closed, 2 Tpt 2 closed, 3 pit -6"},
		{"nudge", func(o *Overrides) {
			o.Nudge(journal.RunNudge{Name: "tpt 1", DB: 4})
			o.Nudge(journal.RunNudge{Name: "Tpt 1", DB: 4})
			o.Nudge(journal.RunNudge{Name: "pit", DB: -2})
		}, false, "1 Tpt 1 3, 2 Tpt 2 closed, 3 pit -8"},
		{"swap", func(o *Overrides) { o.Swap(-1, 1, 9) }, false, "1 Tpt 1 closed, 2 Tpt 2 closed, 3 pit -6, 9 Tpt 1 -8"},
		{"swapped twice, and back", func(o *Overrides) {
			o.Swap(-1, 1, 9)
			o.Swap(o.SwapOf(9), 1, 10)
			o.Unswap(o.SwapOf(1))
		}, false, "1 Tpt 1 -3, 2 Tpt 2 closed, 3 pit -6"},
		{"hold", func(o *Overrides) { o.Hold(held) }, false, "1 Tpt 1 -3, 2 Tpt 2 -1, 3 pit -6"},
		{"hold before the first cue", func(o *Overrides) { o.Hold(held) }, true, "1 Tpt 1 closed, 2 Tpt 2 -1, 3 pit closed"},
		{"hush over hold", func(o *Overrides) {
			o.Hold(held)
			o.Hush = true
		}, false, "1 Tpt 1 closed, 2 Tpt 2 closed, 3 pit -6"},
		{"a hold goes along with a swap", func(o *Overrides) {
			o.Hold(held)
			o.Swap(-1, 2, 9)
		}, false, "1 Tpt 1 -3, 2 Tpt 2 closed, 3 pit -6, 9 Tpt 2 -1"},
	} {
		o, s := overridesOf(t)
		c.do(&o)
		if got := inWords(o.ApplyTo(s, c.closed, nil)); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
		if inWords(s) != "1 Tpt 1 -3, 2 Tpt 2 closed, 3 pit -6" {
			t.Fatalf("%s: the show's own snapshot is %s now", c.name, inWords(s))
		}
	}
}

// A channel that was a spare stays closed, and is in no use.
func TestOldSpareStaysClosed(t *testing.T) {
	o, s := overridesOf(t)
	o.Swap(-1, 1, 9)
	before := o.ApplyTo(s, false, nil)
	o.Unswap(o.SwapOf(1))
	now := o.ApplyTo(s, false, before.Channels)
	if want := "1 Tpt 1 -3, 2 Tpt 2 closed, 3 pit -6, 9 Tpt 1 closed"; inWords(now) != want {
		t.Errorf("%s, want %s", inWords(now), want)
	}
	if o.InUse(9) || !o.InUse(1) {
		t.Error("channel 9 is in use, or channel 1 is not")
	}
}

// The total of nudges is as they were typed, without the dust of binary fractions.
func TestNudgesAddUp(t *testing.T) {
	o, _ := overridesOf(t)
	for _, dB := range []float64{.7, .2, 1.2} {
		o.Nudge(journal.RunNudge{Name: "Tpt 1", DB: dB})
	}
	if got := o.NudgeWords(); len(got) != 1 || got[0] != "Tpt 1 +2.1 dB" {
		t.Errorf("%q", got)
	}
}

// A player who opens nowhere has room without end; nudges from a quieter cue may be over the ceiling in this one.
func TestRoomToTheCeiling(t *testing.T) {
	o, s := overridesOf(t)
	quiet := cue.Snapshot{Channels: []cue.Channel{{Channel: 1, Player: "Tpt 1", Open: true, LevelDB: -10}}}
	steps := []cue.Snapshot{quiet, s}
	o.Nudge(journal.RunNudge{Name: "tpt 1", DB: 8})
	for _, c := range []struct {
		player        string
		from          int
		room, ceiling float64
	}{
		{"Tpt 1", -1, 5, 3}, {"Tpt 1", 0, 5, 3}, {"Tpt 1", 1, -2, 3}, {"Tpt 2", 1, math.Inf(1), math.Inf(1)},
		{"pit", 0, 9, 3},
	} {
		if room, ceiling := o.RoomDB(c.player, steps, c.from); room != c.room || ceiling != c.ceiling {
			t.Errorf("%s from step %d: %v dB to %v, want %v to %v", c.player, c.from, room, ceiling, c.room, c.ceiling)
		}
	}
	o.Swap(-1, 1, 9) // the spare's ceiling is -8 dB
	if room, ceiling := o.RoomDB("Tpt 1", steps, 0); room != -6 || ceiling != -8 {
		t.Errorf("on the spare: %v dB to %v", room, ceiling)
	}
}
