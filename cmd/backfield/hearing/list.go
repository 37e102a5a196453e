package hearing

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"unicode/utf8"

	"backfield/cue/seat"
	"backfield/osc/ears"
)

// number is a text as a channel's number; ok is false where it is none.
func number(text string) (n int, ok bool) {
	n, err := strconv.Atoi(text)
	return n, err == nil
}

// arrivals are what is heard, as the ears take it.
func arrivals(h *seat.Heard) []ears.EarArrival {
	list := make([]ears.EarArrival, len(h.Arrivals))
	for i, a := range h.Arrivals {
		list[i] = ears.EarArrival{TimeS: a.TimeMS / 1000, LevelDB: a.LevelDB,
			Direction: ears.Direction{AzimuthDeg: a.AzimuthDeg, ElevationDeg: a.ElevationDeg}}
	}
	return list
}

// wayWords are the ways in a heading.
var wayWords = map[seat.Way]string{seat.Compiled: "as compiled", seat.NoDelay: "with no delay",
	seat.Stereo: "fed in stereo", seat.Zones: "fed by zones"}

// List prints what is heard: the verdict, and a line for each arrival.
func List(w io.Writer, h *seat.Heard) {
	fmt.Fprintf(w, "%s, cue %s: %s, channel %d, delay %.1f ms, %s\n", h.Seat, h.Cue, h.Player, h.Channel, h.DelayMS,
		wayWords[h.Way])
	fmt.Fprintf(w, "%s\n%s\n", h.Verdict, h.Why)
	if h.Closed {
		fmt.Fprintf(w, "The mic is closed in this cue: the numbers are those of its next opening, cue %s.\n", h.Cue)
	}
	if h.Rests {
		fmt.Fprintf(w, "%s rests in this cue: the levels are those of playing.\n", h.Player)
	}
	width := 0
	for _, a := range h.Arrivals {
		width = max(width, utf8.RuneCountInString(a.From))
	}
	fmt.Fprint(w, "\n   ms after   ms after   level      from, degrees\n"+
		"   the note     player      dB    across      up\n")
	ownMS := math.NaN()
	for _, a := range h.Arrivals {
		if a.Kind == seat.PlayerKind {
			ownMS = a.TimeMS
		}
	}
	for _, a := range h.Arrivals {
		after, what := "-", "stack"
		if !math.IsNaN(ownMS) {
			after = fmt.Sprintf("%+.2f", a.TimeMS-ownMS+0)
		}
		switch {
		case a.Kind == seat.PlayerKind:
			after, what = "0", "the player"
		case a.Echo:
			what = "stack, an echo"
		}
		fmt.Fprintf(w, "%11.2f%11s%8.1f%10s%8s   %-*s  %s\n", a.TimeMS, after, a.LevelDB+0,
			degrees(a.AzimuthDeg), degrees(a.ElevationDeg), width, a.From, what)
	}
	fmt.Fprintln(w)
	switch h.Levels {
	case seat.Assumed:
		fmt.Fprintf(w, "levels: %s is taken to be as loud here as the loudest stack\n", h.Player)
	default:
		fmt.Fprintf(w, "levels: %s, stacks against the player give or take %.3g dB\n", h.Levels, h.GiveOrTakeDB)
	}
}

// degrees is a direction with its sign: + is to the right, and up.
func degrees(v float64) string {
	if v = math.Round(v); v == 0 {
		return "0"
	}
	return fmt.Sprintf("%+.0f", v)
}
