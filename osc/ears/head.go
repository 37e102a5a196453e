// Package ears renders what two ears hear at a seat: each arrival with its own time, level and direction, on a head that
// is a ball. Samples in, samples out: it opens no file and reads no clock. The page's static/hear.js does the same
// arithmetic in the browser, with the same constants.
package ears

import "math"

// The head and the air around it.
const (
	// HeadM is the radius of the ball: 8.75 cm, as in Brown and Duda 1998, after older measurements.
	HeadM = 0.0875
	// SoundMPS is the speed of sound around it. It is the same in all weather: 5 % more is 0.03 ms between the ears.
	SoundMPS = 343.0
	// acrossS is the time that sound takes over the radius of the head.
	acrossS = HeadM / SoundMPS
)

// The angle of least high frequencies, and how much of them is left there: Brown and Duda's theta_min and alpha_min.
const (
	darkRad = 150 * math.Pi / 180
	dark    = 0.1
)

// Direction is where a sound comes from, as seen from the middle of the head, which faces straight ahead, level.
type Direction struct{ AzimuthDeg, ElevationDeg float64 }

// incidence is the angle between the direction and the axis of an ear, in radians: 0 straight into the ear, pi straight
// into the other one. The ears are at 90 degrees to either side.
func (d Direction) incidence(right bool) float64 {
	const rad = math.Pi / 180
	toRight := math.Sin(d.AzimuthDeg*rad) * math.Cos(d.ElevationDeg*rad)
	if !right {
		toRight = -toRight
	}
	return math.Acos(max(-1, min(toRight, 1)))
}

// EarS is how much later than at the middle of the head the sound is at an ear, in seconds, below 0 for earlier: the
// straight way to the side that faces it, and around the ball to the other one (R. S. Woodworth and H. Schlosberg,
// Experimental Psychology, 1954; as given for one ear by C. P. Brown and R. O. Duda, IEEE Trans. Speech and Audio
// Processing 6(5), 1998). From one side to the other the two ears differ by 0.66 ms. G. F. Kuhn, JASA 62, 1977, has 1.5
// times that at low frequencies, which the delay of the shadow adds in part.
func (d Direction) EarS(right bool) float64 {
	angle := d.incidence(right)
	if angle < math.Pi/2 {
		return -acrossS * math.Cos(angle)
	}
	return acrossS * (angle - math.Pi/2)
}

// alpha is how strong the high frequencies are at an ear, against the low ones, at an angle of incidence: 2 straight into
// the ear, 0.1 at 150 degrees, and a little more behind that, where the ways around the head come together (Brown and
// Duda 1998).
func alpha(angle float64) float64 {
	return (1 + dark/2) + (1-dark/2)*math.Cos(angle/darkRad*math.Pi)
}

// shadow is the filter of one pole and one zero of the head between a sound and an ear:
//
//	H(s) = (alpha s + beta) / (s + beta),   beta = 2 c / a
//
// made digital by the bilinear transform. At 0 Hz it passes all.
type shadow struct{ b0, b1, a1 float64 }

func (d Direction) shadow(right bool, rate float64) shadow {
	a, beta, k := alpha(d.incidence(right)), 2/acrossS, 2*rate
	return shadow{(beta + a*k) / (beta + k), (beta - a*k) / (beta + k), (beta - k) / (beta + k)}
}

// over filters samples into out, which is longer by the filter's tail.
func (f shadow) over(in, out []float64) {
	x1, y1 := 0.0, 0.0
	for i := range out {
		x := 0.0
		if i < len(in) {
			x = in[i]
		}
		y := f.b0*x + f.b1*x1 - f.a1*y1
		out[i], x1, y1 = y, x, y
	}
}
