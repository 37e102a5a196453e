package tonight

import (
	"fmt"
	"math/rand"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"backfield/cue/compile"
	"backfield/layout/source"
)

// Each thing that a night can say, and what the cues are then, by hand. A cue is looked for by the beginning of its line.
func TestNights(t *testing.T) {
	const (
		all = "1 at 1:1 (1:1, 0s): A:1 feature 0, B:2 feature -1.5, C:3 feature 0, field:9 pad -9"
		two = "2 at set 2 (1:17, 8s): A:1 solo 4.5, B:2 pad -11.5, E:4 pad -9"
	)
	for _, x := range []struct {
		name, night string
		want        []string
		gone        []string // ids
	}{
		{"nothing", "", []string{all, two, "8 at set 7 + 2 (3:3, 55s): A:1 feature 0, B:2 feature -1.5, C:3 feature 0, " +
			"F:4 feature 0"}, nil},
		{"notes", `notes = ["bring water"]`, []string{all, two}, nil},
		{"absent", `absent = ["A"]`, []string{strings.Replace(all, "A:1 feature 0, ", "", 1),
			"2 at set 2 (1:17, 8s): B:2 pad -11.5, E:4 pad -9", "7 at set 6 - 4 (2:29, 48s): field:9 feature 0"}, nil},
		{"the first of two on a pack is absent", `absent = ["E"]`, []string{"2 at set 2 (1:17, 8s): A:1 solo 4.5, B:2 pad -11.5",
			"5 at set 4 (2:1, 20s): B:2 solo 1.5, F:4 pad -9"}, nil},
		{"the second of two on a pack is absent, and the first keeps it", `absent = ["F"]`, []string{two,
			"5 at set 4 (2:1, 20s): B:2 solo 1.5", "8 at set 7 + 2 (3:3, 55s): A:1 feature 0, B:2 feature -1.5, C:3 feature 0, " +
				"E:4 feature 0"}, nil},
		{"a section is absent", `absent = ["@baritone"]`, []string{"2 at set 2 (1:17, 8s): A:1 solo 4.5, B:2 pad -11.5",
			"4 at set 3 (1:33, 16s): "}, nil},
		{"a substitute without a pack takes the other's", "absent = [\"A\"]\nsubstitute = { \"A\" = \"D\" }", []string{
			strings.Replace(all, "A:1", "D:1", 1), strings.Replace(two, "A:1", "D:1", 1)}, nil},
		{"one who has a pack keeps it, and takes the louder place", "absent = [\"A\"]\nsubstitute = { A = \"B\" }", []string{
			"2 at set 2 (1:17, 8s): B:2 solo 3, E:4 pad -9", "3 at set 2 + 8 (1:25, 12s): B:2 solo 1.5, C:3 feature 0, E:4 pad -9",
			"6 at set 5 (2:17, 36s): B:2 solo 1.5, C:3 feature 0, F:4 pad -9", "9 at set 8 - 2 (3:15, 61s): B:2 pad -10.5"}, nil},
		{"one who has a pack leaves it for the other's", `absent = ["A"]
substitute = { A = { player = "B", pack = true } }`, []string{"2 at set 2 (1:17, 8s): B:1 solo 4.5, E:4 pad -9"}, nil},
		{"a substitute of another section", "absent = [\"A\"]\nsubstitute = { A = { player = \"F\", pack = true } }", []string{
			"1 at 1:1 (1:1, 0s): B:2 feature -1.5, C:3 feature 0, field:9 pad -9",
			"2 at set 2 (1:17, 8s): F:1 solo 4.5, B:2 pad -11.5, E:4 pad -9"}, nil},
		{"a substitute for one who is there", `substitute = { A = "C" }`, []string{all,
			"2 at set 2 (1:17, 8s): B:2 pad -11.5, C:3 solo 4.5, E:4 pad -9"}, nil},
		{"dead", `dead = ["P1"]`, []string{strings.Replace(all, "A:1 feature 0, ", "", 1),
			"2 at set 2 (1:17, 8s): B:2 pad -11.5, E:4 pad -9"}, nil},
		{"dead, by its player", `dead = ["A"]`, []string{"2 at set 2 (1:17, 8s): B:2 pad -11.5, E:4 pad -9"}, nil},
		{"dead, and it goes from one to another", `dead = ["P4"]`, []string{"2 at set 2 (1:17, 8s): A:1 solo 4.5, B:2 pad -11.5",
			"5 at set 4 (2:1, 20s): B:2 solo 1.5"}, nil},
		{"spares", `dead = ["P3", { P1 = 21, P4 = 22 }]`, []string{
			"2 at set 2 (1:17, 8s): B:2 pad -11.5, A:21 solo 4.5, E:22 pad -9", "5 at set 4 (2:1, 20s): B:2 solo 1.5, F:22 pad -9"},
			nil},
		{"swapped", `swapped = [["P1", "P4"]]`, []string{"2 at set 2 (1:17, 8s): E:1 pad -9, B:2 pad -11.5, A:4 solo 4.5",
			"5 at set 4 (2:1, 20s): F:1 pad -9, B:2 solo 1.5"}, nil},
		{"swapped, and one of them dead", "swapped = [[\"P1\", \"P4\"]]\ndead = [\"P1\"]", []string{
			"2 at set 2 (1:17, 8s): B:2 pad -11.5, A:4 solo 4.5"}, nil},
		// 2 s of wait before the third movement are left: it begins at 16 + 2 s. Cue 7 goes there.
		{"a movement is cut", `cut = ["movement 2"]`, []string{two, "7 at 3:1 (3:1, 18s): A:1 feature 0, field:9 feature 0",
			"8 at set 7 + 2 (3:3, 19s)"}, []string{"4", "5", "6"}},
		{"by its name", `cut = ["night"]`, []string{"8 at set 7 + 2 (3:3, 19s)"}, []string{"5", "6"}},
		{"the last movement is cut", `cut = ["movement 3"]`, []string{"7 at set 6 - 4 (2:29, 48s)"}, []string{"8", "9"}},
		{"the first movement is cut", `cut = ["movement 1"]`, []string{"5 at set 4 (2:1, 0s)", "6 at set 5 (2:17, 16s)"},
			[]string{"1", "2", "3", "4"}},
		{"two movements are cut", `cut = ["movement 1 .. movement 2"]`, []string{"7 at 3:1 (3:1, 0s)", "8 at set 7 + 2 (3:3, 1s)"},
			[]string{"1", "6"}},
		// What is open in cue 6 is open at the joint.
		{"a cut between cues", `cut = ["set 2 .. set 6 - 6"]`, []string{all,
			"6 at set 6 - 6 (2:27, 8s): A:1 feature 0, B:2 solo 1.5, C:3 feature 0, F:4 pad -9", "7 at set 6 - 4 (2:29, 10s)"},
			[]string{"2", "3", "4", "5"}},
		{"a cut to a cue", `cut = ["1:9 to set 3"]`, []string{all, "4 at set 3 (1:33, 4s): E:4 feature 0"}, []string{"2", "3"}},
		{"a cut to the end", `cut = ["set 5 .. end"]`, []string{"5 at set 4 (2:1, 20s)"}, []string{"6", "7", "8", "9"}},
		{"from", `from = "set 5 + 3"`, []string{"6 at set 5 + 3 (2:20, 0s): A:1 feature 0, B:2 solo 1.5, C:3 feature 0, " +
			"F:4 pad -9", "7 at set 6 - 4 (2:29, 9s): A:1 feature 0, field:9 feature 0"}, []string{"1", "5"}},
		{"from a cue", `from = "set 3"`, []string{"4 at set 3 (1:33, 0s): E:4 feature 0"}, []string{"3"}},
		{"from the beginning", `from = "1:1"`, []string{all, two}, nil},
	} {
		s := small().shown(t, x.night)
		got := strings.Split(words(s), "\n")
		for _, want := range x.want {
			if !slices.ContainsFunc(got, func(line string) bool { return strings.HasPrefix(line, want) }) {
				t.Errorf("%s: no %s in\n%s", x.name, want, strings.Join(got, "\n"))
			}
		}
		for _, id := range x.gone {
			if _, ok := s.Find(id); ok {
				t.Errorf("%s: cue %s is there", x.name, id)
			}
		}
	}
}

