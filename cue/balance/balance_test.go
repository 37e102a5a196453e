package balance_test

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"backfield/cue"
	"backfield/cue/balance"
	"backfield/cue/clock"
	"backfield/cue/compile"
	"backfield/cue/roster"
	"backfield/cue/score"
	"backfield/cue/timeline"
	"backfield/layout"
	"backfield/layout/drill"
	"backfield/layout/level"
	"backfield/layout/level/advice"
	"backfield/layout/rig"
	"backfield/layout/source"
	"backfield/layout/table"
)

// small is a show of one movement of 200 counts at 120: T1 walks from 20 m to 40 m, all others stand.
type small struct {
	head, cues, rig, roster, sets, dots string
	params                              []timeline.Param  // the mixer's own
	parts                               []clock.MusicPart // called by who plays them
}

const (
	mixHead = "[mix]\nsolo = 2\nfeature = 0\npad = -12\npit = -6\n"
	oneRig  = `air = 20
latency = 4
[reference]
x = 0
y = -30
z = 15
[[stands]]
front = { y = -12, z = 2, width = 60 }
back = { y = -40, z = 18, width = 90 }
rows = 4
seats = 10
[[stack]]
name = "left"
at = { x = -20, y = -2, z = 2.5 }
trim = -3
[[stack]]
name = "right"
at = { x = 20, y = -2, z = 2.5 }
[[mic]]
name = "marimba"
kind = "pit"
channel = 21
at = { x = 0, y = -3, z = 1 }
[[mic]]
name = "center"
kind = "field"
channel = 22
at = { x = 0, y = -1, z = 1 }
[[mic]]
name = "keys"
kind = "line"
channel = 23
at = { x = 5, y = -3, z = 1 }
`
	oneRoster = `player,section,pack,channel,from,height
T1,trumpet,P1,1,,
T2,trumpet,P2,2,,1.7
T3,trumpet,,,,1.8
B1,baritone,P3,3,,
B2,baritone,,,,
S1,snare,P4,4,,
S2,snare,,,,
M1,pit,,,,
G1,guard,,,,
`
)

func someDots() string {
	dots := "set,player,x,y\n1,T1,0 m,20 m\n2,T1,0 m,40 m\n"
	for i, name := range []string{"T2", "T3", "B1", "B2", "S1", "S2", "M1", "G1"} {
		for set := 1; set <= 2; set++ {
			dots += fmt.Sprintf("%d,%s,%d m,30 m\n", set, name, 3*i-10)
		}
	}
	return dots
}

func newSmall(cues string) small {
	return small{head: mixHead, cues: cues, rig: oneRig, roster: oneRoster, dots: someDots(),
		sets: "set,movement,counts,hold\n1,1,0,0\n2,1,200,0\n"}
}

func (f small) compile(t *testing.T, p *source.Problems) *compile.Result {
	t.Helper()
	file := func(order int, name, text string) *source.File {
		return &source.File{Name: name, Text: text, Order: order}
	}
	head := "drill = { sets = \"s\", dots = \"d\" }\nroster = \"r\"\nrig = \"g\"\nmixer = \"k\"\n"
	var in compile.Input
	in.Score = score.Read(file(0, "show", head+f.head+"[[movement]]\ntempo = 120\n"+f.cues), p)
	in.Rig = rig.Read(file(4, "rig", f.rig), nil, p)
	in.Drill = drill.Read(drill.Sheets{Sets: file(1, "sets", f.sets), Dots: file(2, "dots", f.dots)}, in.Rig.Field, p)
	in.Roster = roster.Read(file(3, "roster", f.roster), p)
	if f.parts != nil {
		in.Score.Movements[0].Music = &clock.Music{Least: 200, Most: 200, Parts: f.parts,
			Measures: []clock.Measure{{Number: "1", Counts: 200}}}
	}
	for _, part := range f.parts {
		name := table.Text{V: part.Name, Set: true}
		in.Score.Parts = append(in.Score.Parts, score.PartPlayers{Part: name, Names: []table.Text{name}})
	}
	in.Mixer = timeline.MixerSpec{
		Channels: 32, Pan: timeline.Limits{Min: -1, Max: 1, Step: 0.01}, Moves: cue.Glides,
		Delay: timeline.Limits{Max: 500, Step: 0.1}, Level: timeline.Limits{Min: -70, Max: 6, Step: 0.01},
		Send: timeline.Limits{Min: -70, Max: 6, Step: 0.01}, Params: f.params,
	}
	return compile.Compile(in, p)
}

