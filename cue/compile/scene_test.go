package compile

import (
	"testing"

	"backfield/cue"
)

// TestSceneHoldsTheDelayOfClosed: a scene in a mixer holds one delay for each channel, since nothing moves it on. It is the
// one that the show would have with a mixer that moves nothing under signal, for every kind of mixer.
func TestSceneHoldsTheDelayOfClosed(t *testing.T) {
	f := base
	f.dots = "set,player,x,y\n1,A,0,32\n2,A,0,48\n3,A,-6,48\n1,B,-16,40\n2,B,4,30\n3,B,4,30\n"
	f.rig += someSeats
	f = f.with("[[cue]]\nid = \"1\"\nat = \"1:1\"\nopen.feature = [\"A\"]\n[[cue]]\nid = \"2\"\nat = \"set 2\"\n" +
		"open.feature = [\"A\", \"B\"]\n")
	still, _ := f.compileWith(t, func(in *Input) { in.Mixer.Moves = cue.Closed })
	for _, c := range []struct {
		moves cue.Moves
		dip   string
	}{{cue.Glides, ""}, {cue.AtCues, ""}, {cue.Closed, "delay.dip = 0.05\n"}, {cue.Closed, ""}} {
		x, moved := f, 0
		x.score = c.dip + f.score
		r, p := x.compileWith(t, func(in *Input) { in.Mixer.Moves = c.moves })
		if r.Show == nil {
			t.Fatal(p)
		}
		for n := range r.Show.Cues {
			scene := r.Show.Cues[n].Scene()
			for i, ch := range scene.Channels {
				if want := still.Show.Cues[n].Channels[i].DelayMS; ch.DelayMS != want {
					t.Errorf("%s, %q: cue %d, %s: a scene has %g ms, not %g", c.moves, c.dip, n+1, ch.Player, ch.DelayMS, want)
				}
				if r.Show.Cues[n].Channels[i].SceneMS != nil {
					moved++
				}
			}
		}
		if c.dip+string(c.moves) == "closed" != (moved == 0) {
			t.Errorf("%s, %q: %d channels have another delay in a scene", c.moves, c.dip, moved)
		}
	}
}
