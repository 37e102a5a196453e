package compile

import (
	"fmt"
	"math"
	"math/rand"
	"slices"
	"sort"

	"backfield/cue"
	"backfield/cue/timeline"
)

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
			if length == 0 && len(s.sets) == 0 || length == 0 && !chance(r,
				0.3) && (len(s.sets) == 0 || s.sets[len(s.sets)-1].movement != m) {
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
	limits := func(least, most, step float64) timeline.Limits {
		return timeline.Limits{Min: least, Max: most, Step: step}
	}
	s.mixer = timeline.MixerSpec{
		Channels: 32, Pan: limits(-1, 1, step), Delay: limits(0, oneOf(r, 500.0, 500, 500, 60.3), delay),
		Level: limits(oneOf(r, -70.0, -20), 6, oneOf(r, 0.01, 0.1, 0.5)),
	}
	s.mixer.Send = limits(oneOf(r, -200.0, -70, -20), 10, oneOf(r, 0.01, 0.1, 0.5))

	n := 2 + r.Intn(5)
	for i := range n {
		k := plainStack{name: fmt.Sprint("s", i), zone: i + 1, written: chance(r, 0.6)}
		k.at = spot{hundredths(-30 + 60*(float64(i)+0.2+0.6*r.Float64())/float64(n)), between(r, -6, -1),
			between(r, 1, 6)}
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
		s.stacks = append(s.stacks, plainStack{name: "sub", at: spot{-60, -5, 0.4}, written: true, left: 1, right: 1,
			sub: true})
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
			q := plainSeat{spot{between(r, -40, 40), between(r, -50, -9), between(r, 1, 20)},
				oneOf(r, 0.0, 1, 1, 0.25, 3)}
			if i == 0 {
				q.weight = 1 // at least one seat counts
			}
			s.surveyed = append(s.surveyed, q)
		}
	}
	if chance(r, 0.3) {
		s.refWeight = oneOf(r, 0.5, 1, 8)
	}
}

// somePolicy is a policy or none. Without stands only one works.
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
	if s.mixer.Moves = oneOf(r, cue.Glides, cue.Glides, cue.AtCues, cue.Closed); s.mixer.Moves == cue.Glides {
		s.mixer.Delay.Step = 0.1 // one that glides has fine steps
	}
	if chance(r, 0.4) {
		s.makeFrom, s.makeMost = between(r, 10, 60), between(r, 0.5, 12)
	}
}

func (s *plainShow) randomPlayers(r *rand.Rand) {
	for i := range 2 + r.Intn(5) {
		p := plainMic{name: fmt.Sprint("P", i+1), group: oneOf(r, "trumpet", "tuba"), channel: i + 1, height: 1.5,
			policy: s.somePolicy(r, 0.2)}
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
		c := plainCue{id: fmt.Sprint("c", i), role: map[string]string{}, nudges: map[string]float64{},
			policy: s.somePolicy(r, 0.15)}
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
