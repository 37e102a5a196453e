package step_test

import (
	"slices"
	"strings"
	"testing"

	"backfield/cue"
	"backfield/cue/step"
)

var own = []cue.MixerParam{{Name: "presence", Unit: "dB"}, {Name: "gate", Switch: true}}

// open is an open channel; with changes it.
func open(number int, player, role string, levelDB float64, with ...func(*cue.Channel)) cue.Channel {
	c := cue.Channel{Channel: number, Player: player, Kind: cue.Worn, Role: role, Open: true,
		LevelDB: cue.Level(levelDB), DelayMS: 40,
		Params: []cue.ParamValue{{Name: "presence", Value: 0}, {Name: "gate", Value: 0}}}
	for _, f := range with {
		f(&c)
	}
	return c
}

func shut(number int, player string, with ...func(*cue.Channel)) cue.Channel {
	c := open(number, player, "", 0, with...)
	c.Open, c.LevelDB = false, cue.Silent
	return c
}

func delay(ms float64) func(*cue.Channel) { return func(c *cue.Channel) { c.DelayMS = ms } }

func param(i int, v float64) func(*cue.Channel) {
	return func(c *cue.Channel) { c.Params[i].Value = v }
}

func sends(list ...cue.Send) func(*cue.Channel) { return func(c *cue.Channel) { c.Sends = list } }

