package main

import (
	"flag"
	"fmt"
	"io/fs"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"backfield/cmd/backfield/show"
	"backfield/cue"
	"backfield/cue/work"
	"backfield/layout/source"
	"backfield/osc/wire"
)

var mutations = flag.Int("mutations", 12, "how many random edits of the demo TestMutations tries")

// files are a show in memory.
type files map[string]string

func (f files) Read(path string) ([]byte, error) {
	text, ok := f[path]
	if !ok {
		return nil, fs.ErrNotExist
	}
	return []byte(text), nil
}

// TestMutations edits the demo at random, as a tired hand would: deletes, doubles, swaps and retypes characters, fields
// and lines. Each gives an error with its place, or a show whose every number is one. None may panic, take over 5 s, or
// put what is no number into a snapshot, and compiled like a watch, with what the edits before have left, it must come
// out the same. The stand is small, so that the files are at work and not the solver.
func TestMutations(t *testing.T) {
	t.Parallel()
	demo := files{}
	for _, name := range []string{"show.toml", "sets.csv", "dots.csv", "roster.csv", "rig.toml", "mixer.toml"} {
		text, err := os.ReadFile(filepath.Join("../../examples/harbor", name))
		if err != nil {
			t.Fatal(err)
		}
		demo[name] = string(text)
	}
	for old, new := range map[string]string{"rows  = 30": "rows  = 3", "seats = 80": "seats = 8"} {
		if !strings.Contains(demo["rig.toml"], old) {
			t.Fatalf("the demo's rig has no %q", old)
		}
		demo["rig.toml"] = strings.Replace(demo["rig.toml"], old, new, 1)
	}
	names := slices.Sorted(func(yield func(string) bool) {
		for n := range demo {
			if !yield(n) {
				return
			}
		}
	})
	n := *mutations
	var compiled, refused int
	var memo work.Memo
	for seed := range n {
		r := rand.New(rand.NewPCG(uint64(seed), 7))
		edited := files{}
		for k, v := range demo {
			edited[k] = v
		}
		name := names[r.IntN(len(names))]
		what := ""
		for range 1 + r.IntN(4)/3 { // mostly one
			var how string
			edited[name], how = mutate(r, edited[name])
			what += how + "; "
		}
		ok, err := survive(edited, &memo)
		if err != nil {
			t.Errorf("edit %d of %s (%s): %v", seed, name, what, err)
		}
		if ok {
			compiled++
		} else {
			refused++
		}
	}
	t.Logf("%d edits: %d compiled, %d refused", n, compiled, refused)
	if n >= 60 && (compiled < n/20 || refused < n/20) {
		t.Errorf("of %d edits %d compiled and %d were refused: are they edits?", n, compiled, refused)
	}
}

// mutate makes one edit of a text and says which.
func mutate(r *rand.Rand, text string) (string, string) {
	type span struct{ lo, hi int }
	var lines, fields []span
	for lo := 0; lo < len(text); {
		hi := strings.IndexByte(text[lo:], '\n')
		if hi < 0 {
			hi = len(text) - lo
		}
		lines = append(lines, span{lo, min(lo+hi+1, len(text))})
		lo += hi + 1
	}
	for i := 0; i < len(text); {
		j := i
		for j < len(text) && !strings.ContainsRune(",=\n\"[]{} ", rune(text[j])) {
			j++
		}
		if j > i {
			fields = append(fields, span{i, j})
		}
		i = j + 1
	}
	if len(lines) == 0 || len(fields) == 0 {
		return "x", "nothing is left"
	}
	kind, list := "line", lines
	switch r.IntN(3) {
	case 0:
		kind, list = "field", fields
	case 1:
		i := r.IntN(len(text))
		j := r.IntN(len(text))
		kind, list = "character", []span{{i, i + 1}, {j, j + 1}}
	}
	a, b := list[r.IntN(len(list))], list[r.IntN(len(list))]
	if a.lo > b.lo {
		a, b = b, a
	}
	at := func(s span) string { return text[s.lo:s.hi] }
	put := func(s span, with string) string { return text[:s.lo] + with + text[s.hi:] }
	switch r.IntN(4) {
	case 0:
		return put(a, ""), fmt.Sprintf("%s %q deleted", kind, at(a))
	case 1:
		return put(a, at(a)+at(a)), fmt.Sprintf("%s %q doubled", kind, at(a))
	case 2:
		if a == b || a.hi > b.lo {
			return put(a, at(b)), fmt.Sprintf("%s %q for %q", kind, at(b), at(a))
		}
		return text[:a.lo] + at(b) + text[a.hi:b.lo] + at(a) + text[b.hi:], fmt.Sprintf("%ss %q and %q swapped", kind,
			at(a), at(b))
	}
	typed := []string{"", "0", "-1", "1e308", "nan", "inf", "-inf", "99999999999999999999", "é",
		"\"", "#", "[", "true",
		"1:1", "set 3", "12 ms", "Tpt 1", "\t", "'", "0.0000001", "{}", ",", "\x00", "\xff"}
	with := typed[r.IntN(len(typed))]
	return put(a, with), fmt.Sprintf("%s %q retyped as %q", kind, at(a), with)
}

