package diff_test

import (
	"bytes"
	"encoding/json"
	"os"
	"reflect"
	"strings"
	"testing"

	"backfield/cue"
	"backfield/cue/diff"
)

// The mixer's own parameters are compared in their own unit, and a cue's extra messages word by word.
func TestOwn(t *testing.T) {
	show := func(air, cut float64, also ...cue.Extra) *cue.Show {
		s := harbor()
		s.Params = []cue.MixerParam{{Name: "air", Unit: "dB", Fade: true}, {Name: "cut", Switch: true}}
		for i := range s.Cues {
			for j := range s.Cues[i].Channels {
				s.Cues[i].Channels[j].Params = []cue.ParamValue{{Name: "air", Value: 1}, {Name: "cut", Value: 1}}
			}
		}
		at(s, 0, 3).Params = []cue.ParamValue{{Name: "air", Value: air}, {Name: "cut", Value: cut}}
		at(s, 0, 4).Params = []cue.ParamValue{{Name: "air", Value: air}, {Name: "cut", Value: cut}}
		s.Cues[1].Also = also
		return s
	}
	mute := cue.Extra{Address: "/room/mute", Types: "i", Args: []any{1.0}}
	freeze := cue.Extra{Address: "/room/freeze", Types: "T", Args: []any{true}}
	silent := show(1, 1)
	open(at(silent, 2, 3), "feature", 0)
	faded := show(1, 1)
	faded.Params[0].Fade = false
	for _, c := range []struct {
		old, new *cue.Show
		want     []string
	}{
		{show(1, 1), show(-2.5, 0), []string{"  3 Tpt 3  air 1 -> -2.5 dB (-3.5), cut on -> off\n",
			"why: set by role, player or cue, or the mixer's default", "closed channels move: 1"}},
		{show(1, 1, mute), show(1, 1, mute, freeze),
			[]string{"extra messages: /room/mute i 1, /room/freeze T (was /room/mute i 1)"}},
		{show(1, 1), show(1, 1, freeze), []string{"extra messages: /room/freeze T\n"}},
		{show(1, 1, freeze), show(1, 1), []string{"no extra messages (was /room/freeze T)\n"}},
		{show(1, 1), silent, []string{"opened as feature at 0.0 dB, pan L 0.12, delay 50.0 ms, air 1 dB, cut on"}},
		{harbor(), show(1, 1), []string{"whole show\n  the mixer's air is new\n  the mixer's cut is new\n"}},
		{show(1, 1), harbor(), []string{"the mixer's air is gone"}},
		{show(1, 1), faded, []string{"the mixer's air now steps instead of fading"}},
		{show(1, 1, freeze), show(1, 1, freeze), nil},
	} {
		r := diff.Compare(c.old, c.new)
		if r.SameAtMixer() != (c.want == nil) {
			t.Errorf("%v: same %t", c.want, r.SameAtMixer())
		}
		for _, want := range c.want {
			if !strings.Contains(text(r), want) {
				t.Errorf("%q is not in\n%s", want, text(r))
			}
		}
	}
}

// What is in no message to a mixer is no difference alone.
// A send is compared like a level, with its zone, and an air that changes explains none.
func TestSends(t *testing.T) {
	show := func(first, second cue.Level) *cue.Show {
		return &cue.Show{Format: 1, Rig: cue.UsedRig{Delay: cue.Settings{Feed: "zones"}},
			Cues: []cue.Snapshot{{ID: "1", Channels: []cue.Channel{
				{Channel: 3, Player: "Tpt 3", Open: true, Sends: []cue.Send{{Zone: 1, LevelDB: first}, {Zone: 2, LevelDB: second}}},
			}}}}
	}
	old, new := show(-3, -3), show(cue.Silent, 0)
	new.Cues[0].Channels[0].Location.X = 5.715
	r := diff.Compare(old, new)
	var b strings.Builder
	r.Text(&b)
	for _, want := range []string{"zone 1 -3.0 -> off dB, zone 2 -3.0 -> 0.0 dB",
		"why: 10.0 steps toward side 2"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("%q is not in\n%s", want, b.String())
		}
	}
	if r.SameAtMixer() || !diff.Compare(old, show(-3, -3)).SameAtMixer() {
		t.Error("sends decide whether two shows are the same")
	}
}

