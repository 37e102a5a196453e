package simulated

import (
	"fmt"
	"math"

	"backfield/osc/mixer"
	"backfield/osc/virtual"
)

const (
	pictureRows    = 20 // below the head line: a terminal has 24
	pictureColumns = 2
)

// mixerLines shows the channels that got a message or are open, in lines of 80 characters.
func mixerLines(d *mixer.Mixer, s virtual.DeviceState) []string {
	received := map[int]bool{}
	for _, a := range s.Addresses {
		place, _ := d.Find(a.Address)
		received[place.Channel] = true
	}
	open, left := 0, 0
	var cells []string
	for _, c := range s.Channels {
		if c.Open {
			open++
		}
		switch {
		case !c.Open && !received[c.Channel]:
		case len(cells) == pictureRows*pictureColumns:
			left++
		default:
			cells = append(cells, cell(c))
		}
	}
	head := fmt.Sprintf("%d of %s open; %s, %d for unknown addresses", open, count(len(s.Channels), "channel"),
		count(s.Counts.Messages, "message"), s.Counts.Unknown)
	if left > 0 {
		head += fmt.Sprintf("; %d not shown", left)
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
func cell(c virtual.ChannelState) string {
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

// panText is a pan in words: "L0.35", "center", "R0.80".
func panText(v float64) string {
	switch {
	case v < 0:
		return fmt.Sprintf(" L%.2f", -v)
	case v > 0:
		return fmt.Sprintf(" R%.2f", v)
	}
	return "center"
}
