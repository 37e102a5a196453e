package level_test

import (
	"math"
	"testing"

	"backfield/layout"
	"backfield/layout/level"
	"backfield/layout/level/advice"
	"backfield/layout/stands"
)

// TestReadings: readings that a stadium itself would give bring back what it was made with.
func TestReadings(t *testing.T) {
	each(t, func(t *testing.T, c level.Conditions, p *level.Playing) {
		truth := level.NewStadium(c)
		blankOf := c
		blankOf.NominalDB, blankOf.BandDB = level.DefaultNominalDB, 0
		blank := level.NewStadium(blankOf)

		var brass level.Energies
		for i := range p.Performers {
			q := p.Performers[i]
			q.PlayerDB = 0
			own := truth.Own(&q, c.Box)
			for b := range brass {
				brass[b] += own[b]
			}
		}
		band := blank.BandFromBrass(brass.ADB(), p.Performers, c.Box)
		near(t, "band", band, c.BandDB, 1e-9)

		q := p.Performers[0]
		blankOf.BandDB = band
		blank = level.NewStadium(blankOf)
		near(t, "player", blank.PlayerFromSolo(truth.Own(&q, c.Box).ADB(), q, c.Box), q.PlayerDB, 1e-9)

		// A mic that is fed the noise, and sits in front of the stack as if it were a listener.
		reading := c.NominalDB - truth.NominalFromNoise(0, 0, -2, c.Box)
		near(t, "N", blank.NominalFromNoise(reading, 0, -2, c.Box), c.NominalDB, 1e-9)

		for _, m := range p.Fixed {
			m.RingDB = 0
			loop, _ := truth.Loops(&level.Playing{Fixed: []level.FixedMic{m}}).GreatestDB()
			if !math.IsInf(loop, -1) {
				near(t, "ring", truth.RingFromFader(m, m.FaderDB-loop+3), -3, 1e-9)
			}
		}
	})
}

func TestOffBackground(t *testing.T) {
	got, ok := level.OffBackground(60, 57)
	near(t, "60 over 57", got, 60+10*math.Log10(1-math.Pow(10, -0.3)), 1e-9)
	if !ok {
		t.Error("a reading 3 dB above the background is refused")
	}
	if _, ok := level.OffBackground(59.9, 57); ok {
		t.Error("a reading 2.9 dB above the background is taken")
	}
}

// TestNear: what is heard at a place is the own sound of all and what the stacks add, also closer than half a meter and
// further than the tables go.
func TestNear(t *testing.T) {
	each(t, func(t *testing.T, c level.Conditions, p *level.Playing) {
		at := p.Performers[0].At
		places := []layout.Point{{X: at.X, Y: at.Y, Z: level.EarHeightM}, at, {X: 300, Y: -20, Z: 3}, {Y: 400, Z: 1}}
		for _, place := range places {
			c.Seats = append(c.Seats, stands.Seat{At: place, Weight: 1})
		}
		s := level.NewStadium(c)
		b := s.Hear(p)
		stacks := s.Sounding(p).StacksAtSeats()
		for i, got := range s.Sounding(p).Near(places) {
			j := len(c.Seats) - len(places) + i
			all, ofStacks := b.Seats[j].Own(), b.Seats[j].Stacks()
			for band := range all {
				all[band] += ofStacks[band]
			}
			near(t, "all", got.AllDBA, all.ADB(), 1e-6)
			near(t, "stacks", got.StacksDBA, ofStacks.ADB(), 1e-9)
			near(t, "stacks at the seat", level.Decibels(stacks[j]), ofStacks.ADB(), 1e-9)
			var want level.Energies
			for k := range p.Performers {
				for band, e := range s.OwnTerms(&p.Performers[k], places[i]).LevelDB.Energies() {
					want[band] += e
				}
			}
			own := b.Seats[j].Own()
			near(t, "own", own.ADB(), want.ADB(), 0.001)
		}
	})
}

// TestHearInParts: performers who are added later are heard as if they had been there.
func TestHearInParts(t *testing.T) {
	each(t, func(t *testing.T, c level.Conditions, p *level.Playing) {
		s := level.NewStadium(c)
		want := s.Hear(p)
		few := p.Performers[:3] // those who are featured or wear a mic
		got := s.HearWith(p, s.OwnSound(few), s.OwnSound(p.Performers[3:]))
		for j := range want.Seats {
			a, b := got.Seats[j].Bed(), want.Seats[j].Bed()
			near(t, "bed", a.ADB(), b.ADB(), 1e-6)
			near(t, "lead", got.Seats[j].Lead().DB, want.Seats[j].Lead().DB, 1e-6)
		}
	})
}

