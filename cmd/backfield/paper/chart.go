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

// mostRows is how many channels fit on a page at 9 pt. More go on a second page.
const mostRows = 31

// charts are the whole show, then each movement, each on as many pages as its channels and its cues need at 9 pt.
func (p *Papers) charts() []chart {
	lines := p.chartLines()
	roles := p.roleRank()
	var list []chart
	draw := func(title string, fromS, toS float64, whole bool) {
		times := p.parts(fromS, toS)
		groups := (len(lines) + mostRows - 1) / mostRows
		each := (len(lines) + max(groups, 1) - 1) / max(groups, 1)
		for i := range groups {
			rows := lines[i*each : min((i+1)*each, len(lines))]
			for t := range len(times) - 1 {
				name := title
				if groups > 1 {
					name += fmt.Sprintf(", channels %d to %d", rows[0].channel, rows[len(rows)-1].channel)
				}
				d := chartDrawing{p: p, fromS: times[t], toS: times[t+1], whole: whole, lines: rows, roles: roles}
				if n := len(times) - 1; n > 1 {
					d.joined = [2]string{p.countAt(times[t], t > 0), p.countAt(times[t+1], t < n-1)}
					name += fmt.Sprintf(", %d of %d", t+1, n)
				}
				list = append(list, chart{name, d.svg()})
			}
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

// countAt is the count at which two pages join; "" where none does.
func (p *Papers) countAt(s float64, join bool) string {
	if !join {
		return ""
	}
	m := p.Moment(s)
	return fmt.Sprintf("%d:%s", m.Movement, number(m.Count))
}

// mostParts is how many pages a time may go over. With more, an id without room would not be the only problem.
const mostParts = 8

// mostCues is how many cues are easy to read on one page, even if the ids of more had room.
const mostCues = 30

// parts cuts a time into as few parts as give each cue's id room. The cuts are at cues, or where a movement begins.
func (p *Papers) parts(fromS, toS float64) (times []float64) {
	least, cues := 1, 0
	for _, r := range p.Rows {
		if r.TimeS > fromS-1e-6 && r.TimeS < toS+1e-6 {
			cues++
		}
	}
	if cues > mostCues {
		least = 2
	}
	for n := least; n <= mostParts; n++ {
		times = []float64{fromS}
		for i := 1; i < n; i++ {
			if s := p.cut(fromS+(toS-fromS)*float64(i)/float64(n), (toS-fromS)/float64(n)/4); s > times[len(times)-1] {
				times = append(times, s)
			}
		}
		times = append(times, toS)
		room := true
		for i := range len(times) - 1 {
			d := chartDrawing{p: p, fromS: times[i], toS: times[i+1]}
			_, ok := d.cueIDs()
			room = room && ok
		}
		if room {
			break
		}
	}
	return times
}

// cut is the beginning of a movement near a time, else the nearest cue, else the time.
func (p *Papers) cut(s, withinS float64) float64 {
	best := s
	for _, m := range p.Show.Clock.Movements {
		if math.Abs(m.StartS-s) < withinS {
			return m.StartS
		}
	}
	for _, r := range p.Rows {
		if d := math.Abs(r.TimeS - s); d < withinS && (best == s || d < math.Abs(best-s)) {
			best = r.TimeS
		}
	}
	return best
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