func TestSummary(t *testing.T) {
	raw := cue.Extra{Address: "/room/b/quiet", Types: "i", Args: []any{1.0}}
	for _, test := range []struct {
		name        string
		before, now []cue.Channel
		also        []cue.Extra
		want        string
	}{
		{"handover while open", []cue.Channel{open(1, "Tpt 1", "feature", 0), open(2, "Tpt 2", "pad", -12)},
			[]cue.Channel{open(1, "Bari 1", "feature", 3, delay(55)), open(2, "Tpt 2", "pad", -12)},
			nil, "channel 1 goes from Tpt 1 to Bari 1, 0 to 3 dB"},
		{"handover while closed", []cue.Channel{shut(1, "Tpt 1")}, []cue.Channel{shut(1, "Bari 1", delay(55))}, nil, ""},
		{"handover before the taker opens", []cue.Channel{shut(1, "Tpt 1")}, []cue.Channel{open(1, "Bari 1", "pad", -9)},
			nil, "opens Bari 1"},
		{"handover after the giver closes", []cue.Channel{open(1, "Tpt 1", "pad", -9)}, []cue.Channel{shut(1, "Bari 1")},
			nil, "closes Tpt 1"},
		{"keep", []cue.Channel{open(1, "Tpt 1", "pad", -9), shut(2, "Tpt 2")},
			[]cue.Channel{open(1, "Tpt 1", "pad", -9), open(2, "Tpt 2", "pad", -9)}, nil, "opens Tpt 2"},
		{"moves", []cue.Channel{open(1, "Tpt 1", "pad", -9), open(2, "Tpt 2", "pad", -9), shut(3, "Tpt 3")},
			[]cue.Channel{open(1, "Tpt 1", "pad", -9, delay(45)), open(2, "Tpt 2", "pad", -9, delay(35)),
				shut(3, "Tpt 3", delay(70))},
			nil, "pan/delay on 2 channels"},
		{"held channel", []cue.Channel{open(1, "Tpt 1", "pad", -9)}, []cue.Channel{open(1, "Tpt 1", "pad", -9)}, nil, ""},
		{"level", []cue.Channel{open(1, "Tpt 1", "pad", -9), open(2, "Tpt 2", "pad", -9)},
			[]cue.Channel{open(1, "Tpt 1", "feature", 0), open(2, "Tpt 2", "support", -9)},
			nil, "Tpt 1 -9 to 0 dB, Tpt 2 now support"},
		{"parameter", []cue.Channel{open(1, "Tpt 1", "pad", -9), open(2, "Tpt 2", "pad", -9), open(3, "Tpt 3", "pad", -9),
			shut(4, "Tpt 4")},
			[]cue.Channel{open(1, "Tpt 1", "pad", -9, param(0, 5.5), param(1, 1)), open(2, "Tpt 2", "pad", -9, param(0, 3)),
				open(3, "Tpt 3", "pad", -9, param(0, 5.5)), shut(4, "Tpt 4", param(0, 5.5))},
			nil, "presence 5.5 dB: Tpt 1, Tpt 3; presence 3 dB: Tpt 2; gate on: Tpt 1"},
		{"sends", []cue.Channel{open(1, "Tpt 1", "pad", -9, sends(cue.Send{Zone: 1, LevelDB: 0}))},
			[]cue.Channel{open(1, "Tpt 1", "pad", -9, sends(cue.Send{Zone: 1, LevelDB: -6}))}, nil, "pan/delay on 1 channel"},
		{"extra messages", []cue.Channel{open(1, "Tpt 1", "pad", -9)}, []cue.Channel{open(1, "Tpt 1", "pad", -9)},
			[]cue.Extra{raw, {Address: "/go"}}, "sends /room/b/quiet i 1, /go"},
		{"first cue", nil, []cue.Channel{open(1, "Tpt 1", "pad", -9, param(0, 3)), shut(2, "Tpt 2"),
			open(3, "Kit", "fixed", 0)}, nil, "opens Tpt 1, Kit"},
		{"a player who changes channels", []cue.Channel{open(1, "Tpt 1", "pad", -9), shut(2, "Tpt 2")},
			[]cue.Channel{shut(1, ""), open(2, "Tpt 1", "pad", -9)},
			nil, "Tpt 1 switches from channel 1 to channel 2"},
		{"one changes channels and another takes over", []cue.Channel{open(1, "Tpt 1", "pad", -9), shut(2, "Bari 1")},
			[]cue.Channel{open(1, "Bari 1", "pad", -9), open(2, "Tpt 1", "pad", -9)},
			nil, "channel 1 goes from Tpt 1 to Bari 1; Tpt 1 switches from channel 1 to channel 2"},
		{"two exchange packs", []cue.Channel{open(1, "Tpt 1", "pad", -9), open(2, "Bari 1", "pad", -9)},
			[]cue.Channel{open(1, "Bari 1", "pad", -9), open(2, "Tpt 1", "pad", -9)},
			nil, "Bari 1 switches from channel 2 to channel 1; Tpt 1 switches from channel 1 to channel 2"},
		{"two exchange packs and levels", []cue.Channel{open(1, "Tpt 1", "pad", -9), open(2, "Bari 1", "feature", 0)},
			[]cue.Channel{open(1, "Bari 1", "pad", -9), open(2, "Tpt 1", "feature", 0)},
			nil, "Bari 1 switches from channel 2 to channel 1, 0 to -9 dB; " +
				"Tpt 1 switches from channel 1 to channel 2, -9 to 0 dB"},
		{"a player who changes channels and role", []cue.Channel{open(1, "Tpt 1", "pad", -9), shut(2, "Tpt 1")},
			[]cue.Channel{shut(1, "Tpt 1"), open(2, "Tpt 1", "support", -9)},
			nil, "Tpt 1 switches from channel 1 to channel 2, now support"},
		{"one takes over from another who closes", []cue.Channel{open(1, "Tpt 1", "pad", -9), open(2, "Bari 1", "feature", 0)},
			[]cue.Channel{shut(1, ""), open(2, "Tpt 1", "support", -3)},
			nil, "channel 2 goes from Bari 1 to Tpt 1; Tpt 1 switches from channel 1 to channel 2, -9 to -3 dB"},
		{"two mics, then one", []cue.Channel{open(1, "Tpt 1", "pad", -9), open(2, "Tpt 1", "pad", -9)},
			[]cue.Channel{shut(1, "Tpt 1"), open(2, "Tpt 1", "pad", -9)}, nil, "closes Tpt 1"},
		{"a channel comes, another goes", []cue.Channel{open(1, "Tpt 1", "pad", -9)},
			[]cue.Channel{open(2, "Tpt 2", "pad", -9)}, nil,
			"opens Tpt 2|closes Tpt 1"},
		{"all at once, channels in disorder", []cue.Channel{open(21, "Tpt 4", "pad", -9), open(1, "Tpt 1", "pad", -9),
			open(3, "Tpt 3", "pad", -9)},
			[]cue.Channel{shut(3, "Tpt 3"), open(2, "Tpt 2", "pad", -9), open(1, "Tpt 1", "pad", 0),
				open(21, "Tpt 4", "pad", -9, delay(1))}, []cue.Extra{raw},
			"opens Tpt 2|closes Tpt 3|Tpt 1 -9 to 0 dB; pan/delay on 1 channel|sends /room/b/quiet i 1"},
	} {
		var before *cue.Snapshot
		if test.before != nil {
			before = &cue.Snapshot{Channels: test.before}
		}
		s := step.Between(own, before, &cue.Snapshot{Channels: test.now, Also: test.also})
		if text := strings.Join(s.Summary().Kinds(), "|"); text != test.want {
			t.Errorf("%s:\n got %s\nwant %s", test.name, text, test.want)
		}
	}
}