// An automatic cue whose cue before is cut waits for a press; one that is nearer to it says so.
func TestAutomaticOverJoints(t *testing.T) {
	f := small()
	f.score = strings.Replace(f.score, `at = "set 3"`, "after = 6", 1) // cue 4, after cue 3
	for _, x := range []struct {
		night, want, said string
	}{
		{"", "4 at 1:31 (1:31, 15s) auto", ""},
		{`cut = ["set 2 + 10 .. set 2 + 12"]`, "4 at 1:31 (1:31, 14s) auto",
			`automatic cue "4" goes 4 counts after cue "3" instead of 6 counts: the rest is cut`},
		{`cut = ["set 2 .. 1:30.5"]`, "4 at 1:31 (1:31, 8.25s) auto", `goes 0.5 counts after cue "3"`},
		{`cut = ["set 2 .. 1:31"]`, "4 at 1:31 (1:31, 8s): ", `automatic cue "4" waits for a press tonight: cue "3"`},
		{`from = "1:31"`, "4 at 1:31 (1:31, 0s): ", `automatic cue "4" waits for a press tonight: cue "3"`},
	} {
		r, p := f.play(t, x.night, "")
		if r.Show == nil {
			t.Fatal(said(p))
		}
		if got := words(r.Show); !strings.Contains(got, x.want) || !strings.Contains(said(p), x.said) {
			t.Errorf("%s: no %q in\n%s\n or no %q in\n%s", x.night, x.want, got, x.said, said(p))
		}
	}
}

