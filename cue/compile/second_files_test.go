package compile

import (
	"fmt"
	"slices"
	"sort"
	"strings"

	"backfield/cue/roster"
	"backfield/cue/score"
	"backfield/layout"
	"backfield/layout/drill"
	"backfield/layout/rig"
	"backfield/layout/sound"
	"backfield/layout/source"
	"backfield/layout/stands"
)

func (s *plainShow) files() files {
	var f files
	var b strings.Builder
	line := func(form string, args ...any) { fmt.Fprintf(&b, form+"\n", args...) }
	policy := func(v string) {
		if v != "" {
			line("policy = %q", v)
		}
	}
	line("drill = { sets = \"s\", dots = \"d\" }\nroster = \"r\"\nrig = \"g\"\nmixer = \"k\"\n[mix]")
	for _, role := range s.roles {
		if role.policy == "" {
			line("%s = %v", role.name, role.level)
		} else {
			line("%s = { level = %v, policy = %q }", role.name, role.level, role.policy)
		}
	}
	if s.always != "" {
		var groups []string
		for _, m := range s.mics {
			if g := fmt.Sprintf("%q", "@"+m.group); m.fixed && !slices.Contains(groups, g) {
				groups = append(groups, g)
			}
		}
		line("[always]\n%s = [%s]", s.always, strings.Join(groups, ", "))
	}
	line("[delay]\nlead = %v\nwindow = %v", s.lead, s.window)
	if s.free {
		line("box = \"free\"")
	}
	policy(s.policy)
	line("[pan]\nwidth = %v", s.width)
	if s.standFit {
		line("by = \"stands\"")
	}
	if s.mostZones == 1 {
		line("[zones]\nmost = 1")
	}
	if s.makeMost > 0 {
		line("[make_up]\nfrom = %v\nmax = %v", s.makeFrom, s.makeMost)
	}
	for _, m := range s.movements {
		line("[[movement]]\nwait = %v", m.wait)
		var list []string
		for _, t := range m.tempo {
			e := fmt.Sprintf("at = %v", t.at)
			if t.bpm > 0 {
				e += fmt.Sprintf(", bpm = %v", t.bpm)
			}
			if t.over > 0 {
				e += fmt.Sprintf(", over = %v", t.over)
			}
			if t.pause > 0 {
				e += fmt.Sprintf(", pause = %v", t.pause)
			}
			list = append(list, "{ "+e+" }")
		}
		line("tempo = [%s]", strings.Join(list, ", "))
	}
	for _, c := range s.cues {
		line("[[cue]]\nid = %q\nat = %q", c.id, c.at)
		policy(c.policy)
		for _, role := range s.roles {
			var names []string
			for _, o := range c.opened {
				if o[0] == role.name {
					names = append(names, fmt.Sprintf("%q", o[1]))
				}
			}
			if names != nil {
				line("open.%s = [%s]", role.name, strings.Join(names, ", "))
			}
		}
		var nudges []string
		for name, v := range c.nudges {
			nudges = append(nudges, fmt.Sprintf("%q = %v", name, v))
		}
		if sort.Strings(nudges); nudges != nil {
			line("nudge = { %s }", strings.Join(nudges, ", "))
		}
	}
	f.score = b.String()
	b.Reset()

	line("set,movement,counts,hold")
	for _, set := range s.sets {
		line("%s,%d,%v,%v", set.label, set.movement, set.counts, set.hold)
	}
	f.sets = b.String()
	b.Reset()

	line("set,player,x,y")
	for _, m := range s.mics {
		for i, d := range m.dots {
			line("%s,%s,%v,%v", s.sets[i].label, m.name, d[0], d[1])
		}
	}
	f.dots = b.String()
	b.Reset()

	line("player,section,channel,height,trim,policy")
	for _, m := range s.mics {
		if !m.fixed {
			line("%s,%s,%d,%v,%v,%s", m.name, m.group, m.channel, m.height, m.trim, m.policy)
		}
	}
	f.roster = b.String()
	b.Reset()

	line("air = %v\nlatency = %v", s.air, s.latency)
	if s.grid28 {
		line("field = \"high-school\"\ngrid = \"28\"")
	}
	if s.zones {
		line("feed = \"zones\"")
	}
	line("[reference]\nx = %v\ny = %v\nz = %v\nweight = %v", s.ref.x, s.ref.y, s.ref.z, s.refWeight)
	for _, k := range s.blocks {
		line("[[stands]]\nfront = { x = %v, y = %v, z = %v, width = %v }\nback = { x = %v, y = %v, z = %v, width = %v "+
			"}\nrows = %d\nweight = %v",
			k.fx, k.fy, k.fz, k.fwidth, k.bx, k.by, k.bz, k.bwidth, k.rows, k.weight)
		if k.spacing > 0 {
			line("spacing = %v", k.spacing)
		} else {
			line("seats = %d", k.seats)
		}
	}
	for _, k := range s.stacks {
		line("[[stack]]\nname = %q\nat = { x = %v, y = %v, z = %v }\ntrim = %v\ndelay = %v\nsub = %v", k.name, k.at.x,
			k.at.y, k.at.z, k.trim, k.delay, k.sub)
		if k.written {
			line("left = %v\nright = %v", k.left, k.right)
		}
		if s.zones && !k.sub {
			line("zone = %d", k.zone)
		}
	}
	for _, m := range s.mics {
		if m.fixed {
			line("[[mic]]\nname = %q\nkind = %q\nchannel = %d\nat = { x = %v, y = %v, z = %v }\ntrim = %v", m.name,
				m.group, m.channel, m.at.x, m.at.y, m.at.z, m.trim)
			if m.pan != nil {
				line("pan = %v", *m.pan)
			}
			if m.delay == nil {
				line("delay = \"auto\"")
			} else {
				line("delay = %v", *m.delay)
			}
		}
	}
	f.rig = b.String()
	return f
}

// compile lets the project compile the show.
func (s *plainShow) compile() (*Result, *source.Problems) {
	f := s.files()
	var p source.Problems
	file := func(order int, name, text string) *source.File {
		return &source.File{Name: name, Text: text, Order: order}
	}
	var in Input
	in.Score, in.Rig, in.Mixer = score.Read(file(0, "show", f.score), &p), rig.Read(file(4, "rig", f.rig), nil,
		&p), s.mixer
	for _, q := range s.surveyed {
		in.Rig.Surveyed = append(in.Rig.Surveyed, stands.Seat{At: layout.Point{X: q.at.x, Y: q.at.y, Z: q.at.z},
			Weight: q.weight})
	}
	in.Drill = drill.Read(drill.Sheets{Sets: file(1, "sets", f.sets), Dots: file(2, "dots", f.dots)}, in.Rig.Field, &p)
	in.Roster = roster.Read(file(3, "roster", f.roster), &p)
	in.Mixer.Law, _ = sound.LawByName(s.law)
	return Compile(in, &p), &p
}
