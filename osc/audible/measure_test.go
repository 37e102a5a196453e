package audible

import (
	"math"
	"math/cmplx"
)

// bark is the critical-band rate of a frequency in Hz (H. Traunmüller, 1990, J. Acoust. Soc. Am. 88, 97: z = 26.81 f /
// (1960 + f) - 0.53, from memory; its corrections below 2 and above 20.1 Bark do not matter here). One Bark is about
// 100 Hz at 300 Hz and 170 Hz at 1 kHz.
func bark(hz float64) float64 { return 26.81*hz/(1960+hz) - 0.53 }

const rate = 48000

// A frame is 43 ms under a Blackman-Harris window (F. J. Harris, 1978: 4 terms, side lobes at -92 dB), which leaves 11
// ms of energy. Its main lobe ends 94 Hz from a tone, about 1 Bark at 300 Hz, so a steady tone has nothing further away.
// No shorter frame has that, and the shorter the frame, the more a click stands out from the tone around it: twice the
// length lowers every figure by 3 dB.
const (
	frame = 2048
	hop   = rate / 100
)

var window = func() (w [frame]float64) {
	for i := range w {
		x := 2 * math.Pi * (float64(i) + 0.5) / frame
		w[i] = 0.35875 - 0.48829*math.Cos(x) + 0.14128*math.Cos(2*x) - 0.01168*math.Cos(3*x)
	}
	return w
}()

// splatter is the energy more than 1 Bark off a tone, in dB over all energy, in the worst frame; or, where there is a
// gap, over the energy of the fullest frame, since a frame in a gap has nothing but its edges.
func splatter(samples []float64, hz float64) float64 {
	most, worst := 0.0, 0.0
	for at := 0; at+frame <= len(samples); at += hop {
		all, off := energies(samples[at:at+frame], hz)
		most, worst = max(most, all), max(worst, off)
	}
	return 10 * math.Log10(worst/most)
}

func energies(samples []float64, hz float64) (all, off float64) {
	var x [frame]complex128
	for i, w := range window {
		x[i] = complex(w*samples[i], 0)
	}
	fft(x[:])
	z := bark(hz)
	for k := range frame / 2 {
		e := real(x[k])*real(x[k]) + imag(x[k])*imag(x[k])
		all += e
		if math.Abs(bark(float64(k)*rate/frame)-z) > 1 {
			off += e
		}
	}
	return all, off
}

// fft transforms in place; the length is a power of two.
func fft(x []complex128) {
	n := len(x)
	for i, j := 1, 0; i < n; i++ {
		bit := n >> 1
		for ; j&bit != 0; bit >>= 1 {
			j ^= bit
		}
		if j ^= bit; i < j {
			x[i], x[j] = x[j], x[i]
		}
	}
	for size := 2; size <= n; size *= 2 {
		turn := cmplx.Rect(1, -2*math.Pi/float64(size))
		for at := 0; at < n; at += size {
			w := complex(1, 0)
			for k := at; k < at+size/2; k++ {
				a, b := x[k], w*x[k+size/2]
				x[k], x[k+size/2] = a+b, a-b
				w *= turn
			}
		}
	}
}

// cents is how far a tone is bent at most, in cents, over any 100 ms: a mixer's ramps of 20 ms are too short for the ear
// to hear a pitch in each.
func cents(samples []float64, hz float64) float64 {
	const span = rate / 10 / hop
	var phases []float64 // gained on a steady tone, in periods, at each hop
	for at := 0; at+frame <= len(samples); at += hop {
		sum := complex(0, 0)
		for i, w := range window {
			sum += complex(w*samples[at+i], 0) * cmplx.Rect(1, -2*math.Pi*hz*float64(at+i)/rate)
		}
		phase := cmplx.Phase(sum) / (2 * math.Pi)
		if n := len(phases); n > 0 { // never half a period in a hop
			phase = phases[n-1] + math.Remainder(phase-phases[n-1], 1)
		}
		phases = append(phases, phase)
	}
	worst := 0.0
	for i := span; i < len(phases); i++ {
		gained := (phases[i] - phases[i-span]) * rate / (span * hop) // Hz
		worst = max(worst, math.Abs(1200*math.Log2(1+gained/hz)))
	}
	return worst
}
