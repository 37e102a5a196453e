package plain

import "math"

// reflection is |R| of an unflanged pipe (Levine and Schwinger 1948).
func reflection(ka float64) float64 {
	if ka < 1 {
		k2 := ka * ka
		return math.Exp(-k2/2) * (1 + k2*k2/6*(math.Log(1/(1.7810724*ka))+19./12))
	}
	return math.Sqrt(math.Pi*ka) * math.Exp(-ka) * (1 + 3/(32*ka*ka))
}

// toneDB is the level of a single tone at an angle off a bell's axis, the axis being 0 dB: a piston in a baffle up to
// 90 degrees, and behind that a straight line in dB.
func toneDB(ka, tDeg float64) float64 {
	g := reflection(ka)
	if tDeg <= 90 {
		t := tDeg * math.Pi / 180
		x := ka * math.Sin(t)
		piston := 1.0
		if x != 0 {
			piston = math.Abs(2 * math.J1(x) / x)
		}
		return 20 * lg(piston*(1+g+(1-g)*math.Cos(t))/2)
	}
	side := toneDB(ka, 90)
	back := min(side, 20*lg(g))
	return side + (back-side)*(tDeg-90)/90
}

// bell is the pattern of one bell at one temperature: a level at each whole degree, by band, and its index.
type bell struct {
	table [7][181]float64
	index Octaves
}

func newBell(radiusM, tC float64) *bell {
	b := &bell{}
	if radiusM == 0 {
		return b
	}
	c := 343.2 * math.Sqrt((tC+273.15)/293.15)
	for band := range b.table {
		for deg := range b.table[band] {
			mean := 0.0
			for _, q := range []float64{-0.1, 0, 0.1} {
				f := midbandHz(band) * math.Pow(10, q)
				ka := min(2*math.Pi*f*radiusM/c, 4.5)
				mean += energy(toneDB(ka, float64(deg))) / 3
			}
			b.table[band][deg] = max(10*lg(mean), -30)
		}
		sum := 0.0
		for i := range 180 {
			e := (energy(b.table[band][i]) + energy(b.table[band][i+1])) / 2
			sum += e * math.Sin((float64(i)+0.5)*math.Pi/180) * math.Pi / 180
		}
		b.index[band] = -10 * lg(sum/2)
	}
	return b
}

// at is the level off the axis by band, between whole degrees on a straight line.
func (b *bell) at(tDeg float64) Octaves {
	var o Octaves
	i := min(int(math.Floor(tDeg)), 179)
	f := tDeg - float64(i)
	for band := range o {
		o[band] = b.table[band][i] + f*(b.table[band][i+1]-b.table[band][i])
	}
	return o
}
