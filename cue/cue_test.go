package cue

import (
	"encoding/json"
	"math"
	"reflect"
	"strings"
	"testing"
)

func harbor() *Show {
	return &Show{
		Format: Format, Title: "Harbor \"Lights\"", Venue: "home", AirC: 24, SoundMPS: 345.5,
		Rig: UsedRig{
			LatencyMS: 4.2, Reference: Location{0, -36.6, 18.3},
			Stacks: []UsedStack{{Name: "outer left", Location: Location{-24, -2, 2.5}, Left: 1, TrimDB: -3, DelayMS: 1.5}},
			Delay: Settings{Policy: "most-seats", LeadMS: 10, WindowMS: 30, Seats: 2400, Feed: "stereo", PanBy: "tangent",
				PanLaw: "constant-power", PanWidth: 0.8},
		},
		Cues: []Snapshot{
			{ID: "1A", At: "1:33", Movement: 1, Count: 33, Set: "7", TimeS: 14.5, Name: "fog", FadeCounts: 2, FadeS: 0.9,
				Channels: []Channel{
					{Channel: 3, Player: "Tpt 3", Kind: Worn, Role: "feature", Open: true, LevelDB: 1.5, Pan: -0.2, DelayMS: 62.3,
						Location: Location{-11.43, 22.86, 1.5}, End: Location{-10, 20, 1.5}, Notes: []string{"clamped"}},
					{Channel: 4, Player: "Tpt 4", Kind: Worn, LevelDB: Silent, Pan: 0.1, DelayMS: 70, Notes: []string{}},
				}},
			{ID: "1A+8", At: "1:41", Movement: 1, Count: 41, Channels: []Channel{}},
		},
	}
}

func TestEncodeAndBack(t *testing.T) {
	s := harbor()
	b, err := s.Encode()
	if err != nil {
		t.Fatal(err)
	}
	back, err := Decode(b)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(s, back) {
		t.Errorf("changed on its way:\n%+v\n%+v", s, back)
	}
	again, err := back.Encode()
	if err != nil || string(again) != string(b) {
		t.Errorf("encoded again it differs (%v):\n%s\n%s", err, b, again)
	}
	if !reflect.DeepEqual(s, harbor()) {
		t.Error("Encode changed the show")
	}
	lines := strings.Split(strings.TrimSuffix(string(b), "\n"), "\n")
	if len(lines) != 8 { // the show, a cue and its two channels, its end, a cue, its end, the end
		t.Errorf("%d lines: one a channel is what version control shows\n%s", len(lines), b)
	}
	if !strings.HasPrefix(lines[2], `  {"channel":3,"player":"Tpt 3",`) ||
		!strings.Contains(lines[3], `"level_db":null`) || !strings.Contains(lines[2], `"x_m":-11.43`) {
		t.Errorf("lines of channels:\n%s", b)
	}
	if !strings.Contains(lines[2], `"notes":["clamped"]`) || !strings.Contains(lines[3], `"notes":[]`) {
		t.Errorf("notes:\n%s", b)
	}
}

func TestEncodeEdges(t *testing.T) {
	s := &Show{Format: Format, Cues: []Snapshot{{ID: "1", Channels: []Channel{{Channel: 1, LevelDB: Silent}}}}}
	b, err := s.Encode()
	if err != nil || !strings.Contains(string(b), `"notes":[]`) {
		t.Errorf("notes that are nil are written as a list: %s (%v)", b, err)
	}
	if s.Cues[0].Channels[0].Notes != nil {
		t.Error("Encode changed the show")
	}
	empty, err := (&Show{Format: Format}).Encode()
	if err != nil || !json.Valid(empty) {
		t.Errorf("a show without cues: %s (%v)", empty, err)
	}
	if _, err := (&Show{AirC: math.NaN()}).Encode(); err == nil {
		t.Error("a number that is none is encoded")
	}
	s.Cues[0].Channels[0].Pan = math.Inf(1)
	if _, err := s.Encode(); err == nil {
		t.Error("an infinite pan is encoded")
	}
}

func TestDecodeErrors(t *testing.T) {
	cases := []struct{ name, data, want string }{
		{"no JSON", "cues:", "not a snapshots.json: "},
		{"another JSON", `{"name":"x"}`, `it has no "format"`},
		{"newer", `{"format":99}`, "written in format 99 by a newer Backfield; this one reads up to 2, "},
		{"channels out of order", `{"format":1,"cues":[{"id":"1"},{"id":"2A","channels":[{"channel":4},{"channel":3}]}]}`,
			`cue 2 ("2A"): channels are not in order`},
		{"a channel twice", `{"format":1,"cues":[{"id":"1","channels":[{"channel":4},{"channel":4}]}]}`,
			`cue 1 ("1"): channels are not in order`},
		{"level in words", `{"format":1,"cues":[{"channels":[{"level_db":"loud"}]}]}`, "not a snapshots.json: "},
	}
	for _, c := range cases {
		if s, err := Decode([]byte(c.data)); err == nil || s != nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
}

func TestLevel(t *testing.T) {
	for _, c := range []struct {
		level Level
		text  string
	}{{Silent, "null"}, {0, "0"}, {-9.5, "-9.5"}} {
		b, err := json.Marshal(c.level)
		if err != nil || string(b) != c.text {
			t.Errorf("%v is %s (%v), want %s", float64(c.level), b, err, c.text)
		}
		var back Level = 77
		if err := json.Unmarshal(b, &back); err != nil || back != c.level {
			t.Errorf("%s is %v (%v), want %v", b, float64(back), err, float64(c.level))
		}
	}
}

func TestValue(t *testing.T) {
	open := Channel{Open: true, LevelDB: -9, Pan: 0.3, DelayMS: 81.4}
	for _, c := range []struct {
		channel Channel
		param   string
		want    float64
	}{
		{open, ParamMute, 0}, {Channel{}, ParamMute, 1}, {open, ParamLevel, -9},
		{Channel{LevelDB: Silent}, ParamLevel, math.Inf(-1)},
		{open, ParamPan, 0.3}, {open, ParamDelay, 81.4},
	} {
		if v, ok := c.channel.Value(c.param); !ok || v != c.want {
			t.Errorf("%s of %+v is %v, %v", c.param, c.channel, v, ok)
		}
	}
	if v, ok := open.Value("color"); ok || v != 0 {
		t.Errorf("a parameter that no snapshot has is %v, %v", v, ok)
	}
}

func TestFind(t *testing.T) {
	s := harbor()
	c, ok := s.Find("1A+8")
	if !ok || c != &s.Cues[1] {
		t.Errorf("found %+v, %v", c, ok)
	}
	if c, ok := s.Find("1a"); ok || c != nil {
		t.Errorf("found %+v, which is not there", c)
	}
}

// Ten open mics cost 10 dB of gain before feedback, two cost 3.01 (incoherent sum, arithmetic).
func TestOpenCost(t *testing.T) {
	for n, want := range map[int]float64{0: 0, 1: 0, 2: 3.0103, 10: 10, 20: 13.0103} {
		if got := OpenCostDB(n); math.Abs(got-want) > 5e-5 {
			t.Errorf("%d mics: %.5f dB, want %.4f", n, got, want)
		}
	}
}

func TestClockTime(t *testing.T) {
	for s, want := range map[float64]string{0: "0:00.0", 127.46: "2:07.5", 59.96: "1:00.0", 3600: "60:00.0",
		-1.5: "-0:01.5", -0.01: "0:00.0"} {
		if got := ClockTime(s); got != want {
			t.Errorf("%g s: %s, want %s", s, got, want)
		}
	}
}
