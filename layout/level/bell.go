package level

import (
	"math"

	"backfield/layout/sound"
)

// Directions says how an instrument's sound depends on the direction: for each band, dB at each whole degree off its
// axis, where the axis is 0 dB; straight lines between. It is the same all around the axis.
type Directions struct {
	DB      [bandCount][181]float64
	IndexDB Bands // the directivity index: the level on the axis over that of the same power all around
	fine    *fineTable
}

const (
	maxKA      = 4.5 // assumed; it keeps high notes near the 20 to 25 degree half-beam that Meyer gives (from memory)
	patternDB  = -30 // no direction is quieter than this against the axis
	finePerDeg = 8   // rows of the fine table in a degree
	degPerRad  = 180 / math.Pi
	fineRows   = 180*finePerDeg + 1
	finePerRad = finePerDeg * degPerRad
)

// fineTable is Directions as energies by angle, so that the inner loop needs no power of 10. Between its rows it is on a
// straight line, which is right to 0.002 dB where a pattern changes by 2 dB a degree or less.
type fineTable [fineRows]slopedRow

// BellDirections are those of a bell with radius a, in meters, at tC degrees Celsius: the energy mean of Pattern at each
// midband and a tenth of a decade on either side, but at least -30 dB. A radius of 0 sounds the same all around.
func BellDirections(a, tC float64) *Directions {
	d := new(Directions)
	if a <= 0 {
		d.finish()
		d.IndexDB = Bands{} // its sum over whole degrees is off by 0.0001 dB
		return d
	}
	c := sound.SpeedMPS(tC)
	for b, f := range MidbandsHz {
		var pipes [3]pipe
		for i, q := range [3]float64{-0.1, 0, 0.1} {
			pipes[i] = newPipe(min(2*math.Pi*f*math.Pow(10, q)*a/c, maxKA))
		}
		for deg := range d.DB[b] {
			var e float64
			for i := range pipes {
				e += Energy(pipes[i].at(float64(deg)))
			}
			d.DB[b][deg] = Decibels(e / 3)
		}
	}
	return d.finish()
}

// GivenDirections are those that somebody measured: dB off the axis, by band, at angles in degrees that rise from 0 to
// 180, with straight lines between them.
func GivenDirections(degrees []float64, db []Bands) *Directions {
	d := new(Directions)
	at := 0
	for deg := range 181 {
		for at+2 < len(degrees) && degrees[at+1] <= float64(deg) {
			at++
		}
		next := min(at+1, len(degrees)-1)
		t := 0.0
		if span := degrees[next] - degrees[at]; span > 0 {
			t = min(max((float64(deg)-degrees[at])/span, 0), 1)
		}
		for b := range d.DB {
			d.DB[b][deg] = db[at][b] + t*(db[next][b]-db[at][b])
		}
	}
	return d.finish()
}

// finish applies the floor, and computes the index and the fine table.
func (d *Directions) finish() *Directions {
	d.fine = new(fineTable)
	for b := range d.DB {
		line := &d.DB[b]
		for deg := range line {
			line[deg] = max(line[deg], patternDB)
		}
		var mean float64
		for deg := range 180 {
			between := (Energy(line[deg]) + Energy(line[deg+1])) / 2
			mean += between * math.Sin((float64(deg)+0.5)/degPerRad) / degPerRad / 2
		}
		d.IndexDB[b] = -Decibels(mean)
		for i := range d.fine {
			d.fine[i].at[b] = Energy(d.at(b, float64(i)/finePerDeg))
		}
	}
	joinRows(d.fine[:])
	return d
}

// at is the level at t degrees off the axis, in dB, by a straight line between whole degrees.
func (d *Directions) at(band int, t float64) float64 {
	i := min(int(t), 179)
	lo, hi := d.DB[band][i], d.DB[band][i+1]
	return lo + (t-float64(i))*(hi-lo)
}

// pipe is the pattern of an open pipe at one ka.
type pipe struct {
	ka, g      float64
	side, back float64 // dB at 90 and 180 degrees
}

func newPipe(ka float64) pipe {
	p := pipe{ka: ka, g: Reflection(ka)}
	p.side = p.front(90)
	p.back = min(p.side, 20*math.Log10(p.g))
	return p
}

// front is the pattern up to 90 degrees, in dB.
func (p *pipe) front(t float64) float64 {
	sin, cos := math.Sincos(t / degPerRad)
	amplitude := (1 + p.g + (1-p.g)*cos) / 2
	if x := p.ka * sin; x > 1e-9 {
		amplitude *= math.Abs(2 * math.J1(x) / x)
	}
	return 20 * math.Log10(amplitude)
}

func (p *pipe) at(t float64) float64 {
	if t <= 90 {
		return p.front(t)
	}
	return p.side + (t-90)/90*(p.back-p.side)
}

// Pattern is the level in dB at t degrees off the axis of an open pipe, against its axis. Up to 90 degrees it is
// |2 J1(x)/x| (1 + g + (1-g) cos t)/2 with x = ka sin t: the piston in a baffle (read), held to the pipe's own ratio of
// back to front. From there to 180 degrees it is on a straight line in dB to the lesser of its value at 90 and
// 20 lg g. g is Reflection(ka). With the index of Directions it is within 1.1 dB of the exact pipe on the axis.
func Pattern(ka, t float64) float64 {
	p := newPipe(ka)
	return p.at(t)
}

// Reflection is |R|, the share of the sound pressure that an open pipe without a flange reflects at its end: for ka < 1
// exp(-ka^2/2) (1 + ka^4/6 (ln(1/(gamma ka)) + 19/12)) with gamma 1.7810724, else sqrt(pi ka) exp(-ka) (1 + 3/(32 ka^2)).
// H. Levine and J. Schwinger, Phys. Rev. 73, 383 (1948); formulas from memory, abstract read.
func Reflection(ka float64) float64 {
	switch {
	case ka <= 0:
		return 1
	case ka < 1:
		return math.Exp(-ka*ka/2) * (1 + math.Pow(ka, 4)/6*(math.Log(1/(1.7810724*ka))+19./12))
	}
	return math.Sqrt(math.Pi*ka) * math.Exp(-ka) * (1 + 3/(32*ka*ka))
}
