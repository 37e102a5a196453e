package show_test

import (
	"bytes"
	"fmt"
	"io/fs"
	"maps"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"backfield/cmd/backfield/explain"
	"backfield/cmd/backfield/show"
	"backfield/cue/roster"
	"backfield/cue/score"
	"backfield/cue/work"
	"backfield/layout/rig"
	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/osc/mixer"
)

// files are a show in memory, by name.
type files map[string]string

func (f files) Read(path string) ([]byte, error) {
	text, ok := f[path]
	if !ok {
		return nil, fs.ErrNotExist
	}
	return []byte(text), nil
}

// with is the show with a text of one file replaced by another.
func (f files) with(name, old, new string) files {
	other := maps.Clone(f)
	other[name] = strings.Replace(f[name], old, new, 1)
	return other
}

// compiled is everything that the show comes to: its snapshots, what is wrong, what the rules found, and every number's
// derivation. ok is false after errors.
func (f files) compiled(t *testing.T, memo *work.Memo) (text string, ok bool) {
	t.Helper()
	var p source.Problems
	s, err := show.Load(f, "show.toml", show.LoadOptions{Memo: memo}, &p)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	source.Print(&b, p.All())
	if s.Result.Show == nil {
		return b.String(), false
	}
	encoded, err := s.Show.Encode()
	if err != nil {
		t.Fatal(err)
	}
	b.Write(encoded)
	fmt.Fprintln(&b, s.Remarks, s.Attention)
	for _, c := range s.Show.Cues {
		for _, ch := range c.Channels {
			if err := explain.Write(&b, s, c.ID, ch.Player); err != nil {
				fmt.Fprintln(&b, err)
			}
		}
	}
	return b.String(), true
}

var number = regexp.MustCompile(`-?\b[0-9]+(\.[0-9]+)?\b`)

// edit is the show with one thing changed, and what a fresh compile makes of it.
type edit struct {
	files
	name string // of the number that is changed; empty for a word
	what string
	want string
}

// edits are the show with one number of one file changed, and with one word changed for another valid one. A number
// takes the first of some other values that compiles and changes the result. missed names the numbers for which none of
// them compiles. Of the numbers, only those are changed that chosen takes, by how many there were and by their name.
func (f files) edits(t *testing.T, before string, chosen func(n int, name string) bool) (list []edit, missed []string) {
	n := 0
	for _, file := range slices.Sorted(maps.Keys(f)) {
		for _, at := range number.FindAllStringIndex(f[file], -1) {
			if n++; !chosen(n, f.nameOf(file, at)) {
				continue
			}
			if e, ok := f.renumbered(t, before, file, at); ok {
				list = append(list, e)
			} else {
				missed = append(missed, f.nameOf(file, at))
			}
		}
		for _, old := range slices.Sorted(maps.Keys(words)) {
			for _, word := range words[old] {
				if strings.Contains(f[file], old) {
					x := f.with(file, old, word)
					want, _ := x.compiled(t, nil)
					list = append(list, edit{x, "", fmt.Sprintf("%s: %s becomes %s", file, old, word), want})
				}
			}
		}
	}
	return list, missed
}

// renumbered is the show with one number changed; ok is false if no other value of those that are tried compiles.
func (f files) renumbered(t *testing.T, before, file string, at []int) (e edit, ok bool) {
	v, _ := strconv.ParseFloat(f[file][at[0]:at[1]], 64)
	for _, other := range []float64{v + 0.25, v + 1, v - 1, v * 0.9, v + 6, v / 2, v * 2, v - 6, v + 40, v / 10} {
		now := strconv.FormatFloat(math.Round(other*1e6)/1e6, 'f', -1, 64)
		if other == v || now == "-0" {
			continue
		}
		x := maps.Clone(f)
		x[file] = f[file][:at[0]] + now + f[file][at[1]:]
		want, compiles := x.compiled(t, nil)
		if !compiles || ok && want == before {
			continue
		}
		name := f.nameOf(file, at)
		e, ok = edit{x, name, name + " becomes " + now, want}, true
		if want != before || why(idle, name) != "" {
			break
		}
	}
	return e, ok
}