func (f small) read(t *testing.T, p *source.Problems) *balance.Loudness {
	t.Helper()
	r := f.compile(t, p)
	if r.Show == nil {
		t.Fatal(printed(p))
	}
	return balance.New(&balance.CompiledShow{CompileSetup: r.Setup, Clock: r.Clock, Lines: r.Lines, Cues: r.Cues,
		Spans: r.Spans, Show: r.Show}, p)
}

func printed(p *source.Problems) string {
	var b strings.Builder
	source.Print(&b, p.All())
	return b.String()
}

func (f small) loud(t *testing.T) *balance.Loudness {
	t.Helper()
	var p source.Problems
	l := f.read(t, &p)
	if l == nil {
		t.Fatal(printed(&p))
	}
	return l
}

func cueAt(id string, count int, rest string) string {
	return fmt.Sprintf("[[cue]]\nid = %q\nat = \"1:%d\"\n%s\n", id, count, rest)
}

// who writes the performers of a scene: * for featured, the level where it is not forte, a ~ for those who rest.
func who(p *level.Playing) string {
	var list []string
	for _, x := range p.Performers {
		text := x.Name
		if x.Featured {
			text += "*"
		}
		if x.DynamicsDB != 0 {
			text += fmt.Sprintf("%+g", x.DynamicsDB)
		}
		if x.Rests {
			text += "~"
		}
		list = append(list, text)
	}
	return strings.Join(list, " ")
}

// Who plays and who is featured, from what a cue has open.
func TestWhoPlays(t *testing.T) {
	for _, c := range []struct{ cue, want, role, not string }{
		{`open.solo = ["T1"]`, "T1*", "solo", "trumpet 2 baritone 2 snare 2 pit 1"},
		{`open.feature = ["@trumpet"]`, "T1* T2* T3*", "feature", "baritone 2 snare 2 pit 1"},
		{`open.feature = ["T1", "T2"]`, "T1* T2* T3*", "feature", "baritone 2 snare 2 pit 1"},
		{"open.solo = [\"T1\"]\nopen.pad = [\"@trumpet\"]", "T1* T2 T3", "solo", "baritone 2 snare 2 pit 1"},
		{"open.solo = [\"T1\"]\nopen.pad = [\"T2\"]", "T1* T2 T3", "solo", "baritone 2 snare 2 pit 1"},
		{`open.feature = ["B1"]`, "B1*", "feature", "trumpet 3 baritone 1 snare 2 pit 1"},
		{`open.feature = ["@baritone"]`, "B1* B2*", "feature", "trumpet 3 snare 2 pit 1"},
		{"open.pad = [\"T1\"]\nopen.pit = [\"marimba\"]", "T1* M1-4", "pad", "trumpet 2 baritone 2 snare 2"},
		{"open.feature = [\"T1\"]\nopen.pad = [\"S1\"]", "T1* S1", "feature", "trumpet 2 baritone 2 snare 1 pit 1"},
		{`open.pit = ["center", "keys"]`, "", "", "trumpet 3 baritone 2 snare 2 pit 1"},
	} {
		x := newSmall(cueAt("1", 1, c.cue)).loud(t).Cue(0)
		if got := who(x.Ends[0].Playing); got != c.want || x.Role != c.role {
			t.Errorf("%s: %q in role %q, want %q in %q", c.cue, got, x.Role, c.want, c.role)
		}
		var not []string
		others := 0
		for _, u := range x.NotCounted {
			not = append(not, fmt.Sprintf("%s %d", u.Section, len(u.Names)))
			others += len(u.Names)
		}
		if got := strings.Join(not, " "); got != c.not {
			t.Errorf("%s: not counted %q, want %q", c.cue, got, c.not)
		}
		if n := len(x.Ends[0].Others); n != others {
			t.Errorf("%s: %d others play mf, want %d", c.cue, n, others)
		}
	}
}

