package tonight

import (
	"encoding/json"
	"fmt"
	"maps"
	"math/rand"
	"slices"
	"strings"
	"testing"

	"backfield/cue"
	"backfield/cue/causes"
	"backfield/cue/compile"
	"backfield/cue/edits"
	"backfield/cue/timeline"
	"backfield/layout/source"
)

// A comparison with the full show has a line for what the night says, and names the cues and channels that differ and no
// others. What differs is found by a plain comparison of the two snapshots, value by value.
func TestDiffListsWhatFollows(t *testing.T) {
	says := []string{`absent = ["A"]`, `absent = ["@baritone"]`, `dead = ["P2"]`, `dead = [{ P3 = 21 }]`,
		`cut = ["movement 2"]`, `cut = ["set 2 .. set 3"]`, `from = "set 4"`, `standing = "set 5"`,
		`swapped = [["P1", "P3"]]`, `substitute = { C = "B" }`}
	rng := rand.New(rand.NewSource(7))
	nights := slices.Clone(says)
	for range 20 {
		keys, night := map[string]bool{}, ""
		for _, k := range rng.Perm(len(says))[:3] {
			if key, _, _ := strings.Cut(says[k], " "); !keys[key] {
				keys[key] = true
				night += says[k] + "\n"
			}
		}
		nights = append(nights, night)
	}
	for _, night := range nights {
		compareNight(t, night)
	}
}

func compareNight(t *testing.T, night string) {
	t.Helper()
	var p source.Problems
	full := small().read(&p)
	plan := Read(&source.File{Name: "tonight.toml", Text: night, Order: 6}, &p)
	files := plan.Apply(&full, &p)
	compiled := func(f *timeline.Files, _ float64) *cue.Show {
		var q source.Problems
		return compile.Compile(compile.Input{Files: *f}, &q).Show
	}
	old, new := compiled(&full, 0), compiled(&files, 0)
	if old == nil || new == nil {
		t.Fatalf("%s: %s", night, said(&p))
	}
	var list []edits.FileEdit
	for _, e := range plan.Entries() {
		list = append(list, edits.FileEdit{Of: e.Of, Words: e.Words})
	}
	undo := func(list []edits.FileEdit) *timeline.Files {
		var q source.Problems
		f := plan.Without(func(e NightEntry) bool {
			return slices.ContainsFunc(list, func(x edits.FileEdit) bool { return x.Of == e.Of && x.Words == e.Words })
		}).Apply(&full, &q)
		return &f
	}
	was, is := causes.ShowVersion{Files: &full, Show: old}, causes.ShowVersion{Files: &files, Show: new}
	r := causes.FindOf(was, is, list, undo, compiled)

	cues, channels := map[string]bool{}, map[int]bool{}
	named := map[string]bool{}
	all := slices.Clone(r.Causes)
	if r.Rest != nil {
		all = append(all, *r.Rest)
	}
	for _, c := range all {
		named[c.Edit] = true
		for _, id := range c.Cues {
			cues[id] = true
		}
		for _, ch := range c.Channels {
			channels[ch] = true
		}
	}
	for _, e := range plan.Entries() {
		title := e.Of + ": " + e.Words
		if !named[title] && !slices.Contains(r.Idle, title) {
			t.Errorf("%s: no line for %q in %q", night, title, slices.Sorted(maps.Keys(named)))
		}
	}
	if len(plan.Entries()) == 1 && r.Rest != nil {
		t.Errorf("%s: %+v has no cause", night, *r.Rest)
	}
	wantCues, wantChannels := brute(old, new)
	if got := slices.Sorted(maps.Keys(cues)); !slices.Equal(got, wantCues) {
		t.Errorf("%s: cues %v, by a plain comparison %v", night, got, wantCues)
	}
	if got := slices.Sorted(maps.Keys(channels)); !slices.Equal(got, wantChannels) {
		t.Errorf("%s: channels %v, by a plain comparison %v", night, got, wantChannels)
	}
}

// brute lists the cues and the channels of which anything differs that is sent or that says when it is sent. Of a
// closed channel that is what it needs next.
func brute(old, new *cue.Show) (cues []string, channels []int) {
	differ, on := map[string]bool{}, map[int]bool{}
	text := func(v any) string {
		b, err := json.Marshal(v)
		if err != nil {
			panic(err)
		}
		return string(b)
	}
	// lasts is how long a cue has what it sets, at most: a path beyond that is nothing to compare.
	lasts := func(show *cue.Show, s *cue.Snapshot) float64 {
		for i := range show.Cues {
			if show.Cues[i].ID == s.ID && i+1 < len(show.Cues) {
				return show.Cues[i+1].TimeS - s.TimeS
			}
		}
		return show.EndS - s.TimeS
	}
	sent := func(s *cue.Snapshot, number int, lastsS float64) string {
		for _, c := range s.Channels {
			if c.Channel == number && !c.Open { // what it needs next, which moves while nobody hears it
				return fmt.Sprint("closed", c.Player, c.Pan, c.DelayMS)
			}
			if c.Channel == number {
				var glide []string
				for _, k := range c.Glide { // its times are those of the cue
					if k.TimeS-s.TimeS < lastsS-1e-6 {
						glide = append(glide, fmt.Sprint(k.DelayMS, k.Pan, k.LevelDB))
					}
				}
				return fmt.Sprint(c.Player, c.Role, c.LevelDB, c.Pan, c.DelayMS, glide)
			}
		}
		return "none"
	}
	for _, pair := range [][2]*cue.Show{{old, new}, {new, old}} {
		for i := range pair[0].Cues {
			a := &pair[0].Cues[i]
			b, ok := pair[1].Find(a.ID)
			if !ok {
				differ[a.ID] = true
				continue
			}
			if text([]any{a.TimeS, a.FadeS, a.Auto, a.Movement, a.Count}) != text([]any{b.TimeS, b.FadeS, b.Auto, b.Movement,
				b.Count}) {
				differ[a.ID] = true
			}
			for _, c := range a.Channels {
				lastsS := min(lasts(pair[0], a), lasts(pair[1], b))
				x, y := sent(a, c.Channel, lastsS), sent(b, c.Channel, lastsS)
				if strings.HasPrefix(x, "closed") && y == "none" {
					continue // nobody hears either
				}
				if x != y && !(x == "none" && strings.HasPrefix(y, "closed")) {
					differ[a.ID], on[c.Channel] = true, true
				}
			}
		}
	}
	return slices.Sorted(maps.Keys(differ)), slices.Sorted(maps.Keys(on))
}
