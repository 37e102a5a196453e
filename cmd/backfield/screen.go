package main

import (
	"fmt"
	"io"
	"math"
	"os"
	"strings"
	"time"

	"backfield/osc/desk"
	"backfield/osc/virtual"
)

// drawable reports whether w is a terminal that can draw over what stands there.
func drawable(w io.Writer) bool {
	f, ok := w.(*os.File)
	return ok && terminal(w) && obeys(f)
}

// screen is a picture of some lines on a terminal that is drawn anew in its place. What is typed below it stays, as
// long as the picture has the same number of lines.
type screen struct {
	out   io.Writer
	rows  int // of the picture that stands there; 0 for none that may be drawn over
	drawn time.Time
	stale bool
}

// Control sequences of terminals (ECMA-48; saving the cursor is common practice).
const (
	saveCursor, restoreCursor = "\x1b7", "\x1b8"
	goUp                      = "\x1b[%dA\r"
	clearLine, clearBelow     = "\x1b[2K", "\x1b[J"
)

func (s *screen) draw(now time.Time, rows []string) {
	var b strings.Builder
	same := s.rows == len(rows)
	if same {
		b.WriteString(saveCursor)
	}
	if s.rows > 0 {
		fmt.Fprintf(&b, goUp, s.rows)
	}
	if !same {
		b.WriteString(clearBelow)
	}
	for _, row := range rows {
		fmt.Fprintf(&b, "%s%s\n", clearLine, row)
	}
	if same {
		b.WriteString(restoreCursor)
	}
	s.rows, s.drawn, s.stale = len(rows), now, false
	io.WriteString(s.out, b.String())
}

const (
	pictureRows    = 20 // beside the head: a terminal has 24
	pictureColumns = 2
)

// mixerLines is what a mixer holds, as lines of 80 characters: those channels that were told something or are open.
func mixerLines(d *desk.Desk, s virtual.State) []string {
	told := map[int]bool{}
	for _, a := range s.Addresses {
		place, _ := d.Find(a.Address)
		told[place.Channel] = true
	}
	open, left := 0, 0
	var cells []string
	for _, c := range s.Channels {
		if c.Open {
			open++
		}
		switch {
		case !c.Open && !told[c.Channel]:
		case len(cells) == pictureRows*pictureColumns:
			left++
		default:
			cells = append(cells, cell(c))
		}
	}
	head := fmt.Sprintf("%d of %s open; %s, %d to unknown addresses", open, plural(len(s.Channels), "channel"), plural(s.Counts.Messages, "message"), s.Counts.Unknown)
	if left > 0 {
		head += fmt.Sprintf("; %d more not shown", left)
	}
	rows := (len(cells) + pictureColumns - 1) / pictureColumns
	lines := []string{head}
	for r := range rows {
		line := cells[r]
		if r+rows < len(cells) {
			line = fmt.Sprintf("%-40s%s", line, cells[r+rows])
		}
		lines = append(lines, line)
	}
	return lines
}

// cell is one channel: number, open or not, level, pan, delay.
func cell(c virtual.Channel) string {
	state, level := "closed", "off"
	if c.Open {
		state = "open"
	}
	if v := float64(c.LevelDB); !math.IsInf(v, -1) {
		level = fmt.Sprintf("%.1f dB", v)
	}
	text := fmt.Sprintf("%5d %-6s %9s", c.Channel, state, level)
	if c.Pan != nil {
		text += " " + panText(*c.Pan)
	}
	if c.DelayMS != nil {
		text += fmt.Sprintf(" %6.1f ms", *c.DelayMS)
	}
	for _, x := range c.Params {
		text += fmt.Sprintf(" %s %g", x.Name, x.Value)
	}
	return text
}

// panText words a pan position: "L0.35", "centre", "R0.80".
func panText(v float64) string {
	switch {
	case v < 0:
		return fmt.Sprintf(" L%.2f", -v)
	case v > 0:
		return fmt.Sprintf(" R%.2f", v)
	}
	return "centre"
}
