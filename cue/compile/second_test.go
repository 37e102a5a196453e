package compile

import (
	"fmt"
	"math"
	"math/rand"
	"slices"
	"sort"
	"strings"
	"sync/atomic"
	"testing"

	"backfield/cue"
	"backfield/cue/clock"
	"backfield/cue/roster"
	"backfield/cue/score"
	"backfield/layout"
	"backfield/layout/drill"
	"backfield/layout/rig"
	"backfield/layout/sound"
	"backfield/layout/source"
	"backfield/layout/stand"
)

// This file works every number of a show out a second time, from the formulas alone and as plainly as can be:
// no table, no shortcut, nothing shared with the compiler but its input and its output. Random shows are compiled
// both ways and must agree.

// ---- a show as plain numbers ----

type spot struct{ x, y, z float64 } // metres

func (a spot) to(b spot) float64 {
	return math.Sqrt((a.x-b.x)*(a.x-b.x) + (a.y-b.y)*(a.y-b.y) + (a.z-b.z)*(a.z-b.z))
}

type plainTempo struct{ at, bpm, over, pause float64 } // bpm 0: none is written

type plainMovement struct {
	wait  float64
	tempo []plainTempo
}

type plainSet struct {
	label        string
	movement     int // from 1
	counts, hold float64
}

// plainMic is a player who wears one, or a fixed one.
type plainMic struct {
	name, group  string // section, or kind
	channel      int
	fixed        bool
	height, trim float64
	policy       string
	dots         [][2]float64 // in steps, by set
	at           spot         // of a fixed mic
	pan, delay   *float64     // of a fixed mic, set by hand
}

type plainStack struct {
	name               string
	at                 spot
	written            bool // whether left and right are
	left, right        float64
	trim, delay        float64 // dB, ms
	zone               int
	sub                bool
	amplitude, delaySI float64
}

type plainBlock struct {
	fx, fy, fz, fwidth float64
	bx, by, bz, bwidth float64
	rows, seats        int
	spacing            float64 // instead of seats
	weight             float64
}

type plainSeat struct {
	at     spot
	weight float64
}

type plainRole struct {
	name   string
	level  float64
	policy string
}

type plainCue struct {
	id, at   string
	movement int
	elapsed  float64 // counts since the downbeat
	role     map[string]string
	opened   [][2]string // role and name as they are written: a group begins with @
	nudges   map[string]float64
	policy   string
	follow   bool
}

type plainShow struct {
	seed      int64
	movements []plainMovement
	sets      []plainSet
	mics      []plainMic
	always    string // role of the fixed mics that are always open, "" for none

	grid28              bool
	air, latency        float64 // degC, ms
	zones               bool
	mostZones           int // stacks that carry one player
	ref                 spot
	refWeight           float64
	blocks              []plainBlock
	surveyed            []plainSeat
	stacks              []plainStack
	roles               []plainRole
	policy              string
	lead, window, width float64
	free, standFit      bool
	followOn            bool
	drift, swing, turn  float64 // ms, pan, degrees
	makeFrom, makeMost  float64

	cues []plainCue
	law  string
	desk Desk
}

// ---- a random show ----

func hundredths(v float64) float64 { return math.Round(v*100) / 100 }

func between(r *rand.Rand, lo, hi float64) float64 { return hundredths(lo + r.Float64()*(hi-lo)) }

func oneOf[T any](r *rand.Rand, list ...T) T { return list[r.Intn(len(list))] }

func chance(r *rand.Rand, p float64) bool { return r.Float64() < p }

func randomShow(seed int64) *plainShow {
	r := rand.New(rand.NewSource(seed))
	s := &plainShow{seed: seed, grid28: chance(r, 0.2)}
	s.randomTime(r)
	s.randomRig(r)
	s.randomMix(r)
	s.randomPlayers(r)
	s.randomCues(r)
	return s
}

func (s *plainShow) randomTime(r *rand.Rand) {
	left := 2 + r.Intn(7)
	for m := 1; m <= 1+r.Intn(3) && left > 0; m++ {
		v := plainMovement{}
		if chance(r, 0.5) {
			v.wait = between(r, 0, 8)
		}
		length := 0.0
		for n := 1 + r.Intn(left+1); n > 0 || length == 0; n-- {
			set := plainSet{label: fmt.Sprint(len(s.sets) + 1), movement: m, counts: float64(3 + r.Intn(8))}
			if chance(r, 0.4) {
				set.hold = float64(r.Intn(int(set.counts) + 1))
			}
			if length == 0 && len(s.sets) == 0 || length == 0 && !chance(r, 0.3) && (len(s.sets) == 0 || s.sets[len(s.sets)-1].movement != m) {
				set.counts, set.hold = 0, 0 // there on the downbeat
			}
			length += set.counts
			s.sets = append(s.sets, set)
			left--
		}
		at := 1.0
		v.tempo = []plainTempo{{at: 1, bpm: between(r, 60, 190)}}
		if chance(r, 0.2) {
			v.tempo[0].pause = between(r, 0, 3)
		}
		for at += float64(1 + r.Intn(8)); at < length && chance(r, 0.7); at += float64(1 + r.Intn(8)) {
			t := plainTempo{at: at}
			switch r.Intn(4) {
			case 0:
				t.bpm = between(r, 60, 190)
			case 1:
				t.pause = between(r, 0.1, 3)
			case 2:
				t.bpm, t.over = between(r, 60, 190), float64(1+r.Intn(6))
			case 3:
				t.bpm, t.over, t.pause = between(r, 60, 190), float64(1+r.Intn(12))/2, between(r, 0.1, 3)
			}
			at += math.Ceil(t.over)
			v.tempo = append(v.tempo, t)
		}
		s.movements = append(s.movements, v)
	}
}

