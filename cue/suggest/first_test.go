package suggest

import (
	"fmt"
	"math/rand/v2"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"backfield/cue/clock"
	"backfield/layout/level"
)

// inFour is music of 200 counts in measures of 4, whose parts are called by their players.
func inFour(parts []clock.MusicPart) *clock.Music {
	m := &clock.Music{Name: "music", Beat: "a quarter note", Least: 200, Most: 200, Parts: parts}
	for i := range 50 {
		m.Measures = append(m.Measures, clock.Measure{Number: fmt.Sprint(i + 1), From: 4 * float64(i), Counts: 4})
	}
	return m
}

// plays is a part: "A 0-8 f, 16-24 p solo".
func plays(t *testing.T, text string) clock.MusicPart {
	t.Helper()
	name, rest, _ := strings.Cut(text, " ")
	part := clock.MusicPart{Name: name}
	for run := range strings.SplitSeq(rest, ", ") {
		n := clock.PlayedNote{Marked: true}
		var mark, solo string
		fmt.Sscanf(run, "%f-%f %s %s", &n.From, &n.To, &mark, &solo)
		db, known := level.DynamicsDB(mark)
		if !known {
			t.Fatalf("%q has no mark", run)
		}
		n.DynamicsDB, n.Solo, n.Called = db, solo != "", solo == "solo" // "on" goes on in a solo
		part.Notes = append(part.Notes, n)
	}
	return part
}

