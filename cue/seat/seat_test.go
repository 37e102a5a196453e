package seat_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"backfield/cue"
	"backfield/cue/balance"
	"backfield/cue/clock"
	"backfield/cue/compile"
	"backfield/cue/roster"
	"backfield/cue/score"
	"backfield/cue/seat"
	"backfield/cue/timeline"
	"backfield/layout"
	"backfield/layout/drill"
	"backfield/layout/rig"
	"backfield/layout/seatname"
	"backfield/layout/source"
	"backfield/layout/stands"
)

// venue is a show of one trumpet who stands 18 m from the front sideline, at a place x, and a line; cue 1 opens both.
type venue struct{ rig, x, score, instrument string }

// worked is the example of a published page on these delays ("Delays that move", section 14): two stacks, the left one 10
// ms late, the right one 9 dB softer, and three surveyed seats.
const worked = `air = 20
latency = 4
[reference]
x = 0
y = -48
z = 0
[[stack]]
name = "left"
at = { x = -20, y = 0, z = 0 }
delay = "10 ms"
[[stack]]
name = "right"
at = { x = 20, y = 0, z = 0 }
trim = -9
[[mic]]
name = "keys"
kind = "line"
channel = 23
at = { x = 5, y = -3, z = 1 }
`

// threeSeats are those of the example.
var threeSeats = []stands.Seat{{At: layout.Point{Y: -15}, Weight: 1}, {At: layout.Point{X: -20, Y: -30}, Weight: 2},
	{At: layout.Point{X: 20, Y: -30}, Weight: 1}}

func (v venue) compile(t *testing.T, seats []stands.Seat) (*seat.Audience, *compile.Result, *seatname.Stands) {
	t.Helper()
	var p source.Problems
	file := func(order int, name, text string) *source.File {
		return &source.File{Name: name, Text: text, Order: order}
	}
	head := "drill = { sets = \"s\", dots = \"d\" }\nroster = \"r\"\nrig = \"g\"\nmixer = \"k\"\n[mix]\nsolo = 2\n" +
		"[[movement]]\ntempo = 120\n[[cue]]\nid = \"1\"\nat = \"1:1\"\nopen.solo = [\"T1\", \"keys\"]\n" +
		"[[cue]]\nid = \"2\"\nat = \"1:20\"\nclose = [\"T1\", \"keys\"]\n"
	var in compile.Input
	in.Score = score.Read(file(0, "show", v.score+head), &p)
	in.Rig = rig.Read(file(4, "rig", v.rig), nil, &p)
	in.Rig.Surveyed = seats
	in.Drill = drill.Read(drill.Sheets{Sets: file(1, "sets", "set,movement,counts,hold\n1,1,0,0\n2,1,40,0\n"),
		Dots: file(2, "dots", strings.ReplaceAll("set,player,x,y\n1,T1,X m,18 m\n2,T1,X m,18 m\n", "X", v.x))},
		in.Rig.Field, &p)
	in.Roster = roster.Read(file(3, "roster", "player,section,pack,channel,height\nT1,"+v.instrument+",P1,1,0\n"), &p)
	in.Mixer = timeline.MixerSpec{
		Channels: 32, Pan: timeline.Limits{Min: -1, Max: 1, Step: 0.01}, Moves: cue.Glides,
		Delay: timeline.Limits{Max: 500, Step: 0.1}, Level: timeline.Limits{Min: -70, Max: 6, Step: 0.01},
		Send: timeline.Limits{Min: -70, Max: 6, Step: 0.01},
	}
	r := compile.Compile(in, &p)
	if r.Show == nil {
		var b strings.Builder
		source.Print(&b, p.All())
		t.Fatal(b.String())
	}
	var loud *balance.Loudness
	if v.instrument == "trumpet" {
		loud = balance.New(&balance.CompiledShow{CompileSetup: r.Setup, Clock: r.Clock, Lines: r.Lines, Cues: r.Cues,
			Spans: r.Spans, Show: r.Show}, &p)
	}
	return seat.New(r, loud), r, seatname.Of(in.Rig)
}

