package paper

import (
	"bytes"
	"cmp"
	"fmt"
	"html/template"
	"math"
	"slices"

	"backfield/cue"
	"backfield/cue/clock"
	"backfield/cue/sheet"
)

// chart is one drawing of the mic chart.
type chart struct {
	Title string
	SVG   template.HTML
}

// mostRows is how many channels fit a page that is read at arm's length; more go on a second.
const mostRows = 32

// charts are the whole show, then each movement by itself, each on as many pages as its channels need.
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
			d := drawing{p: p, fromS: fromS, toS: toS, whole: whole, lines: part, roles: roles}
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

// chartLine is one channel's row, with the names of all who wear it.
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

// roleRank lists the roles that are used, the loudest first: the louder, the darker its bar.
func (p *Papers) roleRank() []string {
	peak := map[string]float64{}
	var roles []string
	for _, r := range p.Show.Score.Roles {
		if slices.ContainsFunc(p.Bars, func(b sheet.Bar) bool { return b.Role == r.Name }) {
			roles = append(roles, r.Name)
			peak[r.Name] = r.LevelDB
		}
	}
	slices.SortStableFunc(roles, func(a, b string) int { return cmp.Compare(peak[b], peak[a]) })
	return roles
}

// look is how the bar of a role is drawn: by its place in the order of loudness, from black and as high as its row to
// grey and thin. It needs no colour and no pattern, which printers blur.
func look(roles []string, role string) (fill, ink string, high float64) {
	i, last := slices.Index(roles, role), max(len(roles)-1, 1)
	if i < 0 {
		i = last
	}
	part := float64(i) / float64(last) // 0 the loudest
	grey := int(235 * math.Sqrt(part))
	if ink = "#000"; grey < 130 {
		ink = "#fff"
	}
	return fmt.Sprintf("#%02x%02x%02x", grey, grey, grey), ink, 0.86 - 0.36*part
}

// drawing draws one chart in units of a thousandth of its width, 0.7 pt on letter.
type drawing struct {
	p          *Papers
	fromS, toS float64
	whole      bool // the whole show: no room for counts
	lines      []chartLine
	roles      []string

	bytes.Buffer
}

// The chart's measures.
const (
	chartWide  = 1000.0
	chartHigh  = 640.0 // fits letter and A4 laid across, under a heading
	nameWide   = 128.0
	cueHigh    = 44.0 // four lines of cue ids
	countHigh  = 26.0
	panelHigh  = 84.0 // the open count
	legendHigh = 40.0 // two lines
	type9      = 12.5 // 9 pt
	type8      = 11.0 // 8 pt
)

func (d *drawing) x(s float64) float64 {
	return nameWide + (s-d.fromS)/max(d.toS-d.fromS, 1e-9)*(chartWide-nameWide-6)
}

func (d *drawing) put(format string, args ...any) { fmt.Fprintf(d, format+"\n", args...) }

func (d *drawing) text(x, y, size float64, anchor, ink, text string) {
	d.put(`<text x="%.1f" y="%.1f" font-size="%.4g" text-anchor="%s" fill="%s">%s</text>`, x, y, size, anchor, ink, template.HTMLEscapeString(text))
}

// haloed is text that stays readable on top of lines.
func (d *drawing) haloed(x, y, size float64, text string) {
	d.put(`<text x="%.1f" y="%.1f" font-size="%.4g" text-anchor="middle" stroke="#fff" stroke-width="3" paint-order="stroke">%s</text>`, x, y, size, template.HTMLEscapeString(text))
}

// wide is about how wide a text is: a sans serif's mean is 0.56 of its size.
func wide(text string, size float64) float64 { return 0.56 * size * float64(len([]rune(text))) }

// fitted makes a name fit a width: first smaller, down to three quarters, then shorter, cut in its middle: what tells
// players apart mostly stands at the end.
func fitted(name string, size, width float64) (text string, smaller float64) {
	smaller = min(size, max(size*width/wide(name, size), 0.75*size))
	letters := []rune(name)
	text = name
	for n := len(letters) - 1; n > 1 && wide(text, smaller) > width+1e-9; n-- {
		text = string(letters[:(n+1)/2]) + "…" + string(letters[len(letters)-n/2:])
	}
	return text, smaller
}

