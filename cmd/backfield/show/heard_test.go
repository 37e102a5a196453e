package show_test

import (
	"encoding/json"
	"flag"
	"maps"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"backfield/cmd/backfield/loudness"
	"backfield/cmd/backfield/show"
	"backfield/cue/work"
	"backfield/layout/source"
)

// balanced is how loud the show is, with the levels near people; "" after errors.
func (f files) balanced(t *testing.T, memo *work.Memo) string {
	t.Helper()
	var p source.Problems
	s, err := show.Load(f, "show.toml", show.LoadOptions{Memo: memo}, &p)
	if err != nil {
		t.Fatal(err)
	}
	l := s.Loudness(&p)
	if l == nil {
		return ""
	}
	cues := l.Cues()
	r := loudness.NewReport(s, l, cues)
	r.AddNear(s, l, cues)
	text, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	near, err := json.Marshal(l.NearShow(cues).Ears)
	if err != nil {
		t.Fatal(err)
	}
	return string(text) + string(near)
}

// measured is the show of these tests on a night on which noise and brass were read, with people near the stacks.
func measured() files {
	f := maps.Clone(every)
	f["venue.toml"] = "name = \"away\"\nair = 21\npeople = [{ name = \"crew\", at = { x = -18, y = -3, z = 1.6 } }]\n" +
		"[[stack]]\nname = \"left\"\ntrim = -1.5\n[levels]\nbackground = 41\n" +
		"noise = { stack = \"left\", dba = 66.5 }\nbrass = { section = \"trumpet\", set = \"2\", dba = 71 }\n"
	f["roster.csv"] = strings.Replace(f["roster.csv"], "horn", "mellophone", 1)
	return f
}

var balanceEdits = flag.Int("edits", 8, "how many random edits of each file TestBalanceIsNeverStale makes")

// After each of many random edits of every kind of file, whether the show compiles or not, a watch's balance is that of a
// fresh start.
func TestBalanceIsNeverStale(t *testing.T) {
	edits := *balanceEdits
	if testing.Short() {
		edits = min(edits, 6)
	}
	for _, file := range slices.Sorted(maps.Keys(every)) {
		t.Run(file, func(t *testing.T) {
			t.Parallel()
			r := rand.New(rand.NewPCG(16, uint64(len(file))))
			f, memo := measured(), &work.Memo{}
			before := f.balanced(t, memo)
			if before == "" {
				t.Fatal("the show has errors")
			}
			changed := 0
			for n := 0; n < edits || changed == 0 && n < 20*edits; n++ { // on, until one has changed something
				now := maps.Clone(f)
				places := number.FindAllStringIndex(f[file], -1)
				at := places[r.IntN(len(places))]
				v, _ := strconv.ParseFloat(f[file][at[0]:at[1]], 64)
				other := []float64{v + 0.25, v + 1, v - 1, v * 0.9, v + 6, v * 2}[r.IntN(6)]
				now[file] = f[file][:at[0]] + strconv.FormatFloat(other, 'f', -1, 64) + f[file][at[1]:]
				want := now.balanced(t, nil)
				if got := now.balanced(t, memo); got != want {
					t.Fatalf("after an edit of %s\nthe watch has\n%s\na fresh start\n%s", now.nameOf(file, at), got, want)
				}
				if want != "" { // the next edit is made on top of it
					if want != before {
						changed++
					}
					f, before = now, want
				}
			}
			if changed == 0 {
				t.Error("no edit has changed anything, so nothing was tested")
			}
		})
	}
}
