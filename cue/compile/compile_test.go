package compile

import (
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"backfield/cue"
	"backfield/cue/roster"
	"backfield/cue/score"
	"backfield/cue/timeline"
	"backfield/layout/drill"
	"backfield/layout/rig"
	"backfield/layout/source"
	"backfield/layout/table"
)

// files is a show in memory; a test replaces what it is about.
type files struct {
	score, sets, dots, roster, rig string
	plays                          string // who plays when, as playing has it
	moves                          cue.Moves
}

var base = files{
	score: `drill = { sets = "s", dots = "d" }
roster = "r"
rig = "g"
mixer = "k"
[mix]
feature = 0
support = -9
[[movement]]
tempo = 120
`,
	sets: "set,movement,counts,hold\n1,1,0,0\n2,1,16,0\n3,1,16,0\n",
	dots: "set,player,x,y\n1,A,0,32\n2,A,0,32\n3,A,0,32\n1,B,-16,40\n2,B,-16,40\n3,B,-16,40\n1,C,16,40\n" +
		"2,C,16,40\n3,C,16,40\n",
	roster: "player,section,pack,channel,from,height,trim\nA,trumpet,P1,1,,,\nB,trumpet,P2,2,,,-1.5\nC,baritone,,,,,\n",
	rig: `air = "20 C"
latency = "4 ms"
[reference]
x = 0
y = -30
z = 15
[[stack]]
name = "left"
at = { x = -20, y = -2, z = 2.5 }
[[stack]]
name = "right"
at = { x = 20, y = -2, z = 2.5 }
[[mic]]
name = "field"
kind = "field"
channel = 9
at = { x = 0, y = 0, z = 1 }
`,
}

func (f files) compile(t *testing.T, own ...timeline.Param) (*Result, *source.Problems) {
	t.Helper()
	var p source.Problems
	file := func(order int, name, text string) *source.File {
		return &source.File{Name: name, Text: text, Order: order}
	}
	var in Input
	in.Score, in.Rig = score.Read(file(0, "show", f.score), &p), rig.Read(file(4, "rig", f.rig), nil, &p)
	in.Drill = drill.Read(drill.Sheets{Sets: file(1, "sets", f.sets), Dots: file(2, "dots", f.dots)}, in.Rig.Field, &p)
	in.Roster = roster.Read(file(3, "roster", f.roster), &p)
	f.playing(in.Score)
	in.Mixer = timeline.MixerSpec{
		Channels: 64, Pan: timeline.Limits{Min: -1, Max: 1, Step: 0.01},
		Delay: timeline.Limits{Min: 0, Max: 500, Step: 0.1}, Level: timeline.Limits{Min: -70, Max: 6, Step: 0.01},
		Params: own, CheckRaw: sceneMixer, Moves: f.moves,
	}
	return Compile(in, &p), &p
}

// sceneMixer is a mixer that takes the extra message /scene for one that stores a scene.
func sceneMixer(raw cue.Extra, at table.Text, _ *source.Problems, warn func(at source.Span, what, do string)) {
	if raw.Address == "/scene" {
		warn(at.Span, "this mixer stores a scene", "take it out")
	}
}

// show compiles a show that must have no errors.
func (f files) show(t *testing.T, own ...timeline.Param) *Result {
	t.Helper()
	r, p := f.compile(t, own...)
	if r.Show == nil {
		t.Fatal(said(p))
	}
	return r
}

func said(p *source.Problems) string {
	var b strings.Builder
	source.Print(&b, p.All())
	return b.String()
}

func channelOf(t *testing.T, r *Result, id string, n int) cue.Channel {
	t.Helper()
	s, ok := r.Show.Find(id)
	if !ok {
		t.Fatalf("no cue %q", id)
	}
	for _, c := range s.Channels {
		if c.Channel == n {
			return c
		}
	}
	t.Fatalf("no channel %d in cue %q", n, id)
	return cue.Channel{}
}

