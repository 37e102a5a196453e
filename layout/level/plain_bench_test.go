package level_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"backfield/layout"
	"backfield/layout/level"
	"backfield/layout/level/advice"
	"backfield/layout/stands"
)

// bigScene is a show of the usual size: 130 players, 2,400 seats, 4 stacks, 20 worn and 9 fixed mics.
func bigScene() (level.Conditions, *level.Playing) {
	r := rand.New(rand.NewPCG(1, 16))
	block := stands.Block{Front: stands.SeatRow{Y: -12, Z: 2, WidthM: 60}, Back: stands.SeatRow{Y: -45, Z: 19, WidthM: 95},
		Rows: 30, Seats: 80, Weight: 1}
	c := level.Conditions{Air: level.Air{C: 24, HumidityPct: 50}, Box: smallBox, Seats: block.List(), BellUpDeg: 10,
		NominalDB: 100}
	for _, x := range []float64{-24, -11.5, 11.5, 24} {
		c.Stacks = append(c.Stacks, level.DefaultStack(layout.Point{X: x, Y: -2, Z: 2.5}, layout.Point{X: x, Y: -28, Z: 10}))
	}
	p := &level.Playing{}
	sections := []struct {
		name string
		n    int
	}{{"trumpet", 32}, {"mellophone", 18}, {"baritone", 26}, {"tuba", 16}, {"snare", 9}, {"tenor", 5}, {"bass", 5},
		{"cymbal", 5}, {"pit", 14}}
	for _, s := range sections {
		in := instrument(s.name)
		for range s.n {
			p.Performers = append(p.Performers, level.Performer{Section: s.name, Instrument: in,
				At: layout.Point{X: 80*r.Float64() - 40, Y: 48 * r.Float64(), Z: 1.5}, DynamicsDB: -4})
		}
	}
	strip := func() level.Strip { return level.Strip{FaderDB: -6, SendDB: []float64{-3, -6, -6, -3}} }
	for i := range 20 {
		p.Performers[i].Featured = i < 2
		p.Worn = append(p.Worn, level.WornMic{Strip: strip(), Wearer: i, FromBellM: 0.12})
	}
	for i := range 9 {
		p.Fixed = append(p.Fixed, level.FixedMic{Strip: strip(), At: layout.Point{X: float64(10*i - 40), Y: -1, Z: 1.2},
			OmniShare: level.CardioidMic, Facing: level.Back, HighestDB: 90})
	}
	return c, p
}

// plainOwn is a performer's own sound at a place, by the formula as it is written.
func plainOwn(s *level.Stadium, p *level.Performer, power level.Bands, at layout.Point) (db level.Bands) {
	r := p.At.Distance(at)
	phi := math.Atan2(s.Box.X-p.At.X, p.At.Y-s.Box.Y)
	e := s.BellUpDeg * math.Pi / 180
	a := layout.Point{X: math.Cos(e) * math.Sin(phi), Y: -math.Cos(e) * math.Cos(phi), Z: math.Sin(e)}
	deg := 180 / math.Pi * math.Acos(((at.X-p.At.X)*a.X+(at.Y-p.At.Y)*a.Y+(at.Z-p.At.Z)*a.Z)/r)
	r = max(r, 0.5)
	d := s.DirectionsOf(p.Instrument)
	for b := range db {
		i := min(int(deg), 179)
		toward := d.DB[b][i] + (deg-float64(i))*(d.DB[b][i+1]-d.DB[b][i])
		db[b] = power[b] + d.IndexDB[b] + toward - 20*math.Log10(r) - 10*math.Log10(4*math.Pi) - s.Absorption()[b]*r
	}
	return db
}