// What a cue says of who plays, and how loudly: a name before its section, rests before plays, and the cue before the
// role.
func TestStated(t *testing.T) {
	const soft = "solo = { level = 2, dynamics = \"ff\" }\nfeature = 0\npad = { level = -12, dynamics = \"p\" }\npit = -6\n"
	for _, c := range []struct{ head, cue, want, unstated string }{
		{mixHead, "open.solo = [\"T1\"]\nplays = [\"@baritone\", \"S2\"]", "T1* B1 B2 S2",
			"[{trumpet 1 f} {baritone 2 f} {snare 1 f}]"},
		{mixHead, "open.feature = [\"@trumpet\"]\nrests = [\"T3\"]", "T1* T2*", "[{trumpet 2 f}]"},
		{mixHead, "open.feature = [\"@trumpet\"]\nrests = [\"@trumpet\"]\nplays = [\"T1\"]", "T1* T2*~", "[{trumpet 1 f}]"},
		{mixHead, "open.feature = [\"T1\"]\nplays = [\"@trumpet\"]\nrests = [\"T2\"]", "T1* T3", "[{trumpet 2 f}]"},
		{"[mix]\n" + soft, "open.solo = [\"T1\"]\nopen.pad = [\"@baritone\"]", "T1*+6 B1-12 B2-12", "[]"},
		{"[mix]\n" + soft, "open.solo = [\"T1\"]\nplays = [\"@trumpet\"]", "T1*+6 T2 T3", "[{trumpet 2 f}]"},
		{"[mix]\n" + soft, "open.solo = [\"T1\"]\nopen.pad = [\"@trumpet\"]", "T1*+6 T2-12 T3-12", "[]"},
		{"[mix]\n" + soft, "open.solo = [\"T1\"]\nopen.pad = [\"@baritone\"]\n" +
			"dynamics = { \"@baritone\" = \"mp\", B2 = -3.5, T1 = \"f\" }", "T1* B1-8 B2-3.5", "[]"},
		{mixHead, "open.pit = [\"marimba\"]\nopen.solo = [\"T1\"]\ndynamics = { \"@pit\" = \"p\" }", "T1* M1-12",
			"[{trumpet 1 f}]"},
	} {
		f := newSmall(cueAt("1", 1, c.cue))
		f.head = c.head
		x := f.loud(t).Cue(0)
		if got := who(x.Ends[0].Playing); got != c.want {
			t.Errorf("%s: %q, want %q", c.cue, got, c.want)
		}
		if got := fmt.Sprint(x.NotStated); got != c.unstated {
			t.Errorf("%s: not stated %s, want %s", c.cue, got, c.unstated)
		}
	}
}

// What the music says of who plays, and how loudly, holds where no cue says it, and goes before the role.
func TestMusicSaysWhoPlays(t *testing.T) {
	part := func(player string, from, to, db float64, marked bool) clock.MusicPart {
		return clock.MusicPart{Name: player, Notes: []clock.PlayedNote{
			{From: from, To: to, DynamicsDB: db, Marked: marked},
		}}
	}
	parts := []clock.MusicPart{
		part("T1", 0, 100, -4, true), part("T2", 120, 140, 6, true), part("B2", 10, 40, -12, true),
		part("T3", 10, 40, 0, false),
	}
	for _, c := range []struct{ cue, want, unstated string }{
		{`open.solo = ["T1"]`, "T1*-4 T3 B2-12", "[{trumpet 1 f}]"}, // T2 plays later, T3 has no mark
		{"open.solo = [\"T1\"]\ndynamics = { T1 = \"ff\" }\nrests = [\"B2\"]", "T1*+6 T3", "[{trumpet 1 f}]"},
		{`open.feature = ["@trumpet"]`, "T1*-4 T2*+6~ T3* B2-12", "[{trumpet 1 f}]"}, // T2 is open and rests
	} {
		f := newSmall(cueAt("1", 1, c.cue) + cueAt("2", 101, c.cue+"\nnudge = { T1 = 1 }"))
		f.parts = parts
		x := f.loud(t).Cue(0)
		if got := who(x.Ends[0].Playing); got != c.want {
			t.Errorf("%s: %q, want %q", c.cue, got, c.want)
		}
		if got := fmt.Sprint(x.NotStated); got != c.unstated {
			t.Errorf("%s: not stated %s, want %s", c.cue, got, c.unstated)
		}
	}
}

// Those who rest are not counted among those of whom nobody knows.
func TestRestsAreCounted(t *testing.T) {
	x := newSmall(cueAt("1", 1, "open.solo = [\"T1\"]\nrests = [\"@baritone\", \"T2\", \"@snare\"]")).loud(t).Cue(0)
	if got := fmt.Sprint(x.NotCounted); got != "[{trumpet [T1] [T3]} {pit [] [M1]}]" {
		t.Errorf("not counted: %s", got)
	}
}

// [balance] says what levels should reach.
func TestGoals(t *testing.T) {
	f := newSmall(cueAt("1", 1, `open.pad = ["T1"]`) + cueAt("2", 9, `open.solo = ["T1"]`))
	f.head += "[balance]\npad = 1.5\nshare = 75\nover = \"8 dB\"\nmargin = 3\n"
	l := f.loud(t)
	if g := l.Cue(0).Goal; g == nil || *g != (advice.Goal{TargetDB: 1.5, SharePct: 75, OverDB: 8, MarginDB: 3, RoomDB: 18}) {
		t.Errorf("goal %+v", g)
	}
	if g := l.Cue(1).Goal; g == nil || g.TargetDB != 6 || g.RoomDB != 4 {
		t.Errorf("goal of a solo %+v, want 6 dB by default", g)
	}
}