// nameOf names a number in a file: by its key in full in a TOML file, by its row and column in a sheet, and by what is
// before it in music.
func (f files) nameOf(file string, at []int) string {
	text, value := f[file], f[file][at[0]:at[1]]
	line := text[strings.LastIndexByte(text[:at[0]], '\n')+1:]
	line = line[:strings.IndexByte(line+"\n", '\n')]
	switch {
	case strings.HasSuffix(file, ".toml"):
		for _, k := range slices.Backward(keysIn(text)) {
			if k.at < at[0] {
				return fmt.Sprintf("%s %s = %s", file, k.path, value)
			}
		}
	case strings.HasSuffix(file, ".csv"):
		column := strings.Count(text[:at[0]][strings.LastIndexByte(text[:at[0]], '\n')+1:], ",")
		head := strings.Split(text[:strings.IndexByte(text, '\n')], ",")
		return fmt.Sprintf("%s %s of %s", file, head[column], line)
	}
	return fmt.Sprintf("%s %s%s", file, text[max(0, at[0]-12):at[0]], value)
}

// keyAt is a key of a TOML file, in full, and where its value begins.
type keyAt struct {
	path string
	at   int
}

var (
	header = regexp.MustCompile(`^\[+([\w.]+)\]+$`)
	keyIs  = regexp.MustCompile(`^([\w.]+) *= *`)
)

// keysIn lists the keys of a TOML file as the show in these tests writes them, also those of tables within a line.
func keysIn(text string) (list []keyAt) {
	table, outer := "", []string{} // outer are the keys whose braces are open
	last, quoted := "", false
	for i := 0; i < len(text); i++ {
		rest := text[i:]
		begins := i == 0 || strings.IndexByte("\n{, ", text[i-1]) >= 0
		switch line, _, _ := strings.Cut(rest, "\n"); {
		case text[i] == '"':
			quoted = !quoted
		case quoted:
		case text[i] == '{':
			outer = append(outer, last)
		case text[i] == '}':
			outer = outer[:len(outer)-1]
		case len(outer) == 0 && header.MatchString(line):
			table = header.FindStringSubmatch(line)[1] + "."
			i += len(line)
		case begins && keyIs.MatchString(rest):
			key := keyIs.FindStringSubmatch(rest)
			if last = table + key[1]; len(outer) > 0 {
				last = outer[len(outer)-1] + "." + key[1]
			}
			i += len(key[0]) - 1
			list = append(list, keyAt{last, i})
		}
	}
	return list
}

// words are those of the show that may be another.
var words = map[string][]string{
	`"most-seats"`:  {`"reference"`, `"least-error"`, `"never-early"`, `"joint"`},
	`"least-error"`: {`"reference"`, `"most-seats"`},
	`"joint"`:       {`"reference"`, `"most-seats"`},
	`"tangent"`:     {`"stands"`},
	`"stereo"`:      {`"zones"`},
	`"linear"`:      {`"compromise"`, `"constant-power"`},
	`"college"`:     {`"high-school"`},
	",reference,":   {",never-early,", ",,"},
	`"glide"`:       {`"closed"`, `"cues"`},
	"box = [4, 18]": {`box = "free"`}, "keep = true": {"keep = false"},
}

