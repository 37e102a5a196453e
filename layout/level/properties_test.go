package level_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"backfield/layout"
	"backfield/layout/level"
	"backfield/layout/sound"
	"backfield/layout/stands"
)

// randomScene is a stadium and who plays in it. Everything that may vary does.
func randomScene(r *rand.Rand) (level.Conditions, *level.Playing) {
	between := func(lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }
	spot := func(y0, y1, z0, z1 float64) layout.Point {
		return layout.Point{X: between(-45, 45), Y: between(y0, y1), Z: between(z0, z1)}
	}
	c := level.Conditions{Air: level.Air{C: between(-5, 40), HumidityPct: between(5, 100)}, Box: spot(-50, -25, 5, 25),
		BellUpDeg: between(0, 30), NominalDB: between(90, 115), BandDB: between(-4, 8)}
	for range 2 + r.IntN(30) {
		c.Seats = append(c.Seats, stands.Seat{At: spot(-60, -10, 0, 25), Weight: float64(1 + r.IntN(3))})
	}
	for range 1 + r.IntN(4) {
		k := level.DefaultStack(spot(-4, 0, 1, 5), spot(-50, -20, 0, 20))
		k.TrimDB, k.MouthM = between(-6, 3), between(0.2, 1.5)
		c.Stacks = append(c.Stacks, k)
	}
	if r.IntN(2) == 0 {
		b := between(30, 60)
		c.BackgroundDB = &b
	}
	p := &level.Playing{}
	facing := func() level.Facing {
		if r.IntN(2) == 0 {
			return level.Facing{}
		}
		return level.FacingDeg(between(-180, 180))
	}
	strip := func() level.Strip {
		s := level.Strip{MeterDB: between(-6, 6), FaderDB: between(-30, 5)}
		if r.IntN(3) == 0 {
			s.LowCutHz = between(80, 300)
		}
		for range c.Stacks {
			s.SendDB = append(s.SendDB, between(-90, 3))
		}
		return s
	}
	kinds := level.Instruments()
	for range 3 + r.IntN(20) {
		p.Performers = append(p.Performers, level.Performer{Instrument: &kinds[r.IntN(len(kinds))], Facing: facing(),
			At: spot(0, 48, 1, 2), DynamicsDB: between(-16, 6), PlayerDB: between(-3, 3)})
	}
	for i := range 2 {
		p.Performers[i].Featured = true
		p.Worn = append(p.Worn, level.WornMic{Strip: strip(), Wearer: i, FromBellM: between(0.02, 0.3)},
			level.WornMic{Strip: strip(), Wearer: 2, FromBellM: between(0.02, 0.3)})
	}
	for range r.IntN(4) {
		p.Fixed = append(p.Fixed, level.FixedMic{Strip: strip(), At: spot(-8, 2, 0.5, 2), OmniShare: between(0.3, 1),
			Facing: facing(), RingDB: between(-6, 6), HighestDB: between(60, 110)})
	}
	return c, p
}

// each runs a test on many random scenes.
func each(t *testing.T, f func(t *testing.T, c level.Conditions, p *level.Playing)) {
	for seed := range uint64(25) {
		c, p := randomScene(rand.New(rand.NewPCG(seed, 16)))
		f(t, c, p)
		if t.Failed() {
			t.Fatalf("seed %d", seed)
		}
	}
}

// TestTermsAddUp: what Hear and Loops compute from tables is what the terms say, which are computed from the formulas.
func TestTermsAddUp(t *testing.T) {
	each(t, func(t *testing.T, c level.Conditions, p *level.Playing) {
		s := level.NewStadium(c)
		b := s.Hear(p)
		for j, seat := range c.Seats {
			var own, stacks [2]level.Energies // featured, bed
			side := func(featured bool) int {
				if featured {
					return 0
				}
				return 1
			}
			add := func(to *level.Energies, db level.Bands) {
				for i, e := range db.Energies() {
					to[i] += e
				}
			}
			for i := range p.Performers {
				q := &p.Performers[i]
				add(&own[side(q.Featured)], s.OwnTerms(q, seat.At).LevelDB)
			}
			for k := range c.Stacks {
				for i := range p.Worn {
					if terms, ok := s.WornTerms(p, &p.Worn[i], k, seat.At); ok {
						add(&stacks[side(p.Performers[p.Worn[i].Wearer].Featured)], terms.LevelDB)
					}
				}
				for i := range p.Fixed {
					if terms, ok := s.FixedTerms(p, &p.Fixed[i], k, seat.At); ok {
						add(&stacks[1], terms.LevelDB)
					}
				}
			}
			got := b.Seats[j]
			for i, pair := range [][2]level.Energies{{got.FeaturedOwn, own[0]}, {got.BedOwn, own[1]},
				{got.FeaturedStacks, stacks[0]}, {got.BedStacks, stacks[1]}} {
				for band := range pair[0] {
					if pair[1][band] > 0 {
						near(t, []string{"own", "bed", "stacks", "bed stacks"}[i], level.Decibels(pair[0][band]),
							level.Decibels(pair[1][band]), 0.005)
					}
				}
			}
		}
		loops := s.Loops(p)
		for i := range loops.Mics {
			var want level.Energies
			for k := range c.Stacks {
				terms, ok := level.StackTerms{}, false
				if i < len(p.Worn) {
					terms, ok = s.WornLoopTerms(p, &p.Worn[i], k)
				} else {
					terms, ok = s.FixedLoopTerms(&p.Fixed[i-len(p.Worn)], k)
				}
				for band, db := range terms.LevelDB {
					if ok {
						want[band] += level.Energy(db)
					}
				}
			}
			for band := range want {
				if want[band] > 0 {
					near(t, "loop", level.Decibels(loops.Mics[i].Loop[band]), level.Decibels(want[band]), 1e-9)
				}
			}
		}
	})
}