// A soloist whose fader is under the others is still featured: of open roles, those of which a lead is wanted come first.
// Without any of these, the loudest is.
func TestQuietSoloistIsFeatured(t *testing.T) {
	f := newSmall(cueAt("1", 1, "open.solo = [\"T1\"]\nopen.pad = [\"B1\"]") + cueAt("2", 9, "open.pad = [\"B1\"]"))
	f.head = strings.Replace(f.head, "solo = 2\n", "solo = -30\n", 1)
	l := f.loud(t)
	for i, want := range []string{"solo [T1]", "pad [B1]"} {
		c, names := l.Cue(i), []string(nil)
		for _, p := range c.Ends[0].Playing.Performers {
			if p.Featured {
				names = append(names, p.Name)
			}
		}
		if got := c.Role + " " + fmt.Sprint(names); got != want {
			t.Errorf("cue %d features %s, want %s", i+1, got, want)
		}
	}
	if worn := l.Cue(0).Worn; !slices.Equal(worn, []string{"solo", "pad"}) {
		t.Errorf("worn mics are open in %v", worn)
	}
}

// What nobody can mean is refused where it is written.
func TestMistakes(t *testing.T) {
	for _, c := range []struct{ head, cue, want string }{
		{mixHead, `plays = ["@tromboon"]`, `no section "tromboon" in the roster`},
		{mixHead, `rests = ["T9"]`, `no player "T9" in the roster`},
		{mixHead, `plays = ["marimba"]`, `a fixed mic does not play`},
		{mixHead, "plays = [\"T1\"]\nrests = [\"T1\"]", `T1 is among those who play and those who rest`},
		{mixHead, `dynamics = { T1 = "loud" }`, `unknown dynamic mark "loud"`},
		{mixHead, `dynamics = { T1 = 40 }`, `dynamics, in dB from forte, cannot be 40`},
		{mixHead, `dynamics = { X1 = "f" }`, `no player "X1" in the roster`},
		{mixHead + "over = 3\n", "", `a role cannot be called "over"`},
		{mixHead + "[balance]\nsollo = 4\n", "", `did you mean "solo"?`},
		{mixHead + "[balance]\nshare = 0\n", "", `the share, in percent of the seats, cannot be 0`},
	} {
		f := newSmall(cueAt("1", 1, "open.solo = [\"T1\"]\n"+c.cue))
		f.head = c.head
		var p source.Problems
		f.compile(t, &p)
		if got := printed(&p); p.Errors() == 0 || !strings.Contains(got, c.want) {
			t.Errorf("%s%s: want %q, said\n%s", c.head, c.cue, c.want, got)
		}
	}
}

