package tune

import (
	"fmt"
	"io"

	"backfield/layout/source"
)

// Text writes what a search found, and the lines for the rig.
func (t *Tuning) Text(out io.Writer) {
	fmt.Fprintln(out, "the whole show, each open worn mic for as long as it is open:")
	fmt.Fprintln(out, "                 seats in time   no echo   press box, ms after   image off by")
	for _, row := range []struct {
		name string
		v    SeatScore
	}{{"as the rig is", t.Before}, {"tuned", t.After}, {"zone sends", t.Zones}} {
		box := "-"
		if b := row.v.BoxMS; b != nil {
			box = fmt.Sprintf("%.1f to %.1f", b[0], b[1])
		}
		fmt.Fprintf(out, "  %-13s %11.1f %% %7.1f %% %21s %6.1f degrees\n",
			row.name, 100*row.v.InTime, 100*row.v.NoEcho, box, row.v.ImageErrorDeg)
	}
	fmt.Fprintf(out, "%s of %s tried; for zone sends see backfield help zones\n",
		source.Count(float64(t.Tried), "setting"), source.Count(float64(t.Pairs), "pair"))
	if !t.Better() {
		fmt.Fprintln(out, "nothing better found: leave the rig as it is")
		return
	}
	fmt.Fprintln(out, "to get there, write this into the rig:")
	for _, c := range t.Changes {
		was, is := c.Was, c.Is
		fmt.Fprintf(out, "\n# [[stack]] %q\n", was.Name)
		for _, k := range []struct {
			key, unit string
			was, is   float64
		}{
			{"delay", "ms; ", 1000 * was.DelayS, 1000 * is.DelayS}, {"trim", "dB; ", was.TrimDB, is.TrimDB},
			{"left", "", was.Left, is.Left}, {"right", "", was.Right, is.Right},
		} {
			if k.was != k.is {
				fmt.Fprintf(out, "%s = %.6g # %swas %.3g\n", k.key, k.is, k.unit, k.was)
			}
		}
	}
}
