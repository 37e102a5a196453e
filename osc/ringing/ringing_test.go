package ringing_test

import (
	"math"
	"testing"

	"backfield/cue"
	"backfield/layout/level"
	"backfield/osc/feed"
	"backfield/osc/ringing"
	"backfield/osc/run"
)

// row is an open channel with its fader at a level in dB, as the mixer confirms it.
func row(player string, db float64) run.ChannelRow {
	return run.ChannelRow{Player: player, MixerChannel: feed.MixerChannel{ShowOpen: true, MuteKnown: true,
		LevelKnown: true, LevelDB: cue.Level(db), ShowDB: cue.Level(db)}}
}

// flat is a loop of so many dB in one band.
func flat(band int, db float64) (e level.Energies) {
	e[band] = level.Energy(db)
	return e
}

func table() *ringing.LoopTable {
	t := &ringing.LoopTable{}
	t.Fill(map[string]ringing.MicLoops{
		"near":  {AtS: []float64{10, 20}, Loops: []level.Energies{flat(0, -8), flat(0, -2)}, TakeDB: 5},
		"equal": {AtS: []float64{10}, Loops: []level.Energies{flat(0, -8)}, TakeDB: 2},
		"other": {AtS: []float64{10}, Loops: []level.Energies{flat(3, -7)}, TakeDB: 5},
	}, 6)
	return t
}

// The margin follows the show's clock and the faders, dB for dB; two equal loops in a band cost 3 dB, and loops in
// different bands nothing.
func TestLook(t *testing.T) {
	muted, stillOpen, unknown := row("near", 9), row("near", 4), row("near", 0)
	muted.Muted = true
	stillOpen.ShowOpen = false
	unknown.MuteKnown, unknown.LevelKnown, unknown.LevelDB, unknown.ShowDB = false, false, 20, 5
	for name, c := range map[string]struct {
		atS    float64
		rows   []run.ChannelRow
		margin float64 // 0: nothing is said
		first  string
	}{
		"margin of 8 is enough":           {12, []run.ChannelRow{row("near", 0)}, 0, ""},
		"before its first time":           {-5, []run.ChannelRow{row("near", 4)}, 4, "near"},
		"its fader 4 dB up":               {12, []run.ChannelRow{row("near", 4)}, 4, "near"},
		"a later place":                   {20, []run.ChannelRow{row("near", 0)}, 2, "near"},
		"just before it":                  {19.99, []run.ChannelRow{row("near", 0)}, 0, ""},
		"two equal ones":                  {12, []run.ChannelRow{row("near", 0), row("equal", 0)}, 8 - 10*math.Log10(2), "near"},
		"the louder one first":            {12, []run.ChannelRow{row("near", 0), row("equal", 1)}, 4.461, "equal"},
		"different bands do not add up":   {12, []run.ChannelRow{row("near", 0), row("other", 0)}, 0, ""},
		"muted at the mixer":              {12, []run.ChannelRow{muted}, 0, ""},
		"still open at the mixer":         {12, []run.ChannelRow{stillOpen}, 4, "near"},
		"a mixer that confirms nothing":   {12, []run.ChannelRow{unknown}, 3, "near"},
		"off":                             {12, []run.ChannelRow{row("near", math.Inf(-1))}, 0, ""},
		"a channel that is no mic's":      {12, []run.ChannelRow{row("", 20), row("line", 20)}, 0, ""},
		"nothing is open":                 {12, nil, 0, ""},
		"exactly what is wanted, no more": {12, []run.ChannelRow{row("near", 1.9999)}, 0, ""},
	} {
		v := table().Look(c.atS, c.rows)
		if v == nil || v.WantedDB != 6 {
			t.Fatalf("%s: %+v", name, v)
		}
		if c.first == "" {
			if len(v.First) > 0 {
				t.Errorf("%s: %+v, want nothing said", name, v)
			}
			continue
		}
		if len(v.First) == 0 || v.First[0] != c.first || math.Abs(v.MarginDB-c.margin) > 0.001 {
			t.Errorf("%s: %+v, want %.3f dB and %s first", name, v, c.margin, c.first)
		}
	}
	if v := table().Look(12, []run.ChannelRow{row("near", 0), row("equal", 5)}); v.TakeDB != 2 {
		t.Errorf("give or take %.0f, want that of the mic that rings first", v.TakeDB)
	}
	if v := (&ringing.LoopTable{}).Look(12, []run.ChannelRow{row("near", 20)}); v != nil {
		t.Errorf("before it is filled: %+v", v)
	}
}

// Before the loops are computed the row is there and says nothing; after a refusal it says why.
func TestNoLoops(t *testing.T) {
	var list ringing.LoopTable
	list.Fill(nil, 6)
	if v := list.Look(12, []run.ChannelRow{row("near", 20)}); v == nil || v.First != nil || v.Unwatched != "" {
		t.Errorf("before they are computed: %+v", v)
	}
	list.Refuse("too loud")
	if v := list.Look(12, []run.ChannelRow{row("near", 20)}); v == nil || v.First != nil || v.Unwatched != "too loud" {
		t.Errorf("refused: %+v", v)
	}
}