func TestFirstScore(t *testing.T) {
	for name, x := range map[string]struct {
		parts []string
		want  string
	}{
		"enters and goes out": {[]string{"A 16-40 f"}, `
1 1:1 "all closed"
2 1:m. 5 "A solo" feature A   # alone early 1
3 1:m. 11 "all out"`},
		"one after the other": {[]string{"A 0-32 f", "B 32-64 f"}, `
1 1:1 "A solo" feature A   # alone
2 1:m. 9 "B solo" feature B   # alone early 1
3 1:m. 17 "all out"`},
		"a short rest": {[]string{"A 0-16 f, 24-40 f"}, `
1 1:1 "A solo" feature A   # alone
2 1:m. 11 "all out"`},
		"a solo over the other": {[]string{"A 0-32 f", "B 8-32 f solo"}, `
1 1:1 "A solo" feature A   # alone
2 1:m. 3 "B solo" feature B   # solo or soli in the music support A early 1
3 1:m. 9 "all out"`},
		"softer behind": {[]string{"A 0-32 mf", "B 8-32 f"}, `
1 1:1 "A solo" feature A   # alone
2 1:m. 3 "B in" feature B   # louder than the others support A early 1
3 1:m. 9 "all out"`},
		"entries that come together": {[]string{"A 16-40 f", "B 18.5-40 f"}, `
1 1:1 "all closed"
2 1:m. 5 "trumpets" feature @trumpet   # two alone early 1
3 1:m. 11 "all out"`},
		"an upbeat between counts": {[]string{"A 15.5-40 f"}, `
1 1:1 "all closed"
2 1:m. 4 beat 4 "A solo" feature A   # alone early 1
3 1:m. 11 "all out"`},
		"an upbeat before the other's entry": {[]string{"A 15.5-40 f", "B 16-40 f"}, `
1 1:1 "all closed"
2 1:m. 5 "trumpets" feature @trumpet   # two alone early 2
3 1:m. 11 "all out"`},
		"a note or two while another plays": {[]string{"A 0-60 f", "B 20-24 f"}, `
1 1:1 "A solo" feature A   # alone
2 1:m. 16 "all out"`},
		"three notes while another plays": {[]string{"A 0-60 f", "B 20-21 f, 23-24 f, 27-28 f"}, `
1 1:1 "A solo" feature A   # alone
2 1:m. 16 "all out"`},
		"four notes while another plays": {[]string{"A 0-60 f", "B 20-21 f, 22-23 f, 24-25 f, 27-28 f"}, `
1 1:1 "A solo" feature A   # alone
2 1:m. 6 "B in" feature @trumpet   # two alone early 1
3 after 8 "B out, A alone" feature A   # alone
4 1:m. 16 "all out"`},
		"a note or two alone": {[]string{"A 0-40 f", "B 60-64 f"}, `
1 1:1 "A solo" feature A   # alone
2 1:m. 11 "all out"
3 1:m. 16 "B solo" feature B   # alone early 1
4 after 5 "all out"`},
		"a last note just over the entry of another": {[]string{"A 0-35 f", "B 31.5-64 f"}, `
1 1:1 "A solo" feature A   # alone
2 1:m. 9 beat 4 "B solo" feature B   # alone early 5
3 1:m. 17 "all out"`},
		"the tail of a note over the entry of another": {[]string{"A 0-32.25 f", "B 32-64 f"}, `
1 1:1 "A solo" feature A   # alone
2 1:m. 9 "B solo" feature B   # alone early 1
3 1:m. 17 "all out"`},
		"a last note well over the entry of another": {[]string{"A 0-37 f", "B 32-64 f"}, `
1 1:1 "A solo" feature A   # alone
2 1:m. 9 "B in" feature @trumpet   # two alone early 1
3 after 5 "A out, B alone" feature B   # alone
4 1:m. 17 "all out"`},
		"releases that come together": {[]string{"A 0-37 f", "B 0-40 f"}, `
1 1:1 "trumpets" feature @trumpet   # two alone
2 1:m. 11 "all out"`},
		"a solo without a rest before or after it": {[]string{"A 0-64 f", "B 0-16 f, 16-32 f solo, 32-64 f"}, `
1 1:1 "trumpets" feature @trumpet   # two alone
2 1:m. 5 "B solo" feature B   # solo or soli in the music support A
3 1:m. 9 "trumpets in front" feature @trumpet   # two alone
4 1:m. 17 "all out"`},
		"a mark that comes after the cue": {[]string{"A 0-32 f", "B 0-64 p, 64-96 ff"}, `
1 1:1 "trumpets" feature A   # louder than the others support B
2 1:m. 9 "A out, B alone" feature B   # alone
3 1:m. 25 "all out"`},
		"much louder in the middle of a phrase": {[]string{"A 0-80 mf", "B 0-40 p, 40-80 ff"}, `
1 1:1 "trumpets" feature A   # louder than the others support B
2 1:m. 11 "B in front" feature B   # louder than the others support A
3 1:m. 21 "all out"`},
		"much louder for a moment": {[]string{"A 0-80 mf", "B 0-40 p, 40-44 ff, 44-80 p"}, `
1 1:1 "trumpets" feature A   # louder than the others support B
2 1:m. 21 "all out"`},
		"in front soon after another cue": {[]string{"A 0-64 f", "B 28-30 ff, 30-32 ff, 32-34 ff, 34-36 ff"}, `
1 1:1 "A solo" feature A   # alone
2 1:m. 8 "B in" feature B   # louder than the others support A early 1
3 1:m. 10 "B out, A alone" feature A   # alone
4 1:m. 17 "all out"`},
		"a solo that nothing ends before all are as loud": {[]string{"A 0-24 f solo, 24-48 f on", "B 0-24 p, 24-48 f"}, `
1 1:1 "A solo" feature A   # solo or soli in the music support B
2 1:m. 7 "trumpets in front" feature @trumpet   # two alone
3 1:m. 13 "all out"`},
		"a solo over somebody who gets as loud in one place": {[]string{"A 0-24 f solo, 24-48 ff on", "B 0-24 p, 24-48 f"}, `
1 1:1 "A solo" feature A   # solo or soli in the music support B
2 1:m. 13 "all out"`},
		"a solo that gets softer at its end": {[]string{"A 0-24 f solo, 24-48 p on", "B 0-48 p"}, `
1 1:1 "A solo" feature A   # solo or soli in the music support B
2 1:m. 13 "all out"`},
		"a solo, a long rest, and another entry": {[]string{"A 0-24 f solo, 40-64 f on", "B 0-64 f"}, `
1 1:1 "A solo" feature A   # solo or soli in the music support B
2 1:m. 7 "A out, B alone" feature B   # alone
3 1:m. 11 "A in" feature @trumpet   # two alone early 1
4 1:m. 17 "all out"`},
		"a solo after another": {[]string{"A 0-24 f solo, 24-48 f on", "B 0-24 f, 24-48 f solo"}, `
1 1:1 "A solo" feature A   # solo or soli in the music support B
2 1:m. 7 "B solo" feature B   # solo or soli in the music support A
3 1:m. 13 "all out"`},
		"to the end": {[]string{"A 16-200 f"}, `
1 1:1 "all closed"
2 1:m. 5 "A solo" feature A   # alone early 1
3 1:m. 50 + 4 "all out"`},
	} {
		var parts []clock.MusicPart
		for _, text := range x.parts {
			parts = append(parts, plays(t, text))
		}
		r, _ := shown(t, "", parts)
		text := TOML(r, FirstScore(r))
		replace := strings.NewReplacer("\n[[cue]]\nid   = \"", "\n", "\"\nat   = \"", " ", "\"\nafter = ", " after ", "\"\nname = ", " ", "\nname = ", " ",
			"\nopen.", " ", "\nfade = 1", "", "\nopen_early = ", " early ", " = [\"", " ", "\"]", "")
		if got := strings.ReplaceAll(strings.TrimRight(replace.Replace(text), "\n"), "\n\n", "\n"); got != x.want {
			t.Errorf("%s:%s\nwant:%s", name, got, x.want)
		}
	}
}

