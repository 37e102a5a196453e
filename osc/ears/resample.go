package ears

import (
	"math"

	"backfield/osc/audible"
)

// Resample is a sound at another rate. What is above half of either rate is taken out.
func Resample(samples []float64, from, to int) []float64 {
	if from == to {
		return samples
	}
	wide := max(float64(from)/float64(to), 1) // where there is less room, the sinc is wider
	reach := int(math.Ceil(half * wide))
	// A place between two samples comes back after to samples at most, so each kernel is made once.
	kernels := make([][]float64, to)
	out := make([]float64, (len(samples)*to+from-1)/from)
	for i := range out {
		at, part := i*from/to, i*from%to
		if kernels[part] == nil {
			kernels[part] = stretched(float64(part)/float64(to), wide, reach)
		}
		for j, k := range kernels[part] {
			if n := at + j - reach + 1; n >= 0 && n < len(samples) {
				out[i] += k * samples[n]
			}
		}
	}
	return out
}

// stretched is a sinc that is so many times as wide, around a place part of a sample on, from reach - 1 samples before. A
// steady sound keeps its level.
func stretched(part, wide float64, reach int) []float64 {
	kernel, sum := make([]float64, 2*reach), 0.0
	for j := range kernel {
		kernel[j] = audible.Sinc((float64(j-reach+1)-part)/wide, half)
		sum += kernel[j]
	}
	for j := range kernel {
		kernel[j] /= sum
	}
	return kernel
}