// ask asks what a seat hears of T1 at count 1.
func ask(t *testing.T, a *seat.Audience, s *seatname.Stands, name string, way seat.Way) *seat.Heard {
	t.Helper()
	place, err := s.Find(name)
	if err != nil {
		t.Fatal(err)
	}
	h, err := a.Hear(seat.Question{Seat: place, Mic: "T1", At: clock.Moment{Movement: 1}, Way: way})
	if err != nil {
		t.Fatal(err)
	}
	return h
}

// told is a seat's arrivals, the level of the stacks against the louder of them.
func told(h *seat.Heard) string {
	var list []string
	most := math.Inf(-1)
	for _, a := range h.Arrivals {
		if a.Kind == seat.StackKind {
			most = max(most, a.LevelDB)
		}
	}
	for _, a := range h.Arrivals {
		if a.Kind == seat.PlayerKind {
			list = append(list, fmt.Sprintf("%s %.3f", a.From, a.TimeMS))
			continue
		}
		mark := ""
		if a.Echo {
			mark = " echo"
		}
		list = append(list, fmt.Sprintf("%s %.3f %+.2f%s", a.From, a.TimeMS, a.LevelDB-most, mark))
	}
	return strings.Join(list, ", ")
}

// TestWorkedExample holds arrivals, gaps and verdicts to the numbers of the example, which were computed by hand.
func TestWorkedExample(t *testing.T) {
	t.Parallel()
	a, _, s := venue{worked, "0", "", "horn"}.compile(t, threeSeats)
	for _, c := range []struct {
		seat, told string
		gap        float64
		verdict    string
	}{
		{"seat 1", "T1 96.154, right 128.744 -9.00, left 138.744 +0.00", 51.9 - 19.310,
			"Late by 8 ms: close to an echo"},
		{"seat 2", "T1 151.515, left 153.313 +0.00, right 201.588 -13.44", 51.9 - 50.103,
			"In time: the player first, then the stacks"},
		{"seat 3", "right 143.313 -4.56, T1 151.515, left 211.588 +0.00 echo", 51.9 - 60.103,
			"Early by 8 ms: you hear the stack, not the player"},
		{"box", "T1 192.308, right 207.415 -9.00, left 217.415 +0.00", 51.9 - 31.953,
			"In time: the player first, then the stacks"},
	} {
		h := ask(t, a, s, c.seat, seat.Compiled)
		if told(h) != c.told {
			t.Errorf("%s hears %s\nwant %s", c.seat, told(h), c.told)
		}
		if h.GapMS == nil || math.Abs(*h.GapMS-c.gap) > 0.002 || h.Verdict != c.verdict {
			t.Errorf("%s: %q, %v; want %q, %.3f", c.seat, h.Verdict, *h.GapMS, c.verdict, c.gap)
		}
		place, _ := s.Find(c.seat)
		if all := a.Gaps(place, clock.Moment{Movement: 1}); len(all) != 1 || all[0].Player != "T1" || // keys is a line
			all[0].GapMS != *h.GapMS || all[0].State != h.State {
			t.Errorf("%s: of all open mics it hears %+v", c.seat, all)
		}
		if h.Levels != seat.Assumed || h.DelayMS != 51.9 {
			t.Errorf("%s: levels are %s, delay %g", c.seat, h.Levels, h.DelayMS)
		}
	}
	// With no delay all stacks come 51.9 ms earlier, and nothing else moves.
	with, without := ask(t, a, s, "seat 2", seat.Compiled), ask(t, a, s, "seat 2", seat.NoDelay)
	if math.Abs(*with.GapMS-*without.GapMS-51.9) > 1e-9 || without.State != seat.Early || *without.InTime != 0 {
		t.Errorf("no delay: gap %g after %g, %s", *without.GapMS, *with.GapMS, without.State)
	}
	if share := *with.InTime; share != 0.5 {
		t.Errorf("%g of the seats are in time, want 0.5", share)
	}
}

