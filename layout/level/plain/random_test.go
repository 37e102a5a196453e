package plain

import (
	"flag"
	"fmt"
	"math"
	"math/rand"
	"testing"

	"backfield/layout"
)

var (
	scenes    = flag.Int("scenes", 500, "how many random cues are computed")
	firstSeed = flag.Int64("first", 1, "seed of the first random cue")
)

func pick[T any](r *rand.Rand, list ...T) T { return list[r.Intn(len(list))] }

func some(r *rand.Rand, p float64) bool { return r.Float64() < p }

func from(r *rand.Rand, lo, hi float64) float64 { return lo + r.Float64()*(hi-lo) }

// halves are faders and limits on the grid of changes, so that they are met exactly.
func halves(r *rand.Rand, lo, hi int) float64 { return float64(2*lo+r.Intn(2*(hi-lo)+1)) / 2 }

func place(r *rand.Rand, x0, x1, y0, y1, z0, z1 float64) layout.Point {
	return layout.Point{X: from(r, x0, x1), Y: from(r, y0, y1), Z: from(r, z0, z1)}
}

func bands(r *rand.Rand, lo, hi float64) (o Octaves) {
	for b := range o {
		o[b] = from(r, lo, hi)
	}
	return o
}

// randomCue is a rig with stands, some players, and a cue of one or two snapshots in which they walk.
func randomCue(seed int64) PlainCue {
	r := rand.New(rand.NewSource(seed))
	s := &PlainScene{AirC: pick(r, 24, from(r, -10, 45)), Humidity: pick(r, 50, from(r, 10, 100)),
		BellUp: pick(r, 10, 10, 0, from(r, -10, 60)), Nominal: pick(r, 100, from(r, 80, 125)),
		Band: pick(r, 0, from(r, -6, 12)), Background: pick(r, math.Inf(-1), math.Inf(-1), from(r, 30, 70)),
		Box: place(r, -8, 8, -60, -15, 2, 30), Horns: Sections()}
	for i := range r.Intn(3) {
		s.Horns[fmt.Sprintf("own %d", i)] = Horn{from(r, 85, 115), pick(r, 0, from(r, 0.01, 0.5)), bands(r, -50, 0)}
	}
	for range r.Intn(30) {
		s.Seats = append(s.Seats, WeightedSeat{place(r, -60, 60, -70, -10, 1, 30), pick(r, 1, 2, 0.25, 0, from(r, 0, 20))})
	}
	if n := len(s.Seats); n > 0 {
		s.Seats[n-1].Weight = 1 // not all of them are 0
		if some(r, 0.2) {
			s.Seats = append(s.Seats, s.Seats[0]) // two equal ones
		}
	}
	s.randomSpeakers(r)
	s.randomPlayers(r)
	s.randomFixed(r)
	for range r.Intn(3) {
		s.People = append(s.People, place(r, -30, 30, -10, 10, 1, 2))
	}
	c := PlainCue{Share: pick(r, 90, 90, 50, 100, from(r, 5, 100)), Over: pick(r, 10, halves(r, -10, 20)),
		Margin: pick(r, 6, halves(r, -5, 20))}
	moments := 1 + r.Intn(5)
	for i := range moments {
		c.Walk = append(c.Walk, s)
		if i == 0 || i == moments-1 || some(r, 0.3) {
			c.Ends = append(c.Ends, s)
		}
		s = s.later(r)
	}
	c.setHighest(r)
	c.Target = math.NaN()
	if lead := c.leads()(0, 0); !math.IsNaN(lead) {
		c.Target = lead + pick(r, from(r, 0, 12), from(r, 0, 12), from(r, -20, 0), from(r, 0, 40))
	} else if some(r, 0.5) {
		c.Target = 6
	}
	return c
}

