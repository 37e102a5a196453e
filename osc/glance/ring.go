package glance

import (
	"fmt"
	"math"
	"strings"

	"backfield/osc/run"
)

// RingWords say which open mics are closer to feedback than is wanted, or that nobody watches that; "" where neither is so,
// or where nothing may be said. The one that rings first comes first, since a phone cuts the rest. It is too close by at
// least a dB, or it would not be named: all of it in whole dB, what is left rounded down.
func RingWords(v run.View) string {
	r := v.Ring
	switch {
	case r == nil:
		return ""
	case r.Unwatched != "":
		return "FEEDBACK NOT WATCHED: " + r.Unwatched
	case len(r.First) == 0:
		return ""
	}
	left := "none left"
	if r.MarginDB >= 1 {
		left = fmt.Sprintf("about %.0f dB left", math.Floor(r.MarginDB))
	}
	words := fmt.Sprintf("NEAR FEEDBACK %s: %.0f dB too close, %s, give or take %.0f", r.First[0],
		math.Ceil(r.WantedDB-r.MarginDB), left, math.Ceil(r.TakeDB))
	if others := r.First[1:]; len(others) > 0 {
		words += "; then " + strings.Join(others, ", ")
	}
	return words
}
