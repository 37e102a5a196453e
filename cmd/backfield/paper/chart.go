package paper

import (
	"cmp"
	"fmt"
	"html/template"
	"math"
	"slices"

	"backfield/cue"
	"backfield/cue/sheet"
)

// chart is one drawing of the mic chart.
type chart struct {
	Title string
	SVG   template.HTML
}

// mostRows is how many channels fit on a page that people read at arm's length. More go on a second page.
const mostRows = 32

// charts are the whole show, then each movement, each on as many pages as its channels need.
func (p *Papers) charts() []chart {
	lines := p.chartLines()
	roles := p.roleRank()
	var list []chart
	draw := func(title string, fromS, toS float64, whole bool) {
		pages := (len(lines) + mostRows - 1) / mostRows
		each := (len(lines) + max(pages, 1) - 1) / max(pages, 1)
		for i := range pages {
			part := lines[i*each : min((i+1)*each, len(lines))]
			name := title
			if pages > 1 {
				name += fmt.Sprintf(", channels %d to %d", part[0].channel, part[len(part)-1].channel)
			}
			d := chartDrawing{p: p, fromS: fromS, toS: toS, whole: whole, lines: part, roles: roles}
			list = append(list, chart{name, d.svg()})
		}
	}
	draw("The whole show", 0, p.EndS(), true)
	if n := len(p.Show.Clock.Movements); n > 1 {
		for i, m := range p.Show.Clock.Movements {
			draw(p.Movement(i+1), m.StartS, m.StartS+m.Tempo.Seconds(m.Counts), false)
		}
	}
	return list
}

// chartLine is the row of one channel, with the names of all its wearers.
type chartLine struct {
	channel int
	kind    string
	name    string
}

func (p *Papers) chartLines() []chartLine {
	var list []chartLine
	if len(p.Show.Show.Cues) == 0 {
		return nil
	}
	for _, c := range p.Show.Show.Cues[0].Channels {
		line := chartLine{c.Channel, c.Kind, c.Player}
		if c.Kind == cue.Worn {
			line.name = ""
			for _, w := range p.Wears {
				if w.Channel != c.Channel {
					continue
				}
				if line.name != "" {
					line.name += " / "
				}
				line.name += w.Player
			}
		}
		list = append(list, line)
	}
	return list
}

// roleRank lists the roles in use, the loudest first. Louder roles have darker bars.
func (p *Papers) roleRank() []string {
	peak := map[string]float64{}
	var roles []string
	for _, r := range p.Show.Score.Roles {
		if slices.ContainsFunc(p.Bars, func(b sheet.OpenBar) bool { return b.Role == r.Name }) {
			roles = append(roles, r.Name)
			peak[r.Name] = r.LevelDB
		}
	}
	slices.SortStableFunc(roles, func(a, b string) int { return cmp.Compare(peak[b], peak[a]) })
	return roles
}

// look is how to draw the bar of a role: the loudest black and high, the softest gray and thin. It uses no color and no
// pattern, since printers blur them. high is a part of the height of the row.
func look(roles []string, role string) (fill, ink string, high float64) {
	i, last := slices.Index(roles, role), max(len(roles)-1, 1)
	if i < 0 {
		i = last
	}
	part := float64(i) / float64(last) // 0 the loudest
	gray := int(235 * math.Sqrt(part))
	if ink = "#000"; gray < 130 {
		ink = "#fff"
	}
	return fmt.Sprintf("#%02x%02x%02x", gray, gray, gray), ink, 0.86 - 0.36*part
}
