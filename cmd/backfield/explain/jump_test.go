package explain

import (
	"strings"
	"testing"

	"backfield/cmd/backfield/show"
	"backfield/cue"
	"backfield/cue/compile"
	"backfield/cue/score"
	"backfield/cue/work"
)

// The words say in what a delay that clicks may change: in a rest only where the stretch has one.
func TestJumpWords(t *testing.T) {
	for _, x := range []struct {
		moves cue.Moves
		rests bool
		dipS  float64
		want  string
	}{
		{cue.Closed, false, 0, "one delay for the stretch"},
		{cue.Closed, true, 0, "it changes only in a rest of the player"},
		{cue.Closed, false, 0.02, "it changes only in a dip (delay.dip): "},
		{cue.Closed, true, 0.02, "it changes only in a dip (delay.dip) or in a rest of the player"},
		{cue.AtCues, true, 0, "it changes only at a cue: "},
		{cue.Moves("glide"), false, 0, ""},
	} {
		r := &compile.Result{Show: &cue.Show{}}
		r.Score = &score.Score{DipS: x.dipS}
		r.Show.Rig.Delay.Moves = x.moves
		stretch := &work.MicStretch{Samples: []work.StretchSample{{}, {MayJump: x.rests}}}
		e := &explainer{s: &show.Loaded{Result: r}, w: &work.Derivation{Stretch: stretch}}
		if got := e.jumpWords(); !strings.HasPrefix(got, x.want) || x.want == "" && got != "" {
			t.Errorf("%v, rests %v, dip %g s: %q, want %q", x.moves, x.rests, x.dipS, got, x.want)
		}
	}
}