func (d *drawing) svg() template.HTML {
	top := cueHigh + countHigh
	bottom := chartHigh - legendHigh - panelHigh - 8
	row := min((bottom-top)/float64(max(len(d.lines), 1)), 24)
	bottom = top + row*float64(len(d.lines))
	d.put(`<svg class="chart" viewBox="0 0 %g %.1f" role="img" font-family="Helvetica, Arial, 'Liberation Sans', sans-serif">`, chartWide, bottom+8+panelHigh+legendHigh)
	for i, l := range d.lines {
		y := top + row*float64(i)
		if i%2 == 1 {
			d.put(`<rect x="0" y="%.1f" width="%g" height="%.1f" fill="#f1f1f1"/>`, y, chartWide, row)
		}
		size := min(type9, row*0.8)
		d.text(22, y+row/2+size*0.36, size, "end", "#000", fmt.Sprint(l.channel))
		name, small := fitted(l.name, size, nameWide-33)
		d.text(27, y+row/2+size*0.36, small, "start", "#000", name)
	}
	d.cues(top, bottom)
	d.time(top, bottom)
	d.bars(top, row)
	d.count(bottom+8, panelHigh)
	d.legend(bottom + 8 + panelHigh + legendHigh)
	d.WriteString("</svg>\n")
	return template.HTML(d.String())
}

// time draws the counts, and where movements begin and end.
func (d *drawing) time(top, bottom float64) {
	y := top - 6
	for i, m := range d.p.Show.Clock.Movements {
		from, to := m.StartS, m.StartS+m.Tempo.Seconds(m.Counts)
		if to < d.fromS+1e-6 || from > d.toS-1e-6 {
			continue
		}
		if d.whole {
			for _, s := range []float64{from, to} {
				d.put(`<path d="M%.1f %.1fV%.1f" stroke="#000" stroke-width="1.6"/>`, d.x(s), top-16, bottom+8+panelHigh)
			}
			name, size := fitted(d.p.Movement(i+1), type9, d.x(min(to, d.toS))-d.x(from)-8)
			d.put(`<text x="%.1f" y="%.1f" font-size="%.4g" stroke="#fff" stroke-width="3" paint-order="stroke">%s</text>`, d.x(from)+4, y, size, template.HTMLEscapeString(name))
			continue
		}
		every := 4.0
		for every < 512 && (d.x(to)-d.x(from))/m.Counts*every < 34 {
			every *= 2
		}
		for n := 0.0; n < m.Counts; n += every {
			x := d.x(m.StartS + m.Tempo.Seconds(n))
			d.put(`<path d="M%.1f %.1fV%.1f" stroke="#999" stroke-width="0.5"/>`, x, top-4, bottom)
			d.haloed(x, y, type8, fmt.Sprintf("%g", n+1))
		}
		d.text(22, y, type8, "end", "#000", "ch")
		d.text(nameWide-10, y, type8, "end", "#000", "count")
		last := -100.0
		d.text(nameWide-10, y-11, type8, "end", "#000", "set")
		for _, set := range d.p.Show.Clock.Sets {
			if set.At.Movement != i+1 {
				continue
			}
			if x := d.x(d.p.Show.Clock.Seconds(clock.Moment{Movement: i + 1, Elapsed: set.At.Elapsed})); x-last > wide(set.Label, type8)+5 {
				d.haloed(x, y-11, type8, set.Label)
				last = x
			}
		}
	}
}

// grazeS is how little of a bar beyond a movement's edge is dust of rounding.
const grazeS = 1e-3

func (d *drawing) bars(top, row float64) {
	for _, b := range d.p.Bars {
		i := slices.IndexFunc(d.lines, func(l chartLine) bool { return l.channel == b.Channel })
		from, to := max(b.FromS, d.fromS), min(b.ToS, d.toS)
		if i < 0 || to < from || b.ToS <= d.fromS+grazeS && b.FromS < d.fromS || b.FromS >= d.toS-grazeS && b.ToS > d.toS {
			continue
		}
		fill, ink, high := look(d.roles, b.Role)
		x, w, h := d.x(from), max(d.x(to)-d.x(from), 1.2), row*high
		y := top + row*(float64(i)+0.5) - h/2
		d.put(`<rect x="%.1f" y="%.1f" width="%.1f" height="%.1f" fill="%s" stroke="#000" stroke-width="0.7"/>`, x, y, w, h, fill)
		text := b.Role
		if slices.ContainsFunc(d.p.Bars, func(o sheet.Bar) bool { return o.Channel == b.Channel && o.Player != b.Player }) {
			text = b.Player + ": " + b.Role
		}
		if size := min(type8, row*0.72); wide(text, size)+6 < w {
			d.text(x+4, y+h/2+size*0.35, size, "start", ink, text)
		}
	}
}

