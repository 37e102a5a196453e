package audible

import "math"

// A delay of a part of a sample is a sinc under a Kaiser window (J. F. Kaiser, 1974). With 32 samples and beta 9.6, all
// that is not the tone stays below -90 dB up to 0.4 of the rate, 19 kHz at 48 kHz. The kernel is kept for 512 parts of a
// sample, with straight lines in between, which adds less than -110 dB.
const (
	taps   = 32
	phases = 512
	beta   = 9.6
)

var kernels = makeKernels()

func makeKernels() (k [phases + 1][taps]float64) {
	for p := range k {
		sum := 0.0
		for j := range taps {
			x := float64(j-taps/2+1) - float64(p)/phases // from the wanted place, in samples
			k[p][j] = Sinc(x, taps/2)
			sum += k[p][j]
		}
		for j := range taps { // a steady value passes as it is
			k[p][j] /= sum
		}
	}
	return k
}

// Sinc is a sinc under a Kaiser window that reaches half samples to either side, at x samples from its middle.
func Sinc(x, half float64) float64 {
	switch {
	case x == 0:
		return 1
	case math.Abs(x) >= half:
		return 0
	}
	return math.Sin(math.Pi*x) / (math.Pi * x) * kaiser(x/half)
}

// kaiser is the window at a part of its half width, -1 to 1.
func kaiser(x float64) float64 { return bessel(beta*math.Sqrt(max(0, 1-x*x))) / bessel(beta) }

// bessel is the modified Bessel function of the first kind, of order 0, by its power series.
func bessel(x float64) float64 {
	sum, term := 1.0, 1.0
	for k := 1.0; term > 1e-17*sum; k++ {
		term *= (x / 2 / k) * (x / 2 / k)
		sum += term
	}
	return sum
}

// tap reads a loop between its samples. It keeps the kernel of a delay that stays.
type tap struct {
	part   float64
	kernel [taps]float64
	known  bool
}

// at is the loop a delay before its sample n, both in samples.
func (t *tap) at(loop []float64, n int, delay float64) float64 {
	whole := math.Ceil(delay)
	if part := whole - delay; part != t.part || !t.known {
		t.part, t.known = part, true
		row := part * phases
		p := min(int(row), phases-1)
		f := row - float64(p)
		for j, a := range &kernels[p] {
			t.kernel[j] = a + f*(kernels[p+1][j]-a)
		}
	}
	first := (n - int(whole) - taps/2 + 1) % len(loop)
	if first < 0 {
		first += len(loop)
	}
	y := 0.0
	if first+taps <= len(loop) {
		for j, x := range loop[first : first+taps] {
			y += x * t.kernel[j]
		}
		return y
	}
	for j := range taps {
		y += loop[(first+j)%len(loop)] * t.kernel[j]
	}
	return y
}
