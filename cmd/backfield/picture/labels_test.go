package picture

import (
	"math"
	"testing"

	"backfield/cmd/backfield/letters"
	"backfield/cue"
)

// Each name is at its own sign: no other named sign is nearer, or as near and more in the middle of the name, unless a
// line leads from the name to its own sign. Six pit mics in a row once had the names of their neighbors.
func TestNamesAreAtTheirSigns(t *testing.T) {
	lines, wrong, all := 0, 0, 0
	for _, name := range []string{"harbor", "kites", "mill"} {
		s := compiled(t, name, "")
		for i := range s.Show.Cues {
			c := &s.Show.Cues[i]
			if i%3 > 0 { // drawing takes time
				continue
			}
			d := drawn(t, s, c.ID, Look{})
			signs := map[string]XY{}
			for _, ch := range c.Channels {
				if ch.Open {
					signs[ch.Player] = XY{ch.X, -ch.Y}
				}
			}
			for _, k := range s.Rig.Stacks {
				signs[k.Name] = at(k.At)
			}
			var leaders []Shape
			for _, l := range shapes(d, "leader") {
				leaders = append(leaders, l)
			}
			for _, l := range shapes(d, "label") {
				own, known := signs[l.Text]
				if l.Fill == Paper || !known {
					continue
				}
				all++
				long := letters.Wide(l.Text, l.SizeM, l.Bold)
				if l.Tail != "" {
					long += letters.Wide(" "+l.Tail, l.SizeM, false)
				}
				p := l.Points[0]
				spot := box{p.X - long/2, p.Y - letters.Ascent*l.SizeM, p.X + long/2, p.Y}
				near := func(q XY) (fromBox, fromMiddle float64) {
					return spot.distM(q), math.Hypot(q.X-p.X, q.Y-(spot.y0+spot.y1)/2)
				}
				ownBox, ownMiddle := near(own)
				led := false
				for _, line := range leaders {
					from, to := line.Points[0], line.Points[1]
					if math.Hypot(from.X-own.X, from.Y-own.Y) < d.mm(ringMM+0.5) && spot.distM(to) < d.mm(0.6) {
						led = true
					}
				}
				if led {
					lines++
				}
				for other, q := range signs {
					b, m := near(q)
					if other != l.Text && !led && (b < ownBox-d.mm(0.2) || b < ownBox+d.mm(0.5) && m < ownMiddle) {
						wrong++
						t.Errorf("%s, cue %s: the name of %q is at %q", name, c.ID, l.Text, other)
					}
				}
			}
		}
	}
	t.Logf("%d names, %d of them with a line, %d at another sign", all, lines, wrong)
	if all < 300 {
		t.Errorf("only %d names were looked at", all)
	}
}

// A name that cannot be at its own sign gets a line to it, which crosses no other sign.
func TestLeadersCrossNothing(t *testing.T) {
	s := compiled(t, "harbor", "")
	for _, id := range []string{"6", "20", "29"} {
		d := drawn(t, s, id, Look{})
		for i, c := range s.Show.Cues {
			if c.ID != id {
				continue
			}
			for _, ch := range s.Show.Cues[i].Channels {
				if !ch.Open || ch.Kind != cue.Fixed {
					continue
				}
				for _, l := range shapes(d, "leader") {
					if own := l.Points[0]; math.Hypot(own.X-ch.X, own.Y+ch.Y) < d.mm(ringMM+0.5) {
						continue
					}
					for part := range 9 {
						q := between(l.Points[0], l.Points[1], float64(part)/8)
						if math.Hypot(q.X-ch.X, q.Y+ch.Y) < d.mm(0.7) {
							t.Errorf("cue %s: a line crosses %s", id, ch.Player)
						}
					}
				}
			}
		}
	}
}