// cues draws a tick for each cue of the operator's, with its id on the lowest line that has room. On the whole show an
// id may find none; the movements' own charts have them all.
func (d *drawing) cues(top, bottom float64) {
	levels := []float64{-99, -99, -99}
	base := top - countHigh
	for _, r := range d.p.Rows {
		if r.TimeS < d.fromS-1e-6 || r.TimeS > d.toS+1e-6 {
			continue
		}
		x := d.x(r.TimeS)
		dash := ""
		if r.Auto {
			dash = ` stroke-dasharray="3 2"`
		}
		d.put(`<path d="M%.1f %.1fV%.1f" stroke="#555" stroke-width="0.7"%s/>`, x, base, bottom, dash)
		for i := range levels {
			half := wide(r.ID, type9)/2 + 1.5
			at := min(max(x, half), chartWide-half)
			if at-half > levels[i] {
				d.put(`<text x="%.1f" y="%.1f" font-size="%.4g" font-weight="bold" text-anchor="middle">%s</text>`, at, base-3-13*float64(i), type9, template.HTMLEscapeString(r.ID))
				if i > 0 {
					d.put(`<path d="M%.1f %.1fV%.1f" stroke="#000" stroke-width="0.5"/>`, x, base-2-13*float64(i), base)
				}
				levels[i] = at + half
				break
			}
		}
	}
}

// count draws how many mics are open, of all channels, and what that costs.
func (d *drawing) count(y, high float64) {
	most := 1
	for _, s := range d.p.Steps {
		most = max(most, s.Open)
	}
	const under = 3.0 // dB: where none is open
	span := cue.OpenCostDB(most) + under + 1
	at := func(open int) float64 {
		if open == 0 {
			return y + high
		}
		return y + high - (cue.OpenCostDB(open)+under)/span*high
	}
	for n := 1; n <= most; n *= 2 {
		d.put(`<path d="M%g %.1fH%g" stroke="#aaa" stroke-width="0.5"/>`, nameWide, at(n), chartWide-6)
		d.text(nameWide-6, at(n)+3.6, type8, "end", "#000", fmt.Sprintf("%d open  %s dB", n, number(-math.Round(cue.OpenCostDB(n)))))
	}
	shown := math.Inf(-1)
	for i, s := range d.p.Steps {
		to := d.p.EndS()
		if i+1 < len(d.p.Steps) {
			to = d.p.Steps[i+1].AtS
		}
		from := max(s.AtS, d.fromS)
		if to = min(to, d.toS); to <= from+grazeS {
			continue
		}
		d.put(`<rect x="%.1f" y="%.1f" width="%.1f" height="%.1f" fill="#888"/>`, d.x(from), at(s.Open), d.x(to)-d.x(from), y+high-at(s.Open))
		if text := fmt.Sprint(s.Open); d.x(to)-d.x(from) > wide(text, type8)+2 && d.x(from) > shown {
			d.text((d.x(from)+d.x(to))/2, y+high-3, type8, "middle", "#fff", text)
			shown = d.x(from)
		}
	}
	d.put(`<path d="M%g %.1fH%g" stroke="#000" stroke-width="1"/>`, nameWide, y+high, chartWide-6)
}

func (d *drawing) legend(y float64) {
	d.text(0, y-4, type8, "start", "#000", "Bars: open, the louder the darker and thicker. Lines: cues, dashed where they go by themselves. Below: how many mics are open, and their cost in gain before feedback, 10 log10 N dB.")
	x := 0.0
	y -= 18
	for _, role := range d.roles {
		fill, _, high := look(d.roles, role)
		d.put(`<rect x="%.1f" y="%.1f" width="18" height="%.1f" fill="%s" stroke="#000" stroke-width="0.7"/>`, x, y-6.5-7*high, 14*high, fill)
		text := role
		if r, ok := d.p.Show.Score.Role(role); ok {
			text = fmt.Sprintf("%s (%s dB)", role, number(r.LevelDB))
		}
		d.text(x+22, y-2.5, type9, "start", "#000", text)
		x += 22 + wide(text, type9) + 14
	}
}