// Directions are seen from the seat: the field is ahead, side 2 to the right, and the player below a high seat.
func TestDirections(t *testing.T) {
	t.Parallel()
	a, _, s := venue{worked, "0", "", "horn"}.compile(t, []stands.Seat{{At: layout.Point{X: -20, Y: -20, Z: 20}, Weight: 1}})
	for _, x := range ask(t, a, s, "seat 1", seat.Compiled).Arrivals {
		want := map[string][2]float64{"left": {0, -45}, "right": {math.Atan2(40, 20), -math.Atan2(20, math.Hypot(40, 20))},
			"T1": {math.Atan2(20, 38), -math.Atan2(20, math.Hypot(20, 38))}}[x.From]
		if x.From != "left" {
			want[0], want[1] = want[0]*180/math.Pi, want[1]*180/math.Pi
		}
		if math.Abs(x.AzimuthDeg-want[0]) > 1e-9 || math.Abs(x.ElevationDeg-want[1]) > 1e-9 {
			t.Errorf("%s is at %g, %g degrees, want %g", x.From, x.AzimuthDeg, x.ElevationDeg, want)
		}
	}
}

// TestLevelsAreThoseOfBalance holds the levels to those that balance computes for the same mic at the same place.
func TestLevelsAreThoseOfBalance(t *testing.T) {
	t.Parallel()
	for _, zones := range []bool{false, true} {
		v := venue{worked, "5", "", "trumpet"}
		if zones {
			v.rig = strings.NewReplacer("latency = 4\n", "latency = 4\nfeed = \"zones\"\n", "delay = \"10 ms\"\n", "delay = \"10 ms\"\nzone = 2\n",
				"trim = -9\n", "trim = -9\nzone = 1\n").Replace(v.rig)
		}
		a, r, s := v.compile(t, threeSeats)
		var p source.Problems
		l := balance.New(&balance.CompiledShow{CompileSetup: r.Setup, Clock: r.Clock, Lines: r.Lines, Cues: r.Cues,
			Spans: r.Spans, Show: r.Show}, &p)
		playing := l.Moment(0, clock.Moment{Movement: 1})
		m := &playing.Worn[0]
		for n, at := range threeSeats {
			h := ask(t, a, s, fmt.Sprintf("seat %d", n+1), seat.Compiled)
			want := map[string]float64{"T1": l.Stadium.OwnTerms(&playing.Performers[m.Wearer], at.At).LevelDB.ADB()}
			for k, name := range []string{"left", "right"} {
				if terms, ok := l.Stadium.WornTerms(playing, m, k, at.At); ok {
					want[name] = terms.LevelDB.ADB()
				}
			}
			most := math.Inf(-1)
			for _, db := range want {
				most = max(most, db)
			}
			if len(h.Arrivals) != 3 || len(want) != 3 || h.Levels != seat.Estimated || h.GiveOrTakeDB != 9 {
				t.Errorf("%d arrivals, want %d; %s, give or take %g", len(h.Arrivals), len(want), h.Levels, h.GiveOrTakeDB)
			}
			for _, x := range h.Arrivals {
				if math.Abs(x.LevelDB-(want[x.From]-most)) > 0.01 || x.LevelDBA != nil {
					t.Errorf("zones %t, seat %d, %s: %.4f dB, balance has %.4f", zones, n+1, x.From, x.LevelDB,
						want[x.From]-most)
				}
			}
		}
	}
}

