package paper

import (
	"bytes"
	"fmt"
	"html/template"
	"math"
	"slices"

	"backfield/cue"
	"backfield/cue/clock"
	"backfield/cue/sheet"
)

// chartDrawing draws one chart. A unit is a thousandth of its width, 0.7 pt on letter paper.
type chartDrawing struct {
	p          *Papers
	fromS, toS float64
	whole      bool // draws the whole show, with no room for counts
	lines      []chartLine
	roles      []string

	bytes.Buffer
}

// The sizes of the chart.
const (
	chartWide  = 1000.0
	chartHigh  = 640.0 // fits letter and A4 turned sideways, under a heading
	nameWide   = 128.0
	cueHigh    = 44.0 // four lines of cue ids
	countHigh  = 26.0
	panelHigh  = 84.0 // the open count
	legendHigh = 40.0 // two lines
	type9      = 12.5 // 9 pt
	type8      = 11.0 // 8 pt
)

func (d *chartDrawing) x(s float64) float64 {
	return nameWide + (s-d.fromS)/max(d.toS-d.fromS, 1e-9)*(chartWide-nameWide-6)
}

func (d *chartDrawing) put(format string, args ...any) { fmt.Fprintf(d, format+"\n", args...) }

func (d *chartDrawing) text(x, y, size float64, anchor, ink, text string) {
	d.put(`<text x="%.1f" y="%.1f" font-size="%.4g" text-anchor="%s" fill="%s">%s</text>`,
		x, y, size, anchor, ink, template.HTMLEscapeString(text))
}

// halo keeps text readable on top of lines.
const halo = `stroke="#fff" stroke-width="3" paint-order="stroke"`

// haloed is text on top of lines, centered on x.
func (d *chartDrawing) haloed(x, y, size float64, text string) {
	d.put(`<text x="%.1f" y="%.1f" font-size="%.4g" text-anchor="middle" %s>%s</text>`,
		x, y, size, halo, template.HTMLEscapeString(text))
}

// framed is a rectangle with a black edge.
func (d *chartDrawing) framed(x, y, w, h float64, fill string) {
	d.put(`<rect x="%.1f" y="%.1f" width="%.1f" height="%.1f" fill="%s" stroke="#000" stroke-width="0.7"/>`,
		x, y, w, h, fill)
}

// wide is about how wide a text is. The mean letter of a sans serif font is 0.56 of its size.
func wide(text string, size float64) float64 { return 0.56 * size * float64(len([]rune(text))) }

// fitted makes a name fit a width: first smaller, down to three quarters, then cut in its middle, since most names
// differ at the end.
func fitted(name string, size, width float64) (text string, smaller float64) {
	smaller = min(size, max(size*width/wide(name, size), 0.75*size))
	letters := []rune(name)
	text = name
	for n := len(letters) - 1; n > 1 && wide(text, smaller) > width+1e-9; n-- {
		text = string(letters[:(n+1)/2]) + "…" + string(letters[len(letters)-n/2:])
	}
	return text, smaller
}

func (d *chartDrawing) svg() template.HTML {
	top := cueHigh + countHigh
	bottom := chartHigh - legendHigh - panelHigh - 8
	row := min((bottom-top)/float64(max(len(d.lines), 1)), 24)
	bottom = top + row*float64(len(d.lines))
	d.put(`<svg class="chart" viewBox="0 0 %g %.1f" role="img"`+
		` font-family="Helvetica, Arial, 'Liberation Sans', sans-serif">`, chartWide, bottom+8+panelHigh+legendHigh)
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
	d.sounding(top, row)
	d.count(bottom+8, panelHigh)
	d.legend(bottom + 8 + panelHigh + legendHigh)
	d.WriteString("</svg>\n")
	return template.HTML(d.String())
}

// time draws the movements on the chart of the whole show, and the counts and sets on the chart of one movement.
func (d *chartDrawing) time(top, bottom float64) {
	for i, m := range d.p.Show.Clock.Movements {
		from, to := m.StartS, m.StartS+m.Tempo.Seconds(m.Counts)
		switch {
		case to < d.fromS+1e-6 || from > d.toS-1e-6:
		case d.whole:
			d.movement(d.p.Movement(i+1), from, to, top, bottom)
		default:
			d.counts(m, top, bottom)
			d.sets(i+1, top)
		}
	}
}

// movement draws a movement's edges and its name.
func (d *chartDrawing) movement(name string, from, to, top, bottom float64) {
	for _, s := range []float64{from, to} {
		d.put(`<path d="M%.1f %.1fV%.1f" stroke="#000" stroke-width="1.6"/>`, d.x(s), top-16, bottom+8+panelHigh)
	}
	name, size := fitted(name, type9, d.x(min(to, d.toS))-d.x(from)-8)
	d.put(`<text x="%.1f" y="%.1f" font-size="%.4g" %s>%s</text>`,
		d.x(from)+4, top-6, size, halo, template.HTMLEscapeString(name))
}

// counts draws a line and a number every four counts, or every 8, 16 and so on if the numbers need more room.
func (d *chartDrawing) counts(m clock.MovementTime, top, bottom float64) {
	y := top - 6
	every := 4.0
	for every < 512 && (d.x(m.StartS+m.Tempo.Seconds(m.Counts))-d.x(m.StartS))/m.Counts*every < 34 {
		every *= 2
	}
	for n := 0.0; n < m.Counts; n += every {
		x := d.x(m.StartS + m.Tempo.Seconds(n))
		d.put(`<path d="M%.1f %.1fV%.1f" stroke="#999" stroke-width="0.5"/>`, x, top-4, bottom)
		d.haloed(x, y, type8, fmt.Sprintf("%g", n+1))
	}
	d.text(22, y, type8, "end", "#000", "ch")
	d.text(nameWide-10, y, type8, "end", "#000", "count")
}