// Facts of a channel that nobody hears are there too: what the tech reads before the mixer is loaded names them.
func TestFacts(t *testing.T) {
	place := func(c *cue.Channel) { c.End = cue.Location{X: 3} }
	before := &cue.Snapshot{Channels: []cue.Channel{
		shut(1, "Tpt 1"),
		shut(2, "Tpt 2", sends(cue.Send{Zone: 1, LevelDB: 0}, cue.Send{Zone: 2, LevelDB: -3},
			cue.Send{Zone: 4, LevelDB: -60})),
		open(3, "Tpt 3", "pad", -9),
		open(5, "Tpt 5", "pad", -9),
	}, Also: []cue.Extra{{Address: "/was"}}}
	now := &cue.Snapshot{Channels: []cue.Channel{
		shut(1, "Bari 1", delay(55), param(0, 2)),
		shut(2, "Tpt 2", sends(cue.Send{Zone: 3, LevelDB: -6}, cue.Send{Zone: 2, LevelDB: -3},
			cue.Send{Zone: 4, LevelDB: -50})),
		open(3, "Tpt 3", "pad", -9, place),
		open(4, "Tpt 4", "pad", -9),
	}}
	s := step.Between(own, before, now)
	if len(s.Channels) != 5 || s.WasAlso[0].Address != "/was" || len(s.Also) != 0 {
		t.Fatalf("%+v", s)
	}
	swapped, sent, stays, came, gone := s.Channels[0], s.Channels[1], s.Channels[2], s.Channels[3], s.Channels[4]
	if !swapped.Wearer || swapped.Kind != step.StaysClosed || !swapped.Delay || swapped.Pan || swapped.Place || swapped.Moves() ||
		!slices.Equal(swapped.Params, []step.ParamChange{{Own: own[0], From: 0, To: 2}}) {
		t.Errorf("swapped: %+v", swapped)
	}
	want := []step.SendChange{{Zone: 1, From: 0, To: cue.Silent}, {Zone: 3, From: cue.Silent, To: -6},
		{Zone: 4, From: -60, To: -50}}
	if !slices.Equal(sent.Sends, want) || sent.Wearer || sent.Delay {
		t.Errorf("%+v", sent)
	}
	for i, byDB := range []float64{-40, 34, 0} {
		if got := sent.Sends[i].ByDB(); got != byDB {
			t.Errorf("send %d goes by %g dB, want %g", i, got, byDB)
		}
	}
	if !stays.Place || stays.Moves() || stays.Kind != step.StaysOpen || stays.Level || stays.Role {
		t.Errorf("stays: %+v", stays)
	}
	if !came.Came || came.Kind != step.Opens || came.Wearer || came.Delay || came.Was.Open || came.Player() != "Tpt 4" {
		t.Errorf("came: %+v", came)
	}
	if !gone.Gone || gone.Kind != step.Closes || gone.Channel != 5 || gone.Player() != "Tpt 5" {
		t.Errorf("gone: %+v", gone)
	}
	if open := step.Names(s.Open()); !slices.Equal(open, []string{"Tpt 3", "Tpt 4"}) {
		t.Errorf("open: %v", open)
	}
	if list := s.StayOpen(); len(list) != 1 || list[0].Channel != 3 {
		t.Errorf("stays: %v", list)
	}
}

