package ears

import (
	"math"
	"testing"
)

// A strike at the first sample of a user's sound stays: only the end fades.
func TestOwnKeepsItsAttack(t *testing.T) {
	strike := make([]float64, Rate/10)
	for i := range strike {
		strike[i] = 0.5 * math.Exp(-float64(i)/2000)
	}
	own := Own(strike, Rate)
	if own[0] != 1 || math.Abs(own[100]-math.Exp(-0.05)) > 1e-9 || own[len(own)-1] != 0 {
		t.Errorf("it starts with %g, then has %g, and ends with %g", own[0], own[100], own[len(own)-1])
	}
}