// Each mistake is one message at its place, and all of them come at once.
func TestMistakes(t *testing.T) {
	rain := "player,x,y\nA,0,10\nB,4,10\nD,8,10\n"
	for _, x := range []struct {
		night string
		want  []string // place, code and a part of the message of each error and of each warning about the night
	}{
		{`absent = ["Z", "AA"]`, []string{`1:11 unknown-player nobody in the show is called "Z"`, `1:16 unknown-player "AA"`}},
		{`absent = ["trumpets", "@tuba"]`, []string{`1:11 unknown-player all of the section: write "@trumpet"`,
			`1:23 unknown-section no section is called "@tuba"`}},
		{"substitute = { Z = \"A\", B = \"Y\" }", []string{`1:16 unknown-player "Z"`, `1:29 unknown-player "Y"`}},
		{"absent = [\"A\", \"B\"]\nsubstitute = { A = \"B\" }", []string{"1:11 no-lead cue 2 (solo: A); cue 5 (solo: B)",
			"2:20 substitute-absent B is absent too, so A needs another substitute; choose somebody who is there; with a pack: C"}},
		{"substitute = { A = \"B\", B = \"C\", C = \"A\" }", []string{
			"1:16 substitute-circle these play for one another in a circle: A, B and C"}},
		{"substitute = { A = \"A\" }", []string{"1:16 substitute-circle A plays for themself"}},
		{"substitute = { D = \"F\", F = \"D\" , A = \"D\" }", []string{"1:16 substitute-circle D and F"}},
		{"dead = [\"P1\"]\nsubstitute = { A = { player = \"D\", pack = true } }", []string{
			"1:9 no-lead cue 2 (solo: A)", "2:31 substitute-pack A has no pack tonight that D could take"}},
		{"absent = [\"A\"]\nsubstitute = { A = { player = \"D\", pack = false } }", []string{"1:11 no-lead cue 2",
			"2:31 substitute-pack D has no pack to play for A with; write pack = true"}},
		{"substitute = { A = { player = \"C\", dots = \"mine\" } }", []string{`1:43 bad-choice unknown dots "mine"`}},
		{`dead = ["P9", "Q"]`, []string{`1:9 unknown-pack no pack of the roster is called "P9"; did you mean "P1"?`,
			`1:15 unknown-pack "Q"; it is one of "P1", "P2", "P3", "P4"`}},
		{`dead = [{P1 = 2, P2 = 9, P3 = 99}]`, []string{"1:15 channel-twice channel 2 is the one of B",
			"1:23 channel-twice channel 9 is the one of field", "1:31 no-such-channel the mixer has no channel 99; it has 64"}},
		{`dead = [7]`, []string{`1:9 wrong-type a pack such as "P07"`}},
		{`swapped = [["P1", "P1"], ["P2"], ["P2", "P8"], ["P3", "P2"], ["P2", "P4"]]`, []string{
			"1:19 pack-swap P1 cannot be swapped with itself", `1:26 wrong-type two packs such as`, `1:41 unknown-pack "P8"`,
			"1:63 pack-swap P2 is swapped twice"}},
		{`cut = ["movement 1 .. end"]`, []string{"1:8 nothing-left the cuts leave no cue of the show; cut less"}},
		{`cut = ["movement 1", "movement 2", "movement 3"]`, []string{"1:8 nothing-left"}},
		{`cut = ["set 4", "movement 7", "set 4 .. set 2", "set 2 .. set 99", "soup .. set 2", "1:9 .. 1:999"]`, []string{
			`1:8 bad-cut "set 4" is not a part of the show; write "movement 2"`, "1:17 unknown-movement it has 3",
			"1:31 bad-cut does not end after it begins", `1:49 unknown-set no set "99"`, `1:68 unreadable-count "soup" is not a count`,
			"1:85 unreadable-count movement 1 has only 32 counts"}},
		{`from = "set 77"`, []string{`1:8 unknown-set no set "77"`}},
		{`standing = "set 77"`, []string{`1:12 unknown-set no set "77"`}},
		{`standing = "set 2 + 4"`, []string{`1:12 bad-standing nobody stands between two sets; write "set 2" alone`}},
		{`standing = "rain.csv"`, []string{"1:12 no-place rain.csv has no place for 3 players with a mic: C, E, F"}},
		{"standing = \"rain.csv\"\nabsent = [\"C\", \"@baritone\"]", []string{"2:11 no-lead cue 3 (feature: C); cue 4 (feature: E)"}},
		{`air = "hot"`, []string{"1:7 bad-quantity"}},
		{`absnt = ["A"]`, []string{`1:1 unknown-key did you mean "absent"?`, "1:10 no-lead cue 2"}},
	} {
		_, p := small().play(t, x.night, rain)
		var got []string
		for _, y := range p.All() {
			if y.Severity == source.Error || y.Span.File.Name == "tonight.toml" || y.Span.File.Name == "rain.csv" {
				line, column := y.Span.Position()
				got = append(got, fmt.Sprintf("%d:%d %s %s; %s", line, column, y.Code, y.What, y.Do))
			}
		}
		slices.Sort(got)
		if len(got) != len(x.want) {
			t.Errorf("%s:\n got %s\nwant %s", x.night, strings.Join(got, "\n     "), strings.Join(x.want, "\n     "))
			continue
		}
		for _, want := range x.want {
			parts := strings.SplitN(want, " ", 3)
			head := parts[0] + " " + parts[1] + " "
			if !slices.ContainsFunc(got, func(line string) bool {
				return strings.HasPrefix(line, head) && (len(parts) < 3 || strings.Contains(line, parts[2]))
			}) {
				t.Errorf("%s: no %q in\n     %s", x.night, want, strings.Join(got, "\n     "))
			}
		}
	}
}