// survive loads a show and looks at all that comes of it. With what the shows before have left in a memo, all must be
// the same.
func survive(f files, memo *work.Memo) (compiled bool, err error) {
	defer func() {
		if x := recover(); x != nil {
			err = fmt.Errorf("panic: %v", x)
		}
	}()
	begun := time.Now()
	var p source.Problems
	s, err := show.Load(f, "show.toml", show.LoadOptions{}, &p)
	if took := time.Since(begun); took > time.Minute { // it hangs, however busy the machine is
		return false, fmt.Errorf("took %v", took)
	}
	if err != nil {
		return false, nil // the score itself cannot be read, and that is said
	}
	var cold, warm strings.Builder
	source.Print(&cold, p.All())
	var again source.Problems
	watched, err := show.Load(f, "show.toml", show.LoadOptions{Memo: memo}, &again)
	if err != nil {
		return false, err
	}
	if source.Print(&warm, again.All()); warm.String() != cold.String() {
		return false, fmt.Errorf("with a memo it says\n%s\nwithout\n%s", &warm, &cold)
	}
	if s.Show == nil {
		if p.Errors() == 0 {
			return false, fmt.Errorf("no show and no error")
		}
		return false, nil
	}
	number := func(what string, v float64) {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			err = fmt.Errorf("%s is %v", what, v)
		}
	}
	number("the end", s.Show.EndS)
	for _, c := range s.Show.Cues {
		number("cue "+c.ID+": time", c.TimeS)
		number("cue "+c.ID+": fade", c.FadeS)
		for _, ch := range c.Channels {
			who := fmt.Sprintf("cue %s, channel %d: ", c.ID, ch.Channel)
			for what, v := range map[string]float64{"pan": ch.Pan, "delay": ch.DelayMS, "x": ch.X, "y": ch.Y, "z": ch.Z,
				"end x": ch.End.X, "end y": ch.End.Y} {
				number(who+what, v)
			}
			if ch.Open {
				number(who+"level", float64(ch.LevelDB))
			}
			if ch.Fit != nil {
				number(who+"fit", ch.Fit.InTime+ch.Fit.Early+ch.Fit.Late+
					ch.Fit.WorstEarlyMS+ch.Fit.WorstLateMS+ch.Fit.MedianMS)
			}
		}
	}
	if err != nil {
		return true, err
	}
	data, err := s.Show.Encode()
	if err != nil {
		return true, err
	}
	if same, err := watched.Show.Encode(); err != nil || string(same) != string(data) {
		return true, fmt.Errorf("with a memo the snapshots differ: %v", err)
	}
	if _, err := cue.Decode(data); err != nil {
		return true, fmt.Errorf("what is written cannot be read: %w", err)
	}
	var before *cue.Snapshot
	for i := range s.Show.Cues {
		if _, err := wire.Pack(s.Mixer.Messages(before, &s.Show.Cues[i]), s.Mixer.Bundle, s.Mixer.MaxPacket); err != nil {
			return true, fmt.Errorf("cue %s cannot be sent: %w", s.Show.Cues[i].ID, err)
		}
		before = &s.Show.Cues[i]
	}
	return true, nil
}
