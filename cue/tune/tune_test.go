package tune

import (
	"fmt"
	"testing"

	"backfield/cue/compile"
	"backfield/layout"
	"backfield/layout/rig"
	"backfield/layout/sound"
)

func stackAt(x, y float64, sub bool) rig.Stack {
	return rig.Stack{Loudspeaker: sound.Loudspeaker{At: layout.Point{X: x, Y: y, Z: 2}, Left: 1, Trim: 1}, Sub: sub}
}

// Only stacks that are mirror images are a pair: not one that has no partner, and no subs.
func TestMirrored(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		stacks []rig.Stack
		want   string
	}{
		{[]rig.Stack{stackAt(-24, -2, false), stackAt(-11, -2, false), stackAt(11.4, -2, false), stackAt(24, -2.3, false)},
			"[[0 3] [1 2]]"},
		{[]rig.Stack{stackAt(11, -2, false), stackAt(0.3, -4, false), stackAt(-11, -2, false)}, "[[1 1] [2 0]]"},
		{[]rig.Stack{stackAt(-11, -2, true), stackAt(11, -2, true), stackAt(-20, -2, false), stackAt(20, -9, false)}, "[]"},
		{[]rig.Stack{stackAt(-11, -2, false), stackAt(-11.2, -2, false), stackAt(11, -2, false)}, "[[0 2]]"},
	} {
		if got := fmt.Sprint(mirrored(c.stacks)); got != c.want {
			t.Errorf("%s, not %s", got, c.want)
		}
	}
}

// Both stacks of a pair get the same delay and trim, and weights that are mirror images.
func TestSetsPairsAlike(t *testing.T) {
	t.Parallel()
	x := search{Result: &compile.Result{}}
	x.rig.Stacks = []rig.Stack{stackAt(20, -2, false), stackAt(-20, -2, false)}
	x.set([2]int{1, 0}, pairSetting{12, -6, 1, 0.35})
	left, right := x.rig.Stacks[1], x.rig.Stacks[0]
	if left.DelayS != 0.012 || right.DelayS != 0.012 || left.TrimDB != -6 || left.Trim != right.Trim ||
		left.Left != 1 || left.Right != 0.35 || right.Left != 0.35 || right.Right != 1 {
		t.Errorf("%+v\n%+v", left, right)
	}
	if s := x.setting([2]int{1, 0}); s != (pairSetting{12, -6, 1, 0.35}) {
		t.Errorf("%+v", s)
	}
}
