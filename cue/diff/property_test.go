package diff_test

import (
	"fmt"
	"math"
	"math/rand"
	"reflect"
	"slices"
	"strings"
	"testing"

	"backfield/cue"
	"backfield/cue/diff"
)

// random makes a show with gaps, doubled ids and odd numbers.
func random(r *rand.Rand) *cue.Show {
	s := harbor()
	s.AirC = float64(r.Intn(3))
	s.Rig.LatencyMS = float64(r.Intn(2))
	s.Rig.Stacks = s.Rig.Stacks[:r.Intn(3)]
	s.Cues = nil
	for range r.Intn(6) {
		c := cue.Snapshot{ID: string(rune('a' + r.Intn(5))), Name: string(rune('x' + r.Intn(2))), Movement: 1 + r.Intn(2),
			Count: float64(r.Intn(4)), FadeS: float64(r.Intn(2))}
		for n := 1; n <= 4; n++ {
			if r.Intn(5) == 0 {
				continue
			}
			ch := cue.Channel{Channel: n, Player: string(rune('P' + r.Intn(2))), LevelDB: cue.Silent,
				Pan: float64(r.Intn(3)-1) / 4, DelayMS: float64(r.Intn(4)) * 7.3,
				Location: cue.Location{X: float64(r.Intn(2))}, End: cue.Location{Y: float64(r.Intn(2))}}
			if r.Intn(2) == 0 {
				open(&ch, string(rune('f'+r.Intn(2))), float64(r.Intn(3)))
			}
			c.Channels = append(c.Channels, ch)
		}
		s.Cues = append(s.Cues, c)
	}
	return s
}

// state is everything that is sent to a mixer, and when, computed without package diff: what SameAtMixer must agree with.
func state(s *cue.Show) string {
	var b strings.Builder
	seen := map[int]bool{}
	for _, c := range s.Cues {
		fmt.Fprintf(&b, "%s %v %d:%v %v\n", c.ID, c.FadeS, c.Movement, c.Count, c.TimeS)
		for _, ch := range c.Channels {
			seen[ch.Channel] = true
		}
	}
	for n := 1; n <= 4; n++ {
		fmt.Fprintln(&b, seen[n])
	}
	return b.String()
}

func sameState(a, b *cue.Show) bool {
	if state(a) != state(b) {
		return false
	}
	for i := range a.Cues {
		for n := 1; n <= 4; n++ {
			x := slices.IndexFunc(a.Cues[i].Channels, func(c cue.Channel) bool { return c.Channel == n })
			y := slices.IndexFunc(b.Cues[i].Channels, func(c cue.Channel) bool { return c.Channel == n })
			if x < 0 && y < 0 {
				continue
			}
			if x < 0 || y < 0 { // counts as closed
				if x >= 0 && a.Cues[i].Channels[x].Open || y >= 0 && b.Cues[i].Channels[y].Open {
					return false
				}
				continue
			}
			p, q := a.Cues[i].Channels[x], b.Cues[i].Channels[y]
			if p.Open != q.Open || p.LevelDB != q.LevelDB || p.Pan != q.Pan || p.DelayMS != q.DelayMS {
				return false
			}
		}
	}
	return true
}

func TestProperties(t *testing.T) {
	const seed = 20260801
	r := rand.New(rand.NewSource(seed))
	equal := 0
	for i := range 4000 {
		a, b := random(r), random(r)
		if i%8 == 0 { // near ones, so that both answers occur
			b = clone(t, a)
			if len(b.Cues) > 0 && len(b.Cues[0].Channels) > 0 && r.Intn(2) == 0 {
				b.Cues[0].Channels[0].Pan += 0.5
			}
		}
		ab, ba := diff.Compare(a, b), diff.Compare(b, a)
		if !diff.Compare(a, a).SameAtMixer() {
			t.Fatalf("seed %d, case %d: a show differs from itself", seed, i)
		}
		if ab.SameAtMixer() != sameState(a, b) {
			t.Fatalf("seed %d, case %d: Same is %v, the states say %v:\n%s", seed, i, ab.SameAtMixer(), !ab.SameAtMixer(), text(ab))
		}
		if ab.SameAtMixer() {
			equal++
		}
		if (text(ab) == "") != ab.SameAtMixer() {
			t.Fatalf("seed %d, case %d: text and Same disagree", seed, i)
		}
		if text(ab) != text(diff.Compare(a, b)) {
			t.Fatalf("seed %d, case %d: two runs differ", seed, i)
		}
		mirrored(t, ab, ba)
		for _, c := range ab.Cues {
			if !slices.IsSortedFunc(c.Channels, func(x, y diff.ChannelDiff) int {
				return int(math.Copysign(1, y.Size-x.Size)) * btoi(y.Size != x.Size)
			}) {
				t.Fatalf("seed %d, case %d: cue %s is not in order of size", seed, i, c.ID)
			}
		}
	}
	if equal == 0 || equal == 4000 {
		t.Fatalf("%d of 4000 are equal: the cases try one answer only", equal)
	}
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

// mirrored: the way back undoes the way there, change by change.
func mirrored(t *testing.T, ab, ba *diff.Comparison) {
	t.Helper()
	list := func(r *diff.Comparison, swap bool) map[string]int {
		all := map[string]int{}
		for _, c := range r.Cues {
			status := c.Status
			if swap {
				status = map[string]string{diff.Added: diff.Removed, diff.Removed: diff.Added, diff.Changed: diff.Changed}[status]
			}
			all["cue "+c.ID+status]++
			for _, ch := range c.Channels {
				for _, x := range ch.Changes {
					if swap {
						x.Old, x.New, x.OldName, x.NewName = x.New, x.Old, x.NewName, x.OldName
					}
					all[fmt.Sprintf("%s %d %s %v %v %s %s %v %v", c.ID, ch.Channel, x.Param, x.Old, x.New, x.OldName, x.NewName,
						x.Waiting, x.Size)]++
				}
			}
		}
		return all
	}
	there, back := list(ab, false), list(ba, true)
	for line := range there { // which of two cues counts as the moved one may differ between the ways
		if strings.HasPrefix(line, "cue ") && strings.HasSuffix(line, diff.Changed) {
			delete(there, line)
		}
	}
	for line := range back {
		if strings.HasPrefix(line, "cue ") && strings.HasSuffix(line, diff.Changed) {
			delete(back, line)
		}
	}
	if !reflect.DeepEqual(there, back) {
		t.Fatalf("not mirrored:\n%v\n%v", there, back)
	}
}
