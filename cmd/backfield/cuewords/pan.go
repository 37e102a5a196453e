package cuewords

import (
	"fmt"
	"math"
	"strings"

	"backfield/cue"
)

// Pan is the pan of a channel, or its sends if the rig has zones, and where it has gone when the next cue comes.
func Pan(ch cue.Channel) string {
	if len(ch.Sends) > 0 {
		text := sendWords(ch.Sends)
		if n := len(ch.Glide); n > 0 && ch.Place != nil && ch.Glide[n-1].Place != nil {
			if to := *ch.Glide[n-1].Place; math.Abs(to-*ch.Place) >= 0.005 {
				text += fmt.Sprintf("; place %.2f to %.2f", *ch.Place, to)
			}
		}
		return text
	}
	from := sideWords(ch.Pan)
	if n := len(ch.Glide); n > 0 {
		if to := sideWords(ch.Glide[n-1].Pan); to != from {
			return "pan " + from + " to " + to
		}
	}
	return "pan " + from
}

func sideWords(pan float64) string {
	switch pan = math.Round(pan*100) / 100; {
	case pan < 0:
		return fmt.Sprintf("%.4g left", -pan)
	case pan > 0:
		return fmt.Sprintf("%.4g right", pan)
	}
	return "center"
}

func sendWords(sends []cue.Send) string {
	var parts []string
	for _, s := range sends {
		if s.LevelDB != cue.Silent {
			parts = append(parts, fmt.Sprintf("zone %d %.3g dB", s.Zone, float64(s.LevelDB)))
		}
	}
	return strings.Join(parts, ", ")
}