// The scene of a show is what the files say, and what is heard of it is what the engine hears of a scene made by hand.
func TestScene(t *testing.T) {
	l := newSmall(cueAt("1", 1, "open.solo = [\"T1\"]\nopen.pad = [\"B1\"]\nopen.pit = [\"marimba\", \"keys\"]") +
		cueAt("2", 101, `open.pad = ["@trumpet"]`)).loud(t)
	x := l.Cue(0)
	if !slices.Equal(l.Lines, []string{"keys"}) || !slices.Equal(l.Silent, []string{"guard"}) {
		t.Errorf("lines %v, silent %v", l.Lines, l.Silent)
	}
	if got := fmt.Sprint(x.NotStated); got != "[{trumpet 1 f} {baritone 1 f} {pit 1 mf}]" {
		t.Errorf("not stated: %s", got)
	}
	for end, y := range []float64{20, 30} {
		p := x.Ends[end].Playing
		if at, want := p.Performers[0].At, (layout.Point{Y: y, Z: 1.5}); at.Distance(want) > 1e-9 {
			t.Errorf("end %d: T1 at %v, want %v", end, at, want)
		}
	}
	if z := l.Cue(1).Ends[0].Playing.Performers; z[1].At.Z != 1.7 || z[2].At.Z != 1.8 {
		t.Errorf("heights %v and %v, want those of the roster", z[1].At.Z, z[2].At.Z)
	}
	if got := len(x.Loops); got != 401 {
		t.Errorf("%d loops over 100 counts, want one every quarter count", got)
	}

	// By hand: the stacks aim at the middle row, 26 m in front of the sideline and 10 m up.
	at := func(x, y, z float64) layout.Point { return layout.Point{X: x, Y: y, Z: z} }
	stacks := []level.AimedStack{level.DefaultStack(at(-20, -2, 2.5), at(-20, -26, 10)),
		level.DefaultStack(at(20, -2, 2.5), at(20, -26, 10))}
	stacks[0].TrimDB = -3
	s := level.NewStadium(level.Conditions{Air: level.Air{C: 20, HumidityPct: 50}, Box: at(0, -30, 15), Stacks: stacks,
		BellUpDeg: 10, NominalDB: 100})
	named := func(name string) *level.Instrument { i, _ := level.InstrumentByName(name); return i }
	// T1, the pit mic at x = 0, and B1 at x = -4 are sent by the constant-power law; the pans are those that were compiled.
	send := func(pan float64) []float64 {
		l, r := math.Cos((pan+1)*math.Pi/4), math.Sin((pan+1)*math.Pi/4)
		return []float64{20 * math.Log10(l), 20 * math.Log10(r)}
	}
	p := &level.Playing{
		Performers: []level.Performer{
			{Instrument: named("trumpet"), At: at(0, 20, 1.5), Featured: true},
			{Instrument: named("baritone"), At: at(-4, 30, 1.5)},
			{Instrument: named("pit"), At: at(8, 30, 1.5), DynamicsDB: -4},
		},
		Worn: []level.WornMic{
			{Strip: level.Strip{FaderDB: 2, SendDB: send(0)}, Wearer: 0, FromBellM: 0.12},
			{Strip: level.Strip{FaderDB: -12, SendDB: x.Ends[0].Playing.Worn[1].SendDB}, Wearer: 1, FromBellM: 0.12},
		},
		Fixed: []level.FixedMic{{Strip: level.Strip{FaderDB: -6, SendDB: send(0)}, At: at(0, -3, 1), OmniShare: 1,
			Facing: level.Back}},
	}
	later := *p
	later.Performers = slices.Clone(p.Performers)
	later.Performers[0].At.Y = 30
	p.Fixed[0].HighestDB = max(s.MicDB(p, &p.Fixed[0]), s.MicDB(&later, &p.Fixed[0]))
	want, got := s.Hear(p).Box, x.Heard[0].Box
	same := func(what string, a, b float64) {
		if math.Abs(a-b) > 1e-6 {
			t.Errorf("%s: %.6f, by hand %.6f", what, a, b)
		}
	}
	same("own", got.FeaturedOwn.ADB(), want.FeaturedOwn.ADB())
	same("stacks", got.FeaturedStacks.ADB(), want.FeaturedStacks.ADB())
	same("bed", got.Bed().ADB(), want.Bed().ADB())
	a, _ := x.Loops[0].Gains.GreatestDB()
	b, _ := s.Loops(p).GreatestDB()
	same("loop", a, b)
	if x.Goal == nil || x.Goal.TargetDB != 6 || math.Abs(x.Goal.RoomDB-4) > 1e-9 {
		t.Errorf("goal %+v, want 6 dB of lead with 4 dB of room", x.Goal)
	}
	if x.Advice == nil {
		t.Error("a solo over a bed got no proposal")
	}
}

// An instrument that nobody knows is an error if it plays or wears a mic. A guard is not.
func TestNoInstrument(t *testing.T) {
	f := newSmall(cueAt("1", 1, `open.solo = ["T1"]`))
	f.roster = strings.ReplaceAll(f.roster, "baritone", "kazoo")
	var p source.Problems
	if l := f.read(t, &p); l != nil {
		t.Error("a kazoo with a mic is taken")
	}
	if got := printed(&p); !strings.Contains(got, "no-instrument") || !strings.Contains(got, "roster:5") ||
		!strings.Contains(got, "kazoo") || strings.Contains(got, "guard") {
		t.Errorf("said:\n%s", got)
	}
}

