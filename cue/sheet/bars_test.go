package sheet

import (
	"math"
	"reflect"
	"testing"

	"backfield/cue"
)

// snap makes a snapshot of two channels; a state is the role and level, nil for closed.
type state struct {
	player, role string
	db           float64
}

func snap(id string, timeS float64, states ...*state) cue.Snapshot {
	c := cue.Snapshot{ID: id, TimeS: timeS}
	for i, s := range states {
		ch := cue.Channel{Channel: i + 1, Kind: cue.Worn, LevelDB: cue.Silent}
		if s != nil {
			ch.Player, ch.Role, ch.Open, ch.LevelDB = s.player, s.role, s.role != "", cue.Level(s.db)
		}
		c.Channels = append(c.Channels, ch)
	}
	return c
}

// evening is A on channel 1 open from 0 to 20 s, a support from 10 s; on channel 2 B until 10 s, C right after until 20 s, and C again from 30 s to the end at 40 s.
func evening() *cue.Show {
	return &cue.Show{EndS: 40, Cues: []cue.Snapshot{
		snap("1", 0, &state{"A", "feature", 1.5}, &state{"B", "support", -9}),
		snap("2", 10, &state{"A", "support", -9}, &state{"C", "support", -9}),
		snap("3", 20, nil, nil),
		snap("4", 30, nil, &state{"C", "feature", 0}),
	}}
}

func TestBars(t *testing.T) {
	got := Bars(evening())
	want := []OpenBar{
		{1, "A", cue.Worn, "feature", 0, 10, "1", "2", 1.5},
		{1, "A", cue.Worn, "support", 10, 20, "2", "3", -9},
		{2, "B", cue.Worn, "support", 0, 10, "1", "2", -9},
		{2, "C", cue.Worn, "support", 10, 20, "2", "3", -9},
		{2, "C", cue.Worn, "feature", 30, 40, "4", "", 0},
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("bars\n%+v\nwant\n%+v", got, want)
	}
	// A's change of role keeps the channel open; B's and C's are two players' stretches.
	type span struct {
		bars       int
		fromS, toS float64
	}
	var spans []span
	for _, x := range Stretches(got) {
		spans = append(spans, span{len(x.Bars), x.FromS(), x.ToS()})
	}
	if want := []span{{2, 0, 20}, {1, 0, 10}, {1, 10, 20}, {1, 30, 40}}; !reflect.DeepEqual(spans, want) {
		t.Errorf("stretches %v, want %v", spans, want)
	}
}

func TestOpenCount(t *testing.T) {
	got := OpenCount(evening())
	want := []OpenStep{{0, "1", 2, 3.0103}, {20, "3", 0, 0}, {30, "4", 1, 0}}
	if len(got) != len(want) {
		t.Fatalf("%+v", got)
	}
	for i := range want {
		if math.Abs(got[i].CostDB-want[i].CostDB) > 5e-5 {
			t.Errorf("step %d costs %.5f dB, want %.4f", i, got[i].CostDB, want[i].CostDB)
		}
		if got[i].CostDB = want[i].CostDB; got[i] != want[i] {
			t.Errorf("step %d is %+v, want %+v", i, got[i], want[i])
		}
	}
}

// A show without a cue has no bar and no step.
func TestNothing(t *testing.T) {
	if bars, steps := Bars(&cue.Show{EndS: 9}), OpenCount(&cue.Show{EndS: 9}); len(bars)+len(steps) != 0 {
		t.Errorf("%v %v", bars, steps)
	}
}

// A mic that opens early is open from then on, and one that closes is open until it has faded out, or opens again.
func TestEarlyAndFaded(t *testing.T) {
	s := evening()
	s.Cues[1].FadeCounts, s.Cues[1].FadeS = 4, 2                                                         // B gives the channel to C, at once
	s.Cues[2].FadeCounts, s.Cues[2].FadeS = 4, 2                                                         // A and C close
	s.Cues[2].FadeOut = &cue.FadeTime{Counts: 16, S: 8}                                                  // and take longer
	s.Cues[2].Channels[1].Early = &cue.EarlyOpening{TimeS: 27, Player: "C", Role: "feature", LevelDB: 0} // before that
	want := []OpenBar{
		{1, "A", cue.Worn, "feature", 0, 10, "1", "2", 1.5},
		{1, "A", cue.Worn, "support", 10, 28, "2", "3", -9},
		{2, "B", cue.Worn, "support", 0, 10, "1", "2", -9},
		{2, "C", cue.Worn, "support", 10, 27, "2", "3", -9},
		{2, "C", cue.Worn, "feature", 27, 40, "4", "", 0},
	}
	if got := Bars(s); !reflect.DeepEqual(got, want) {
		t.Errorf("bars\n%+v\nwant\n%+v", got, want)
	}
	var open []OpenStep
	for _, x := range OpenCount(s) {
		open = append(open, OpenStep{AtS: x.AtS, Cue: x.Cue, Open: x.Open})
	}
	if want := []OpenStep{{0, "1", 2, 0}, {28, "3", 1, 0}}; !reflect.DeepEqual(open, want) {
		t.Errorf("open %+v, want %+v", open, want)
	}
	rows := Rows(s, nil)
	if want := []EarlyRow{{At: "0:0", TimeS: 27, Players: []string{"C"}, For: "4"}}; !reflect.DeepEqual(rows[2].Early, want) {
		t.Errorf("opens early: %+v, want %+v", rows[2].Early, want)
	}
	s.Cues[3].Channels[1].Glide = []cue.Knot{{DelayMS: 9}}
	if rows := Rows(s, nil); len(rows[2].Glides) != 0 || !reflect.DeepEqual(rows[3].Glides, []string{"C"}) {
		t.Errorf("glides: %v, %v", rows[2].Glides, rows[3].Glides)
	}
	// Nobody is open any more when the last has faded out, which is before the end.
	s = evening()
	s.Cues[2].FadeS = 3
	s.Cues = s.Cues[:3]
	if steps := OpenCount(s); steps[len(steps)-1].AtS != 23 || steps[len(steps)-1].Open != 0 {
		t.Errorf("%+v", steps)
	}
}