func (s *plainShow) randomRig(r *rand.Rand) {
	s.air, s.latency, s.zones = between(r, 5, 38), between(r, 0, 8), chance(r, 0.4)
	s.ref = spot{between(r, -6, 6), between(r, -50, -20), between(r, 3, 25)}
	s.law = oneOf(r, "constant-power", "constant-power", "linear", "compromise")
	step := oneOf(r, 0.01, 0.02, 0.05)
	delay := oneOf(r, 0.1, 0.5)
	s.desk = Desk{Channels: 32, Pan: Limits{-1, 1, step}, Delay: Limits{0, oneOf(r, 500.0, 500, 500, 60.3), delay}, Level: Limits{oneOf(r, -70.0, -20), 6, oneOf(r, 0.01, 0.1, 0.5)}}
	s.desk.Send = Limits{oneOf(r, -200.0, -70, -20), 10, oneOf(r, 0.01, 0.1, 0.5)}

	n := 2 + r.Intn(5)
	for i := range n {
		k := plainStack{name: fmt.Sprint("s", i), zone: i + 1, written: chance(r, 0.6)}
		k.at = spot{hundredths(-30 + 60*(float64(i)+0.2+0.6*r.Float64())/float64(n)), between(r, -6, -1), between(r, 1, 6)}
		k.left, k.right = oneOf(r, 0, 1, between(r, 0.05, 1)), oneOf(r, 0, 1, between(r, 0.05, 1))
		if i == 0 || k.left+k.right == 0 {
			k.left = between(r, 0.3, 1)
		}
		if i == n-1 {
			k.right = between(r, 0.3, 1)
		}
		if !k.written {
			switch {
			case k.at.x < -0.5:
				k.left, k.right = 1, 0
			case k.at.x > 0.5:
				k.left, k.right = 0, 1
			default:
				k.left, k.right = math.Sqrt2/2, math.Sqrt2/2
			}
		}
		if chance(r, 0.5) {
			k.trim = between(r, -14, 3)
		}
		if chance(r, 0.4) {
			k.delay = between(r, 0, 20)
		}
		s.stacks = append(s.stacks, k)
	}
	if chance(r, 0.2) {
		s.stacks = append(s.stacks, plainStack{name: "sub", at: spot{-60, -5, 0.4}, written: true, left: 1, right: 1, sub: true})
	}
	r.Shuffle(len(s.stacks), func(i, j int) { s.stacks[i], s.stacks[j] = s.stacks[j], s.stacks[i] })

	for range r.Intn(3) {
		k := plainBlock{
			fx: between(r, -10, 10), fy: between(r, -16, -9), fz: between(r, 0.5, 3), fwidth: between(r, 20, 70),
			bx: between(r, -10, 10), by: between(r, -50, -25), bz: between(r, 8, 22), bwidth: between(r, 30, 95),
			rows: 3 + r.Intn(4), seats: 7 + r.Intn(6), weight: oneOf(r, 1.0, 1, 0.5, 2),
		}
		if chance(r, 0.2) {
			k.seats, k.spacing = 0, between(r, 5, 15)
		}
		s.blocks = append(s.blocks, k)
	}
	if chance(r, 0.3) {
		for i := range 1 + r.Intn(12) {
			q := plainSeat{spot{between(r, -40, 40), between(r, -50, -9), between(r, 1, 20)}, oneOf(r, 0.0, 1, 1, 0.25, 3)}
			if i == 0 {
				q.weight = 1 // a stand has somebody in it
			}
			s.surveyed = append(s.surveyed, q)
		}
	}
	if chance(r, 0.3) {
		s.refWeight = oneOf(r, 0.5, 1, 8)
	}
}

// somePolicy is a policy or none. Without a stand only one can be meant.
func (s *plainShow) somePolicy(r *rand.Rand, p float64) string {
	switch {
	case !chance(r, p):
		return ""
	case !s.standing():
		return "reference"
	}
	if s.zones && chance(r, 0.1) {
		return "joint" // which is most-seats where there is no pan
	}
	return oneOf(r, "reference", "most-seats", "least-error", "never-early")
}

func (s *plainShow) standing() bool { return len(s.blocks)+len(s.surveyed) > 0 }

func (s *plainShow) randomMix(r *rand.Rand) {
	for _, name := range []string{"feature", "support", "pad"} {
		s.roles = append(s.roles, plainRole{name, between(r, -15, 4), s.somePolicy(r, 0.25)})
	}
	s.policy, s.free = s.somePolicy(r, 0.5), chance(r, 0.3)
	s.lead, s.window, s.width = between(r, 0, 20), between(r, 10, 40), between(r, 0.3, 1)
	s.mostZones = oneOf(r, 2, 2, 2, 1)
	s.standFit = s.standing() && !s.zones && chance(r, 0.4)
	s.followOn = chance(r, 0.8)
	s.drift, s.swing, s.turn = between(r, 1, 8), between(r, 0.03, 0.3), between(r, 1, 6)
	if chance(r, 0.4) {
		s.makeFrom, s.makeMost = between(r, 10, 60), between(r, 0.5, 12)
	}
}

func (s *plainShow) randomPlayers(r *rand.Rand) {
	for i := range 2 + r.Intn(5) {
		p := plainMic{name: fmt.Sprint("P", i+1), group: oneOf(r, "trumpet", "tuba"), channel: i + 1, height: 1.5, policy: s.somePolicy(r, 0.2)}
		if chance(r, 0.3) {
			p.height = between(r, 0.5, 2.5)
		}
		if chance(r, 0.3) {
			p.trim = between(r, -4, 4)
		}
		still := chance(r, 0.15)
		at := [2]float64{between(r, -70, 70), between(r, -4, 80)}
		for j, set := range s.sets {
			walk := set.counts - set.hold
			for j > 0 && !still && (walk > 0 || set.counts == 0) {
				turn, way := r.Float64()*2*math.Pi, walk*1.6*r.Float64()
				if set.counts == 0 {
					way = r.Float64() * 40 // there is time between the movements
				}
				next := [2]float64{hundredths(at[0] + way*math.Sin(turn)), hundredths(at[1] + way*math.Cos(turn))}
				if math.Abs(next[0]) <= 78 && next[1] >= -6 && next[1] <= 82 {
					at = next
					break
				}
			}
			p.dots = append(p.dots, at)
		}
		s.mics = append(s.mics, p)
	}
	if chance(r, 0.3) {
		for i := range 1 + r.Intn(2) {
			m := plainMic{name: fmt.Sprint("F", i+1), group: oneOf(r, "field", "pit"), channel: 20 + i, fixed: true}
			m.at = spot{between(r, -20, 20), between(r, -1, 3), between(r, 0.3, 2)}
			if chance(r, 0.3) {
				m.trim = between(r, -4, 4)
			}
			if chance(r, 0.3) {
				v := between(r, -1, 1) // of no use in zones
				m.pan = &v
			}
			if chance(r, 0.3) {
				v := between(r, 0, 90)
				m.delay = &v
			}
			s.mics = append(s.mics, m)
		}
		if chance(r, 0.3) {
			s.always = "pad"
		}
	}
}

func (s *plainShow) length(movement int) float64 {
	n := 0.0
	for _, set := range s.sets {
		if set.movement == movement {
			n += set.counts
		}
	}
	return n
}

// arrival is when the dot is reached, before the hold.
func (s *plainShow) arrival(label string) (movement int, elapsed float64) {
	for i, set := range s.sets {
		if i == 0 || s.sets[i-1].movement != set.movement {
			elapsed = 0
		}
		elapsed += set.counts
		if set.label == label {
			return set.movement, elapsed - set.hold
		}
	}
	panic("no set " + label)
}