// In a handover the giver stops being heard and the taker starts, though the channel stays open.
func TestStartsAndStops(t *testing.T) {
	before := &cue.Snapshot{Channels: []cue.Channel{
		open(1, "Tpt 1", "pad", -9), open(2, "Tpt 2", "pad", -9), shut(3, "Tpt 3"), open(4, "Tpt 4", "pad", -9),
	}}
	s := step.Between(nil, before, &cue.Snapshot{Channels: []cue.Channel{
		open(1, "Bari 1", "pad", -9), shut(2, "Tpt 2"), open(3, "Tpt 3", "pad", -9), open(4, "Tpt 4", "pad", -9),
	}})
	for i, want := range []struct{ starts, stops bool }{{true, true}, {false, true}, {true, false}, {false, false}} {
		if c := s.Channels[i]; c.Starts() != want.starts || c.Stops() != want.stops {
			t.Errorf("channel %d starts %v, stops %v", c.Channel, c.Starts(), c.Stops())
		}
	}
	if x := s.Summary(); !slices.Equal(x.Starts, []string{"Bari 1", "Tpt 3"}) || !slices.Equal(x.Stops, []int{1, 2}) {
		t.Errorf("%v start, channels %v stop", x.Starts, x.Stops)
	}
}

// A player who goes on on another channel is named from both ends.
func TestSwitch(t *testing.T) {
	s := step.Between(nil, &cue.Snapshot{Channels: []cue.Channel{open(1, "Tpt 1", "pad", -9)}},
		&cue.Snapshot{Channels: []cue.Channel{shut(1, "Bari 1"), open(9, "Tpt 1", "pad", -6)}})
	if s.Channels[0].To != 9 || s.Channels[1].From != 1 || len(s.Opens())+len(s.Closes()) != 0 {
		t.Errorf("%+v", s.Channels)
	}
	if x := s.Summary(); s.Channels[0].Stops() || s.Channels[1].Starts() || len(x.Starts)+len(x.Stops) > 0 {
		t.Error("who only changes channels starts or stops")
	}
	if text := strings.Join(s.Summary().Kinds(), "; "); text != "Tpt 1 switches from channel 1 to channel 9, -9 to -6 dB" {
		t.Errorf("%s", text)
	}
}

func TestOpenIn(t *testing.T) {
	with := func(id string, list ...cue.Channel) cue.Snapshot {
		return cue.Snapshot{ID: id, Channels: list}
	}
	s := &cue.Show{Cues: []cue.Snapshot{
		with("1", open(1, "Tpt 1", "pad", -9), shut(2, "Tpt 2")),
		with("2", open(1, "Bari 1", "pad", -9), shut(2, "Tpt 2")),
		with("3", shut(1, "Bari 1"), open(2, "Tpt 1", "pad", -9)),
	}}
	for player, want := range map[string]string{"Tpt 1": "1 3", "tpt 1": "1 3", "Bari 1": "2", "Tpt 2": ""} {
		if got := strings.Join(step.OpenIn(s, player), " "); got != want {
			t.Errorf("%s is open in %q, want %q", player, got, want)
		}
	}
}