// A sheet of places: those with a mic must be in it.
func TestRain(t *testing.T) {
	rain := "player,x,y\nA,0,10\nB,4,10\nC,8,10\nE,-8,10\nF,-16,12\n"
	r, p := small().play(t, `standing = "rain.csv"`, rain)
	if r.Show == nil {
		t.Fatal(said(p))
	}
	if !strings.Contains(said(p), "rain.csv has no place for 1 player without a mic: D") {
		t.Error(said(p))
	}
	for i := range r.Show.Cues {
		for _, c := range r.Show.Cues[i].Channels {
			if c.Location != c.End || len(c.Glide) > 0 {
				t.Errorf("cue %s, %s: from %v to %v, glide %v", r.Show.Cues[i].ID, c.Player, c.Location, c.End, c.Glide)
			}
			if c.Player == "F" && (c.X != -16*0.5715 || c.Y != 12*0.5715 || c.Z != 1.7) {
				t.Errorf("F is at %v", c.Location)
			}
		}
	}
	// A substitute who walks in the other's dots stands in the other's place.
	r, p = small().play(t, "absent = [\"A\"]\nsubstitute = { A = { player = \"D\", dots = \"theirs\" } }\nstanding = \"rain.csv\"", rain)
	if r.Show == nil {
		t.Fatal(said(p))
	}
	if c := r.Show.Cues[0].Channels[0]; c.Player != "D" || c.X != 0 || c.Y != 10*0.5715 {
		t.Errorf("%s is at %v", c.Player, c.Location)
	}
}

