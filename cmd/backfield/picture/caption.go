package picture

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"backfield/cmd/backfield/letters"
	"backfield/cue"
	"backfield/cue/step"
	"backfield/layout/source"
)

// caption writes above the field what the cue is, and what it opens and closes.
func (sc *cueScene) caption() {
	d := sc.d
	left, width := d.Min.X+d.mm(edgeMM), d.W-d.mm(2*edgeMM)
	y := 0.0
	var shapes Drawing
	shapes.W, shapes.WidthMM, shapes.leastMM = d.W, d.WidthMM, d.leastMM
	y += d.mm(headMM * 1.15)
	id := "cue " + sc.now.ID
	shapes.word("caption", Dark, d.mm(headMM), true, -1, left, y, id)
	from := left + letters.Wide(id+"  ", d.mm(headMM), true)
	name := letters.ShortenEnd(sc.now.Name, d.mm(headMM*0.8), left+width-from, false)
	shapes.word("caption", Dark, d.mm(headMM*0.8), false, -1, from, y, name)
	for i, text := range append([]string{sc.when()}, sc.changes()...) {
		for j, line := range letters.Wrap(text, d.text(textMM), width, false) {
			y += 1.35 * d.text(textMM)
			if i == 0 && j == 0 {
				y += d.mm(1)
			}
			shapes.word("caption", Dark, d.text(textMM), false, -1, left, y, line)
		}
	}
	high := y + d.text(textMM)
	d.band(d.Min.Y-high, d.Min.Y)
	for _, s := range shapes.Shapes {
		s.Points[0].Y += d.Min.Y - high
		d.add(s)
	}
	d.Min.Y -= high
	d.H += high
}

// band covers a part of the drawing from side to side with paper, over whatever reaches out of the field's part.
func (d *Drawing) band(from, to float64) {
	left, right := d.Min.X, d.Min.X+d.W
	d.area("paper", Paper, NoInk, 0, XY{left, from}, XY{right, from}, XY{right, to}, XY{left, to})
}

// when is the cue's movement, count, set, time, fade and venue.
func (sc *cueScene) when() string {
	c := sc.now
	parts := []string{fmt.Sprintf("movement %d, count %s", c.Movement, number(c.Count))}
	if name := sc.s.Clock.Movements[c.Movement-1].Name; name != "" {
		parts[0] = name + ": " + parts[0]
	}
	if c.Set != "" {
		parts = append(parts, "set "+c.Set)
	}
	parts = append(parts, cue.ClockTime(c.TimeS))
	if fade := c.FadeWords(false); fade != "" {
		parts = append(parts, fade)
	}
	if sc.s.Rig.Name != "" {
		parts = append(parts, sc.s.Rig.Name)
	}
	return strings.Join(parts, " · ")
}

// changes lists who opens, closes, hands over a channel and stays open, compared with the snapshot before.
func (sc *cueScene) changes() []string {
	s := step.Between(sc.s.Show.Params, sc.before, sc.now)
	var lines []string
	if list := s.Opens(); len(list) > 0 {
		lines = append(lines, "opens: "+List(step.Names(list)))
	}
	if list := s.Closes(); len(list) > 0 {
		lines = append(lines, "closes: "+List(step.Names(list)))
	}
	for _, c := range s.Handovers() {
		lines = append(lines, c.Handover())
	}
	for _, c := range s.Switches() {
		lines = append(lines, c.Switch())
	}
	if text := stays(s); text != "" {
		lines = append(lines, "stays open: "+text)
	}
	if len(s.Open()) == 0 {
		lines = append(lines, "nothing is open")
	}
	if text := sc.lead(); text != "" {
		lines = append(lines, text)
	}
	return lines
}

// lead is how far the featured players are over all others; "" where nobody is, or where levels cannot be computed.
func (sc *cueScene) lead() string {
	var reported source.Problems // by check
	sound := sc.s.Loudness(&reported)
	if sound == nil {
		return ""
	}
	lead := sound.Lead(sc.at)
	if lead == nil {
		return ""
	}
	text := "lead: " + lead.Words()
	if !lead.Measured {
		text += " (?: nothing was measured)"
	}
	return text
}

// stays names the players who stay open, and counts the fixed mics that stay open.
func stays(s *step.Step) string {
	var worn []string
	fixed := 0
	for _, c := range s.StayOpen() {
		if c.Is.Kind == cue.Fixed {
			fixed++
		} else {
			worn = append(worn, c.Is.Player)
		}
	}
	var parts []string
	if len(worn) > 0 {
		parts = append(parts, List(worn))
	}
	if fixed > 0 {
		parts = append(parts, source.Count(float64(fixed), "fixed mic"))
	}
	return strings.Join(parts, "; ")
}

// List joins names, and writes what numbered names begin with only once: "Tpt 1, 3, 11; Mello 2".
func List(names []string) string {
	var b strings.Builder
	before := ""
	for i, name := range names {
		stem := strings.TrimRight(name, "0123456789")
		switch {
		case i == 0:
			b.WriteString(name)
		case stem == before && stem != name:
			b.WriteString(", " + name[len(stem):])
		default:
			b.WriteString("; " + name)
		}
		before = stem
	}
	return b.String()
}

// number prints a count or a level as people write it. Adding 0 turns -0 into 0.
func number(v float64) string { return strconv.FormatFloat(math.Round(v*100)/100+0, 'f', -1, 64) }

// LevelText prints a level in dB with its sign, with a true minus sign.
func LevelText(db cue.Level) string {
	text := number(float64(db))
	minus, below := strings.CutPrefix(text, "-")
	switch {
	case below:
		return "−" + minus
	case text == "0":
		return "±0"
	}
	return "+" + text
}
