package score

import (
	"backfield/layout/level"
	"backfield/layout/levelkeys"
	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/layout/unit"
)

// GivenInstrument is an instrument that the score describes. It goes before one of the same name that is known.
type GivenInstrument struct {
	level.Instrument
	Span source.Span // of its name
}

// instrumentTable is one [instruments.NAME].
type instrumentTable struct {
	table.Where
	Power      table.Quantity   `key:"power,required"`
	Bell       table.Quantity   `key:"bell"`
	Spectrum   levelkeys.ByBand `key:"spectrum,required"`
	Directions []directionTable `key:"directions"`
}

// directionTable is how much softer an instrument is at an angle off its axis.
type directionTable struct {
	table.Where
	Angle table.Num        `key:"angle,required"`
	DB    levelkeys.ByBand `key:"db,required"`
}

// readInstruments reads the instruments of the score.
func (s *Score) readInstruments(m table.Map[instrumentTable], p *source.Problems) {
	for _, e := range m.Entries {
		t := e.Value
		i := GivenInstrument{level.Instrument{Name: e.Name.V}, e.Name.Span}
		i.PowerDB = t.Power.Within(unit.Level, 0, 40, 140, "the power", p)
		i.BellM = t.Bell.Within(unit.Length, 0, 0, 0.5, "the bell", p)
		i.ShapeDB = t.Spectrum.Within(level.Bands{}, -120, 140, "the spectrum", p)
		i.Measured = directions(t.Directions, p)
		s.Instruments = append(s.Instruments, i)
	}
}

// directions are those that are given: at angles that rise from 0, where all is 0 dB, to 180 degrees. It is nil where none
// are given, or where they are wrong.
func directions(list []directionTable, p *source.Problems) *level.Directions {
	before := p.Errors()
	var degrees []float64
	var db []level.Bands
	for i, t := range list {
		if !t.Angle.Set || !t.DB.Set {
			return nil // reported
		}
		deg, v := t.Angle.V, t.DB.Within(level.Bands{}, -100, 20, "a direction", p)
		switch {
		case i == 0 && (deg != 0 || v != level.Bands{}):
			p.Add(directionsBegin(t.Angle.Span))
		case i > 0 && !(deg > degrees[i-1]):
			p.Add(directionsRise(t.Angle.Span, deg, degrees[i-1]))
		case i+1 == len(list) && deg != 180:
			p.Add(directionsEnd(t.Angle.Span, deg))
		}
		degrees, db = append(degrees, deg), append(db, v)
	}
	if len(list) == 0 || p.Errors() > before {
		return nil
	}
	return level.GivenDirections(degrees, db)
}
