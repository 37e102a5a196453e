package glance

import (
	"fmt"
	"math"
	"strings"

	"backfield/osc/run"
)

// RingWords say which open mics are closer to feedback than is wanted; "" where none is, or where nothing may be said. The
// one that rings first comes first, since a phone cuts the rest. A margin and its give or take are in whole dB.
func RingWords(v run.View) string {
	r := v.Ring
	if r == nil || len(r.First) == 0 {
		return ""
	}
	words := fmt.Sprintf("NEAR FEEDBACK %s: about %.0f dB left, wanted %.0f, give or take %.0f", r.First[0],
		math.Round(r.MarginDB)+0, r.WantedDB, math.Ceil(r.TakeDB))
	if others := r.First[1:]; len(others) > 0 {
		words += "; then " + strings.Join(others, ", ")
	}
	return words
}
