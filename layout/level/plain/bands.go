// Package plain computes levels a second time: how loud players and stacks are at a place, lead, over, loop, the
// proposed change and the readings on site, from the rules as they are written down, as plainly and slowly as can be.
// It shares nothing with the level engine except points. Only tests use it: the engine's numbers must be these.
//
// Levels are in dB re 20 uPa, powers in dB re 1 pW, lengths in meters, angles in degrees. A silent source is -Inf. A
// figure with nothing to compare is NaN.
package plain

import "math"

// Octaves is one level for each octave band, 125 to 8000 Hz.
type Octaves [7]float64

// weightA are the A weights of the bands in dB.
var weightA = Octaves{-16.1, -8.6, -3.2, 0, 1.2, 1.0, -1.1}

// midbandHz is the exact midband of a band: 1000 * 10^(k/10) for k = -9, -6, ... 9.
func midbandHz(b int) float64 { return 1000 * math.Pow(10, float64(3*b-9)/10) }

func lg(x float64) float64 { return math.Log10(x) }

// energy is 10^(L/10).
func energy(levelDB float64) float64 { return math.Exp(levelDB * math.Ln10 / 10) }

// Sum is the energy sum of levels, 10 lg of the sum of 10^(L/10). The sum of nothing is -Inf.
func Sum(levels ...float64) float64 {
	total := 0.0
	for _, l := range levels {
		total += energy(l)
	}
	return 10 * lg(total)
}

// DBA is the A-weighted level of the bands.
func (o Octaves) DBA() float64 {
	total := 0.0
	for b, l := range o {
		total += energy(l + weightA[b])
	}
	return 10 * lg(total)
}

// Flat is the level of the bands without weights, as a channel's meter reads it.
func (o Octaves) Flat() float64 { return Sum(o[:]...) }

func (o Octaves) plus(db float64) Octaves {
	for b := range o {
		o[b] += db
	}
	return o
}

// with is the energy sum of two sounds, band by band.
func (o Octaves) with(other Octaves) Octaves {
	for b := range o {
		o[b] = 10 * lg(energy(o[b])+energy(other[b]))
	}
	return o
}

func silence() Octaves {
	var o Octaves
	return o.plus(math.Inf(-1))
}

func (o Octaves) silent() bool { return o == silence() }

// alphaDBPerM is the absorption of air at a frequency: ISO 9613-1:1993 at 101.325 kPa.
func alphaDBPerM(hz, tC, humidityPct float64) float64 {
	const t0, t01 = 293.15, 273.16
	t := tC + 273.15
	saturation := math.Pow(10, -6.8346*math.Pow(t01/t, 1.261)+4.6151)
	h := humidityPct * saturation
	oxygenHz := 24 + 4.04e4*h*(0.02+h)/(0.391+h)
	nitrogenHz := math.Pow(t/t0, -0.5) * (9 + 280*h*math.Exp(-4.170*(math.Pow(t/t0, -1./3)-1)))
	classical := 1.84e-11 * math.Sqrt(t/t0)
	oxygen := 0.01275 * math.Exp(-2239.1/t) / (oxygenHz + hz*hz/oxygenHz)
	nitrogen := 0.1068 * math.Exp(-3352.0/t) / (nitrogenHz + hz*hz/nitrogenHz)
	return 8.686 * hz * hz * (classical + math.Pow(t/t0, -2.5)*(oxygen+nitrogen))
}

// alphas keeps the absorption of a meter of air, by temperature and humidity.
var alphas = map[[2]float64]Octaves{}

// air is the absorption over a distance, by band.
func (s *PlainScene) air(distM float64) Octaves {
	key := [2]float64{s.AirC, s.Humidity}
	o, ok := alphas[key]
	if !ok {
		for b := range o {
			o[b] = alphaDBPerM(midbandHz(b), s.AirC, s.Humidity)
		}
		alphas[key] = o
	}
	for b := range o {
		o[b] *= distM
	}
	return o
}

// spherical is 10 lg(4 pi): what a power spreads over at 1 m.
var spherical = 10 * lg(4*math.Pi)