// The other feed has a path of its own; it is the one that a show with that feed has.
func TestOtherFeed(t *testing.T) {
	t.Parallel()
	zones := strings.NewReplacer("latency = 4\n", "latency = 4\nfeed = \"zones\"\n", "delay = \"10 ms\"\n", "delay = \"10 ms\"\nzone = 1\n",
		"trim = -9\n", "trim = -9\nzone = 2\n").Replace(worked)
	stereoShow, _, s := venue{worked, "5", "", "horn"}.compile(t, threeSeats)
	zoneShow, _, _ := venue{zones, "5", "", "horn"}.compile(t, threeSeats)
	for _, name := range []string{"seat 1", "seat 2", "seat 3", "box"} {
		for way, shows := range map[seat.Way][2]*seat.Audience{seat.Zones: {stereoShow, zoneShow}, seat.Stereo: {zoneShow, stereoShow}} {
			got, want := ask(t, shows[0], s, name, way), ask(t, shows[1], s, name, seat.Compiled)
			if same := ask(t, shows[1], s, name, way); told(same) != told(want) {
				t.Errorf("%s: %s is %s, as compiled %s", name, way, told(same), told(want))
			}
			if got.GapMS == nil || want.GapMS == nil {
				t.Errorf("%s by %s: %s: %s; %s", name, way, got.Verdict, told(got), told(want))
			} else if math.Abs(*got.GapMS-*want.GapMS) > 0.1 || len(got.Arrivals) != len(want.Arrivals) {
				t.Errorf("%s by %s: gap %g of %s, want %g of %s", name, way, *got.GapMS, told(got), *want.GapMS, told(want))
			}
		}
	}
}

// What cannot be answered is said in words.
func TestNoAnswer(t *testing.T) {
	t.Parallel()
	a, _, s := venue{worked, "0", "", "horn"}.compile(t, threeSeats)
	box := s.PressBox()
	for want, q := range map[string]seat.Question{
		`no player and no fixed mic "T9"`:                      {Seat: box, Mic: "T9", At: clock.Moment{Movement: 1}, Way: seat.Compiled},
		`no way "mono"; it is compiled, none, stereo or zones`: {Seat: box, Mic: "T1", At: clock.Moment{Movement: 1}, Way: "mono"},
	} {
		if h, err := a.Hear(q); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%+v, %v; want %s", h, err, want)
		}
	}
	for channel, want := range map[int]string{1: "T1", 23: "keys", 9: "no channel 9"} {
		if name, err := a.MicOf(channel, clock.Moment{Movement: 1}); name != want && (err == nil || !strings.Contains(err.Error(), want)) {
			t.Errorf("channel %d is %q, %v", channel, name, err)
		}
	}
	h, err := a.Hear(seat.Question{Seat: box, Mic: "keys", At: clock.Moment{Movement: 1}, Way: seat.Compiled})
	if err != nil || h.State != seat.NoPlayer || h.GapMS != nil || len(h.Arrivals) != 2 {
		t.Errorf("a line: %+v, %v", h, err)
	}
	h, err = a.Hear(seat.Question{Seat: box, Mic: "T1", At: clock.Moment{Movement: 1, Elapsed: 30}, Way: seat.Compiled})
	if err != nil || !h.Closed || h.Cue != "1" {
		t.Errorf("while the mic is closed: %+v, %v", h, err)
	}
}

// Where the stacks are far louder than the player, the first sound does not lead. That is said only once noise and brass
// were measured.
func TestLoudStacks(t *testing.T) {
	t.Parallel()
	for dba, want := range map[string]string{"": "In time: the trumpet first, then the stacks", "66": "In time: the trumpet first, then the stacks",
		"99": "In time, but the stacks lead: "} {
		v := venue{worked, "0", "", "trumpet"}
		if dba != "" {
			v.rig += "[levels]\nnoise = { stack = \"left\", dba = " + dba + " }\nbrass = { section = \"trumpet\", set = \"1\", dba = 60 }\n"
		}
		a, _, s := v.compile(t, threeSeats)
		h := ask(t, a, s, "seat 2", seat.Compiled)
		if !strings.HasPrefix(h.Verdict, want) {
			t.Errorf("noise %q: %q, want %q; %s; %s %+v", dba, h.Verdict, want, h.Levels, h.Why, h.Arrivals)
		}
		if (h.Levels == seat.Measured) != (dba != "") || (h.Arrivals[0].LevelDBA != nil) != (dba != "") {
			t.Errorf("noise %q: the levels are %s", dba, h.Levels)
		}
	}
}