// With three roles the loudest is for a solo alone, and who rests for a whole cue is behind. With four the third is for
// all who play alike, also where most are louder than one.
func TestFirstScoreRoles(t *testing.T) {
	const mix = "[mix]\nsolo = 2\nfront = 0\nrear = -9\n"
	parts := []clock.MusicPart{plays(t, "A 0-32 f, 40-64 f"), plays(t, "B 8-34 mf solo, 43-64 mf tutti")}
	list := []FirstOpening{{Player: "A"}, {Player: "B"}, {Player: "C"}}
	const cues = "[0 A front 8 A rear B solo 34 A front 43 A front B rear 64]"
	for roles, alike := range map[string]string{mix: "rear rear rear", mix + "full = -3\n": "full full full"} {
		r, _ := shown(t, roles, parts)
		var got []string
		for _, c := range FirstScore(r) {
			text := fmt.Sprintf("%g", c.At.Elapsed)
			for _, o := range c.Open {
				text += " " + o.Player + " " + o.Role
			}
			got = append(got, text)
		}
		if text := fmt.Sprint(got); text != cues {
			t.Errorf("got %s, want %s", text, cues)
		}
		x := firstScore{Result: r}
		x.castRoles()
		for _, c := range []struct {
			loud map[string]float64
			want string
		}{
			{map[string]float64{"A": 0, "B": 0, "C": 0}, alike},
			{map[string]float64{"A": 6, "B": 0, "C": 0}, "front rear rear"},
			{map[string]float64{"A": 6, "B": 6, "C": 0}, alike}, // most of them do not stand out
		} {
			together := slices.Clone(list)
			var voices []*playedLine
			for _, o := range together {
				voices = append(voices, &playedLine{loudDB: c.loud[o.Player]})
			}
			x.cast(together, voices)
			if text := together[0].Role + " " + together[1].Role + " " + together[2].Role; text != c.want {
				t.Errorf("%v: got %s, want %s", c.loud, text, c.want)
			}
		}
	}
}

var fixedMics = regexp.MustCompile(`= \[".*\]`) // in [always]; the show of the tests has none

// The roles of a first score go by level. The mixes of the starter, the demo and the octet are those of their files.
func TestCastRoles(t *testing.T) {
	from := func(path string) string {
		data, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		_, text, found := strings.Cut(string(data), "\n[mix]")
		text, _, more := strings.Cut(text, "\n[[movement]]")
		if !found || !more {
			t.Fatalf("%s: no [mix] before the movements", path)
		}
		return "[mix]" + fixedMics.ReplaceAllString(text, "= []") + "\n"
	}
	for name, x := range map[string]struct{ mix, want string }{
		"backfield new":             {from("../../cmd/backfield/starter/show.toml"), "feature feature full support"},
		"the demo":                  {from("../../examples/harbor/show.toml"), "solo feature full support"},
		"the octet":                 {from("../../testdata/octet/show.toml"), "solo feature full support"},
		"one role":                  {"[mix]\na = 0\n", "a a a a"},
		"two":                       {"[mix]\nb = -9\na = 0\n", "a a b b"},
		"two far apart":             {"[mix]\na = 0\nb = -20\n", "a a b b"},
		"no role that is the front": {"[mix]\na = 0\nb = -6\nc = -12\n", "a a b b"},
		"a pit of no cue yet":       {"[mix]\nfeature = 0\nfull = -3\nsupport = -9\npit = -10\n", "feature feature full support"},
		"a field that is almost off": {"[mix]\nfeature = 0\nfull = -3\nsupport = -9\nfield = -15\n",
			"feature feature full support"},
		"a lead over the front": {"[mix]\nlead = 2\na = 0\nb = -3\nc = -9\n", "lead a b c"},
		"four steps":            {"[mix]\na = 0\nb = -3\nc = -6\nd = -9\n", "a a b d"},
		"three with a solo":     {"[mix]\nsolo = 2\na = 0\nb = -9\n", "solo a b b"},
		"a solo far up":         {"[mix]\nsolo = 5\na = 0\nb = -4\nc = -8\n", "solo a b c"},
	} {
		r, _ := shown(t, x.mix, []clock.MusicPart{plays(t, "A 0-32 f")})
		cast := firstScore{Result: r}
		cast.castRoles()
		if got := strings.Join([]string{cast.solo, cast.front, cast.together, cast.behind}, " "); got != x.want {
			t.Errorf("%s: got %s, want %s", name, got, x.want)
		}
	}
}