// sets draws the sets of a movement, except those without room next to the one before.
func (d *chartDrawing) sets(movement int, top float64) {
	y := top - 17
	d.text(nameWide-10, y, type8, "end", "#000", "set")
	last := -100.0
	for _, set := range d.p.Show.Clock.Sets {
		if set.At.Movement != movement {
			continue
		}
		at := clock.Moment{Movement: movement, Elapsed: set.At.Elapsed}
		if x := d.x(d.p.Show.Clock.Seconds(at)); x-last > wide(set.Label, type8)+5 {
			d.haloed(x, y, type8, set.Label)
			last = x
		}
	}
}

// grazeS is how far rounding may carry a bar over the edge of a movement.
const grazeS = 1e-3

func (d *chartDrawing) bars(top, row float64) {
	for _, b := range d.p.Bars {
		i := slices.IndexFunc(d.lines, func(l chartLine) bool { return l.channel == b.Channel })
		from, to := max(b.FromS, d.fromS), min(b.ToS, d.toS)
		if i < 0 || to < from || b.ToS <= d.fromS+grazeS && b.FromS < d.fromS ||
			b.FromS >= d.toS-grazeS && b.ToS > d.toS {
			continue
		}
		fill, ink, high := look(d.roles, b.Role)
		middle := 0.5
		if len(d.p.Sounding) > 0 { // leave room under it
			middle, high = 0.43, high*0.85
		}
		x, w, h := d.x(from), max(d.x(to)-d.x(from), 1.2), row*high
		y := top + row*(float64(i)+middle) - h/2
		d.framed(x, y, w, h, fill)
		text := b.Role
		if slices.ContainsFunc(d.p.Bars, func(o sheet.OpenBar) bool {
			return o.Channel == b.Channel && o.Player != b.Player
		}) {
			text = b.Player + ": " + b.Role
		}
		if size := min(type8, row*0.72); wide(text, size)+6 < w {
			d.text(x+4, y+h/2+size*0.35, size, "start", ink, text)
		}
	}
}

// cues draws a tick for each cue in the score, with its id on the lowest line that has room. On the chart of the whole
// show an id may have no room; the charts of the movements have them all.
func (d *chartDrawing) cues(top, bottom float64) {
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
				d.put(`<text x="%.1f" y="%.1f" font-size="%.4g" font-weight="bold" text-anchor="middle">%s</text>`,
					at, base-3-13*float64(i), type9, template.HTMLEscapeString(r.ID))
				if i > 0 {
					d.put(`<path d="M%.1f %.1fV%.1f" stroke="#000" stroke-width="0.5"/>`, x, base-2-13*float64(i), base)
				}
				levels[i] = at + half
				break
			}
		}
	}
}

// count draws how many mics are open, on all channels, and what that costs in dB.
func (d *chartDrawing) count(y, high float64) {
	most := 1
	for _, s := range d.p.Steps {
		most = max(most, s.Open)
	}
	const under = 3.0 // dB, the height of the first open mic
	span := cue.OpenCostDB(most) + under + 1
	at := func(open int) float64 {
		if open == 0 {
			return y + high
		}
		return y + high - (cue.OpenCostDB(open)+under)/span*high
	}
	for n := 1; n <= most; n *= 2 {
		d.put(`<path d="M%g %.1fH%g" stroke="#aaa" stroke-width="0.5"/>`, nameWide, at(n), chartWide-6)
		costDB := number(-math.Round(cue.OpenCostDB(n)))
		d.text(nameWide-6, at(n)+3.6, type8, "end", "#000", fmt.Sprintf("%d open  %s dB", n, costDB))
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
		d.put(`<rect x="%.1f" y="%.1f" width="%.1f" height="%.1f" fill="#888"/>`,
			d.x(from), at(s.Open), d.x(to)-d.x(from), y+high-at(s.Open))
		if text := fmt.Sprint(s.Open); d.x(to)-d.x(from) > wide(text, type8)+2 && d.x(from) > shown {
			d.text((d.x(from)+d.x(to))/2, y+high-3, type8, "middle", "#fff", text)
			shown = d.x(from)
		}
	}
	d.put(`<path d="M%g %.1fH%g" stroke="#000" stroke-width="1"/>`, nameWide, y+high, chartWide-6)
}

func (d *chartDrawing) legend(y float64) {
	d.text(0, y-4, type8, "start", "#000", "Bars: open; louder roles are darker and thicker. "+
		"Lines: cues; automatic ones are dashed. "+
		"Below: how many mics are open, and their cost in gain before feedback, 10 log10 N dB.")
	x := 0.0
	y -= 18
	for _, role := range d.roles {
		fill, _, high := look(d.roles, role)
		d.put(`<rect x="%.1f" y="%.1f" width="18" height="%.1f" fill="%s" stroke="#000" stroke-width="0.7"/>`,
			x, y-6.5-7*high, 14*high, fill)
		text := role
		if r, ok := d.p.Show.Score.Role(role); ok {
			text = fmt.Sprintf("%s (%s dB)", role, number(r.LevelDB))
		}
		d.text(x+22, y-2.5, type9, "start", "#000", text)
		x += 22 + wide(text, type9) + 14
	}
	if len(d.p.Sounding) > 0 {
		d.put(`<rect x="%.1f" y="%.1f" width="18" height="2"/>`, x, y-7)
		d.text(x+22, y-2.5, type9, "start", "#000", "under a bar: plays, thicker where louder")
	}
}