// The roster says what somebody plays, where the mic is and how the preamp is set.
func TestRosterSound(t *testing.T) {
	f := newSmall(cueAt("1", 1, `open.solo = ["T1", "B1", "S1"]`))
	f.roster = "player,section,pack,channel,instrument,mic,meter\nT1,trumpet,P1,1,mellophone,0.17,-2\n" +
		"B1,brass,P2,2,baritone,0,\nS1,snare,P3,3,,,\nT2,trumpet,,,,,\nT3,trumpet,,,,,\nB2,brass,,,baritone,,\n" +
		"S2,snare,,,,,\nM1,pit,,,,,\nG1,guard,,,,,\n"
	x := f.loud(t).Cue(0).Ends[0].Playing
	for i, want := range []string{"mellophone 0.17 -2", "baritone 0 0", "snare 0.12 0"} {
		m := &x.Worn[i]
		if got := fmt.Sprint(x.Performers[m.Wearer].Instrument.Name, " ", m.FromBellM, " ", m.MeterDB); got != want {
			t.Errorf("mic %d: %s, want %s", i, got, want)
		}
	}
	for _, c := range []struct{ old, new, want string }{
		{"mellophone", "melophone", `did you mean "mellophone"?`},
		{"P3,3,,,", "P3,3,,0,", "0 m from a snare, which has no bell"},
		{"baritone,0", "baritone,3", "a mic 3 m from its bell"},
		{"0.17,-2", "0.17,-70", "a meter that reads -70 dB"},
	} {
		g := f
		g.roster = strings.Replace(f.roster, c.old, c.new, 1)
		var p source.Problems
		if r := g.compile(t, &p); r.Show != nil {
			balance.New(&balance.CompiledShow{CompileSetup: r.Setup, Clock: r.Clock, Lines: r.Lines, Cues: r.Cues,
				Spans: r.Spans, Show: r.Show}, &p)
		}
		if got := printed(&p); p.Errors() != 1 || !strings.Contains(got, c.want) {
			t.Errorf("%s: want %q, said\n%s", c.new, c.want, got)
		}
	}
}

// Readings are applied in their order, each without the background and with those before it: noise and brass to all,
// a solo to its player, a ring to its mic.
func TestReadings(t *testing.T) {
	at := func(x, y, z float64) layout.Point { return layout.Point{X: x, Y: y, Z: z} }
	box := at(0, -30, 15)
	left := level.DefaultStack(at(-20, -2, 2.5), at(-20, -26, 10))
	left.TrimDB = -3
	s := level.NewStadium(level.Conditions{Air: level.Air{C: 20, HumidityPct: 30}, Box: box, BellUpDeg: 5,
		Stacks: []level.AimedStack{left}})
	// What the meter reads: N 103 through the left stack; the baritones in set 2, 2.5 dB louder than the table and mf; T1
	// 1.5 dB louder still. Over all of it lies a background of 45 dBA.
	over := func(dba float64) float64 { return level.Sum(dba, 45) }
	noise := over(103 - s.NominalFromNoise(0, 0, 0, box))
	baritone, _ := level.InstrumentByName("baritone")
	trumpet, _ := level.InstrumentByName("trumpet")
	var own []float64
	for _, x := range []float64{-4, -1} {
		e := s.Own(&level.Performer{Instrument: baritone, At: at(x, 30, 1.5), DynamicsDB: -4}, box)
		own = append(own, e.ADB())
	}
	solo := s.Own(&level.Performer{Instrument: trumpet, At: at(0, 40, 1.5)}, box)
	f := newSmall(cueAt("1", 1, "open.solo = [\"T1\"]\nopen.pad = [\"@baritone\", \"center\"]"))
	f.rig = "humidity = 30\nbell_up = 5\n" + f.rig + fmt.Sprintf(`[levels]
background = 45
noise = { stack = "left", dba = %.6f }
brass = { section = "baritone", set = "2", dynamics = "mf", dba = %.6f }
solo = [{ player = "T1", set = "2", dba = %.6f }]
ring = [{ mic = "center", fader = -1.5 }]
`, noise, over(level.Sum(own...)+2.5), over(solo.ADB()+2.5+1.5))
	l := f.loud(t)
	x := l.Cue(0)
	for _, c := range []struct {
		what      string
		got, want float64
	}{
		{"N", l.Stadium.NominalDB, 103}, {"band", l.Stadium.BandDB, 2.5},
		{"T1", x.Ends[0].Playing.Performers[0].PlayerDB, 1.5}, {"B1", x.Ends[0].Playing.Performers[1].PlayerDB, 0},
		{"background", *l.Stadium.BackgroundDB, 45},
	} {
		if math.Abs(c.got-c.want) > 1e-4 {
			t.Errorf("%s: %.5f dB, want %g", c.what, c.got, c.want)
		}
	}
	for _, m := range x.Loops[0].Gains.Mics {
		if db, _ := m.GreatestDB(); m.Name == "center" && math.Abs(db-(-12+1.5)) > 1e-6 {
			t.Errorf("center loops at %.3f dB, want 10.5 below where it rang", db)
		}
	}
	if want := (advice.Measured{Noise: true, Brass: true, Solo: true}); x.Measured != want || !l.RingRead("center") ||
		l.RingRead("marimba") {
		t.Errorf("measured %+v", x.Measured)
	}
	if again := l.ToRead(); again.Section != "baritone" || again.Set != "2" {
		t.Errorf("read %s in set %s again, want the baritones in set 2 as before", again.Section, again.Set)
	}
	if m := newSmall(cueAt("1", 1, `open.solo = ["T1"]`)).loud(t).Cue(0).Measured; m != (advice.Measured{}) {
		t.Errorf("measured %+v where nothing was read", m)
	}
}

