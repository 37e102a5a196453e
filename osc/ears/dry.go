package ears

import "math"

// The dry sounds that the program makes. Each begins with silence in its first sample, has a peak of 1, and ends.
var drySounds = []struct {
	name string
	make func(rate int) []float64
}{{"note", struckNote}, {"brass", brassTone}, {"click", click}}

// DryNames lists them, the usual one first.
func DryNames() (names []string) {
	for _, s := range drySounds {
		names = append(names, s.name)
	}
	return names
}

// Dry makes one of them; ok is false where there is none of that name.
func Dry(name string, rate int) (samples []float64, ok bool) {
	for _, s := range drySounds {
		if s.name == name {
			return peak(s.make(rate)), true
		}
	}
	return nil, false
}

// struckNote is a wooden bar of 523.25 Hz (C5) under a hard mallet: tuned bars have partials at 1, 4 and 10 times the
// fundamental (from memory of books on percussion), and the higher ones die away sooner. The times are assumed, short
// enough for a flam of 20 ms to be two strokes.
func struckNote(rate int) []float64 {
	const hz, lengthS, strikeS, releaseS = 523.25, 0.4, 0.001, 0.05
	partials := []struct{ times, amplitude, decayS float64 }{{1, 1, 0.05}, {4, 0.8, 0.012}, {10, 0.5, 0.004}}
	return made(rate, lengthS, func(t float64) (y float64) {
		for _, p := range partials {
			y += p.amplitude * math.Exp(-t/p.decayS) * math.Sin(2*math.Pi*hz*p.times*t)
		}
		return y * rise(t/strikeS) * rise((lengthS-t)/releaseS)
	})
}

// brassTone is a tone of 233.08 Hz (B flat 3) whose higher partials come later and end sooner, as those of brass do (J.-C.
// Risset and M. V. Mathews, Physics Today 22, 1969, from memory; the numbers are assumed).
func brassTone(rate int) []float64 {
	const hz, lengthS, attackS, releaseS, partials, perPartialS = 233.08, 0.5, 0.02, 0.08, 24, 0.001
	return made(rate, lengthS, func(t float64) (y float64) {
		for n := 1.0; n <= partials; n++ {
			up := rise(t / (attackS + n*perPartialS))
			down := rise((lengthS - n*perPartialS - t) / releaseS)
			y += math.Pow(n, -1.2) * up * down * math.Sin(2*math.Pi*hz*n*t)
		}
		return y
	})
}

// click is a pulse of 2 kHz, a millisecond long.
func click(rate int) []float64 {
	const hz, lengthS = 2000, 0.001
	return made(rate, lengthS, func(t float64) float64 {
		return rise(2*t/lengthS) * rise(2-2*t/lengthS) * math.Sin(2*math.Pi*hz*t)
	})
}

// rise goes from 0 at 0 to 1 at 1, smoothly.
func rise(part float64) float64 {
	return (1 - math.Cos(math.Pi*max(0, min(part, 1)))) / 2
}

// made are samples of a function of time.
func made(rate int, lengthS float64, of func(t float64) float64) []float64 {
	samples := make([]float64, int(math.Round(lengthS*float64(rate))))
	for i := range samples {
		samples[i] = of(float64(i) / float64(rate))
	}
	return samples
}

// peak brings samples to a peak of 1. Silence stays.
func peak(samples []float64) []float64 {
	most := 0.0
	for _, x := range samples {
		most = max(most, math.Abs(x))
	}
	for i := range samples {
		samples[i] /= max(most, math.SmallestNonzeroFloat64)
	}
	return samples
}

// Own prepares a user's sound: at the rate of files, with a peak of 1, and with an end that does not click. Its start
// stays as it is: a strike at the first sample is the sound.
func Own(samples []float64, rate int) []float64 {
	const fadeS = 0.005
	own := peak(append([]float64(nil), Resample(samples, rate, Rate)...))
	n := min(int(fadeS*Rate), len(own)/2)
	for i := range n {
		own[len(own)-1-i] *= rise(float64(i) / float64(n))
	}
	return own
}