func (s *plainShow) randomCues(r *rand.Rand) {
	for i := range 1 + r.Intn(7) {
		c := plainCue{id: fmt.Sprint("c", i), role: map[string]string{}, nudges: map[string]float64{}, policy: s.somePolicy(r, 0.15), follow: !chance(r, 0.15)}
		m := 1 + r.Intn(len(s.movements))
		length := s.length(m)
		switch r.Intn(6) {
		case 0: // by a set, at or after it
			set := oneOf(r, s.sets...)
			m, at := s.arrival(set.label)
			offset := float64(r.Intn(2*int(set.hold)+1)) / 2
			c.movement, c.elapsed, c.at = m, at+offset, fmt.Sprintf("set %s + %g", set.label, offset)
		case 1: // the downbeat, or close behind
			c.movement, c.elapsed = m, oneOf(r, 0.0, 0, 0.25, 0.5, 1)
		case 2: // close to the end
			c.movement, c.elapsed = m, length-oneOf(r, 0.25, 0.5, 1, 1.5)
		case 3: // somewhere off the beat
			c.movement, c.elapsed = m, between(r, 0, length-0.5)
		default:
			c.movement, c.elapsed = m, float64(r.Intn(2*int(length)))/2
		}
		if c.at == "" {
			c.at = fmt.Sprintf("%d:%g", c.movement, hundredths(c.elapsed+1))
			c.elapsed = hundredths(c.elapsed+1) - 1
		}
		if slices.ContainsFunc(s.cues, func(o plainCue) bool {
			return o.movement == c.movement && math.Abs(o.elapsed-c.elapsed) < 0.01
		}) {
			continue
		}
		s.randomOpen(r, &c)
		s.cues = append(s.cues, c)
	}
	if !chance(r, 0.1) { // a file in another order is only a warning
		s.sortCues()
	}
}

func (s *plainShow) sortCues() {
	sort.SliceStable(s.cues, func(i, j int) bool {
		a, b := s.cues[i], s.cues[j]
		return a.movement < b.movement || a.movement == b.movement && a.elapsed < b.elapsed
	})
}

func (s *plainShow) randomOpen(r *rand.Rand, c *plainCue) {
	if s.always != "" {
		for _, m := range s.mics {
			if m.fixed {
				c.role[m.name] = s.always
			}
		}
	}
	group := ""
	if chance(r, 0.2) {
		group = oneOf(r, "trumpet", "tuba")
		for _, m := range s.mics {
			if m.group == group {
				c.role[m.name] = "support"
				c.opened = append(c.opened, [2]string{"support", "@" + group})
			}
		}
		c.opened = slices.Compact(c.opened)
	}
	for _, m := range s.mics {
		if !chance(r, 0.6) {
			continue
		}
		role := oneOf(r, s.roles...).name
		c.opened = append(c.opened, [2]string{role, m.name})
		c.role[m.name] = role
		if chance(r, 0.3) {
			c.nudges[m.name] = between(r, -5, 5)
		}
	}
	if len(c.opened) > 0 && c.opened[0][1] == "@"+group && chance(r, 0.5) {
		c.nudges["@"+group] = between(r, -5, 5)
	}
}

// ---- as files ----