// Noise without brass, brass without noise and a soloist without both count as nothing: no figure moves, and none is called
// measured.
func TestOneReadingAlone(t *testing.T) {
	f := newSmall(cueAt("1", 1, "open.solo = [\"T1\"]\nopen.pad = [\"@baritone\", \"center\"]"))
	before, err := json.Marshal(f.loud(t).Cue(0).Ends)
	if err != nil {
		t.Fatal(err)
	}
	rig := f.rig
	for _, line := range []string{`noise = { stack = "left", dba = 70 }`, `brass = { section = "baritone", set = "2", dba = 75 }`,
		`solo = [{ player = "T1", set = "2", dba = 66 }]`} {
		f.rig = rig + "[levels]\n" + line + "\n"
		x := f.loud(t).Cue(0)
		after, err := json.Marshal(x.Ends)
		if err != nil {
			t.Fatal(err)
		}
		if string(after) != string(before) || x.Measured.Calibrated() || x.Measured.Solo {
			t.Errorf("%s: measured %+v\n%s\nwithout it\n%s", line, x.Measured, after, before)
		}
	}
}

// A reading that says nothing or names nobody is not used, and one that is most likely wrong is named: each in one warning,
// and the show goes on.
func TestOddReadings(t *testing.T) {
	const brass = `brass = { section = "baritone", set = "2", dba = `
	for _, c := range []struct{ levels, want string }{
		{"background = 60\nnoise = { stack = \"left\", dba = 62 }", "read it nearer to the stack, write the place as `at`"},
		{"background = 60\n" + brass + "62.9 }", "level-noise"},
		{"background = 60\nsolo = [{ player = \"T1\", set = \"2\", dba = 50 }]",
			"it is not used; wait until it is quieter and read it again, or remove the line [level-noise]"},
		{`noise = { stack = "left", dba = 110 }`, "level-odd"},
		{brass + "90 }", "level-odd"},
		{`ring = [{ mic = "center", fader = 55 }]`, "by this, center rings with the fader"},
		{`noise = { stack = "lefd", dba = 70 }`, `no stack is called "lefd": this reading is not used; did you mean "left"?`},
		{`noise = { stack = "rumble", dba = 70 }`, `"rumble" is a sub, and subs do not count`},
		{`brass = { section = "tubas", set = "2", dba = 70 }`, `no section of the roster is called "tubas"`},
		{`brass = { section = "baritone", set = "9", dba = 70 }`, `no set "9" in the drill`},
		{`brass = { section = "baritone", set = "2", dynamics = "loud", dba = 70 }`, `unknown dynamic mark "loud"`},
		{`brass = { section = "guard", set = "2", dba = 70 }`, `guard has no dot in set 2`},
		{`brass = { section = "snare", set = "2", dba = 80 }`, "snare is not a brass section"},
		{`solo = [{ player = "T9", set = "2", dba = 60 }]`, `no player of the roster is called "T9"`},
		{`ring = [{ mic = "pitt", fader = 4 }]`, `no fixed mic is called "pitt": this reading is not used; it is one of`},
		{`ring = [{ mic = "keys", fader = 4 }]`, `keys comes in on a line, so it cannot ring`},
		{`ring = [{ mic = "marimba", fader = 4 }]`, `no cue opens marimba`},
		{`noise = { stack = "left", dba = 900 }`, "a reading of 900 dB is out of range"},
		{"solo = [{ player = \"T1\", set = \"2\", dba = 61 },\n{ player = \"T1\", set = \"1\", dba = 66 }]",
			"T1 is read twice, 66 here and 61 in line "},
		{"ring = [{ mic = \"center\", fader = 4 },\n{ mic = \"center\", fader = 4 }]", "center is read twice, 4 here and 4 in line "},
	} {
		got, problems := levelProblems(t, c.levels)
		if !strings.Contains(got, c.want) || problems != 1 {
			t.Errorf("%s: want %s once, said\n%s", c.levels, c.want, got)
		}
	}
	// All at once: none hides another.
	got, problems := levelProblems(t, `background = 47
noise = { stack = "lefd", dba = 900 }
brass = { section = "tubas", set = "9", dba = 70 }
solo = [{ player = "T9", set = "99", dba = 48 }]
ring = [{ mic = "center", fader = 80 }]
`)
	for _, want := range []string{"900 dB", `"tubas"`, `no set "9"`, `"T9"`, `"99"`, "level-noise", "80 dB"} {
		if !strings.Contains(got, want) || problems != 7 {
			t.Errorf("no %s among %d problems:\n%s", want, problems, got)
		}
	}
	f := newSmall(cueAt("1", 1, `open.solo = ["T1"]`))
	f.roster = strings.Replace(f.roster, "from,height\nT1,trumpet,P1,1,,", "from,meter\nT1,trumpet,P1,1,,-13", 1)
	f.roster = strings.NewReplacer("1.7", "", "1.8", "").Replace(f.roster)
	var p source.Problems
	if f.read(t, &p); !strings.Contains(printed(&p), "the preamp of T1 is -13 dB off nominal") {
		t.Errorf("a preamp 13 dB off is not named:\n%s", printed(&p))
	}
}

