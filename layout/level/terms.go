package level

import (
	"math"

	"backfield/layout"
)

// OwnTerms are the terms of a performer's own sound at a place, in dB. LevelDB is the sum of the others.
type OwnTerms struct {
	DistM, AngleDeg float64 // as they are; closer than 0.5 m counts as 0.5 m
	PowerDB         Bands   // with the readings of the band and the player
	IndexDB         Bands   // directivity index
	TowardDB        Bands   // the bell, toward the place
	SpreadDB        float64 // -20 lg r - 10 lg(4 pi)
	AirDB           Bands
	LevelDB         Bands
}

// OwnTerms computes the terms of L = Lw + DI + D - 20 lg r - 10 lg(4 pi) - alpha r.
func (s *Stadium) OwnTerms(p *Performer, at layout.Point) OwnTerms {
	t := OwnTerms{DistM: p.At.Distance(at)}
	a := s.BellAxis(p)
	t.AngleDeg = math.Acos(min(max(cosine(p.At, a, at, t.DistM), -1), 1)) * degPerRad
	d := s.DirectionsOf(p.Instrument)
	r := max(t.DistM, nearM)
	t.PowerDB, t.IndexDB = p.Instrument.powerDB(p.DynamicsDB).Plus(s.BandDB+p.PlayerDB), d.IndexDB
	t.SpreadDB = -20*math.Log10(r) - solidDB
	for b := range t.LevelDB {
		t.TowardDB[b] = d.at(b, t.AngleDeg)
		t.AirDB[b] = -s.absorption[b] * r
		t.LevelDB[b] = t.PowerDB[b] + t.IndexDB[b] + t.TowardDB[b] + t.SpreadDB + t.AirDB[b]
	}
	return t
}

// StackTerms are the terms of a channel through one stack: what is heard at a place, or what comes back to the mic. In
// dB; LevelDB is the sum of the others.
type StackTerms struct {
	DistM, AzDeg, ElDeg float64 // from the stack, and off its aim
	MicDB               Bands   // level at the mic; 0 in a loop
	GainDB, FaderDB     float64
	RingDB              float64 // of a fixed mic, in a loop only
	CutDB               Bands   // low cut
	SendDB, TrimDB      float64
	TowardDB            Bands   // the stack, toward the place
	PickupDB            float64 // the mic, toward the stack, in a loop only
	SpreadDB            float64 // -20 lg r
	AirDB               Bands   // none in a loop
	LevelDB             Bands
}

// WornTerms are the terms of a worn mic through a stack at a place. ok is false where its send is off, or its wearer rests.
func (s *Stadium) WornTerms(p *Playing, m *WornMic, stack int, at layout.Point) (t StackTerms, ok bool) {
	who := &p.Performers[m.Wearer]
	t = StackTerms{MicDB: s.WornMicDB(who, m), GainDB: s.WornGainDB(who, m)}
	t, ok = s.terms(t, &m.Strip, stack, at, true)
	return t, ok && !who.Rests
}

// FixedTerms are the terms of a fixed mic through a stack at a place. ok is false where its send is off, or where the mic
// never hears anyone.
func (s *Stadium) FixedTerms(p *Playing, m *FixedMic, stack int, at layout.Point) (t StackTerms, ok bool) {
	t = StackTerms{MicDB: s.FixedMicDB(p, m), GainDB: s.FixedGainDB(m)}
	t, ok = s.terms(t, &m.Strip, stack, at, true)
	return t, ok && !math.IsInf(m.HighestDB, -1)
}

// WornLoopTerms are the terms of a worn mic's loop through a stack.
func (s *Stadium) WornLoopTerms(p *Playing, m *WornMic, stack int) (t StackTerms, ok bool) {
	who := &p.Performers[m.Wearer]
	return s.terms(StackTerms{GainDB: s.WornGainDB(who, m)}, &m.Strip, stack, who.At, false)
}

// FixedLoopTerms are the terms of a fixed mic's loop through a stack.
func (s *Stadium) FixedLoopTerms(m *FixedMic, stack int) (t StackTerms, ok bool) {
	t = StackTerms{GainDB: s.FixedGainDB(m), RingDB: m.RingDB}
	t.PickupDB = Decibels(m.pickup(s.Box)(s.Stacks[stack].At))
	t, ok = s.terms(t, &m.Strip, stack, m.At, false)
	return t, ok && !math.IsInf(m.HighestDB, -1)
}

// terms fills in what does not depend on the mic, and the sum.
func (s *Stadium) terms(t StackTerms, m *Strip, stack int, at layout.Point, air bool) (StackTerms, bool) {
	k := &s.Stacks[stack]
	if m.send(stack) == 0 {
		return t, false
	}
	t.DistM = k.At.Distance(at)
	r := max(t.DistM, nearM)
	t.AzDeg, t.ElDeg = k.off(at)
	t.FaderDB, t.SendDB, t.TrimDB, t.TowardDB = m.FaderDB, m.SendDB[stack], k.TrimDB, k.TowardDB(at)
	t.SpreadDB, t.CutDB = -20*math.Log10(r), m.lowCut().DB()
	for b := range t.LevelDB {
		if air {
			t.AirDB[b] = -s.absorption[b] * r
		}
		t.LevelDB[b] = t.MicDB[b] + t.GainDB + t.FaderDB + t.RingDB + t.CutDB[b] + t.SendDB + t.TrimDB + t.TowardDB[b] +
			t.PickupDB + t.SpreadDB + t.AirDB[b]
	}
	return t, true
}
