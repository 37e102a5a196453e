package hearing

import (
	"fmt"
	"io"
	"math"
	"slices"
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
	dba, dbaUnder := "", "" // a column of its own, where it means something
	if h.Levels == seat.Measured {
		dba, dbaUnder = "   level", "     dBA"
	}
	fmt.Fprintf(w, "\n   ms after   ms after   level%s      from, degrees\n"+
		"   the note     player      dB%s    across      up\n", dba, dbaUnder)
	own := slices.IndexFunc(h.Arrivals, func(a seat.HeardSound) bool { return a.Kind == seat.PlayerKind })
	for i, a := range h.Arrivals {
		after, what := "-", "stack"
		if own >= 0 {
			after = fmt.Sprintf("%+.2f", a.TimeMS-h.Arrivals[own].TimeMS)
		}
		switch {
		case i == own:
			after, what = "0", "the player"
		case a.Echo:
			what = "stack, an echo: " + under(*a.EchoUnderDB)
		}
		if a.LevelDBA != nil {
			dba = fmt.Sprintf("%8.0f", *a.LevelDBA)
		}
		fmt.Fprintf(w, "%11.2f%11s%8.1f%s%10s%8s   %-*s  %s\n", a.TimeMS, after, a.LevelDB+0, dba,
			degrees(a.AzimuthDeg), degrees(a.ElevationDeg), width, a.From, what)
	}
	fmt.Fprintln(w)
	switch h.Levels {
	case seat.Assumed:
		fmt.Fprintf(w, "levels: %s is taken to be as loud here as the loudest stack\n", h.Player)
	case seat.Measured:
		fmt.Fprintf(w, "levels: measured, give or take %.3g dB; stacks against the player %.3g dB\n", h.LevelTakeDB,
			h.GiveOrTakeDB)
	default:
		fmt.Fprintf(w, "levels: estimated, stacks against the player give or take %.3g dB\n", h.GiveOrTakeDB)
	}
}

// under says how an echo is against the stacks before it. That goes by distance and gain alone, as the rule for echoes
// does, so it is not the difference of the levels in the table.
func under(db float64) string {
	if db < 0 {
		return fmt.Sprintf("%.1f dB over those before", -db)
	}
	return fmt.Sprintf("%.1f dB under those before", db+0)
}

// degrees is a direction with its sign: + is to the right, and up.
func degrees(v float64) string {
	if v = math.Round(v); v == 0 {
		return "0"
	}
	return fmt.Sprintf("%+.0f", v)
}