// At a cue, open channels are where their paths have brought them. A path that goes on changes nothing then.
func TestArrives(t *testing.T) {
	glide := func(knots ...cue.Knot) func(*cue.Channel) { return func(c *cue.Channel) { c.Glide = knots } }
	pan := func(v float64) func(*cue.Channel) { return func(c *cue.Channel) { c.Pan = v } }
	place := func(v float64) func(*cue.Channel) { return func(c *cue.Channel) { c.Place = &v } }
	at := func(v float64) *float64 { return &v }
	level := func(v cue.Level) *cue.Level { return &v }
	loud, soft := cue.Send{Zone: 1, LevelDB: 0}, cue.Send{Zone: 1, LevelDB: -3}
	for _, test := range []struct {
		name        string
		before, now cue.Channel
		want        string
	}{
		{"goes on, rounded", open(1, "Tpt 1", "pad", -9, glide(cue.Knot{DelayMS: 45.05, Pan: 0.204})),
			open(1, "Tpt 1", "pad", -9, delay(45.1), pan(0.2), glide(cue.Knot{DelayMS: 47})), "1 channel glides"},
		{"ends there", open(1, "Tpt 1", "pad", -9, glide(cue.Knot{DelayMS: 40}, cue.Knot{DelayMS: 45})),
			open(1, "Tpt 1", "pad", -9, delay(45)), ""},
		{"a mixer that clicks jumps at the cue", open(1, "Tpt 1", "pad", -9, glide(cue.Knot{DelayMS: 40, Pan: 0.3})),
			open(1, "Tpt 1", "pad", -9, delay(45), pan(0.3)), "pan/delay on 1 channel"},
		{"jumps back", open(1, "Tpt 1", "pad", -9, glide(cue.Knot{DelayMS: 45})), open(1, "Tpt 1", "pad", -9),
			"pan/delay on 1 channel"},
		{"the pan jumps", open(1, "Tpt 1", "pad", -9, glide(cue.Knot{DelayMS: 40, Pan: 0.3})),
			open(1, "Tpt 1", "pad", -9), "pan/delay on 1 channel"},
		{"a place goes on", open(1, "Tpt 1", "pad", -9, place(0), sends(loud), glide(cue.Knot{DelayMS: 40, Place: at(0.5)})),
			open(1, "Tpt 1", "pad", -9, place(0.5), sends(soft)), ""},
		{"a place jumps", open(1, "Tpt 1", "pad", -9, place(0), sends(loud), glide(cue.Knot{DelayMS: 40, Place: at(0.4)})),
			open(1, "Tpt 1", "pad", -9, place(0.5), sends(soft)), "pan/delay on 1 channel"},
		{"the level has followed the distance", open(1, "Tpt 1", "pad", -9, glide(cue.Knot{DelayMS: 40, LevelDB: level(-7)})),
			open(1, "Tpt 1", "pad", -7), ""},
		{"and gets another one", open(1, "Tpt 1", "pad", -9, glide(cue.Knot{DelayMS: 40, LevelDB: level(-7)})),
			open(1, "Tpt 1", "pad", -5), "Tpt 1 -7 to -5 dB"},
		{"another player", open(1, "Tpt 1", "pad", -9, glide(cue.Knot{DelayMS: 45})), open(1, "Bari 1", "pad", -9),
			"channel 1 goes from Tpt 1 to Bari 1"},
		{"closes", open(1, "Tpt 1", "pad", -9, glide(cue.Knot{DelayMS: 45})), shut(1, "Tpt 1"), "closes Tpt 1"},
		{"opens and glides", shut(1, "Tpt 1"), open(1, "Tpt 1", "pad", -9, glide(cue.Knot{DelayMS: 45})),
			"opens Tpt 1; 1 channel glides"},
	} {
		before, now := &cue.Snapshot{Channels: []cue.Channel{test.before}}, &cue.Snapshot{Channels: []cue.Channel{test.now}}
		if got := strings.Join(step.Between(own, before, now).Summary().Kinds(), "; "); got != test.want {
			t.Errorf("%s: %q, want %q", test.name, got, test.want)
		}
	}
	before := &cue.Snapshot{Channels: []cue.Channel{open(1, "Tpt 1", "pad", -9, glide(cue.Knot{DelayMS: 45}))}}
	now := &cue.Snapshot{Channels: []cue.Channel{open(1, "Tpt 1", "pad", -9, delay(45))}}
	if step.Versions(own, before, now).Summary().Moves != 1 {
		t.Error("two versions of a cue are compared as they begin")
	}
}
