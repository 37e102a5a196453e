package paper

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"backfield/cue/sheet"
	"backfield/layout/source"
)

// Summary is the most important facts about the sheets, one line each.
func (p *Papers) Summary() []string {
	plural := func(n int, noun string) string { return source.Count(float64(n), noun) }
	lines := []string{fmt.Sprintf("%s, %s: %s, %s, %s", p.Name(), p.Night(), plural(p.Cues(), "cue"),
		plural(len(p.Packs()), "pack"), plural(len(p.Handovers), "handover"))}
	lines = append(lines, p.Sharing.Fewest(len(p.Packs())))
	if b := p.Batteries; b != nil {
		var at []string
		for _, f := range b.Changes {
			at = append(at, sheet.ClockText(f.AtMin))
		}
		lines = append(lines, fmt.Sprintf("fresh batteries at %s: %s of batteries for %s",
			strings.Join(at, ", "), plural(p.Sets(), "set"), plural(len(p.Packs()), "pack")))
	}
	return lines
}

// minutesText writes seconds as minutes and seconds: 2:07.
func minutesText(s float64) string {
	seconds := int(s + 0.5)
	return fmt.Sprintf("%d:%02d", seconds/60, seconds%60)
}

// number writes a number with at most two decimals and a true minus sign.
func number(v float64) string {
	v = math.Round(v*100) / 100
	return strings.Replace(strconv.FormatFloat(v+0, 'f', -1, 64), "-", "−", 1)
}

// metersText writes a distance in meters, or a question mark if it is unknown.
func metersText(m float64) string {
	if math.IsNaN(m) {
		return "?"
	}
	return fmt.Sprintf("%.0f m", m)
}

// momentText writes a moment for people on the field: "Fog, count 33, set 7".
func (p *Papers) momentText(m sheet.DrillMoment) string {
	text := fmt.Sprintf("%s, count %s", p.Movement(m.Movement), number(m.Count))
	if m.Set != "" {
		text += ", set " + m.Set
	}
	return text
}

// unbroken keeps a short name on one line.
func unbroken(name string) string {
	if len([]rune(name)) > 14 {
		return name
	}
	return strings.ReplaceAll(name, " ", "\u00a0")
}