// TestWatchIsNeverStale changes every number of every file, and every word that can be another, one at a time, as a
// watch sees it: the show before, then the change, with what the compile before has found. It must be what a fresh
// compile makes, to the byte. Every number is changed in the stereo show; in the two others, those that have no effect
// there, and every third. A number that cannot be changed, or whose change has no effect in any of the three shows, is
// listed here with the reason.
func TestWatchIsNeverStale(t *testing.T) {
	t.Parallel()
	var mu sync.Mutex
	effect, missed := map[string]bool{}, map[string]int{}
	check := func(f files, chosen func(n int, name string) bool) func(t *testing.T) {
		return func(t *testing.T) {
			t.Parallel()
			before, ok := f.compiled(t, nil)
			if !ok {
				t.Fatal(before)
			}
			list, cannot := f.edits(t, before, chosen)
			var memo work.Memo
			for _, e := range list {
				if got, _ := f.compiled(t, &memo); got != before {
					t.Fatalf("before %s: the watch has\n%s\na fresh compile\n%s", e.what, got, before)
				}
				if got, _ := e.compiled(t, &memo); got != e.want {
					t.Errorf("%s: the watch has\n%s\na fresh compile\n%s", e.what, got, e.want)
				}
			}
			mu.Lock()
			defer mu.Unlock()
			for _, e := range list {
				effect[e.name] = effect[e.name] || e.want != before
			}
			for _, name := range cannot {
				missed[name]++
			}
		}
	}
	nth := 1
	if testing.Short() {
		nth = 8
	}
	t.Run("stereo", func(t *testing.T) {
		t.Run("all", check(every, func(n int, name string) bool { return n%nth == 0 }))
	})
	inStereo := maps.Clone(effect)
	others := map[string]files{
		"stands": every.with("show.toml", `"tangent"`, `"stands"`),
		"zones":  every.with("rig.toml", `"stereo"`, `"zones"`),
	}
	t.Run("others", func(t *testing.T) {
		for name, f := range others {
			t.Run(name, check(f, func(n int, name string) bool { return n%nth == 0 && (!inStereo[name] || n%3 == 0) }))
		}
	})
	for _, name := range slices.Sorted(maps.Keys(effect)) {
		if !effect[name] && why(idle, name) == "" {
			t.Errorf("a change of %s has no effect, and no reason is listed", name)
		}
	}
	if testing.Short() { // too few values are tried to say that none compiles
		return
	}
	for _, name := range slices.Sorted(maps.Keys(missed)) {
		if missed[name] == 1+len(others) && why(fixed, name) == "" {
			t.Errorf("no other value of %s compiles, and no reason is listed", name)
		}
	}
}

// reasons say why something is left out, by a pattern of its whole name.
type reasons []struct{ pattern, why string }

// why is the reason for a name, empty if there is none.
func why(list reasons, name string) string {
	for _, r := range list {
		if regexp.MustCompile("^(" + r.pattern + ")$").MatchString(name) {
			return r.why
		}
	}
	return ""
}

// idle are the numbers whose change may have no effect.
var idle = reasons{
	{``, "a word"},
	{`mixer.toml to = .*`, "where to send"},
	{`mixer.toml channels = 32`, "all channels of the roster are below it"},
	{`mixer.toml delay.settle = \d+`, "the run waits so long"},
	{`mixer.toml level.max = 8`, "the ceiling is lower"},
	{`mixer.toml param.low_cut.(min|max) = \d+`, "no cue sets this parameter near its ends"},
	{`rig.toml air = 18|rig.toml stack.trim = -1`, "the venue has another"},
	{`show.toml check.(best|echo|handover|held|lead|near_db|pickup|uneven) = \d+`, "a warning that this show is far from"},
	{`show.toml (cue|mix.bed).box = \d+`, "their policy takes no bound at the press box"},
	{`show.toml delay.dip = .*`, "this mixer glides"},
	{`tune.musicxml .*(duration>|version="|number=").*`, "the time signature says how long a measure is"},
}

