// Package level says how loud it is: a player's own sound at a seat, what the loudspeakers add, whether the featured
// players are heard over all others, how close the open mics are to feedback, and what the faders should start at. It
// takes numbers and gives numbers. It knows no file, no cue and no mixer.
//
// All of it is an estimate. Each figure's comment says whether it was read in a source, is from memory, or is assumed;
// Spread says how far off the results may be. Reflections, wind, equalizers, compressors, the near field of a bell,
// subs, and what a worn mic hears of other players are left out.
//
// NewStadium takes what holds for a whole show. A Playing is who plays and which mics are open at one moment: Hear says
// what is heard of it everywhere, Loops how close it is to feedback, Sounding how loud it is for people. Ends puts the
// moments of a cue together. layout/level/advice says what follows.
//
// Levels are in dB re 20 uPa, sound powers in dB re 1 pW. An energy is 10^(dB/10).
package level

import "math"

// bandCount is the number of octave bands, 125 to 8000 Hz.
const bandCount = 7

// Bands has a number in dB for each octave band from 125 to 8000 Hz.
type Bands [bandCount]float64

// Energies has an energy for each octave band from 125 to 8000 Hz: 0 where there is no sound.
type Energies [bandCount]float64

// MidbandsHz are the exact midband frequencies, 1000 * 10^(k/10) Hz for k = -9, -6, ... 9 (ISO 9613-1). Every formula
// uses them, not the nominal 125, 250 and so on.
var MidbandsHz = func() (f Bands) {
	for b := range f {
		f[b] = 1000 * math.Pow(10, float64(3*b-9)/10)
	}
	return f
}()

// NominalHz are the names of the bands.
var NominalHz = [bandCount]int{125, 250, 500, 1000, 2000, 4000, 8000}

// AWeightsDB are the A weights at the midbands, read in a printed table.
var AWeightsDB = Bands{-16.1, -8.6, -3.2, 0, 1.2, 1.0, -1.1}

var aWeights = AWeightsDB.Energies()

// Energy is 10^(db/10).
func Energy(db float64) float64 { return math.Exp(db * (math.Ln10 / 10)) }

// Decibels is the level of an energy: 10 lg e, and -Inf for 0.
func Decibels(e float64) float64 { return 10 * math.Log10(e) }

// Sum is the energy sum of levels in dB, 10 lg of the sum of 10^(L/10).
func Sum(db ...float64) float64 {
	var e float64
	for _, v := range db {
		e += Energy(v)
	}
	return Decibels(e)
}

// Energies are the bands' energies.
func (b Bands) Energies() (e Energies) {
	for i, v := range b {
		e[i] = Energy(v)
	}
	return e
}

// Plus is b with db added in every band.
func (b Bands) Plus(db float64) Bands {
	for i := range b {
		b[i] += db
	}
	return b
}

// SumDB is the energy sum over the bands, without A weights: what a channel's meter reads.
func (b Bands) SumDB() float64 { return Sum(b[:]...) }

// ADB is the A-weighted level, in dBA.
func (b Bands) ADB() float64 { return b.Energies().ADB() }

// DB are the energies' levels; -Inf where there is no sound.
func (e Energies) DB() (b Bands) {
	for i, v := range e {
		b[i] = Decibels(v)
	}
	return b
}

// A is the A-weighted energy over the bands.
func (e *Energies) A() float64 { return e.dot(&aWeights) }

// dot is the sum of the products, band by band.
func (e *Energies) dot(o *Energies) float64 {
	return e[0]*o[0] + e[1]*o[1] + e[2]*o[2] + e[3]*o[3] + e[4]*o[4] + e[5]*o[5] + e[6]*o[6]
}

// ADB is the A-weighted level, in dBA.
func (e Energies) ADB() float64 { return Decibels(e.A()) }

// sum is the energy over the bands.
func (e *Energies) sum() (s float64) {
	for _, v := range e {
		s += v
	}
	return s
}

// add adds k times o.
func (e *Energies) add(o *Energies, k float64) {
	for i, v := range o {
		e[i] += k * v
	}
}

// addProduct adds o times p, band by band.
func (e *Energies) addProduct(o, p *Energies) {
	for i, v := range o {
		e[i] += v * p[i]
	}
}

// greatest is the band with the most energy, the lower of equal ones.
func (e *Energies) greatest() (band int) {
	for i, v := range e {
		if v > e[band] {
			band = i
		}
	}
	return band
}

// Figure is a number in dB, or nothing where there is nothing to compare.
type Figure struct {
	DB float64
	OK bool
}

// ratio is the level of one energy over another: nothing where either is silent.
func ratio(over, under float64) Figure {
	if over <= 0 || under <= 0 {
		return Figure{}
	}
	return Figure{Decibels(over / under), true}
}