// A player without a dot is silent and named.
func TestNoDot(t *testing.T) {
	f := newSmall(cueAt("1", 1, `open.solo = ["@trumpet"]`))
	f.dots = strings.Replace(f.dots, "2,T3,-7 m,30 m\n", "", 1)
	x := f.loud(t).Cue(0)
	if got := who(x.Ends[1].Playing); got != "T1* T2*" || !slices.Equal(x.NoDot, []string{"T3"}) {
		t.Errorf("%q play at the end, without a dot %v", got, x.NoDot)
	}
}

// With zones the sends are those of the place, as it glides.
func TestZoneSends(t *testing.T) {
	f := newSmall(cueAt("1", 1, `open.solo = ["T1"]`))
	f.dots = strings.Replace(f.dots, "2,T1,0 m,40 m", "2,T1,15 m,20 m", 1)
	f.rig = "feed = \"zones\"\n" + strings.Replace(strings.Replace(f.rig, "z = 2.5 }\ntrim", "z = 2.5 }\nzone = 7\ntrim", 1),
		"x = 20, y = -2, z = 2.5 }", "x = 20, y = -2, z = 2.5 }\nzone = 3", 1)
	x := f.loud(t).Cue(0)
	for end, right := range []float64{0.5, 0.99} {
		s := x.Ends[end].Playing.Worn[0].SendDB
		l, r := math.Pow(10, s[0]/10), math.Pow(10, s[1]/10)
		if math.Abs(l+r-1) > 0.01 || end == 0 && math.Abs(r-right) > 0.01 || end == 1 && r < 0.6 {
			t.Errorf("end %d: energies %.3f left, %.3f right", end, l, r)
		}
	}
}

// A stack has the beam that the rig gives it, and a mouth of no size is refused.
func TestStackBeam(t *testing.T) {
	for beam, want := range map[string]string{"": "90 40 0.5", "cover = [60, 30]\nmouth = \"0.8 m\"\n": "60 30 0.8"} {
		f := newSmall(cueAt("1", 1, `open.solo = ["T1"]`))
		f.rig = strings.Replace(f.rig, "trim = -3\n", "trim = -3\n"+beam, 1)
		k := f.loud(t).Stadium.Stacks[0]
		if got := fmt.Sprint(k.AcrossDeg, " ", k.UpDeg, " ", k.MouthM); got != want {
			t.Errorf("%q: %s, want %s", beam, got, want)
		}
	}
	for _, beam := range []string{"mouth = 0", "cover = [90]", "cover = [0, 40]", "cover = [90, 400]"} {
		f := newSmall(cueAt("1", 1, `open.solo = ["T1"]`))
		f.rig = strings.Replace(f.rig, "trim = -3\n", "trim = -3\n"+beam+"\n", 1)
		var p source.Problems
		if f.compile(t, &p); p.Errors() != 1 || !strings.Contains(printed(&p), "out-of-range") {
			t.Errorf("%s: said\n%s", beam, printed(&p))
		}
	}
}

// levelProblems are what is said of readings in a small show, and how often. A show with wrong readings has its levels.
func levelProblems(t *testing.T, levels string) (text string, n int) {
	t.Helper()
	f := newSmall(cueAt("1", 1, `open.solo = ["T1", "center", "keys"]`))
	f.rig += "[[stack]]\nname = \"rumble\"\nsub = true\nat = { x = 0, y = -2, z = 0.5 }\n[levels]\n" + levels + "\n"
	var p, found source.Problems
	if f.read(t, &p) == nil || p.Errors() > 0 {
		t.Errorf("%s: no levels", levels)
	}
	for _, x := range p.All() {
		if strings.HasPrefix(x.Code, "level-") {
			found.Add(x)
		}
	}
	return printed(&found), len(found.All())
}