// fixed are the numbers for which no other value compiles.
var fixed = reasons{
	{`(dots|sets).csv (set|movement) of .*`, "says which set the row is of"},
	{`sets.csv (counts|hold) of [146],.*`, "nobody marches into the first set of a movement, or holds it"},
	{`sets.csv counts of [23],.*`, "the score says how long the first movement is"},
	{`sets.csv counts of 7,.*`, "the music says how long the third movement is"},
	{`rig.toml (mic|stack).at = 50`, "there is only one 50"},
	{`show.toml movement.counts = 16`, "the sets say the same"},
	{`show.toml movement.tempo.at = 1`, "the first tempo is at count 1"},
	{`show.toml movement.tempo.(from|to) = \d`, "the drill has as many counts as the music between these measures"},
	{`tune.musicxml .*(divisions>|number=").*`, "the drill has as many counts as the music, from measure 3 to 5"},
}

// elsewhere are the keys that the show of this test does without.
var elsewhere = reasons{
	{`show.toml drill\.columns(\..*)?`, "how a sheet is laid out, which package layout/rows tries"},
	{`show.toml drill\.words(\..*)?`, "how dots are worded, which package layout/field tries"},
	{`show.toml music(\.parts)?`, "who rests when, which TestWatchFollowsRests tries"},
	{`show.toml (balance|instruments|mix\.\*\.(dynamics|low_cut)|cue\.(dynamics|plays|rests|facing))(\..*)?`,
		"how loud the show is, which package cue/balance tries: no number of a mixer"},
	{`roster.csv (instrument|mic|meter)`, "how loud the show is, too"},
	{`rig.toml (humidity|bell_up|people|levels|stack\.(aim|cover|mouth|front_back))(\..*)?`, "how loud the show is, too"},
	{`rig.toml mic\.(pattern|facing|meter|gain_cue|low_cut)`, "how loud the show is, too"},
	{`show.toml (check|cue)\.allow|show.toml check\.loud`, "which warnings are left out: no number"},
	{`rig.toml name`, "the venue has it"},
	{`rig.toml (grid|omit)`, "the field of a high school, and what a venue takes away: each is another show"},
	{`mixer.toml (\w+|param\.\*)\.(type|scale(\.\w+)?|off|fade)`, "how a value is written into a message"},
	{`mixer.toml delay\.(unit|sample_rate)`, "how a value is written into a message"},
	{`mixer.toml (rate|bundle|max_packet|also|tick|repeat)`, "how messages are sent"},
	{`mixer.toml (echo|query|keepalive|store|recall)(\..*)?`, "what the mixer answers and stores"},
	{`mixer.toml safety\.(rise|ramp)`, "how fast a run raises a level"},
}

// Every key of every file, by its full path, and every column of the roster is in the show of the test above, or listed
// with a reason. So a new key needs a line in the show.
func TestEveryKeyIsChanged(t *testing.T) {
	own := []string{}
	for _, key := range mixer.OwnKeys() {
		own = append(own, "param.*."+key)
	}
	for file, keys := range map[string][]string{
		"show.toml": table.Keys(score.ScoreFile{}), "rig.toml": table.Keys(rig.RigFile{}),
		"mixer.toml": slices.Concat(mixer.Keys(), own),
	} {
		for _, key := range keys {
			pattern := regexp.MustCompile("^" + strings.ReplaceAll(regexp.QuoteMeta(key), `\*`, `\w+`) + `($|\.)`)
			present := slices.ContainsFunc(keysIn(every[file]), func(k keyAt) bool { return pattern.MatchString(k.path) })
			if !present && why(elsewhere, file+" "+key) == "" {
				t.Errorf("%s %s is not in the show that the memo is tried on", file, key)
			}
		}
	}
	head, _, _ := strings.Cut(every["roster.csv"], "\n")
	for _, column := range roster.Columns {
		if why(elsewhere, "roster.csv "+column.Name) != "" {
			continue
		}
		if !strings.Contains(","+head+",", ","+strings.TrimSuffix(column.Name, "*")) {
			t.Errorf("roster.csv has no column %s in the show that the memo is tried on", column.Name)
		}
	}
}
