package stands

import (
	"math"

	"backfield/layout"
)

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