// Whatever two players play, check has nothing to say against the cues of a first score.
func TestFirstScoreHoldsUp(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 11))
	cues := 0
	for range 150 {
		var parts []clock.MusicPart
		for _, name := range []string{"A", "B"} {
			text := name
			for at := float64(random.IntN(40)) / 2; at < 190; at += float64(random.IntN(120)) / 2 {
				to := min(at+1+float64(random.IntN(60))/2, 200)
				text += fmt.Sprintf(", %g-%g %s %s", at, to, level.DynamicsNames()[random.IntN(6)],
					[]string{"solo", "tutti", "tutti"}[random.IntN(3)])
				at = to
			}
			parts = append(parts, plays(t, strings.Replace(text, ", ", " ", 1)))
		}
		r, _ := shown(t, "", parts)
		list := FirstScore(r)
		cues += len(list)
		text := TOML(r, list)
		_, problems := shown(t, text, parts)
		var before *FirstCue
		for i := range list {
			c := &list[i]
			if before != nil && c.After == 0 && before.After == 0 && c.At.Elapsed-before.At.Elapsed <= togetherCounts &&
				c.At.Elapsed < 200 {
				t.Errorf("nobody presses at %g and at %g\n%v\n%s", before.At.Elapsed, c.At.Elapsed, parts, text)
			}
			before = c
		}
		if before == nil || len(before.Open) > 0 {
			t.Errorf("open after the last note\n%v\n%s", parts, text)
		}
		for _, x := range problems {
			if slices.Contains([]string{"open-resting", "opens-late", "closes-early", "feature-rests", "early-cut",
				"cues-close", "fade-long", "changes-nothing"}, x.Code) {
				t.Errorf("%s: %s\n%v\n%s", x.Code, x.What, parts, text)
			}
		}
		if t.Failed() {
			return
		}
	}
	if cues < 500 {
		t.Errorf("only %d cues", cues)
	}
}

// All mics close at the end of a movement, but where the next one begins at once, its first cue closes them.
func TestFirstScoreMovements(t *testing.T) {
	first, next := []clock.MusicPart{plays(t, "A 0-200 f")}, []clock.MusicPart{plays(t, "B 0-40 f")}
	upbeat := []clock.MusicPart{plays(t, "B -4-40 f")}
	for _, x := range []struct {
		waitS float64
		next  []clock.MusicPart
		want  string
	}{
		{4, next, "[1:0 A 1:200 2:0 B 2:40]"},
		{4, upbeat, "[1:0 A 2:0 B 2:40]"}, // at 120, 4 counts and a fade are 2.5 s
		{0, next, "[1:0 A 2:0 B 2:40]"},
	} {
		r, _ := shownIn(t, "", x.waitS, first, x.next)
		list := FirstScore(r)
		var got []string
		for _, c := range list {
			text := fmt.Sprintf("%d:%g", c.At.Movement, c.At.Elapsed)
			for _, o := range c.Open {
				text += " " + o.Player
			}
			got = append(got, text)
		}
		if text := fmt.Sprint(got); text != x.want {
			t.Errorf("wait %g: got %s, want %s", x.waitS, text, x.want)
		}
		_, problems := shownIn(t, TOML(r, list), x.waitS, first, x.next)
		for _, x := range problems {
			if slices.Contains([]string{"opens-late", "closes-early", "early-cut", "cues-close"}, x.Code) {
				t.Errorf("%s: %s", x.Code, x.What)
			}
		}
	}
}