func (s *PlainScene) randomSpeakers(r *rand.Rand) {
	for range 1 + r.Intn(6) {
		at := place(r, -40, 40, -8, 2, 0.5, 8)
		aim := pick(r, s.Box, layout.Point{X: at.X, Y: from(r, -50, -15), Z: from(r, 1, 20)},
			place(r, -60, 60, -60, 20, 0, 20), place(r, -60, 60, -60, 20, 0, 20))
		if some(r, 0.03) {
			aim = layout.Point{X: at.X, Y: at.Y} // straight down
		}
		k := Usual(at, aim)
		if some(r, 0.3) {
			k.WideDeg, k.HighDeg, k.MouthM, k.FrontBack = from(r, 20, 360), from(r, 5, 180), from(r, 0.1, 3), bands(r, 0, 30)
		}
		k.Trim, k.BusLeft, k.BusRight = pick(r, 0, from(r, -20, 6)), pick(r, 0, 1, from(r, 0, 1)), pick(r, 0, 1, from(r, 0, 1))
		s.Speakers = append(s.Speakers, k)
	}
}

// randomChannel sends to the stacks as in stereo, or as in zones, where a send may be at the edge of what counts.
func (s *PlainScene) randomChannel(r *rand.Rand) PlainChannel {
	c := PlainChannel{Meter: pick(r, 0, 0, from(r, -12, 12)), Fader: pick(r, halves(r, -30, 6), from(r, -40, 10)),
		LowCut: pick(r, 0, 0, 200, from(r, 40, 400))}
	if some(r, 0.5) {
		c.Sends = s.sends(from(r, -1, 1))
		return c
	}
	for range s.Speakers {
		c.Sends = append(c.Sends, pick(r, 0, math.Inf(-1), from(r, -30, 6), pick(r, -80, -80.01, -90, -79.99)))
	}
	return c
}

func (s *PlainScene) randomPlayers(r *rand.Rand) {
	var names []string
	for _, name := range []string{"trumpet", "mellophone", "baritone", "tuba", "snare", "tenor", "bass", "cymbal", "pit",
		"own 0", "own 1"} {
		if _, ok := s.Horns[name]; ok {
			names = append(names, name)
		}
	}
	solo := pick(r, 0, 0.1, 0.3, 1)
	for i := range 1 + r.Intn(16) {
		name := pick(r, names...)
		m := Musician{Name: fmt.Sprintf("P%d", i), Section: name, Instrument: name,
			At:        pick(r, place(r, -50, 50, -2, 50, 0.5, 2), place(r, -25, 25, 0, 25, 1.5, 1.5)),
			FacingDeg: pick(r, ToBox, ToBox, 180, from(r, -400, 400)), Own: pick(r, 0, from(r, -6, 6)),
			Dynamics: pick(r, -16, -12, -8, -4, 0, 6, from(r, -20, 10)), Plays: some(r, 0.9), NoDot: some(r, 0.04),
			Featured: i == 0 && some(r, 0.8) || some(r, solo)}
		if some(r, 0.05) { // at a stack, or at the box
			m.At = pick(r, s.Box, s.Speakers[0].At,
				layout.Point{X: s.Speakers[0].At.X, Y: s.Speakers[0].At.Y, Z: 1.5})
		}
		if some(r, 0.4) || i == 0 {
			m.Mic = &WornEar{pick(r, 0.12, from(r, 0.02, 1)), s.randomChannel(r)}
			m.Mic.Ceiling = pick(r, 6, 6, 10, halves(r, -5, 10))
		}
		s.Players = append(s.Players, m)
	}
}

func (s *PlainScene) randomFixed(r *rand.Rand) {
	for i := range r.Intn(5) {
		s.Fixed = append(s.Fixed, FixedEar{Name: fmt.Sprintf("M%d", i), Kind: pick(r, "pit", "field"),
			At: pick(r, place(r, -30, 30, -4, 4, 0.5, 2), s.Players[0].At), K: pick(r, 1, 0.5, 0.37, from(r, 0.2, 1)),
			FacingDeg: pick(r, 180, ToBox, from(r, -180, 180)), Ring: pick(r, 0, from(r, -12, 12)),
			PlainChannel: s.randomChannel(r)})
	}
}

