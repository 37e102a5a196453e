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
			fmt.Fprintf(w, ", on average %s", fit)
		}
		fmt.Fprintln(w)
	}
	fmt.Fprintf(w, "\n%-4s %-18s %-6s %9s  ", "ch", "player", "cue", "spread ms")
	for i := range nights {
		fmt.Fprintf(w, "%8s", "ms "+letter(i))
	}
	for i := range nights {
		fmt.Fprintf(w, "%10s", "in time "+letter(i))
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
	for _, v := range r.InTime {
		if v == nil {
			fmt.Fprintf(w, "%10s", "-")
		} else {
			fmt.Fprintf(w, "%8.0f %%", 100**v)
		}
	}
	fmt.Fprintln(w)
}

// letter names a night: A, B, C.
func letter(i int) string { return string(rune('A' + i)) }

func count(n int, word string) string { return source.Count(float64(n), word) }