// TestRests: who rests is silent, but their open mic can still ring.
func TestRests(t *testing.T) {
	s, p := smallStadium(100, 0), smallScene(0)
	loops := s.Loops(p)
	loud := s.Hear(p)
	p.Performers[1].Rests = true
	for i, want := range loops.Mics {
		if got := s.Loops(p).Mics[i]; got != want {
			t.Errorf("the loop of %s is %v, want %v", want.Name, got.Loop, want.Loop)
		}
	}
	quiet := s.Hear(p)
	if _, ok := s.WornTerms(p, &p.Worn[1], 0, smallBox); ok {
		t.Error("the terms of a mic on somebody who rests")
	}
	p.Performers, p.Worn = append(p.Performers[:1:1], p.Performers[2:]...), p.Worn[:1]
	if want := s.Hear(p); quiet.Box != want.Box {
		t.Errorf("at the box %v with a player at rest, %v without", quiet.Box, want.Box)
	}
	if quiet.Box == loud.Box {
		t.Error("a rest changes nothing")
	}
}

func TestDose(t *testing.T) {
	near(t, "two halves", level.DosePct(88, 2)+level.DosePct(94, 0.5), 100, 1e-9)
	near(t, "silence", level.DosePct(math.Inf(-1), 8), 0, 0)
}

func TestSpread(t *testing.T) {
	for _, c := range []struct {
		m    advice.Measured
		want advice.Spread
	}{
		{advice.Measured{}, advice.Spread{LeadDB: 5, OverDB: 9, LoopDB: 8, NearDB: 8}},
		{advice.Measured{Noise: true, Solo: true, Ring: true}, advice.Spread{LeadDB: 5, OverDB: 9, LoopDB: 8, NearDB: 8}},
		{advice.Measured{Brass: true}, advice.Spread{LeadDB: 5, OverDB: 9, LoopDB: 8, NearDB: 8}},
		{advice.Measured{Noise: true, Brass: true}, advice.Spread{LeadDB: 4, OverDB: 7, LoopDB: 5, NearDB: 4}},
		{advice.Measured{Noise: true, Brass: true, Solo: true}, advice.Spread{LeadDB: 3, OverDB: 4.5, LoopDB: 5, NearDB: 4}},
		{advice.Measured{Noise: true, Brass: true, Ring: true}, advice.Spread{LeadDB: 4, OverDB: 7, LoopDB: 2, NearDB: 4}},
	} {
		if got := advice.SpreadOf(c.m); got != c.want {
			t.Errorf("%+v: %+v, want %+v", c.m, got, c.want)
		}
	}
	for _, c := range []struct {
		db   float64
		want advice.Verdict
	}{{10.1, advice.Yes}, {10, advice.Likely}, {6, advice.Likely}, {5.9, advice.Unlikely}, {2, advice.Unlikely}, {1.9, advice.No}} {
		if got := advice.AtLeast(c.db, 6, 4); got != c.want {
			t.Errorf("at least 6, at %v give or take 4: %s, want %s", c.db, got, c.want)
		}
		if got := advice.AtMost(-c.db, -6, 4); got != c.want {
			t.Errorf("at most -6, at %v give or take 4: %s, want %s", -c.db, got, c.want)
		}
	}
}

// TestMiddleRow: blocks count by their seats times their weight, surveyed seats by their mean and their weights.
func TestMiddleRow(t *testing.T) {
	block := func(y0, y1, z0, z1, weight float64, n int) stands.Block {
		return stands.Block{Front: stands.SeatRow{Y: y0, Z: z0, WidthM: 40}, Back: stands.SeatRow{Y: y1, Z: z1, WidthM: 40},
			Rows: 2, Seats: n, Weight: weight}
	}
	y, z := level.MiddleRow([]stands.Block{block(-10, -20, 2, 6, 1, 10), block(-30, -40, 8, 12, 0.5, 20)},
		[]stands.Seat{{At: layout.Point{Y: -50, Z: 20}, Weight: 15}, {At: layout.Point{Y: -60, Z: 22}, Weight: 5}},
		layout.Point{})
	near(t, "y", y, (-15-35-55)/3., 1e-9)
	near(t, "z", z, (4+10+21)/3., 1e-9)
	y, z = level.MiddleRow(nil, nil, layout.Point{Y: -36, Z: 18})
	near(t, "y without stands", y, -36, 0)
	near(t, "z without stands", z, 18, 0)
}

// TestGivenDirections: directions that somebody measured replace those of the bell.
func TestGivenDirections(t *testing.T) {
	d := level.GivenDirections([]float64{0, 60, 180}, []level.Bands{{}, {-6, -6, -6, -6, -6, -6, -6},
		{-18, -60, -18, -18, -18, -18, -18}})
	near(t, "30 degrees", d.DB[0][30], -3, 1e-9)
	near(t, "120 degrees", d.DB[0][120], -12, 1e-9)
	near(t, "the floor", d.DB[1][180], -30, 0)
	in := &level.Instrument{Name: "horn", PowerDB: 100, BellM: 0.1, Measured: d}
	s := level.NewStadium(level.Conditions{Air: level.Air{C: 20, HumidityPct: 50}, Box: layout.Point{Y: -30}})
	p := level.Performer{Instrument: in, Facing: level.FacingDeg(0)}
	front, side := s.Own(&p, layout.Point{Y: -20}), s.Own(&p, layout.Point{X: 20 * math.Sin(math.Pi/3), Y: -10})
	near(t, "60 degrees", front.ADB()-side.ADB(), 6, 1e-6)
}