func (s *plainShow) files() files {
	var f files
	var b strings.Builder
	line := func(form string, args ...any) { fmt.Fprintf(&b, form+"\n", args...) }
	policy := func(v string) {
		if v != "" {
			line("policy = %q", v)
		}
	}
	line("drill = { sets = \"s\", dots = \"d\" }\nroster = \"r\"\nrig = \"g\"\ndesk = \"k\"\n[mix]")
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
	line("[delay]\nlead = %v\nwindow = %v\nfree = %v", s.lead, s.window, s.free)
	policy(s.policy)
	line("[pan]\nwidth = %v", s.width)
	if s.standFit {
		line("by = \"stand-fit\"")
	}
	if s.mostZones == 1 {
		line("[zones]\nmost = 1")
	}
	line("[follow]\non = %v\ndrift = %v\npan = %v\nangle = %v", s.followOn, s.drift, s.swing, s.turn)
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
		line("[[cue]]\nid = %q\nat = %q\nfollow = %v", c.id, c.at, c.follow)
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
		line("[[stand]]\nfront = { x = %v, y = %v, z = %v, width = %v }\nback = { x = %v, y = %v, z = %v, width = %v }\nrows = %d\nweight = %v",
			k.fx, k.fy, k.fz, k.fwidth, k.bx, k.by, k.bz, k.bwidth, k.rows, k.weight)
		if k.spacing > 0 {
			line("spacing = %v", k.spacing)
		} else {
			line("seats = %d", k.seats)
		}
	}
	for _, k := range s.stacks {
		line("[[stack]]\nname = %q\nat = { x = %v, y = %v, z = %v }\ntrim = %v\ndelay = %v\nsub = %v", k.name, k.at.x, k.at.y, k.at.z, k.trim, k.delay, k.sub)
		if k.written {
			line("left = %v\nright = %v", k.left, k.right)
		}
		if s.zones && !k.sub {
			line("zone = %d", k.zone)
		}
	}
	for _, m := range s.mics {
		if m.fixed {
			line("[[mic]]\nname = %q\nkind = %q\nchannel = %d\nat = { x = %v, y = %v, z = %v }\ntrim = %v", m.name, m.group, m.channel, m.at.x, m.at.y, m.at.z, m.trim)
			if m.pan != nil {
				line("pan = %v", *m.pan)
			}
			if m.delay != nil {
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
	in := Input{Score: score.Read(file(0, "show", f.score), &p), Rig: rig.Read(file(4, "rig", f.rig), nil, &p), Desk: s.desk}
	for _, q := range s.surveyed {
		in.Rig.Surveyed = append(in.Rig.Surveyed, stand.Seat{At: layout.Point{X: q.at.x, Y: q.at.y, Z: q.at.z}, Weight: q.weight})
	}
	in.Drill = drill.Read(file(1, "sets", f.sets), file(2, "dots", f.dots), in.Rig.Field, &p)
	in.Roster = roster.Read(file(3, "roster", f.roster), &p)
	in.Desk.Law, _ = sound.LawByName(s.law)
	return Compile(in, &p), &p
}

// ---- the mathematics ----

// seconds is the time of a moment since the show's beginning.
func (s *plainShow) seconds(movement int, elapsed float64) float64 {
	total := 0.0
	for m := 1; m <= movement; m++ {
		v := s.movements[m-1]
		total += v.wait
		counts := s.length(m)
		if m == movement {
			counts = elapsed
		}
		tempo := v.tempo[0].bpm
		for i, t := range v.tempo {
			from, to := t.at-1, math.Inf(1)
			if i+1 < len(v.tempo) {
				to = v.tempo[i+1].at - 1
			}
			if t.pause > 0 && counts >= t.at-1e-9 { // after that count has sounded
				total += t.pause
			}
			n := math.Min(counts, to) - from // counts that this entry is in force
			if n <= 0 {
				if t.bpm > 0 {
					tempo = t.bpm
				}
				continue
			}
			if t.over > 0 {
				k := (t.bpm - tempo) / t.over
				in := math.Min(n, t.over)
				if k == 0 {
					total += 60 * in / tempo
				} else {
					total += 60 / k * math.Log((tempo+k*in)/tempo)
				}
				n -= in
			}
			if t.bpm > 0 {
				tempo = t.bpm
			}
			total += 60 * n / tempo
		}
	}
	return total
}

// place is where a mic is.
func (s *plainShow) place(m plainMic, movement int, elapsed float64) spot {
	if m.fixed {
		return m.at
	}
	metres := func(d [2]float64) spot {
		deep := 22.5 * 0.0254
		if s.grid28 {
			deep = 640.0 / 28 * 0.0254 // 53 ft 4 in are 28 steps
		}
		return spot{d[0] * 22.5 * 0.0254, d[1] * deep, m.height}
	}
	begin := 0.0
	last := m.dots[0]
	for i, set := range s.sets {
		if set.movement < movement {
			last = m.dots[i]
			continue
		}
		if set.movement > movement || elapsed < begin {
			break
		}
		a, b := metres(last), metres(m.dots[i])
		walk := set.counts - set.hold
		if elapsed < begin+walk {
			part := (elapsed - begin) / walk
			return spot{a.x + part*(b.x-a.x), a.y + part*(b.y-a.y), m.height}
		}
		last = m.dots[i]
		begin += set.counts
	}
	return metres(last)
}

// seats is everybody who counts.
func (s *plainShow) seats() []plainSeat {
	var list []plainSeat
	add := func(q plainSeat) {
		if q.weight > 0 {
			list = append(list, q)
		}
	}
	for _, k := range s.blocks {
		for i := range k.rows {
			t := float64(i) / float64(k.rows-1)
			x, y, z, width := k.fx+t*(k.bx-k.fx), k.fy+t*(k.by-k.fy), k.fz+t*(k.bz-k.fz), k.fwidth+t*(k.bwidth-k.fwidth)
			n := k.seats
			if n == 0 {
				n = int(width/k.spacing + 1e-9) // as many as fit, to a hair too
			}
			for j := range n { // in the middle of equal parts
				add(plainSeat{spot{x + width*((float64(j)+0.5)/float64(n)-0.5), y, z}, k.weight})
			}
		}
	}
	for _, q := range s.surveyed {
		add(q)
	}
	if len(list) > 0 {
		add(plainSeat{s.ref, s.refWeight})
	}
	return list
}

// heard are the stacks that count: no subs.
func (s *plainShow) heard() []plainStack {
	var list []plainStack
	for _, k := range s.stacks {
		if !k.sub {
			k.amplitude, k.delaySI = math.Pow(10, k.trim/20), k.delay/1000
			list = append(list, k)
		}
	}
	return list
}

func azimuth(q, from spot) float64 { return math.Atan2(q.x-from.x, q.y-from.y) }

// gains are the two gains of the desk's pan law.
func (s *plainShow) gains(p float64) (left, right float64) {
	cl, cr := math.Cos((p+1)*math.Pi/4), math.Sin((p+1)*math.Pi/4)
	ll, lr := (1-p)/2, (1+p)/2
	switch s.law {
	case "constant-power":
		return cl, cr
	case "linear":
		return ll, lr
	}
	return math.Sqrt(math.Max(0, cl*ll)), math.Sqrt(math.Max(0, cr*lr))
}

func faint(g float64) float64 {
	if g < 1e-6 {
		return 0
	}
	return g
}

// stereo is the amplitude that reaches each stack at pan p.
func (s *plainShow) stereo(p float64) []float64 {
	l, r := s.gains(p)
	var g []float64
	for _, k := range s.heard() {
		g = append(g, faint(k.amplitude*(k.left*l+k.right*r)))
	}
	return g
}

// zoneSends is the gain of the send to each stack's bus for a source at azimuth phi: the two stacks next to it
// by pairwise amplitude panning, of power one.
func (s *plainShow) zoneSends(phi float64) []float64 {
	stacks := s.heard()
	order := make([]int, len(stacks))
	az := make([]float64, len(stacks))
	for i, k := range stacks {
		order[i], az[i] = i, azimuth(k.at, s.ref)
	}
	sort.Slice(order, func(i, j int) bool { return az[order[i]] < az[order[j]] })
	phi = math.Max(az[order[0]], math.Min(az[order[len(order)-1]], phi))
	send := make([]float64, len(stacks))
	for i := range len(order) - 1 {
		a, b := order[i], order[i+1]
		if phi > az[b] {
			continue
		}
		if s.mostZones == 1 {
			if phi-az[a] > az[b]-phi {
				a = b
			}
			send[a] = 1
			break
		}
		// The direction is a sum of the two stacks' directions: solved for its parts.
		ga, gb := math.Sin(az[b]-phi), math.Sin(phi-az[a])
		power := math.Sqrt(ga*ga + gb*gb)
		send[a], send[b] = faint(ga/power), faint(gb/power)
		break
	}
	return send
}

// first is what one seat hears first of the loudspeakers: seconds, and whether any is heard at all.
func (s *plainShow) first(g []float64, at spot, c float64) (seconds float64, ok bool) {
	stacks := s.heard()
	loudest := 0.0
	v := make([]float64, len(stacks))
	for i, k := range stacks {
		v[i] = (g[i] / k.at.to(at)) * (g[i] / k.at.to(at))
		loudest = math.Max(loudest, v[i])
	}
	seconds = math.Inf(1)
	for i, k := range stacks {
		if v[i] > 0 && v[i] >= 0.1*loudest*(1-1e-9) {
			seconds = math.Min(seconds, s.latency/1000+k.delaySI+k.at.to(at)/c)
		}
	}
	return seconds, loudest > 0
}

// tangentPan is the pan that puts the image where the player stands, seen from the reference seat.
func (s *plainShow) tangentPan(p spot) float64 {
	stacks := s.heard()
	l, r := stacks[0].at, stacks[0].at
	for _, k := range stacks {
		if k.at.x < l.x {
			l = k.at
		}
		if k.at.x > r.x {
			r = k.at
		}
	}
	al, ar := azimuth(l, s.ref), azimuth(r, s.ref)
	half, mid := (ar-al)/2, (ar+al)/2
	if !(half > 1e-9 && half < math.Pi/2-1e-9) {
		return 0
	}
	phi := azimuth(p, s.ref) - mid
	for phi > math.Pi {
		phi -= 2 * math.Pi
	}
	for phi <= -math.Pi {
		phi += 2 * math.Pi
	}
	phi = math.Max(-half, math.Min(half, phi))
	k := math.Tan(phi) / math.Tan(half)
	switch s.law {
	case "constant-power":
		return 4 / math.Pi * math.Atan(k)
	case "linear":
		return k
	}
	// The compromise has no closed form: where (r - l)/(r + l) is k, r (1 - k) is l (1 + k).
	lo, hi := -1.0, 1.0
	for range 60 {
		p := (lo + hi) / 2
		if l, r := s.gains(p); r*(1-k) < l*(1+k) {
			lo = p
		} else {
			hi = p
		}
	}
	return lo
}

// images is, for each pan step of the desk from left to right, the direction in plan in which each seat hears
// the energy; 0, 0 for a seat that nothing reaches.
func (s *plainShow) images(seats []plainSeat) [][][2]float64 {
	n := int(math.Round(1 / s.desk.Pan.Step))
	var table [][][2]float64
	for k := -n; k <= n; k++ {
		g := s.stereo(float64(k) / float64(n))
		row := make([][2]float64, len(seats))
		for j, q := range seats {
			x, y := 0.0, 0.0
			for i, st := range s.heard() {
				d := st.at.to(q.at)
				v := g[i] / d * (g[i] / d)
				plan := math.Hypot(st.at.x-q.at.x, st.at.y-q.at.y)
				x += v * (st.at.x - q.at.x) / plan
				y += v * (st.at.y - q.at.y) / plan
			}
			if size := math.Hypot(x, y); size > 0 {
				row[j] = [2]float64{x / size, y / size}
			}
		}
		table = append(table, row)
	}
	return table
}

// standPan is the pan that puts the image right for the whole stand.
func standPan(p spot, seats []plainSeat, images [][][2]float64) float64 {
	n := len(images) / 2
	way := make([][2]float64, len(seats))
	for j, q := range seats {
		d := math.Hypot(p.x-q.at.x, p.y-q.at.y)
		way[j] = [2]float64{(p.x - q.at.x) / d, (p.y - q.at.y) / d}
	}
	cost := make([]float64, len(images))
	least := math.Inf(1)
	for k, row := range images {
		sum, weight := 0.0, 0.0
		for j, q := range seats {
			if row[j] != [2]float64{} {
				sum += q.weight * (1 - row[j][0]*way[j][0] - row[j][1]*way[j][1])
				weight += q.weight
			}
		}
		cost[k] = sum / weight // NaN where nobody is reached: never the least
		if cost[k] < least {
			least = cost[k]
		}
	}
	best := 2 * n // worse than any
	for k := -n; k <= n; k++ {
		if cost[k+n] <= least+1e-12 && (math.Abs(float64(k)) < math.Abs(float64(best))) {
			best = k
		}
	}
	return float64(best) / float64(n)
}

// rawDelay is the delay in seconds that a policy wants for one place: need is what each seat wants (with its
// weight), needR what the reference seat wants.
func (s *plainShow) rawDelay(policy string, need, weight []float64, needR float64) float64 {
	window, lead := s.window/1000, s.lead/1000
	switch policy {
	case "reference":
		return needR + lead
	case "never-early":
		return slices.Max(need)
	case "least-error":
		return lead + lowerMedian(need, weight)
	}
	lo, hi := math.Max(0, needR), math.Max(0, needR+window)
	best, most := 0.0, -1.0
	for j := -1; j < len(need); j++ {
		tau := lo
		if j >= 0 {
			tau = math.Max(0, need[j])
		}
		if !s.free && (tau < lo || tau > hi) {
			continue
		}
		served := 0.0
		for i, q := range need {
			if tau-q >= -1e-9 && tau-q <= window+1e-9 {
				served += weight[i]
			}
		}
		if served > most || served == most && tau < best {
			best, most = tau, served
		}
	}
	return best
}

func lowerMedian(value, weight []float64) float64 {
	order := make([]int, len(value))
	total := 0.0
	for i := range value {
		order[i] = i
		total += weight[i]
	}
	sort.Slice(order, func(i, j int) bool { return value[order[i]] < value[order[j]] })
	sum := 0.0
	for _, i := range order {
		if sum += weight[i]; sum >= total/2*(1-1e-12) {
			return value[i]
		}
	}
	panic("no median of nothing")
}

// onStep is a value on the grid of a step, halves up, and how close it came to the other choice.
func onStep(v, step float64) (rounded, margin float64) {
	return math.Floor(v/step+0.5+1e-9) * step, math.Abs(v/step+0.5-math.Round(v/step+0.5)) * step
}

func panOnStep(p, step float64) (rounded, margin float64) {
	n := math.Round(1 / step)
	r := math.Floor(math.Abs(p)*n+0.5+1e-9) / n
	return math.Copysign(r, p), math.Abs(math.Abs(p)*n+0.5-math.Round(math.Abs(p)*n+0.5)) / n
}

// ---- spans and pieces ----

type sample struct {
	movement int
	elapsed  float64
}

// cutAt is where a span may be cut: the piece before ends with one sample, the next begins with another, which
// is the same but at the end of a movement.
type cutAt struct{ end, begin int }

// spanOf lists the samples from one moment to another and where they may be parted.
func (s *plainShow) spanOf(from, to sample) (list []sample, cuts []cutAt) {
	if to.elapsed < 1e-9 && to.movement > from.movement {
		to = sample{to.movement - 1, s.length(to.movement - 1)}
	}
	for m := from.movement; m <= to.movement; m++ {
		lo, hi := 0.0, s.length(m)
		if m == from.movement {
			lo = from.elapsed
		}
		if m == to.movement {
			hi = to.elapsed
		}
		for n := 0; lo+float64(n)/4 < hi-1e-9; n++ {
			if n > 0 && n%4 == 0 {
				cuts = append(cuts, cutAt{len(list), len(list)})
			}
			list = append(list, sample{m, lo + float64(n)/4})
		}
		list = append(list, sample{m, hi})
		if m < to.movement {
			cuts = append(cuts, cutAt{len(list) - 1, len(list)})
		}
	}
	return list, cuts
}

// plainTrack is what one open mic does in a span, by sample.
type plainTrack struct {
	mic     plainMic
	at      []spot
	time    []float64 // to the reference seat, seconds
	pan     []float64 // wanted, held to the width; in zones the azimuth
	mayPan  float64   // how far pan may swing
	mayTime float64
}

// allows reports whether samples lo to hi may share a snapshot, and by how much it was decided.
func (t *plainTrack) allows(lo, hi int) (ok bool, margin float64) {
	a := t.mayTime - swing(t.time[lo:hi+1])
	b := t.mayPan - swing(t.pan[lo:hi+1])
	return a >= 0 && b >= 0, math.Min(math.Abs(a), math.Abs(b))
}

func swing(v []float64) float64 { return slices.Max(v) - slices.Min(v) }

func middle(v []float64) float64 { return (slices.Max(v) + slices.Min(v)) / 2 }

// plainChannel is one open channel of one piece, worked out.
type plainChannel struct {
	open             bool
	level, levelEdge float64
	pan, panEdge     float64
	delay, delayEdge float64
	sends            map[int]float64
	sendEdge         map[int]float64
	fit              *cue.Fit
	timeSwing        float64 // in the piece
	panSwing         float64
	byHand           bool // the delay
}

// plainPiece is one snapshot.
type plainPiece struct {
	id       string
	movement int
	count    float64
	time     float64
	channels map[int]plainChannel
	mayCut   bool // it could have been cut shorter
}

// work computes the whole show. near is how close any cut was to being decided otherwise.
func (s *plainShow) work() (pieces []plainPiece, near float64) {
	near = math.Inf(1)
	c := 343.2 * math.Sqrt((s.air+273.15)/293.15)
	seats := s.seats()
	var images [][][2]float64
	if s.standFit {
		images = s.images(seats)
	}
	sorted := *s
	sorted.cues = slices.Clone(s.cues)
	sorted.sortCues()
	for i, q := range sorted.cues {
		end := sample{len(s.movements), s.length(len(s.movements))}
		if i+1 < len(sorted.cues) {
			end = sample{sorted.cues[i+1].movement, sorted.cues[i+1].elapsed}
		}
		list, cuts := s.spanOf(sample{q.movement, q.elapsed}, end)
		var tracks []*plainTrack
		for _, m := range s.mics {
			if q.role[m.name] == "" {
				continue
			}
			t := &plainTrack{mic: m, mayTime: 2*s.drift/1000 + 1e-9, mayPan: 2*s.swing + 1e-9}
			if s.zones {
				t.mayPan = 2*s.turn*math.Pi/180 + 1e-9
			}
			for _, at := range list {
				p := s.place(m, at.movement, at.elapsed)
				pan := 0.0
				switch {
				case s.zones:
					pan = azimuth(p, s.ref)
				case m.pan != nil:
					pan = *m.pan
				case s.standFit:
					pan = standPan(p, seats, images)
				default:
					pan = s.tangentPan(p)
				}
				if !s.zones && m.pan == nil {
					pan = math.Max(-s.width, math.Min(s.width, pan))
				}
				t.at, t.time, t.pan = append(t.at, p), append(t.time, p.to(s.ref)/c), append(t.pan, pan)
			}
			tracks = append(tracks, t)
		}
		allows := func(lo, hi int) bool {
			all := true
			for _, t := range tracks {
				ok, margin := t.allows(lo, hi)
				near = math.Min(near, margin)
				all = all && ok
			}
			return all
		}
		begin, follow := 0, 0
		for {
			last, next := len(list)-1, -1
			if s.followOn && q.follow && !allows(begin, last) {
				for _, cut := range cuts {
					if cut.begin <= begin {
						continue
					}
					if next < 0 || allows(begin, cut.end) {
						last, next = cut.end, cut.begin
					} else {
						break
					}
				}
			}
			piece := plainPiece{id: q.id, movement: list[begin].movement, count: list[begin].elapsed + 1, time: s.seconds(list[begin].movement, list[begin].elapsed), channels: map[int]plainChannel{}}
			piece.mayCut = s.followOn && q.follow && slices.ContainsFunc(cuts, func(cut cutAt) bool { return cut.begin > begin && cut.end < last })
			if follow > 0 {
				piece.id = fmt.Sprintf("%s.%d", q.id, follow)
			}
			for _, t := range tracks {
				piece.channels[t.mic.channel] = s.channel(q, t, begin, last, seats, c)
			}
			pieces = append(pieces, piece)
			if next < 0 {
				break
			}
			begin = next
			follow++
		}
	}
	return pieces, near
}

// policyOf is the policy for one mic in one cue: the cue's, the player's, the role's, the show's.
func (s *plainShow) policyOf(q plainCue, m plainMic) string {
	if q.policy != "" {
		return q.policy
	}
	if m.policy != "" {
		return m.policy
	}
	for _, role := range s.roles {
		if role.name == q.role[m.name] && role.policy != "" {
			return role.policy
		}
	}
	switch {
	case s.policy != "":
		return s.policy
	case s.standing():
		return "most-seats"
	}
	return "reference"
}

// channel works out one open mic over samples lo to hi.
func (s *plainShow) channel(q plainCue, t *plainTrack, lo, hi int, seats []plainSeat, c float64) plainChannel {
	m := t.mic
	w := plainChannel{open: true, timeSwing: swing(t.time[lo : hi+1]), panSwing: swing(t.pan[lo : hi+1]), byHand: m.delay != nil}

	level := m.trim + q.nudges[m.name] + q.nudges["@"+m.group]
	for _, role := range s.roles {
		if role.name == q.role[m.name] {
			level += role.level
		}
	}
	if s.makeMost > 0 && !m.fixed {
		level += math.Max(0, math.Min(s.makeMost, 20*math.Log10(t.at[lo].to(s.ref)/s.makeFrom)))
	}
	level = math.Max(s.desk.Level.Min, math.Min(s.desk.Level.Max, level))
	w.level, w.levelEdge = onStep(level, s.desk.Level.Step)

	var g []float64
	if s.zones {
		w.sends, w.sendEdge = map[int]float64{}, map[int]float64{}
		sends := s.zoneSends(middle(t.pan[lo : hi+1]))
		for i, k := range s.heard() {
			g = append(g, faint(sends[i]*k.amplitude))
			if sends[i] == 0 {
				w.sends[k.zone], w.sendEdge[k.zone] = math.Inf(-1), 1
				continue
			}
			w.sends[k.zone], w.sendEdge[k.zone] = onStep(math.Max(s.desk.Send.Min, math.Min(s.desk.Send.Max, 20*math.Log10(sends[i]))), s.desk.Send.Step)
		}
	} else {
		w.pan, w.panEdge = panOnStep(middle(t.pan[lo:hi+1]), s.desk.Pan.Step)
		g = s.stereo(w.pan)
	}

	// What the loudspeakers do does not change in the piece; what the player does is looked at in each sample.
	firstR, _ := s.first(g, s.ref, c)
	var first []float64
	var reached []plainSeat
	for _, q := range seats {
		if f, ok := s.first(g, q.at, c); ok {
			first, reached = append(first, f), append(reached, q)
		}
	}
	policy := s.policyOf(q, m)
	var raw []float64
	var needs [][]float64
	weight := make([]float64, len(reached))
	for j := range reached {
		weight[j] = reached[j].weight
	}
	for _, p := range t.at[lo : hi+1] {
		need := make([]float64, len(reached))
		for j, q := range reached {
			need[j] = p.to(q.at)/c - first[j]
		}
		needs = append(needs, need)
		raw = append(raw, 1000*s.rawDelay(policy, need, weight, p.to(s.ref)/c-firstR))
	}
	delay, early := middle(raw), policy == "never-early"
	if early {
		delay = slices.Max(raw)
	}
	if m.delay != nil {
		delay, early = *m.delay, false
	}
	step, most := s.desk.Delay.Step, s.desk.Delay.Max
	delay = math.Max(0, math.Min(most, delay))
	if early {
		w.delay = math.Min(most, math.Ceil(delay/step-1e-9)*step)
		w.delayEdge = math.Abs(delay/step-math.Round(delay/step)) * step
	} else {
		w.delay, w.delayEdge = onStep(delay, step)
		w.delay = math.Min(most, w.delay) // the most need not lie on a step
	}

	if len(reached) > 0 {
		w.fit = s.fit(w.delay/1000, needs, weight)
	}
	return w
}

// fit is how a delay serves everybody, each seat counted once in every sample.
func (s *plainShow) fit(tau float64, needs [][]float64, weight []float64) *cue.Fit {
	var f cue.Fit
	var lateness, weights []float64
	total := 0.0
	for _, need := range needs {
		for j, q := range need {
			e := tau - q
			total += weight[j]
			lateness, weights = append(lateness, 1000*e), append(weights, weight[j])
			switch {
			case e < -1e-9:
				f.Early += weight[j]
				f.WorstEarlyMS = math.Max(f.WorstEarlyMS, -1000*e)
			case e > s.window/1000+1e-9:
				f.Late += weight[j]
				f.WorstLateMS = math.Max(f.WorstLateMS, 1000*e-s.window)
			default:
				f.Inside += weight[j]
			}
		}
	}
	f.Inside, f.Early, f.Late = f.Inside/total, f.Early/total, f.Late/total
	f.MedianMS = lowerMedian(lateness, weights)
	return &f
}

// ---- the comparison ----

// TestSecondOpinion compiles random shows both ways. A show that fails is found again by its seed.
func TestSecondOpinion(t *testing.T) {
	shows := 1000
	if testing.Short() {
		shows = 60
	}
	var snapshots, channels, follows, near atomic.Int64
	t.Run("seed", func(t *testing.T) {
		for seed := 1; seed <= shows; seed++ {
			t.Run(fmt.Sprint(seed), func(t *testing.T) {
				t.Parallel()
				s := randomShow(int64(seed))
				r, p := s.compile()
				if r.Show == nil {
					t.Fatalf("does not compile:\n%s", said(p))
				}
				want, margin := s.work()
				if !sameTimes(r.Show, want) && margin < 1e-9 {
					near.Add(1) // a cut that hangs on the last bit
					return
				}
				for i := range max(len(r.Show.Cues), len(want)) {
					if i >= len(r.Show.Cues) || i >= len(want) {
						t.Fatalf("%d snapshots, want %d:\n%s", len(r.Show.Cues), len(want), timesOf(r.Show, want))
					}
					got := &r.Show.Cues[i]
					w := want[i]
					if got.ID != w.id || got.Movement != w.movement || math.Abs(got.Count-w.count) > 1e-6 || math.Abs(got.TimeS-w.time) > 2e-6 {
						t.Fatalf("snapshot %s %d:%g at %g s, want %s %d:%g at %g s\n%s", got.ID, got.Movement, got.Count, got.TimeS, w.id, w.movement, w.count, w.time, timesOf(r.Show, want))
					}
					snapshots.Add(1)
					if got.FollowOn {
						follows.Add(1)
					}
					for _, ch := range got.Channels {
						mine := w.channels[ch.Channel]
						if ch.Open != mine.open {
							t.Errorf("cue %s channel %d: open %v", got.ID, ch.Channel, ch.Open)
							continue
						}
						if ch.Open {
							channels.Add(1)
							if text := s.noted(w, mine, ch); text != "" {
								t.Errorf("cue %s channel %d: %s", got.ID, ch.Channel, text)
							}
						} else {
							mine = s.waiting(want, i, ch.Channel)
						}
						text, edge := mine.differs(ch)
						if edge {
							near.Add(1)
						}
						if text != "" {
							t.Errorf("cue %s channel %d: %s", got.ID, ch.Channel, text)
						}
					}
				}
			})
		}
	})
	t.Logf("%d snapshots, %d of them follow-ons, %d open channels, %d on the edge of a step", snapshots.Load(), follows.Load(), channels.Load(), near.Load())
	if n := near.Load(); n > int64(shows/100+1) {
		t.Errorf("%d values differ because they lie on the edge of a step: too many to be chance", n)
	}
}

// waiting is a closed channel: its pan, delay and sends are those that it needs next, or had last.
func (s *plainShow) waiting(pieces []plainPiece, at, channel int) plainChannel {
	w := plainChannel{sends: map[int]float64{}, sendEdge: map[int]float64{}}
	if s.zones {
		for _, k := range s.heard() {
			w.sends[k.zone] = math.Inf(-1)
		}
	}
	for i := range pieces {
		if o := pieces[i].channels[channel]; o.open {
			if w = o; i > at {
				break
			}
		}
	}
	w.open, w.fit = false, nil
	w.level, w.levelEdge = math.Inf(-1), 1
	return w
}

// noted holds what a snapshot says to what a mic does in it: who leaves the tolerance is noted, and nobody
// leaves it where a cut could have helped.
func (s *plainShow) noted(piece plainPiece, w plainChannel, got cue.Channel) string {
	time, pan, most := 1000*w.timeSwing/2, w.panSwing/2, s.swing
	if s.zones {
		pan, most = pan*180/math.Pi, s.turn
	}
	if w.byHand {
		time = 0
	}
	const slack = 2e-6 // what lies within this of the tolerance may be told either way
	over := time > s.drift+slack || pan > most+slack
	under := time < s.drift-slack && pan < most-slack
	note := slices.ContainsFunc(got.Notes, func(n string) bool { return strings.HasPrefix(n, "walks while open") })
	switch {
	case over && !note, under && note:
		return fmt.Sprintf("off by %v ms and %v of pan, notes %q", time, pan, got.Notes)
	case over && piece.mayCut:
		return fmt.Sprintf("off by %v ms and %v of pan where it could have been cut", time, pan)
	}
	return ""
}

func sameTimes(show *cue.Show, want []plainPiece) bool {
	if len(show.Cues) != len(want) {
		return false
	}
	for i, w := range want {
		if show.Cues[i].ID != w.id || math.Abs(show.Cues[i].Count-w.count) > 1e-6 {
			return false
		}
	}
	return true
}

func timesOf(show *cue.Show, want []plainPiece) string {
	var b strings.Builder
	for _, c := range show.Cues {
		fmt.Fprintf(&b, " %s %d:%g", c.ID, c.Movement, c.Count)
	}
	b.WriteString("\nwant")
	for _, w := range want {
		fmt.Fprintf(&b, " %s %d:%g", w.id, w.movement, w.count)
	}
	return b.String()
}

// differs says what of a channel is not as worked out. edge: only because a value lies where rounding turns over,
// after which what follows from it cannot be compared.
func (w plainChannel) differs(got cue.Channel) (text string, edge bool) {
	const same, turn = 1e-6, 1e-7
	var list []string
	off := func(name string, got, want, margin float64) {
		switch {
		case math.Abs(got-want) <= same || got == want:
		case margin <= turn:
			edge = true
		default:
			list = append(list, fmt.Sprintf("%s %v, want %v", name, got, want))
		}
	}
	off("level", float64(got.LevelDB), w.level, w.levelEdge)
	off("pan", got.Pan, w.pan, w.panEdge)
	if edge {
		return strings.Join(list, "; "), true
	}
	off("delay", got.DelayMS, w.delay, w.delayEdge)
	if len(got.Sends) != len(w.sends) {
		list = append(list, fmt.Sprintf("%d sends, want %d", len(got.Sends), len(w.sends)))
	}
	for _, k := range got.Sends {
		want, ok := w.sends[k.Zone]
		if !ok {
			list = append(list, fmt.Sprintf("a send to zone %d", k.Zone))
		}
		off(fmt.Sprint("send ", k.Zone), float64(k.LevelDB), want, w.sendEdge[k.Zone])
	}
	if edge {
		return strings.Join(list, "; "), true
	}
	switch {
	case (got.Fit == nil) != (w.fit == nil):
		list = append(list, fmt.Sprintf("fit %v, want %v", got.Fit, w.fit))
	case got.Fit != nil:
		// Shares are told to four decimals, milliseconds to two.
		for _, x := range []struct {
			name            string
			got, want, told float64
		}{
			{"inside", got.Fit.Inside, w.fit.Inside, 1e-4},
			{"early", got.Fit.Early, w.fit.Early, 1e-4},
			{"late", got.Fit.Late, w.fit.Late, 1e-4},
			{"worst early", got.Fit.WorstEarlyMS, w.fit.WorstEarlyMS, 0.01},
			{"worst late", got.Fit.WorstLateMS, w.fit.WorstLateMS, 0.01},
			{"median", got.Fit.MedianMS, w.fit.MedianMS, 0.01},
		} {
			if math.Abs(x.got-x.want) > x.told/2+1e-7 {
				list = append(list, fmt.Sprintf("fit %s %v, want %v", x.name, x.got, x.want))
			}
		}
	}
	return strings.Join(list, "; "), edge
}

// ---- the cutting ----

// TestFewestPieces holds the greedy cutting to all ways there are of cutting a short span: none needs fewer
// snapshots. A piece may be had where all that walk in it keep within the tolerance, or where it is but one count
// and cannot be cut.
func TestFewestPieces(t *testing.T) {
	const seed = 7
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewSource(seed))
	tried, cutOften := 0, 0
	for range 20_000 {
		r, s := randomSpan(rng)
		pieces := r.divide([]span{s})
		last := len(s.samples) - 1
		inner := s.cuts[:len(s.cuts)-1] // the last is the span's end
		if len(s.cuts) == 0 || len(inner) > 12 {
			t.Fatalf("a span of %d samples has %d cuts", len(s.samples), len(s.cuts))
		}
		may := func(lo, hi int) bool {
			single := !slices.ContainsFunc(inner, func(c cut) bool { return c.next > lo && c.end < hi })
			return single || r.allowed(&s, s.reaches(lo), hi)
		}

		// The pieces join up, cut where it is allowed, and may be had.
		for i, p := range pieces {
			switch {
			case i == 0 && p.lo != 0, i == len(pieces)-1 && p.hi != last, p.n != i:
				t.Fatalf("pieces %v of %d samples", pieces, last+1)
			case i > 0 && !slices.Contains(inner, cut{pieces[i-1].hi, p.lo}):
				t.Fatalf("pieces %v are not parted at one of %v", pieces, inner)
			case !may(p.lo, p.hi):
				t.Fatalf("pieces %v: %v may not be had; cuts %v", pieces, p, inner)
			}
		}

		fewest := len(inner) + 2
		for ways := range 1 << len(inner) { // each bit is a cut that is made
			n, lo, fine := 1, 0, true
			for k, c := range inner {
				if ways>>k&1 == 1 {
					fine = fine && may(lo, c.end)
					lo = c.next
					n++
				}
			}
			if fine && may(lo, last) {
				fewest = min(fewest, n)
			}
		}
		if len(pieces) != fewest {
			t.Fatalf("%d pieces %v where %d would do; cuts %v, tracks %+v", len(pieces), pieces, fewest, inner, s.tracks)
		}
		tried++
		if fewest > 2 && fewest <= len(inner) {
			cutOften++
		}
	}
	if cutOften < tried/10 {
		t.Errorf("only %d of %d spans had a choice", cutOften, tried)
	}
}

// randomSpan is a short span with one to three mics that walk at random: by fits and starts, elsewhere after a
// downbeat, and some of them only until the mic changes hands.
func randomSpan(rng *rand.Rand) (*Result, span) {
	var show plainShow
	for m := 1; m <= 1+rng.Intn(3); m++ {
		show.movements = append(show.movements, plainMovement{})
		show.sets = append(show.sets, plainSet{movement: m, counts: float64(1 + rng.Intn(4))})
	}
	from := sample{1, float64(rng.Intn(2*int(show.length(1))+1)) / 2}
	to := sample{len(show.movements), show.length(len(show.movements))}
	if to.movement == 1 && from.elapsed > to.elapsed-0.5 {
		from.elapsed = 0
	} else if chance(rng, 0.3) && to.elapsed > from.elapsed+0.5 {
		to.elapsed -= 0.25
	}
	list, _ := show.spanOf(from, to)
	var s span
	for _, m := range list {
		s.samples = append(s.samples, clock.Moment{Movement: m.movement, Elapsed: m.elapsed})
	}
	s.cuts = cuts(s.samples)
	r := &Result{Input: Input{Score: &score.Score{Follow: score.Follow{On: true, DriftMS: 5, Pan: 0.1, AngleDeg: 3}}, Rig: &rig.Rig{Zones: chance(rng, 0.3)}}}
	r.Cues = []Moment{{Cue: &score.Cue{Follow: true}}}
	swing := 0.1
	if r.Rig.Zones {
		swing = 3 * math.Pi / 180
	}
	for l := range 1 + rng.Intn(3) {
		t := track{line: l}
		fast := oneOf(rng, 0.1, 0.3, 0.6) // of the tolerance, a sample
		n := len(s.samples)
		if chance(rng, 0.2) {
			n = 1 + rng.Intn(n)
		}
		path, want := 0.1, 0.0
		pathStep, wantStep := rng.NormFloat64(), rng.NormFloat64()
		for i := range n {
			if chance(rng, 0.2) { // turns
				pathStep, wantStep = rng.NormFloat64(), rng.NormFloat64()
			}
			if i > 0 && s.samples[i].Movement != s.samples[i-1].Movement {
				path += rng.NormFloat64() * 0.01
				want += rng.NormFloat64() * swing
			}
			path += pathStep * fast * 0.005
			want += wantStep * fast * swing
			t.at, t.pathS, t.want = append(t.at, layout.Point{}), append(t.pathS, path), append(t.want, want)
		}
		s.tracks = append(s.tracks, t)
	}
	return r, s
}
