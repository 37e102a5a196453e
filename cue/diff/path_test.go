package diff_test

import (
	"strings"
	"testing"

	"backfield/cue"
	"backfield/cue/diff"
)

// gliding is the small show on a mixer that glides: Tpt 3 is open from cue 1 to cue 2, and walks.
func gliding() *cue.Show {
	s := harbor()
	s.Rig.Delay.Moves, s.Rig.Delay.SlewMSPS, s.Rig.Delay.BoxMS = cue.Glides, 8, &[2]float64{5, 20}
	at(s, 0, 3).Glide = []cue.Knot{
		{Movement: 1, Count: 17, TimeS: 7, DelayMS: 58, Pan: -0.16}, {Movement: 1, Count: 33, TimeS: 14.5, DelayMS: 50, Pan: -0.12},
	}
	at(s, 1, 3).Glide = []cue.Knot{{Movement: 2, Count: 41, TimeS: 60, DelayMS: 50, Pan: -0.2}}
	return s
}

// A path that differs after its cue is a difference at the mixer, with the moment at which it is largest, and with the cue
// of the same stretch that explains it.
func TestPaths(t *testing.T) {
	glide := func(s *cue.Show) []cue.Knot { return at(s, 0, 3).Glide }
	for _, c := range []struct {
		name   string
		change func(*cue.Show)
		want   []string // nil for the same at the mixer
		not    []string
	}{
		{"nothing", func(*cue.Show) {}, nil, nil},
		{"a knot on the line", func(s *cue.Show) {
			at(s, 0, 3).Glide = append([]cue.Knot{{Movement: 1, Count: 9, DelayMS: (62.3 + 58) / 2, Pan: -0.18}}, glide(s)...)
		}, nil, nil},
		{"the delay of a knot", func(s *cue.Show) { glide(s)[0].DelayMS = 61 },
			[]string{"  3 Tpt 3  path: delay 58.0 -> 61.0 ms (+3.0) at 1:17\n",
				"largest: cue 1 Tpt 3 path: delay +3.0 ms\n"}, []string{"pan"}},
		{"the pan of a knot", func(s *cue.Show) { glide(s)[0].Pan = -0.36 },
			[]string{"path: pan 0.20 farther left (L 0.16 -> L 0.36) at 1:17\n"}, []string{"delay"}},
		{"both, at two knots", func(s *cue.Show) { glide(s)[0].Pan, glide(s)[1].DelayMS = -0.36, 52 },
			[]string{"path: delay 50.0 -> 52.0 ms (+2.0) at 1:33, pan 0.20 farther left (L 0.16 -> L 0.36) at 1:17\n",
				"largest: cue 1 Tpt 3 path: pan 0.20 farther left"}, nil},
		{"the end, where a player walks elsewhere", func(s *cue.Show) {
			glide(s)[1].DelayMS = 60
			at(s, 0, 3).End.Y += 4 * 0.5715
		}, []string{"at 1:33\n", "why: walks differently before the next cue, ends 4.0 steps farther back\n"}, nil},
		{"moved as a whole, which the cue's moment says", func(s *cue.Show) {
			at(s, 0, 3).DelayMS += 4
			glide(s)[0].DelayMS += 4
			glide(s)[1].DelayMS += 4
		}, []string{"delay 62.3 -> 66.3 ms (+4.0)"}, []string{"glides"}},
		{"no path any more", func(s *cue.Show) { at(s, 0, 3).Glide = nil },
			[]string{"path: delay 50.0 -> 62.3 ms (+12.3) at 1:33, pan 0.08 farther left (L 0.12 -> L 0.20) at 1:33\n"}, nil},
		{"the next cue earlier, on the same path", func(s *cue.Show) {
			at(s, 0, 3).Glide = glide(s)[:1]
			s.Cues[1].Count, s.Cues[1].TimeS = 17, 7
			c := at(s, 1, 3)
			c.DelayMS, c.Pan = 58, -0.16
			c.Glide = append([]cue.Knot{{Movement: 1, Count: 33, DelayMS: 50, Pan: -0.12}}, c.Glide...)
		}, []string{"cue 1A", "comes 16 counts earlier"}, []string{"cue 1 ", "glides"}},
		{"a level that follows the distance", func(s *cue.Show) {
			up := cue.Level(2)
			glide(s)[0].LevelDB = &up
		}, []string{"path: level +2.0 dB (0.0 -> 2.0) at 1:17\n"}, nil},
		{"a place along the row", func(s *cue.Show) {
			place := 0.4
			glide(s)[0].Place = &place
		}, []string{"path: place 0.00 -> 0.40 along the row of stacks at 1:17\n"}, nil},
		{"a dot in another cue of the stretch", func(s *cue.Show) {
			glide(s)[0].DelayMS = 61
			walk(at(s, 1, 3), 0, 6)
			at(s, 1, 3).DelayMS = 53
		}, []string{"path: delay 58.0 -> 61.0 ms (+3.0) at 1:17\n",
			"why: in the same stretch, cue 1A: 6.0 steps farther back\n"}, nil},
		{"a stretch that ends earlier", func(s *cue.Show) {
			glide(s)[0].DelayMS = 61
			shut(at(s, 1, 3))
			at(s, 1, 3).Glide = nil
		}, []string{"why: its stretch no longer goes on in cue 1A\n"}, nil},
		{"a dot in a cue of another stretch", func(s *cue.Show) { glide(s)[0].DelayMS = 61; walk(at(s, 3, 3), 0, 6) },
			[]string{"why: for a reason that is not in the snapshots"}, []string{"farther back"}},
		{"box, slew and the mixer", func(s *cue.Show) {
			s.Rig.Delay.BoxMS, s.Rig.Delay.SlewMSPS, s.Rig.Delay.Moves = &[2]float64{5, 15}, 4, cue.Closed
			at(s, 0, 3).DelayMS = 58
		}, []string{"press box 5 to 20 ms -> 5 to 15 ms (delays)", "slew 8 -> 4 ms/s (delays)",
			"delay moves all the time -> while closed (delays, pans)", "why: settings; mixer"}, nil},
		{"no bound", func(s *cue.Show) { s.Rig.Delay.BoxMS = nil; at(s, 0, 3).DelayMS = 80 },
			[]string{"press box 5 to 20 ms -> free (delays)"}, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := gliding()
			c.change(s)
			r := diff.Compare(gliding(), s)
			if r.SameAtMixer() != (c.want == nil) {
				t.Fatalf("same: %v\n%s", r.SameAtMixer(), text(r))
			}
			for _, want := range c.want {
				if !strings.Contains(text(r), want) {
					t.Errorf("%q is not in\n%s", want, text(r))
				}
			}
			for _, not := range c.not {
				if strings.Contains(text(r), not) {
					t.Errorf("%q is in\n%s", not, text(r))
				}
			}
			if back := diff.Compare(s, gliding()); back.SameAtMixer() != r.SameAtMixer() {
				t.Errorf("the other way round:\n%s", text(back))
			}
		})
	}
}

// A show of format 1 holds its values from one waypoint to the next; one that glides between the same knots differs.
func TestSteppedAndGliding(t *testing.T) {
	old := gliding()
	old.Rig.Delay.Moves = cue.Stepped
	s := gliding()
	glide := at(s, 0, 3).Glide
	at(s, 0, 3).Glide = append([]cue.Knot{{Movement: 1, Count: 9, DelayMS: (62.3 + 58) / 2, Pan: -0.18}}, glide...)
	r := diff.Compare(old, s)
	for _, want := range []string{"delay moves at waypoints -> all the time (delays, pans)", "delay 62.3 -> 60.2 ms (-2.1) at 1:9"} {
		if r.SameAtMixer() || !strings.Contains(text(r), want) {
			t.Errorf("%q is not in\n%s", want, text(r))
		}
	}
}