// The README's show, computed by hand. Trumpet, cue 1: on the 50 and the front hash, 60 ft = 18.288 m deep. At
// 20 C sound runs 343.2 m/s. To the press box it is sqrt(0 + 48.288^2 + 13.5^2) = 50.1397 m = 146.094 ms; from
// either stack sqrt(20^2 + 28^2 + 12.5^2) = 36.6094 m = 106.671 ms and 4 ms of latency: 110.671 ms. So the
// loudspeaker must wait 35.424 ms, and 10 ms more to let the player be heard first: 45.4 ms.
//
// Baritone, cue 2: 4 inside the 40 is 12 steps = 6.858 m, 8 behind the front hash is 40 steps = 22.86 m. In
// the plan the player is at atan(6.858/52.86) = 7.392 degrees, the stacks at +-35.538: k = tan 7.392 / tan 35.538 =
// 0.18163, p = 4/pi atan k = 0.2288. His way is sqrt(6.858^2 + 52.86^2 + 13.5^2) = 54.9860 m = 160.216 ms, less
// 110.671, plus 10: 59.5 ms.
func TestReadmeShowByHand(t *testing.T) {
	text := func(name string) string {
		b, err := os.ReadFile("../../examples/tiny/" + name)
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	r := files{
		score: text("show.toml"), sets: text("sets.csv"), dots: text("dots.csv"), roster: text("roster.csv"),
		rig: text("rig.toml"),
	}.show(t)
	for _, c := range []struct {
		cue     string
		channel int
		want    cue.Channel
	}{
		{"1", 1, cue.Channel{Open: true, Role: "feature", LevelDB: 0, Pan: 0, DelayMS: 45.4}},
		{"1", 2, cue.Channel{Open: false, LevelDB: cue.Silent, Pan: 0.23, DelayMS: 59.5}},
		{"2", 1, cue.Channel{Open: true, Role: "support", LevelDB: -9, Pan: 0, DelayMS: 45.4}},
		{"2", 2, cue.Channel{Open: true, Role: "feature", LevelDB: 0, Pan: 0.23, DelayMS: 59.5}},
	} {
		got := channelOf(t, r, c.cue, c.channel)
		if got.Open != c.want.Open || got.Role != c.want.Role || got.LevelDB != c.want.LevelDB ||
			got.Pan != c.want.Pan || got.DelayMS != c.want.DelayMS {
			t.Errorf("cue %s channel %d: %+v, want %+v", c.cue, c.channel, got, c.want)
		}
	}
	w, _, _, err := r.Explain("1", "Tpt 1")
	if err != nil || math.Abs(w.Place.ReferenceM-50.1397) > 1e-4 || math.Abs(w.Delay.PlayerMS-146.094) > 1e-3 ||
		math.Abs(w.Delay.FirstMS-110.671) > 1e-3 || math.Abs(w.Delay.WantMS-45.424) > 1e-3 {
		t.Errorf("derivation %+v, %v", w, err)
	}
	s, _ := r.Show.Find("2")
	if s.TimeS != 8 || s.Count != 17 || s.FadeS != 1 || s.Set != "2" { // 16 counts at 120 bpm
		t.Errorf("cue 2: %+v", s)
	}
}

// A cue is read by itself; keep starts from the one before; always stays until a cue closes it.
func TestOpen(t *testing.T) {
	f := base
	f.score += `[always]
support = ["field"]
[[cue]]
id = "1"
at = "1:1"
open.feature = ["A"]
nudge = { A = 2 }
[[cue]]
id = "2"
at = "1:5"
keep = true
open.support = ["B"]
[[cue]]
id = "3"
at = "1:9"
open.support = ["@trumpet"]
open.feature = ["B"]
close = ["field"]
[[cue]]
id = "4"
at = "1:13"
keep = true
close = ["A"]
[[cue]]
id = "5"
at = "1:17"
`
	r := f.show(t)
	for _, c := range []struct{ cue, want string }{
		{"1", "1 feature 2, 9 support -9"},
		{"2", "1 feature 0, 2 support -10.5, 9 support -9"},
		{"3", "1 support -9, 2 feature -1.5"},
		{"4", "2 feature -1.5"},
		{"5", "9 support -9"},
	} {
		s, _ := r.Show.Find(c.cue)
		var open []string
		for _, ch := range s.Channels {
			if ch.Open {
				open = append(open, fmt.Sprintf("%d %s %g", ch.Channel, ch.Role, float64(ch.LevelDB)))
			}
		}
		if got := strings.Join(open, ", "); got != c.want {
			t.Errorf("cue %s opens %q, want %q", c.cue, got, c.want)
		}
		if len(s.Channels) != 3 {
			t.Errorf("cue %s has %d channels, want all 3", c.cue, len(s.Channels))
		}
	}
}

// A pack that goes to another player: the channel's player is whoever wears it then, closed or open.
func TestHandover(t *testing.T) {
	f := base
	f.roster = "player,section,pack,channel,from\nA,trumpet,P1,1,\nB,trumpet,P2,2,\nC,baritone,P1,1,set 2\n"
	f.score += "[[cue]]\nid = \"1\"\nat = \"1:1\"\nopen.feature = [\"A\"]\n[[cue]]\nid = \"2\"\nat = \"1:9\"\n" +
		"open.support = [\"B\"]\n[[cue]]\nid = \"3\"\nat = \"set 2 + 4\"\nopen.feature = [\"C\"]\n"
	r := f.show(t)
	for id, want := range map[string]string{"1": "A", "2": "A", "3": "C"} {
		if got := channelOf(t, r, id, 1).Player; got != want {
			t.Errorf("cue %s: channel 1 is %s's, want %s", id, got, want)
		}
	}
	var wears []string
	for _, w := range r.Lines.Wears(r.Clock.End()) {
		wears = append(wears, fmt.Sprintf("%d %s %s %d:%g-%d:%g", w.Channel, w.Pack, w.Player, w.From.Movement,
			w.From.Count(), w.Until.Movement, w.Until.Count()))
	}
	if got, want := strings.Join(wears, ", "), "1 P1 A 1:1-1:17, 1 P1 C 1:17-1:33, 2 P2 B 1:1-1:33"; got != want {
		t.Errorf("worn: %s, want %s", got, want)
	}
	open := channelOf(t, r, "3", 1)
	if closed := channelOf(t, r, "2", 1); closed.Open || closed.Pan != open.Pan || closed.DelayMS != open.DelayMS {
		t.Errorf("closed %+v does not wait where it is needed next, %+v", closed, open)
	}
	f.score = strings.Replace(f.score, `open.feature = ["C"]`, `open.feature = ["A"]`, 1)
	if _, p := f.compile(t); !strings.Contains(said(p), "A wears no mic in cue \"3\"") {
		t.Errorf("A opened after the handover:\n%s", said(p))
	}
}

// In front of the stacks the delay would be negative: 0 is sent and said. Over the mixer's most, the most.
func TestDelayLimits(t *testing.T) {
	f := base
	f.dots = strings.ReplaceAll(f.dots, "A,0,32", "A,0,-12")
	f.score += "[[cue]]\nid = \"1\"\nat = \"1:1\"\nopen.feature = [\"A\"]\n"
	r := f.show(t)
	if got := channelOf(t, r, "1", 1); got.DelayMS != 0 || !strings.Contains(strings.Join(got.Notes, "\n"),
		"the delay would have to be -22.6 ms") || !strings.Contains(strings.Join(got.Notes,
		"\n"), "between the stacks and the reference seat") {
		t.Errorf("in front of the stacks: %+v", got)
	}
	r, p := base.with("[[cue]]\nid = \"1\"\nat = \"1:1\"\nopen.feature = [\"A\"]\n").compileWith(t,
		func(in *Input) { in.Mixer.Delay.Max = 30 })
	if got := channelOf(t, r, "1", 1); got.DelayMS != 30 || !strings.Contains(said(p),
		`show:13:17: warning: cue "1": the mixer's longest delay of 30 ms is too short for A; worst: A, 45.4 ms`) {
		t.Errorf("over the most: %+v\n%s", got, said(p))
	}
}

func (f files) with(more string) files { f.score += more; return f }

// compileWith compiles with the input changed after reading.
func (f files) compileWith(t *testing.T, change func(*Input)) (*Result, *source.Problems) {
	t.Helper()
	r, p := f.compile(t)
	if p.Errors() > 0 {
		t.Fatal(said(p))
	}
	in := r.Input
	change(&in)
	p = &source.Problems{}
	return Compile(in, p), p
}

// Distance make-up by hand: 50.1397 m over 20 m is 20 log10 2.50699 = 7.983 dB, limited to 6.
func TestMakeUp(t *testing.T) {
	for most, want := range map[string]float64{"6": 6, "10": 7.98} {
		f := base.with("[make_up]\nfrom = 20\nmax = " + most +
			"\n[[cue]]\nid = \"1\"\nat = \"1:1\"\nopen.support = [\"A\"]\n")
		r := f.show(t)
		w, _, _, _ := r.Explain("1", "A")
		if math.Abs(w.Level.MakeUpDB-want) > 0.005 || math.Abs(w.Level.RawDB-(want-9)) > 0.005 {
			t.Errorf("make-up to %s: %+v", most, w)
		}
	}
}

// Side 1 and side 2 swapped, every pan negates and every delay stays.
func TestMirroredShow(t *testing.T) {
	f := base.with("[[cue]]\nid = \"1\"\nat = \"1:1\"\nopen.feature = [\"A\"]\nopen.support = [\"B\"]\n")
	f.dots = "set,player,x,y\n1,A,5.25,32\n2,A,9,38\n3,A,9,38\n1,B,-16,40\n2,B,-13.5,40\n3,B,-16,40\n"
	m := f
	m.dots = "set,player,x,y\n1,A,-5.25,32\n2,A,-9,38\n3,A,-9,38\n1,B,16,40\n2,B,13.5,40\n3,B,16,40\n"
	a, b := f.show(t), m.show(t)
	for _, n := range []int{1, 2} {
		x, y := channelOf(t, a, "1", n), channelOf(t, b, "1", n)
		if x.Pan != -y.Pan || x.Pan == 0 || x.DelayMS != y.DelayMS {
			t.Errorf("channel %d: %+v, mirrored %+v", n, x, y)
		}
	}
}

// Hotter air never lengthens a delay, and another step back never shortens it.
func TestPhysics(t *testing.T) {
	last := math.Inf(1)
	for airC := -20.0; airC <= 45; airC += 2.5 {
		r, _ := base.with("[[cue]]\nid = \"1\"\nat = \"1:1\"\nopen.feature = [\"A\"]\n").compileWith(t,
			func(in *Input) { in.Rig.AirC = airC; in.Rig.LatencyS = 0 })
		w, _, _, _ := r.Explain("1", "A")
		if w.Delay.WantMS > last {
			t.Errorf("at %g C the delay grows to %g ms from %g", airC, w.Delay.WantMS, last)
		}
		last = w.Delay.WantMS
	}
	last = math.Inf(-1)
	for y := 0; y <= 84; y += 4 {
		f := base.with("[[cue]]\nid = \"1\"\nat = \"1:1\"\nopen.feature = [\"A\"]\n")
		f.dots = strings.ReplaceAll(f.dots, "A,0,32", fmt.Sprintf("A,0,%d", y))
		w, _, _, _ := f.show(t).Explain("1", "A")
		if w.Delay.WantMS < last {
			t.Errorf("%d steps deep the delay falls to %g ms from %g", y, w.Delay.WantMS, last)
		}
		last = w.Delay.WantMS
	}
}