// plainHear computes what Hear does at all seats, with the formulas as they are written: levels in dB, summed as
// energies.
func plainHear(s *level.Stadium, p *level.Playing) (lead []float64) {
	gains := make([]float64, len(p.Worn))
	for i := range p.Worn {
		gains[i] = s.WornGainDB(&p.Performers[p.Worn[i].Wearer], &p.Worn[i])
	}
	var fixed []level.Bands
	for i := range p.Fixed {
		fixed = append(fixed, s.FixedMicDB(p, &p.Fixed[i]))
	}
	powers := map[*level.Instrument]level.Bands{}
	for i := range p.Performers {
		q := &p.Performers[i]
		if _, ok := powers[q.Instrument]; !ok {
			powers[q.Instrument] = s.OwnTerms(q, s.Box).PowerDB
		}
	}
	for _, seat := range s.Seats {
		var featured, bed level.Energies
		add := func(f bool, db level.Bands) {
			for b, v := range db {
				if f {
					featured[b] += math.Pow(10, v/10)
				} else {
					bed[b] += math.Pow(10, v/10)
				}
			}
		}
		for i := range p.Performers {
			q := &p.Performers[i]
			add(q.Featured, plainOwn(s, q, powers[q.Instrument], seat.At))
		}
		channel := func(f bool, mic level.Bands, gain float64, m *level.Strip) {
			for k := range s.Stacks {
				stack := &s.Stacks[k]
				toward := stack.TowardDB(seat.At)
				r := max(stack.At.Distance(seat.At), 0.5)
				for b := range mic {
					toward[b] += mic[b] + gain + m.FaderDB + m.SendDB[k] + stack.TrimDB - 20*math.Log10(r) -
						s.Absorption()[b]*r - 10*math.Log10(1+math.Pow(m.LowCutHz/level.MidbandsHz[b], 4))
				}
				add(f, toward)
			}
		}
		for i := range p.Worn {
			q := &p.Performers[p.Worn[i].Wearer]
			channel(q.Featured, s.WornMicDB(q, &p.Worn[i]), gains[i], &p.Worn[i].Strip)
		}
		for i := range p.Fixed {
			channel(false, fixed[i], s.FixedGainDB(&p.Fixed[i]), &p.Fixed[i].Strip)
		}
		lead = append(lead, featured.ADB()-bed.ADB())
	}
	return lead
}

// TestPlainLoop: the plain loop and Hear agree, so that comparing their speed means something.
func TestPlainLoop(t *testing.T) {
	c, p := bigScene()
	c.Seats = c.Seats[:100]
	s := level.NewStadium(c)
	b := s.Hear(p)
	for j, want := range plainHear(s, p) {
		near(t, "lead", b.Seats[j].Lead().DB, want, 0.001)
	}
}

// measure runs f again and again, and reports what one run takes of the processor.
func measure(b *testing.B, f func()) {
	begun := processorTime()
	for b.Loop() {
		f()
	}
	b.ReportMetric(float64(processorTime()-begun)/float64(b.N), "cpu-ns/op")
}

func BenchmarkHear(b *testing.B) {
	c, p := bigScene()
	s := level.NewStadium(c)
	b.Run("tables", func(b *testing.B) {
		measure(b, func() { s.Hear(p) })
	})
	b.Run("plain", func(b *testing.B) {
		measure(b, func() { plainHear(s, p) })
	})
}

func BenchmarkLoops(b *testing.B) {
	c, p := bigScene()
	s := level.NewStadium(c)
	measure(b, func() { s.Loops(p) })
}

func BenchmarkNear(b *testing.B) {
	c, p := bigScene()
	s := level.NewStadium(c)
	var ears []layout.Point
	for _, q := range p.Performers {
		ears = append(ears, layout.Point{X: q.At.X, Y: q.At.Y, Z: level.EarHeightM})
	}
	measure(b, func() { s.Sounding(p).Near(ears) })
}

func BenchmarkStacksAtSeats(b *testing.B) {
	c, p := bigScene()
	s := level.NewStadium(c)
	measure(b, func() { s.Sounding(p).StacksAtSeats() })
}

func BenchmarkPropose(b *testing.B) {
	c, p := bigScene()
	s := level.NewStadium(c)
	ends, loops := level.Ends{s.Hear(p), s.Hear(p)}, []*level.LoopGains{s.Loops(p)}
	measure(b, func() { advice.Propose(ends, loops, advice.DefaultGoal(6, 9)) })
}

func BenchmarkStadium(b *testing.B) {
	c, _ := bigScene()
	measure(b, func() { level.NewStadium(c) })
}
