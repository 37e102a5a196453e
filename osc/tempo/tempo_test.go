package tempo

import (
	"math"
	"testing"
	"time"

	"backfield/osc/journal"
)

// Presses against the plan; the tempo is planned seconds in one that was played.
func TestTempo(t *testing.T) {
	at := time.Unix(1_700_000_000, 0)
	presses := func(pairs ...float64) (list []journal.Press) {
		for i := 0; i < len(pairs); i += 2 {
			list = append(list, journal.Press{PlannedS: pairs[i], At: at.Add(time.Duration(pairs[i+1] * 1e9))})
		}
		return list
	}
	for name, c := range map[string]struct {
		presses  []journal.Press
		rate     float64
		least    float64
		greatest float64
	}{
		"one press":                 {presses(0, 0), 1, 1, 1},
		"two presses say nothing":   {presses(0, 0, 10, 20), 1, 1, 1},
		"8 % faster, three presses": {presses(0, 0, 10.8, 10, 21.6, 20), 1, 1.08, 1.08},
		"8 % slower, five presses":  {presses(0, 0, 9.2, 10, 18.4, 20, 27.6, 30, 36.8, 40), 1, 0.92, 0.92},
		"the last of three is late": {presses(0, 0, 10, 10, 20, 40), 1, 0.5, 1},
		"the last of four is late":  {presses(0, 0, 10, 10, 20, 20, 30, 50), 1, 1, 1},
		"one of six is late":        {presses(0, 0, 10, 10, 20, 28, 30, 30, 40, 40, 50, 50), 1, 0.99, 1.01},
		"one of six is early":       {presses(0, 0, 10, 10, 20, 12, 30, 30, 40, 40, 50, 50), 1, 0.99, 1.01},
		"too close together":        {presses(0, 0, 1, 2, 1.9, 4), 1, 1, 1},
		"all in one instant":        {presses(0, 0, 10, 0, 20, 0), 1, 1, 1},
		"half as fast is the limit": {presses(0, 0, 10, 100, 20, 200, 30, 300), 1, 0.5, 0.5},
	} {
		if got := Rate(c.presses, c.rate); got < c.least-1e-9 || got > c.greatest+1e-9 {
			t.Errorf("%s: %g, want %g to %g", name, got, c.least, c.greatest)
		}
	}
	// An operator is off by a tenth of a second, and still the tempo is known to one percent after a few cues.
	list := presses()
	for i := range MostPresses {
		off := 0.1 * math.Sin(float64(7*i))
		list = append(list, presses(float64(i)*6*1.05, float64(i)*6+off)...)
	}
	if got := Rate(list, 1); math.Abs(got-1.05) > 0.01 {
		t.Errorf("with late and early presses: %g, want 1.05", got)
	}
}