// later is the same scene when its players have moved on, with some faders moved as well.
func (s *PlainScene) later(r *rand.Rand) *PlainScene {
	next := *s
	next.Players = append([]Musician(nil), s.Players...)
	next.Fixed = append([]FixedEar(nil), s.Fixed...)
	move := some(r, 0.3)
	for i := range next.Players {
		m := &next.Players[i]
		m.At.X += from(r, -3, 3)
		m.At.Y += from(r, -3, 3)
		if move && m.Mic != nil {
			mic := *m.Mic
			mic.Fader += halves(r, -4, 4)
			m.Mic = &mic
		}
	}
	return &next
}

// setHighest finds the highest level at each fixed mic over the ends of the cue, as the gain has it.
func (c PlainCue) setHighest(r *rand.Rand) {
	for i := range c.Walk[0].Fixed {
		highest := math.Inf(-1)
		for _, s := range c.Ends {
			highest = max(highest, s.FixedLevel(s.Fixed[i]).Flat())
		}
		if some(r, 0.3) {
			highest = max(highest, from(r, 60, 110)) // another cue is louder
		}
		if math.IsInf(highest, -1) {
			highest = math.NaN()
		}
		for _, s := range c.Walk {
			s.Fixed[i].Highest = highest
		}
	}
}

// eachCue runs a test over the random cues.
func eachCue(t *testing.T, f func(t *testing.T, c PlainCue)) {
	n := *scenes
	if testing.Short() {
		n = min(n, 60)
	}
	for seed := *firstSeed; seed < *firstSeed+int64(n); seed++ {
		c := randomCue(seed)
		if !t.Run(fmt.Sprint(seed), func(t *testing.T) { f(t, c) }) {
			t.Logf("again: go test ./layout/level/plain -run %s -scenes 1 -first %d", t.Name(), seed)
		}
	}
}

// TestMovedFaders: what Moved adds to a sound is what the scene itself gives with its faders moved, and a proposal is
// kept by the cue with the change in its faders.
func TestMovedFaders(t *testing.T) {
	defer func(n int) { *scenes = n }(*scenes)
	*scenes = min(*scenes, 100)
	limits := map[string]int{}
	eachCue(t, func(t *testing.T, c PlainCue) {
		p := c.Propose()
		limits[fmt.Sprint(p.Has, " ", p.Limit)]++
		if !p.Has {
			return
		}
		moved := c.moved(p.Change, 0)
		after := moved.leads()(0, 0)
		near(t, "lead", after, c.leads()(p.Change, 0), 1e-9)
		switch {
		case p.Change < p.Need && after >= c.Target:
			t.Errorf("%+v: the target %v is reached at %v", p, c.Target, after)
		case p.Change >= p.Need && after < c.Target-slack:
			t.Errorf("%+v: the target %v is not reached at %v", p, c.Target, after)
		case p.Change > -20 && p.Cap < 0 && moved.overCap() < 0 && p.Limit != "over" && p.Change != p.Need:
			t.Errorf("%+v: over is not kept", p)
		}
		if !math.IsNaN(p.Bed) && !(c.moved(p.Change, p.Bed).leads()(0, 0) >= c.Target-slack) {
			t.Errorf("%+v: the target %v is not reached with the bed moved", p, c.Target)
		}
	})
	for _, want := range []string{"true loop", "true over", "true ceiling", "false "} {
		if limits[want] == 0 && *scenes >= 50 {
			t.Errorf("no cue is %s: %v", want, limits)
		}
	}
}

// moved is the cue with the featured faders moved by x and all others by y dB.
func (c PlainCue) moved(x, y float64) PlainCue {
	by := func(list []*PlainScene) (out []*PlainScene) {
		for _, s := range list {
			next := *s
			next.Players = append([]Musician(nil), s.Players...)
			next.Fixed = append([]FixedEar(nil), s.Fixed...)
			for i := range next.Players {
				if m := &next.Players[i]; m.Mic != nil {
					mic := *m.Mic
					if mic.Fader += y; m.Featured {
						mic.Fader += x - y
					}
					m.Mic = &mic
				}
			}
			for i := range next.Fixed {
				next.Fixed[i].Fader += y
			}
			out = append(out, &next)
		}
		return out
	}
	c.Ends, c.Walk = by(c.Ends), by(c.Walk)
	return c
}