// Dots of a substitute: their own, or the other's; of one who has none, the other's.
func TestWhoseDots(t *testing.T) {
	f := small()
	f.roster += "G,trumpet,,,,,\n"
	where := func(f files, night, player string) string {
		for _, c := range f.shown(t, night).Cues[1].Channels {
			if c.Player == player {
				return fmt.Sprint(c.X, c.Y)
			}
		}
		return ""
	}
	ofA, ofD := where(f, "", "A"), ""
	own := "absent = [\"A\"]\nsubstitute = { A = { player = \"D\" } }"
	if ofD = where(f, own, "D"); ofD == ofA || ofD == "" {
		t.Errorf("own dots: D at %s, A at %s", ofD, ofA)
	}
	if got := where(f, strings.Replace(own, `"D"`, `"D", dots = "theirs"`, 1), "D"); got != ofA {
		t.Errorf("the other's dots: D at %s, A at %s", got, ofA)
	}
	if got := where(f, strings.Replace(own, `"D"`, `"G"`, 1), "G"); got != ofA {
		t.Errorf("no dots: G at %s, A at %s", got, ofA)
	}
}

// edit makes a change to the show's files as a person would type it.
func (f files) edit(absent, dead []string, standing int, air string) files {
	noMic := map[string]bool{}
	gone := map[string]bool{}
	packs := map[string]bool{}
	for _, name := range absent {
		noMic[name], gone[name] = true, true
	}
	for _, pack := range dead {
		packs[pack] = true
	}
	var roster []string
	for _, line := range strings.Split(f.roster, "\n") {
		cells := strings.Split(line, ",")
		if gone[cells[0]] {
			continue
		}
		if len(cells) > 3 && packs[cells[2]] {
			noMic[cells[0]] = true
			if cells[4] != "" && strings.Count(f.roster, "\n"+cells[0]+",") > 1 {
				continue
			}
			cells[2], cells[3], cells[4] = "", "", ""
			line = strings.Join(cells, ",")
		}
		roster = append(roster, line)
	}
	f.roster = strings.Join(roster, "\n")
	sections := map[string]bool{} // that have a mic, at any time
	there := map[string]bool{}    // that have a player
	for _, line := range roster {
		if cells := strings.Split(line, ","); len(cells) > 3 {
			there["@"+cells[1]] = true
			if cells[2] != "" {
				sections["@"+cells[1]] = true
			}
		}
	}
	lists := regexp.MustCompile(`(?m)^([a-z.]+) = \[(".*")\]\n`)
	f.score = lists.ReplaceAllStringFunc(f.score, func(line string) string {
		m := lists.FindStringSubmatch(line)
		var left []string
		for _, name := range strings.Split(m[2], ", ") {
			bare := strings.Trim(name, `"`)
			group := strings.HasPrefix(bare, "@")
			switch {
			case m[1] == "plays" && (gone[bare] || group && !there[bare]):
			case m[1] != "plays" && (noMic[bare] || group && !sections[bare]):
			default:
				left = append(left, name)
			}
		}
		if len(left) == 0 {
			return ""
		}
		return fmt.Sprintf("%s = [%s]\n", m[1], strings.Join(left, ", "))
	})
	for name := range noMic {
		f.score = regexp.MustCompile(`"`+name+`" = [-0-9.]+(, )?`).ReplaceAllString(f.score, "")
	}
	f.score = strings.ReplaceAll(strings.ReplaceAll(f.score, ",  }", " }"), "nudge = {  }\n", "")
	at := map[string]string{} // where each player stands
	var dots []string
	for _, line := range strings.Split(f.dots, "\n") {
		cells := strings.SplitN(line, ",", 3)
		if len(cells) == 3 && cells[0] == strconv.Itoa(standing) {
			at[cells[1]] = cells[2]
		}
	}
	for _, line := range strings.Split(f.dots, "\n") {
		cells := strings.SplitN(line, ",", 3)
		if len(cells) == 3 && gone[cells[1]] {
			continue
		}
		if len(cells) == 3 && standing > 0 && cells[0] != "set" {
			line = cells[0] + "," + cells[1] + "," + at[cells[1]]
		}
		dots = append(dots, line)
	}
	f.dots = strings.Join(dots, "\n")
	if air != "" {
		f.rig = strings.Replace(f.rig, `air = "20 C"`, fmt.Sprintf("air = %q", air), 1)
	}
	return f
}

