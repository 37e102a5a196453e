package glance

import (
	"fmt"
	"math"
	"strings"

	"backfield/osc/run"
)

// RingWords say which open mics are closer to feedback than is wanted; "" where none is, or where nothing may be said. A
// margin is in whole dB, as is how far off it may be.
func RingWords(v run.View) string {
	r := v.Ring
	if r == nil || len(r.First) == 0 {
		return ""
	}
	return fmt.Sprintf("NEAR FEEDBACK: about %.0f dB left, wanted %.0f, give or take %.0f; first %s",
		math.Round(r.MarginDB)+0, r.WantedDB, math.Ceil(r.TakeDB), strings.Join(r.First, ", "))
}
