package causes_test

import (
	"encoding/json"
	"fmt"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"backfield/cue/causes"
	"backfield/cue/work"
)

const demo = "../../examples/harbor"

// A role's level is one line, whatever number of mics it moves.
func TestRoleLevel(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("it compiles the demo")
	}
	old := filesOf(t, demo)
	r := between(t, old, old.with(t, "show.toml", "support = { level = -9,", "support = { level = -7,"))
	lines := r.Lines()
	if len(lines) != 2 || !strings.HasPrefix(lines[1], "role support: level -9 -> -7 dB; +2.0 dB for ") {
		t.Errorf("a role's level is\n%s", strings.Join(lines, "\n"))
	}
}

// moved is the demo with one dot moved back by some steps, of a player with a mic where the depth has steps.
func moved(t *testing.T, f files, player, set string, steps int) files {
	t.Helper()
	row := regexp.MustCompile(`(?m)^` + set + `,` + player + `,("[^"]*"|[^,]*),.*$`).FindString(f["dots.csv"])
	if row == "" {
		t.Fatalf("%s has no dot in set %s", player, set)
	}
	depth := regexp.MustCompile(`,(?:([\d.]+) (behind|in front of)|on) ([^,]*)$`).FindStringSubmatchIndex(row)
	if depth == nil {
		t.Fatalf("the depth of %q is written otherwise", row)
	}
	at := 0.0
	if depth[2] >= 0 {
		at, _ = strconv.ParseFloat(row[depth[2]:depth[3]], 64)
		if row[depth[4]:depth[5]] == "in front of" {
			at = -at
		}
	}
	way, by := "behind", at+float64(steps)
	if by < 0 {
		way, by = "in front of", -by
	}
	return f.with(t, "dots.csv", row, fmt.Sprintf("%s,%g %s %s", row[:depth[0]], by, way, row[depth[6]:depth[7]]))
}

// One dot is one line, which names the player, the set, the cues, and by how much at most.
func TestOneDot(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("it compiles the demo")
	}
	old := filesOf(t, demo)
	r := between(t, old, moved(t, old, "Bari 6", "4", 4))
	lines := r.Lines()
	form := regexp.MustCompile(`^Bari 6, set 4: 4 steps back; moves in cues? [\w ,]+, by at most ([\d.]+) ms[^;]*; nobody else moves$`)
	if len(lines) != 2 || !form.MatchString(lines[1]) {
		t.Fatalf("one dot is\n%s", strings.Join(lines, "\n"))
	}
	most, _ := strconv.ParseFloat(form.FindStringSubmatch(lines[1])[1], 64)
	if most < 5 || most > 8 { // 4 steps are 2.3 m, at most 6.6 ms of sound, and somewhat more with pan
		t.Errorf("4 steps move the delay by %g ms: %s", most, lines[1])
	}
	for _, c := range r.Cues { // nobody whose dots are as they were is blamed for a place
		for _, ch := range c.Channels {
			for _, x := range ch.Changes {
				if ch.Player != "Bari 6" || strings.Contains(strings.Join(x.Why, " "), "farther") {
					t.Errorf("cue %s %s: %q", c.ID, ch.Player, x.Why)
				}
			}
		}
	}
}

// 20 dots are at most 20 lines and the first.
func TestTwentyDots(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("it compiles the demo")
	}
	old := filesOf(t, demo)
	new, n := old, 0
	for _, player := range []string{"Bari 3", "Bari 6", "Bari 9", "Tpt 1", "Tpt 3"} {
		for i, set := range []string{"4", "7", "12", "20"} {
			new = moved(t, new, player, set, 1+i)
			n++
		}
	}
	r := between(t, old, new)
	if lines := r.Lines(); n != 20 || len(lines) >= 40 || len(lines) < 4 || r.Rest != nil {
		t.Errorf("%d dots are %d lines:\n%s", n, len(lines), strings.Join(lines, "\n"))
	}
}