// A night compiles to the bytes of a copy of the show that was edited by hand.
func TestRandomNightsAsEdits(t *testing.T) {
	rng := rand.New(rand.NewSource(19))
	pick := func(from []string) (list []string) {
		for _, x := range from {
			if rng.Intn(4) == 0 {
				list = append(list, x)
			}
		}
		return list
	}
	tried := 0
	for range 60 {
		f := small()
		// Packs that go from one to another are not what a text edit keeps in order.
		f.roster = strings.Replace(f.roster, "F,baritone,P4,4,set 4,1.7,", "F,baritone,P5,5,,1.7,", 1)
		absent, dead := pick([]string{"A", "B", "C", "D", "E", "F"}), pick([]string{"P1", "P2", "P3", "P4", "P5"})
		standing, air := rng.Intn(12), ""
		if standing > 8 {
			standing = 0
		}
		if rng.Intn(3) == 0 {
			air = "31 C"
		}
		quoted := func(list []string) string {
			return strings.ReplaceAll(fmt.Sprintf("%q", list), " ", ", ")
		}
		for _, name := range absent { // the pack of one who is absent is nobody's to be dead
			pack := regexp.MustCompile(`(?m)^` + name + `,[a-z]+,(P\d)`).FindStringSubmatch(f.roster)
			dead = slices.DeleteFunc(dead, func(x string) bool { return pack != nil && x == pack[1] })
		}
		night := fmt.Sprintf("absent = %s\ndead = %s\n", quoted(absent), quoted(dead))
		if standing > 0 {
			night += fmt.Sprintf("standing = \"set %d\"\n", standing)
		}
		if air != "" {
			night += fmt.Sprintf("air = %q\n", air)
		}
		got, p := f.play(t, night, "")
		want, p2 := f.edit(absent, dead, standing, air).play(t, "", "")
		if (got.Show == nil) != (want.Show == nil) {
			t.Fatalf("%s\n%s\nas edited:\n%s", night, said(p), said(p2))
		}
		if got.Show == nil {
			continue
		}
		tried++
		if a, b := encoded(t, got), encoded(t, want); a != b {
			t.Fatalf("%s\n%s\nas edited:\n%s", night, a, b)
		}
	}
	if tried < 40 {
		t.Errorf("only %d nights compiled", tried)
	}
}

func encoded(t *testing.T, r *compile.Result) string {
	t.Helper()
	data, err := r.Show.Encode()
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

// A night of any bytes is read, reported and played without a crash, and the show's own files are as they were.
func FuzzNight(f *testing.F) {
	for _, s := range []string{"absent = [\"A\"]\nsubstitute = { A = \"D\" }", "dead = [\"P1\", { P2 = 21 }]", "cut = [\"movement 2\", " +
		"\"set 2 .. set 3\"]\nfrom = \"1:9\"", "standing = \"set 2\"\nair = 31", "standing = \"rain.csv\"", "swapped = [[\"P1\", \"P2\"]]",
		"notes = [\"a\"]\n[levels]\nbackground = 50", "absent = [\"@trumpet\"]\ncut = [\"1:1 .. end\"]"} {
		f.Add(s, "player,x,y\nA,0,10\n")
	}
	show := small()
	f.Fuzz(func(t *testing.T, night, rain string) {
		var p source.Problems
		full := show.read(&p)
		before := encoded(t, compile.Compile(compile.Input{Files: full}, &p))
		file, err := source.Open("tonight.toml", []byte(night), 1<<20)
		if err != nil {
			return
		}
		var q source.Problems
		plan := Read(file, &q)
		if sheet, err := source.Open("rain.csv", []byte(rain), 1<<20); err == nil {
			plan.Places = sheet
		}
		in := compile.Input{Files: plan.Apply(&full, &q)}
		if r := compile.Compile(in, &q); (r.Show == nil) != (q.Errors() > 0) {
			t.Fatalf("%d errors, show %v", q.Errors(), r.Show != nil)
		}
		for _, x := range q.All() {
			if x.What == "" || x.Do == "" && x.Code != "cannot-read" {
				t.Fatalf("%s: %q, %q", x.Code, x.What, x.Do)
			}
		}
		var again source.Problems
		if after := encoded(t, compile.Compile(compile.Input{Files: full}, &again)); after != before {
			t.Fatal("the show itself has changed")
		}
	})
}
