package stands

import (
	"math"

	"backfield/layout"
)

// Fed is one mic as it comes out of the stacks: its amplitudes there and its level.
type Fed struct {
	Gains   []float64
	LevelDB float64
}

// Energy is, for each seat, what it gets of some mics through the stacks: the sum of their energies by inverse
// distance, in arbitrary units.
func (l *Listeners) Energy(mics []Fed) []float64 {
	power := make([]float64, len(l.System.Stacks))
	for _, m := range mics {
		level := math.Pow(10, m.LevelDB/10)
		for i, g := range m.Gains {
			power[i] += g * g * level
		}
	}
	energy := make([]float64, len(l.x))
	for i, v := range power {
		if v == 0 {
			continue
		}
		for j, level := range l.level[i] {
			energy[j] += v * level
		}
	}
	return energy
}

// Below is the share of the seats' weight at which energy a is more than byDB under energy b.
func (l *Listeners) Below(a, b []float64, byDB float64) float64 {
	sum, factor := 0.0, math.Pow(10, byDB/10)
	for j := range a {
		if b[j] > a[j]*factor {
			sum += l.w[j]
		}
	}
	return sum / l.total
}

// ImageErrorDeg is the mean angle in degrees, over the seats and in plan, between where the stacks' energy comes
// from and where the player at p stands, for a mic that reaches the stacks with amplitudes g.
func (l *Listeners) ImageErrorDeg(g []float64, p layout.Point) float64 {
	sum := 0.0
	for j := range l.x {
		x, y := l.energyFrom(g, j)
		angle := math.Atan2(x, y) - math.Atan2(p.X-l.x[j], p.Y-l.y[j])
		sum += l.w[j] * math.Abs(math.Remainder(angle, 2*math.Pi))
	}
	return sum / l.total * 180 / math.Pi
}
