package level_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"backfield/layout/level"
	"backfield/layout/level/advice"
)

// The table of spreads is for assumed standard deviations, in dB. None of these was measured; with half as much again, all
// results are about half as much again too.
const (
	bandSD     = 3.5 // how loud this band's forte is
	nominalSD  = 5   // N, where nobody measured it
	sectionSD  = 2   // a section's power against the others'
	shapeSD    = 2   // a band of a spectrum
	playerSD   = 1.5 // a player against the section
	dynamicsSD = 1.5 // a section's dynamics against what is written
	meterSD    = 1   // a preamp against what its player's forte reads
	trimSD     = 1   // a stack against the others
	frontSD    = 2   // a stack's front against its back, a band
	pathSD     = 1   // reflections and wind: the featured and the others, own sound and stacks
	loopSD     = 2   // reflections near a mic
	readingSD  = 1   // a reading
)

// night is how the small scene is in truth, on one night.
type night struct {
	s    *level.Stadium
	p    *level.Playing
	path [4]float64 // featured own, featured stacks, bed own, bed stacks
	loop float64
}

func drawNight(r *rand.Rand) night {
	draw := func(sd float64) float64 { return sd * r.NormFloat64() }
	n := night{p: smallScene(0), loop: draw(loopSD)}
	for i := range n.path {
		n.path[i] = draw(pathSD)
	}
	band := draw(bandSD)
	sections, dynamics := map[string]*level.Instrument{}, map[string]float64{}
	var own []*level.Instrument
	for i := range n.p.Performers {
		q := &n.p.Performers[i]
		if sections[q.Section] == nil {
			in := *q.Instrument
			in.PowerDB += draw(sectionSD)
			for b := range in.ShapeDB {
				in.ShapeDB[b] += draw(shapeSD)
			}
			sections[q.Section], dynamics[q.Section] = &in, draw(dynamicsSD)
			own = append(own, &in)
		}
		q.Instrument, q.PlayerDB = sections[q.Section], draw(playerSD)
		q.DynamicsDB += dynamics[q.Section]
	}
	for i := range n.p.Worn {
		n.p.Worn[i].MeterDB = draw(meterSD)
	}
	n.p.Fixed[0].HighestDB += band + draw(meterSD)
	c := smallStadium(level.DefaultNominalDB+draw(nominalSD), band).Conditions
	c.Stacks = slices.Clone(c.Stacks)
	for k := range c.Stacks {
		c.Stacks[k].TrimDB += draw(trimSD)
		for b := range c.Stacks[k].FrontBackDB {
			c.Stacks[k].FrontBackDB[b] = max(0, c.Stacks[k].FrontBackDB[b]+draw(frontSD))
		}
	}
	n.s = level.NewStadium(c, own...)
	return n
}

// truth are the lead at the box, over at the box and the loop, as they are on that night.
func (n *night) truth() (lead, over, loop float64) {
	box := n.s.Hear(n.p).Box
	var e [4]float64
	for i, part := range []level.Energies{box.FeaturedOwn, box.FeaturedStacks, box.BedOwn, box.BedStacks} {
		e[i] = level.Energy(part.ADB() + n.path[i])
	}
	loop, _ = n.s.Loops(n.p).GreatestDB()
	return level.Decibels((e[0] + e[1]) / (e[2] + e[3])), level.Decibels(e[1] / e[0]), loop + n.loop
}

// estimate are the same, as a stadium computes them after some readings.
func (n *night) estimate(s *level.Stadium, r *rand.Rand, m advice.Measured) (lead, over, loop float64) {
	reading := func() float64 { return readingSD * r.NormFloat64() }
	p := smallScene(0)
	s.NominalDB, s.BandDB = level.DefaultNominalDB, 0
	if m.Calibrated() {
		noise := n.s.NominalDB - n.s.NominalFromNoise(0, 0, 0, smallBox)
		s.NominalDB = s.NominalFromNoise(noise+reading(), 0, 0, smallBox)
		var brass level.Energies
		for i := 1; i < 4; i++ {
			own := n.s.Own(&n.p.Performers[i], smallBox)
			for b := range brass {
				brass[b] += own[b]
			}
		}
		s.BandDB = s.BandFromBrass(brass.ADB()+n.path[2]+reading(), p.Performers[1:4], smallBox)
	}
	if m.Solo {
		own := n.s.Own(&n.p.Performers[0], smallBox)
		p.Performers[0].PlayerDB = s.PlayerFromSolo(own.ADB()+n.path[0]+reading(), p.Performers[0], smallBox)
	}
	p.Fixed[0].HighestDB += s.BandDB
	if m.Ring {
		alone := level.Playing{Fixed: n.p.Fixed}
		db, _ := n.s.Loops(&alone).GreatestDB()
		rang := n.p.Fixed[0].FaderDB - (db + n.loop) + reading()
		p.Fixed[0].RingDB = s.RingFromFader(p.Fixed[0], rang)
	}
	box := s.Hear(p).Box
	loop, _ = s.Loops(p).GreatestDB()
	return box.Lead().DB, box.Over().DB, loop
}

// TestSpreads: with these, 80 % of nights are within 1.5 dB of what the table says, and within 1 dB where they are further
// off than that.
func TestSpreads(t *testing.T) {
	r := rand.New(rand.NewPCG(16, 5))
	blank := smallStadium(level.DefaultNominalDB, 0)
	readings := []advice.Measured{{}, {Noise: true, Brass: true}, {Noise: true, Brass: true, Solo: true},
		{Noise: true, Brass: true, Ring: true}}
	off := make([][3][]float64, len(readings))
	for range 250 {
		n := drawNight(r)
		lead, over, loop := n.truth()
		for i, m := range readings {
			l, o, g := n.estimate(blank, r, m)
			for k, v := range []float64{l - lead, o - over, g - loop} {
				off[i][k] = append(off[i][k], math.Abs(v))
			}
		}
	}
	for i, m := range readings {
		s := advice.SpreadOf(m)
		for k, want := range []float64{s.LeadDB, s.OverDB, s.LoopDB} {
			slices.Sort(off[i][k])
			got := off[i][k][len(off[i][k])*8/10]
			what := []string{"lead", "over", "loop"}[k]
			t.Logf("%+v: %s within %.1f dB on 80 %% of nights, the table has %.1f", m, what, got, want)
			near(t, what, got, want, 1.5)
			if got > want+1 {
				t.Errorf("%s is off by more than its give or take: %.1f dB", what, got)
			}
		}
	}
}
