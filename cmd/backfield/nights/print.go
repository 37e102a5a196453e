package nights

import (
	"fmt"
	"io"

	"backfield/layout/source"
)

// Print writes a line for each night and a table of the rows.
func Print(w io.Writer, nights []Night, rows []MicRow) {
	for i, n := range nights {
		fmt.Fprintf(w, "%s  %s: %s", letter(i), n.Label, count(len(n.Show.Cues), "cue"))
		if fit, ok := n.Show.MeanFit(); ok {
			fmt.Fprintf(w, "\n   on average %s", fit)
		}
		fmt.Fprintln(w)
	}
	fmt.Fprintln(w, "\nseats: in time, and in time without an echo; box: arrival gap at the press box, ms")
	fmt.Fprintf(w, "%-4s %-18s %-6s %9s  ", "ch", "player", "cue", "spread ms")
	for i := range nights {
		fmt.Fprintf(w, "%8s", "ms "+letter(i))
	}
	for i := range nights {
		fmt.Fprintf(w, "%10s%11s", "seats "+letter(i), "box "+letter(i))
	}
	fmt.Fprintln(w)
	for _, r := range rows {
		printRow(w, r)
	}
}

func printRow(w io.Writer, r MicRow) {
	fmt.Fprintf(w, "%-4d %-18s %-6s %9.1f  ", r.Channel, r.Player, r.Cue, r.SpreadMS)
	for _, v := range r.DelayMS {
		if v == nil {
			fmt.Fprintf(w, "%8s", "-")
		} else {
			fmt.Fprintf(w, "%8.1f", *v)
		}
	}
	for i := range r.InTime {
		seats, box := "-", "-"
		if r.InTime[i] != nil {
			seats = fmt.Sprintf("%.0f, %.0f %%", 100**r.InTime[i], 100**r.NoEcho[i])
		}
		if b := r.BoxMS[i]; b != nil {
			box = fmt.Sprintf("%.1f-%.1f", b[0], b[1])
		}
		fmt.Fprintf(w, "%10s%11s", seats, box)
	}
	fmt.Fprintln(w)
}

// letter names a night: A, B, C.
func letter(i int) string { return string(rune('A' + i)) }

func count(n int, word string) string { return source.Count(float64(n), word) }
