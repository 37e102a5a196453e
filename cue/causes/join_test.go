package causes

import (
	"fmt"
	"testing"

	"backfield/cue/edits"
)

// Past the most compiles, edits of one cue are tried together, and if that is not enough, those of a kind.
func TestJoin(t *testing.T) {
	t.Parallel()
	made := func(cues, each int) (list []editGroup) {
		for i := range cues {
			for k := range each {
				e := edits.FileEdit{Of: fmt.Sprintf("cue %d", i), Words: fmt.Sprintf("edit %d", k)}
				list = append(list, editGroup{edits: []edits.FileEdit{e}, reach: [][]int{nil}})
			}
		}
		role := edits.FileEdit{Of: "role solo", Words: "level"}
		return append(list, editGroup{edits: []edits.FileEdit{role}, reach: [][]int{nil}})
	}
	for _, c := range []struct{ cues, each, want int }{
		{10, 2, 21}, // few enough: each alone
		{30, 2, 31}, // by cue
		{60, 2, 2},  // by kind
	} {
		got := joinTo(made(c.cues, c.each), mostCompiles)
		n := 0
		for _, g := range got {
			n += len(g.edits)
			if g.joined != (len(g.edits) > 1) {
				t.Errorf("%d edits in a group, joined %v", len(g.edits), g.joined)
			}
		}
		if len(got) != c.want || n != c.cues*c.each+1 {
			t.Errorf("%d cues with %d edits: %d groups of %d edits, want %d groups", c.cues, c.each, len(got), n, c.want)
		}
	}
}