// A tempo that moves cues is reported, and blamed for no place.
func TestTempo(t *testing.T) {
	t.Parallel()
	old := filesOf(t, "../../testdata/script/show")
	r := between(t, old, old.with(t, "show.toml", "wait  = 4", "wait  = 5.5"))
	want := "2 cues come at another time, by at most 1.5 s\n" +
		"movement 2: wait 4 -> 5.5 s; cues 4 and 5 come up to 1.5 s later"
	if got := strings.Join(r.Lines(), "\n"); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

// What two edits do alone is of both. What each would do without the other is of none of them: it is said as the rest,
// or of the one that does it alone.
func TestTwoEdits(t *testing.T) {
	t.Parallel()
	old := filesOf(t, "../../testdata/script/show")
	air := old.with(t, "rig.toml", `"20 C"`, `"30 C"`)
	both := air.with(t, "dots.csv", "1,Horn 1,S1 2 outside 45,4 in front", "1,Horn 1,S1 2 outside 45,8 in front")
	text := strings.Join(between(t, old, both).Lines(), "\n")
	for _, want := range []string{"air: 20 C (68 F) -> 30 C (86 F); moves ", "Horn 1, set 1: 4 steps to the front; moves in cues 1 and 2",
		"(some of it also by air)"} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in\n%s", want, text)
		}
	}
	// Either edit alone closes the mic in cue 4: taken back alone, neither changes anything.
	none := old.with(t, "show.toml", "open.feature = [\"Bass 1\"]\n", "")
	twice := none.with(t, "roster.csv", "Bass 1,bass,P3,3,,,-1,", "Bass 1,bass,P3,3,set 5,,-1,")
	if a, b := compiled(old, nil), compiled(twice, nil); a != nil && b != nil {
		if r, _ := find(a, b, &work.Memo{}); r.Rest != nil && strings.Contains(r.Rest.Edit, "not known") {
			t.Errorf("not known:\n%s", strings.Join(r.Lines(), "\n"))
		}
	}
}

// Two packs that are exchanged are one cause: neither half makes a show without the other.
func TestExchangedPacks(t *testing.T) {
	t.Parallel()
	old := filesOf(t, "../../testdata/script/show")
	one := old.with(t, "roster.csv", "P1,1,", "PX,77,").with(t, "roster.csv", "P2,2,", "P1,1,")
	r := between(t, old, one.with(t, "roster.csv", "PX,77,", "P2,2,"))
	if len(r.Causes) != 1 || !strings.HasPrefix(r.Causes[0].Edit, "2 edits taken together: ") || r.Rest != nil || r.Idle != nil {
		t.Errorf("exchanged packs are\n%s", strings.Join(r.Lines(), "\n"))
	}
}

// A comparison of compiled shows has lines by player, and says of a moved cue that it is its count.
func TestCompiled(t *testing.T) {
	t.Parallel()
	old := filesOf(t, "../../testdata/script/show")
	a := compiled(old, nil)
	b := compiled(old.with(t, "show.toml", `at           = "set 2"`, `at           = "set 2 - 4"`), nil)
	text := strings.Join(causes.Compiled(a.Show, b.Show).Lines(), "\n")
	for _, want := range []string{"cue 2 comes 2.0 s earlier", "Horn 1: moves in ", "the cue's count ("} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in\n%s", want, text)
		}
	}
	if lines := causes.Compiled(a.Show, a.Show).Lines(); lines != nil {
		t.Errorf("the same show: %q", lines)
	}
}

// The example on the reference page is what is printed.
func TestPage(t *testing.T) {
	t.Parallel()
	page, err := os.ReadFile("../../cmd/backfield/help/diff.md")
	if err != nil {
		t.Fatal(err)
	}
	old := filesOf(t, "../../testdata/script/show")
	new := old.with(t, "show.toml", "support = -9", "support = -8").
		with(t, "show.toml", "wait  = 4", "wait  = 5.5").
		with(t, "show.toml", `"horn alone"`, `"one horn"`).
		with(t, "dots.csv", "2,Horn 1,S1 2 outside 40,4 in front", "2,Horn 1,S1 2 outside 40,8 in front").
		with(t, "dots.csv", "2,Horn 2,S1 on 45,on front", "2,Horn 2,S1 on 45,4 in front of front")
	if got := strings.Join(between(t, old, new).Lines(), "\n"); !strings.Contains(string(page), "```\n"+got+"\n```\n") {
		t.Errorf("the page does not show\n%s", got)
	}
}

// The JSON has the causes beside what it always had.
func TestJSON(t *testing.T) {
	t.Parallel()
	old := filesOf(t, "../../testdata/script/show")
	data, err := json.Marshal(between(t, old, old.with(t, "show.toml", "support = -9", "support = -8")))
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{`"same":false`, `"summary":"`, `"whole_show":[`, `"cues":[{`,
		`"causes":[{"edit":"role support: level -9 -\u003e -8 dB","changes":"+1.0 dB`, `"channels":[`} {
		if !strings.Contains(string(data), want) {
			t.Errorf("no %s in %s", want, data)
		}
	}
}
