package show_test

import (
	"bytes"
	"fmt"
	"io/fs"
	"maps"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"backfield/cmd/backfield/explain"
	"backfield/cmd/backfield/show"
	"backfield/cue/score"
	"backfield/cue/work"
	"backfield/layout/rig"
	"backfield/layout/source"
	"backfield/layout/table"
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
	what, want string
}

// edits are the show with one number of one file changed, each in a way that still compiles where there is one, and
// with one word changed for another valid one. Of the numbers, only every nth changes.
func (f files) edits(t *testing.T, nth int) (list []edit) {
	n := 0
	for _, name := range slices.Sorted(maps.Keys(f)) {
		for _, at := range number.FindAllStringIndex(f[name], -1) {
			if n++; n%nth == 0 {
				list = append(list, f.numbered(t, name, at)...)
			}
		}
		for _, old := range slices.Sorted(maps.Keys(words)) {
			for _, word := range words[old] {
				if strings.Contains(f[name], old) {
					x := f.with(name, old, word)
					want, _ := x.compiled(t, nil)
					list = append(list, edit{x, fmt.Sprintf("%s: %s becomes %s", name, old, word), want})
				}
			}
		}
	}
	return list
}

// numbered is the show with a number changed to the first of some others that compiles; none where none does.
func (f files) numbered(t *testing.T, name string, at []int) []edit {
	was := f[name][at[0]:at[1]]
	v, _ := strconv.ParseFloat(was, 64)
	for _, other := range []float64{v + 0.25, v + 1, v - 1, v * 0.9, v + 6} {
		now := strconv.FormatFloat(other, 'f', -1, 64)
		x := maps.Clone(f)
		x[name] = f[name][:at[0]] + now + f[name][at[1]:]
		if want, ok := x.compiled(t, nil); ok {
			line := 1 + strings.Count(f[name][:at[0]], "\n")
			return []edit{{x, fmt.Sprintf("%s:%d: %s becomes %s", name, line, was, now), want}}
		}
	}
	return nil
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
	"free = false":  {"free = true"}, "on = true": {"on = false"},
	"keep = true": {"keep = false"}, "waypoints = false": {"waypoints = true"},
}

// TestWatchIsNeverStale changes every number of every file, and every word that can be another, one at a time, as a
// watch sees it: the show before, then the change, with what the compile before has found. It must be what a fresh
// compile makes, to the byte.
func TestWatchIsNeverStale(t *testing.T) {
	for name, f := range map[string]files{
		"stereo": every,
		"stands": every.with("show.toml", `"tangent"`, `"stands"`),
		"zones":  every.with("rig.toml", `"stereo"`, `"zones"`),
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			before, ok := f.compiled(t, nil)
			if !ok {
				t.Fatal(before)
			}
			nth := 1
			if testing.Short() {
				nth = 8
			}
			list := f.edits(t, nth)
			var memo work.Memo
			mattered := 0
			for _, e := range list {
				if got, _ := f.compiled(t, &memo); got != before {
					t.Fatalf("before %s: the watch has\n%s\na fresh compile\n%s", e.what, got, before)
				}
				if got, _ := e.compiled(t, &memo); got != e.want {
					t.Errorf("%s: the watch has\n%s\na fresh compile\n%s", e.what, got, e.want)
				}
				if e.want != before {
					mattered++
				}
			}
			t.Logf("%d of %d changes matter", mattered, len(list))
			if mattered < len(list)*3/4 {
				t.Errorf("only %d of %d changes matter", mattered, len(list))
			}
		})
	}
}

// Every key of the rig and the score by which a number is computed is in the show of the test above. Those that
// hold no number, or are another way to say one that is there, need not.
func TestEveryKeyIsChanged(t *testing.T) {
	need := map[string]*regexp.Regexp{}
	for file, keys := range map[string][]string{
		"show.toml": table.Keys(score.ScoreFile{}), "rig.toml": table.Keys(rig.RigFile{}),
	} {
		for _, key := range keys {
			last := key[strings.LastIndexByte(key, '.')+1:]
			if strings.HasPrefix(key, "drill.columns.") || strings.HasPrefix(key, "check.") {
				continue // how a sheet is laid out, and when to warn: no number depends on it
			}
			need[file+" "+last] = regexp.MustCompile(`\b` + last + `\b`)
		}
	}
	for _, other := range []string{
		"show.toml *", "show.toml allow", "show.toml also", "show.toml address", "show.toml args", "show.toml types",
		"show.toml columns", "show.toml loud", "show.toml music", "show.toml beat", "show.toml first", "show.toml to",
		"show.toml pauses", "rig.toml grid", "rig.toml omit", "rig.toml sub", "rig.toml length", "rig.toml end_zone",
		"rig.toml hash",
	} {
		delete(need, other)
	}
	for _, key := range slices.Sorted(maps.Keys(need)) {
		file, _, _ := strings.Cut(key, " ")
		if !need[key].MatchString(every[file]) {
			t.Errorf("%s is not in the show that the memo is tried on", key)
		}
	}
}
