package level

import (
	"math"

	"backfield/layout"
)

// leastOverBackgroundDB is how far a reading must be above the background to be of use.
const leastOverBackgroundDB = 3

// OffBackground is a reading without the background, 10 lg(10^(L/10) - 10^(B/10)). ok is false where the reading is less
// than 3 dB above the background: it says nothing then.
func OffBackground(readingDBA, backgroundDBA float64) (dba float64, ok bool) {
	if readingDBA-backgroundDBA < leastOverBackgroundDB-slack {
		return 0, false
	}
	return Decibels(Energy(readingDBA) - Energy(backgroundDBA)), true
}

// NominalFromNoise is N, the level at 1 m for a nominal input at fader 0, from a reading in dBA at a place of pink noise
// through one stack alone. The noise is at nominal on a channel at fader 0, and has the seven octaves from 90 Hz to
// 11 kHz; noise of full range (ten octaves) has to read 1.5 dB more on the channel's meter.
func (s *Stadium) NominalFromNoise(readingDBA float64, stack int, sendDB float64, at layout.Point) float64 {
	k := &s.Stacks[stack]
	r := max(k.At.Distance(at), nearM)
	level := k.TowardDB(at).Plus(-10*math.Log10(bandCount) - 20*math.Log10(r) + k.TrimDB + sendDB)
	for b := range level {
		level[b] -= s.absorption[b] * r
	}
	return readingDBA - level.ADB()
}

// BandFromBrass is how much louder everybody is than the table, from a reading in dBA at a place of performers who play
// alone, all loudspeakers off. What is measured of single players does not count in it.
func (s *Stadium) BandFromBrass(readingDBA float64, performers []Performer, at layout.Point) float64 {
	var e Energies
	for i := range performers {
		p := performers[i]
		p.PlayerDB = 0
		own := s.Own(&p, at)
		e.add(&own, 1)
	}
	return readingDBA - (e.ADB() - s.BandDB)
}

// PlayerFromSolo is how much louder a player is than the table and the band, from a reading in dBA at a place of the
// player alone, all loudspeakers off.
func (s *Stadium) PlayerFromSolo(readingDBA float64, p Performer, at layout.Point) float64 {
	p.PlayerDB = 0
	return readingDBA - s.Own(&p, at).ADB()
}

// RingFromFader is what a fixed mic's loop is off, from the level of its channel at which it just rang, alone. It only
// ever applies to that mic's loop.
func (s *Stadium) RingFromFader(m FixedMic, rangDB float64) float64 {
	m.FaderDB, m.RingDB = rangDB, 0
	db, _ := s.Loops(&Playing{Fixed: []FixedMic{m}}).GreatestDB()
	return -db
}