func TestSame(t *testing.T) {
	cases := map[string]func(*cue.Show){
		"nothing":      func(*cue.Show) {},
		"a cue's name": func(s *cue.Show) { s.Cues[0].Name = "mist" },
		"a title":      func(s *cue.Show) { s.Title = "Harbour" },
		"a role":       func(s *cue.Show) { at(s, 0, 3).Role = "solo" },
		"a player":     func(s *cue.Show) { at(s, 0, 3).Player = "Tpt 9" },
		"a place":      func(s *cue.Show) { walk(at(s, 0, 3), 1, 1) },
		"air and rig":  func(s *cue.Show) { s.AirC, s.Rig.LatencyMS = 30, 9 },
		"fade in counts, same seconds": func(s *cue.Show) {
			s.Cues[0].FadeCounts = 3
		},
		"notes": func(s *cue.Show) { at(s, 0, 3).Notes = []string{"clamped"} },
	}
	for name, change := range cases {
		s := harbor()
		change(s)
		r := diff.Compare(harbor(), s)
		if !r.SameAtMixer() || text(r) != "" || r.Summary != "" {
			t.Errorf("%s: a difference at the mixer is reported:\n%s", name, text(r))
		}
	}
	changes := map[string]func(*cue.Show){
		"open":    func(s *cue.Show) { open(at(s, 0, 4), "feature", 0) },
		"level":   func(s *cue.Show) { at(s, 0, 3).LevelDB += 0.1 },
		"pan":     func(s *cue.Show) { at(s, 0, 4).Pan += 0.01 },
		"delay":   func(s *cue.Show) { at(s, 0, 4).DelayMS += 0.1 },
		"count":   func(s *cue.Show) { s.Cues[1].Count++ },
		"time":    func(s *cue.Show) { s.Cues[1].TimeS += 1.5 },
		"fade":    func(s *cue.Show) { s.Cues[0].FadeS += 0.1 },
		"added":   func(s *cue.Show) { s.Cues = append(s.Cues, cue.Snapshot{ID: "9"}) },
		"removed": func(s *cue.Show) { s.Cues = s.Cues[:3] },
		"order":   func(s *cue.Show) { s.Cues[0], s.Cues[1] = s.Cues[1], s.Cues[0] },
		"id":      func(s *cue.Show) { s.Cues[0].ID = "0" },
	}
	for name, change := range changes {
		s := harbor()
		change(s)
		if r := diff.Compare(harbor(), s); r.SameAtMixer() || text(r) == "" {
			t.Errorf("%s: not reported", name)
		}
	}
}

// TestSigns: the other way round, every sign turns.
func TestSigns(t *testing.T) {
	s := harbor()
	c := at(s, 0, 3)
	c.DelayMS, c.Pan, c.LevelDB = c.DelayMS+3.5, c.Pan-0.12, c.LevelDB+1.5
	walk(c, -2, 6)
	there, back := text(diff.Compare(harbor(), s)), text(diff.Compare(s, harbor()))
	for _, pair := range [][2]string{
		{"delay 62.3 -> 65.8 ms (+3.5)", "delay 65.8 -> 62.3 ms (-3.5)"},
		{"pan 0.12 farther left (L 0.20 -> L 0.32)", "pan 0.12 farther right (L 0.32 -> L 0.20)"},
		{"level +1.5 dB (0.0 -> 1.5)", "level -1.5 dB (1.5 -> 0.0)"},
		{"6.0 steps farther back and 2.0 toward side 1", "6.0 steps farther to the front and 2.0 toward side 2"},
	} {
		if !strings.Contains(there, pair[0]) || !strings.Contains(back, pair[1]) {
			t.Errorf("%q there or %q back is missing:\n%s\n%s", pair[0], pair[1], there, back)
		}
	}
}

func TestJSON(t *testing.T) {
	s := harbor()
	week(s)
	at(s, 0, 12).LevelDB = cue.Silent // null in JSON
	r := diff.Compare(harbor(), s)
	first, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	if bytes.Contains(first, []byte(":null,\"channels\"")) || bytes.Contains(first, []byte("\"whole_show\":null")) {
		t.Errorf("a list is null: %s", first)
	}
	var back diff.Comparison
	if err := json.Unmarshal(first, &back); err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(*r, back) {
		t.Errorf("the report changed on its way:\n%+v\n%+v", *r, back)
	}
	if text(r) != text(&back) {
		t.Error("the text changed on its way")
	}
	same, err := json.Marshal(diff.Compare(s, s))
	if err != nil {
		t.Fatal(err)
	}
	if want := `{"same":true,"summary":"","whole_show":[],"cues":[]}`; string(same) != want {
		t.Errorf("equal shows: %s, want %s", same, want)
	}
}

func clone(t *testing.T, s *cue.Show) *cue.Show {
	t.Helper()
	b, err := s.Encode()
	if err != nil {
		t.Fatal(err)
	}
	c, err := cue.Decode(b)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// TestInputsAreLeftAlone: a comparison changes neither show.
func TestInputsAreLeftAlone(t *testing.T) {
	a, b := harbor(), harbor()
	week(b)
	before, _ := b.Encode()
	diff.Compare(a, b)
	after, _ := b.Encode()
	if !bytes.Equal(before, after) || !reflect.DeepEqual(a, harbor()) {
		t.Error("a show was changed")
	}
}

// TestPage: the example on the reference page is what this room prints.
func TestPage(t *testing.T) {
	page, err := os.ReadFile("../../cmd/backfield/help/diff.md")
	if err != nil {
		t.Fatal(err)
	}
	s := harbor()
	s.AirC = 31
	s.Rig.Stacks[0].X--
	c := at(s, 0, 3)
	walk(c, -2, 6)
	c.DelayMS, c.LevelDB = 68.5, 1
	at(s, 0, 4).DelayMS = 69.5
	s.Cues[2].Count, s.Cues[2].TimeS = 49, 63.5
	r := diff.Compare(harbor(), s)
	r.Full = true
	if got := text(r); !strings.Contains(string(page), "```\n"+got+"```\n") {
		t.Errorf("the page does not show\n%s", got)
	}
}