// TestLouder: making everything louder by x moves neither lead nor best nor over.
func TestLouder(t *testing.T) {
	each(t, func(t *testing.T, c level.Conditions, p *level.Playing) {
		before := level.Ends{level.NewStadium(c).Hear(p)}
		c.BandDB, c.NominalDB = c.BandDB+3.7, c.NominalDB+3.7
		for i := range p.Fixed {
			p.Fixed[i].HighestDB += 3.7
		}
		if c.BackgroundDB != nil {
			louder := *c.BackgroundDB + 3.7
			c.BackgroundDB = &louder
		}
		after := level.Ends{level.NewStadium(c).Hear(p)}
		same := func(what string, a, b level.Figure) {
			t.Helper()
			if a.OK != b.OK {
				t.Errorf("%s: %v, then %v", what, a, b)
			}
			near(t, what, b.DB, a.DB, 1e-6)
		}
		for _, f := range []func(level.Ends) (level.Figure, int){level.Ends.LeadAtBox, level.Ends.OverAtBox,
			func(e level.Ends) (level.Figure, int) { return e.LeadAt(90) },
			func(e level.Ends) (level.Figure, int) { return e.BestAt(90) }} {
			a, _ := f(before)
			b, _ := f(after)
			same("a figure", a, b)
		}
	})
}

// TestMaster: a quieter master with the soloist's fader further up by as much raises the lead where the bed has
// loudspeakers.
func TestMaster(t *testing.T) {
	each(t, func(t *testing.T, c level.Conditions, p *level.Playing) {
		s := level.NewStadium(c)
		before := level.Ends{s.Hear(p)}
		for i := range p.Worn {
			if !p.Performers[p.Worn[i].Wearer].Featured {
				p.Worn[i].FaderDB -= 4
			}
		}
		for i := range p.Fixed {
			p.Fixed[i].FaderDB -= 4
		}
		after := level.Ends{s.Hear(p)}
		a, _ := before.LeadAt(90)
		b, _ := after.LeadAt(90)
		if heard := before[0].Box.BedStacks.ADB(); b.DB <= a.DB && heard > 0 {
			t.Errorf("lead %v, then %v", a, b)
		}
	})
}

// TestTurnAway: turning the featured bells away from the box lowers their own sound there and raises over.
func TestTurnAway(t *testing.T) {
	each(t, func(t *testing.T, c level.Conditions, p *level.Playing) {
		c.BellUpDeg = 10
		trumpet, _ := level.InstrumentByName("trumpet")
		for i := range 2 {
			p.Performers[i].Instrument, p.Performers[i].Facing = trumpet, level.Facing{}
		}
		s := level.NewStadium(c)
		toward := s.Hear(p)
		for i := range 2 {
			p.Performers[i].Facing = level.Back
		}
		away := s.Hear(p)
		if a, b := toward.Box.FeaturedOwn.ADB(), away.Box.FeaturedOwn.ADB(); b >= a {
			t.Errorf("own sound %v toward the box, %v away", a, b)
		}
		if a, b := toward.Box.Over(), away.Box.Over(); a.OK && b.DB <= a.DB {
			t.Errorf("over %v toward the box, %v away", a, b)
		}
	})
}

// TestNearerMic: a mic nearer to the only stack, along the line between them, never gains margin.
func TestNearerMic(t *testing.T) {
	each(t, func(t *testing.T, c level.Conditions, p *level.Playing) {
		c.Stacks = c.Stacks[:1]
		s := level.NewStadium(c)
		at := p.Performers[0].At
		p.Worn, p.Fixed = p.Worn[:1], nil
		p.Worn[0].SendDB = []float64{0}
		last := math.Inf(-1)
		for _, q := range []float64{0, 0.2, 0.5, 0.8, 0.95, 1} {
			from := c.Stacks[0].At
			p.Performers[0].At = layout.Point{X: at.X + q*(from.X-at.X), Y: at.Y + q*(from.Y-at.Y), Z: at.Z + q*(from.Z-at.Z)}
			if q == 1 { // at the stack itself there is no direction
				break
			}
			db, _ := s.Loops(p).GreatestDB()
			if db < last-1e-9 {
				t.Errorf("loop %v dB, then %v dB nearer", last, db)
			}
			last = db
		}
	})
}

// TestZones: sends in dB that equal those of a stereo mix give the same.
func TestZones(t *testing.T) {
	each(t, func(t *testing.T, c level.Conditions, p *level.Playing) {
		s := level.NewStadium(c)
		zones := func(pan float64) (stereo, sends []float64) {
			l, r := sound.ConstantPower.Gains(pan)
			for k := range c.Stacks {
				left, right := float64(k%2), 1-float64(k%2)
				stereo = append(stereo, level.StereoSendDB(left, right, l, r))
				sends = append(sends, 20*math.Log10([]float64{r, l}[k%2]))
			}
			return stereo, sends
		}
		stereo, sends := zones(0.3)
		p.Worn[0].SendDB = stereo
		a := s.Hear(p)
		p.Worn[0].SendDB = sends
		b := s.Hear(p)
		near(t, "stacks", b.Box.FeaturedStacks.ADB(), a.Box.FeaturedStacks.ADB(), 1e-9)
	})
}
