package level

import (
	"backfield/layout"
	"backfield/layout/stands"
)

// Conditions are what stays the same for a whole show.
type Conditions struct {
	Air       Air
	Box       layout.Point // the press box
	Seats     []stands.Seat
	Stacks    []AimedStack
	BellUpDeg float64 // how far above the horizontal bells point

	NominalDB    float64  // level at 1 m for a nominal input, fader 0, from the noise reading
	BandDB       float64  // how much louder everybody is than the table, from the brass reading
	BackgroundDB *float64 // dBA; nil: not measured
}

// DefaultNominalDB is taken where the noise was not read (assumed).
const DefaultNominalDB = 100

// Stadium has the conditions of a show, and tables made of them. Several goroutines may use it.
type Stadium struct {
	Conditions
	absorption Bands // dB/m
	air        *airTable
	directions map[float64]*Directions // by the bell's radius

	beams    []*beam
	places   []layout.Point // the box, then each seat
	transfer []Energies     // of each place and stack: what is heard there of a channel with level 0 dB
	weights  []float64      // of each seat
	total    float64
}

// NewStadium makes the tables, also those of instruments that are not among the known ones and are given. Without seats
// the press box is the only one.
func NewStadium(c Conditions, own ...*Instrument) *Stadium {
	if len(c.Seats) == 0 {
		c.Seats = []stands.Seat{{At: c.Box, Weight: 1}}
	}
	s := &Stadium{Conditions: c, absorption: c.Air.absorption(), directions: map[float64]*Directions{}}
	s.air = newAirTable(s.absorption)
	for i := range instruments {
		s.meet(&instruments[i])
	}
	for _, i := range own {
		s.meet(i)
	}
	for k := range c.Stacks {
		s.beams = append(s.beams, c.Stacks[k].beam())
	}
	s.places = append(s.places, c.Box)
	for _, seat := range c.Seats {
		s.places = append(s.places, seat.At)
		s.weights = append(s.weights, seat.Weight)
		s.total += seat.Weight
	}
	for _, p := range s.places {
		s.transfer = s.appendTransfer(s.transfer, p)
	}
	return s
}

func (s *Stadium) meet(i *Instrument) {
	if i.Measured == nil {
		s.directions[i.BellM] = s.DirectionsOf(i)
	}
}

// DirectionsOf are an instrument's directions in this air.
func (s *Stadium) DirectionsOf(i *Instrument) *Directions {
	if i.Measured != nil {
		return i.Measured
	}
	if d := s.directions[i.BellM]; d != nil {
		return d
	}
	return BellDirections(i.BellM, s.Air.C) // a stranger: right, but made again each time
}

// Absorption is what a meter of this air takes off each band, in dB.
func (s *Stadium) Absorption() Bands { return s.absorption }

// appendTransfer adds, for each stack, the energy at p of a channel with level 0 dB.
func (s *Stadium) appendTransfer(list []Energies, p layout.Point) []Energies {
	for k := range s.Stacks {
		e := s.beams[k].transfer(p)
		air := s.airAt(max(s.Stacks[k].At.Distance(p), nearM))
		for b := range e {
			e[b] *= air[b]
		}
		list = append(list, e)
	}
	return list
}

// airAt is the share of the energy that is left after r meters.
func (s *Stadium) airAt(r float64) (e Energies) {
	v := r * airPerM
	if v >= airRows {
		return left(s.absorption, r)
	}
	i := int(v)
	a, f := &s.air[i], v-float64(i)
	for b := range e {
		e[b] = a.at[b] + f*a.rise[b]
	}
	return e
}

// source is what a performer sends out on the axis at 1 m: Lw + DI - 10 lg(4 pi) as an energy, at dynamics d.
func (s *Stadium) source(i *Instrument, d float64) Energies {
	power, index := i.powerDB(d), s.DirectionsOf(i).IndexDB
	for b := range power {
		power[b] += s.BandDB + index[b] - solidDB
	}
	return power.Energies()
}

// WornMicDB is the level by band at a worn mic, as its wearer plays.
func (s *Stadium) WornMicDB(p *Performer, m *WornMic) Bands {
	return s.wornDB(p, m, p.DynamicsDB)
}

func (s *Stadium) wornDB(p *Performer, m *WornMic, d float64) Bands {
	i := p.Instrument
	return i.closeDB(i.powerDB(d).Plus(s.BandDB+p.PlayerDB), s.DirectionsOf(i).IndexDB, m.FromBellM)
}

// WornGainDB is a worn mic's gain, from the level at the mic to the level at 1 m on the axis of a stack at full send,
// fader and trim 0: crews set the preamp so that the wearer's forte reads nominal, so N + meter - that level, summed
// without A weights.
func (s *Stadium) WornGainDB(p *Performer, m *WornMic) float64 {
	return s.NominalDB + m.MeterDB - s.wornDB(p, m, 0).SumDB()
}

// FixedGainDB is the same of a fixed mic, whose preamp is set for the highest level over the show.
func (s *Stadium) FixedGainDB(m *FixedMic) float64 { return s.NominalDB + m.MeterDB - m.HighestDB }

// FixedMicDB is the level by band at a fixed mic, of all who play.
func (s *Stadium) FixedMicDB(p *Playing, m *FixedMic) Bands {
	return s.fixedMic(s.choirs(p.Performers), m).DB()
}

func (s *Stadium) fixedMic(all []choir, m *FixedMic) (e Energies) {
	pickup := m.pickup(s.Box)
	for i := range all {
		c := all[i].throughMic(pickup)
		c.addTo(&e, m.At, s)
	}
	return e
}

// MicDB is the level at a fixed mic, of all who play, summed without A weights: the greatest over a show is the mic's
// HighestDB. It is -Inf where nobody plays.
func (s *Stadium) MicDB(p *Playing, m *FixedMic) float64 {
	e := s.fixedMic(s.choirs(p.Performers), m)
	return Decibels(e.sum())
}
