package paper

import (
	"bytes"
	"fmt"
	"html/template"
	"math"
	"slices"

	"backfield/cmd/backfield/letters"
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
	joined     [2]string // the counts at which the page joins the one before and the one after; "" where none does

	bytes.Buffer
}

// The sizes of the chart. No text is smaller than 9 pt.
const (
	chartWide  = 1000.0
	chartHigh  = 640.0 // fits letter and A4 turned sideways, under a heading
	nameWide   = 150.0
	cueHigh    = 44.0 // three lines of cue ids
	countHigh  = 30.0
	panelHigh  = 84.0 // the open count
	legendHigh = 54.0 // three lines
	rowHigh    = 22.0 // of few channels
	type9      = 12.6 // 9 pt, and a little for what rounding takes
)

func (d *chartDrawing) x(s float64) float64 {
	return nameWide + (s-d.fromS)/max(d.toS-d.fromS, 1e-9)*(chartWide-nameWide-8)
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

// wide is about how wide a text is.
func wide(text string, size float64) float64 { return letters.Wide(text, size, false) }

// fitted cuts a name that is wider than width in its middle.
func fitted(name string, size, width float64) string {
	return letters.ShortenMiddle(name, size, width, false)
}

func (d *chartDrawing) svg() template.HTML {
	top := cueHigh + countHigh
	bottom := chartHigh - legendHigh - panelHigh - 8
	row := min((bottom-top)/float64(max(len(d.lines), 1)), rowHigh)
	bottom = top + row*float64(len(d.lines))
	d.put(`<svg class="chart" viewBox="0 0 %g %.1f" role="img"`+
		` font-family="Helvetica, Arial, 'Liberation Sans', sans-serif">`, chartWide, bottom+8+panelHigh+legendHigh)
	for i, l := range d.lines {
		y := top + row*float64(i)
		if i%2 == 1 {
			d.put(`<rect x="0" y="%.1f" width="%g" height="%.1f" fill="#f1f1f1"/>`, y, chartWide, row)
		}
		base := y + row/2 + type9*0.36
		d.text(22, base, type9, "end", "#000", fmt.Sprint(l.channel))
		d.text(28, base, type9, "start", "#000", fitted(l.name, type9, nameWide-33))
	}
	d.cues(top, bottom)
	d.time(top, bottom)
	d.bars(top, row)
	d.sounding(top, row)
	d.count(bottom+8, panelHigh)
	d.joints(top, bottom+8+panelHigh)
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
		if s < d.fromS-1e-6 || s > d.toS+1e-6 {
			continue
		}
		d.put(`<path d="M%.1f %.1fV%.1f" stroke="#000" stroke-width="1.6"/>`, d.x(s), top-16, bottom+8+panelHigh)
	}
	left := d.x(max(from, d.fromS)) + 4
	if from < d.fromS-1e-6 {
		left += wide(d.joined[0], type9) + 6
	}
	right := d.x(min(to, d.toS)) - 4
	if to > d.toS+1e-6 {
		right -= wide(d.joined[1], type9) + 6
	}
	if right-left > 20 {
		d.put(`<text x="%.1f" y="%.1f" font-size="%g" %s>%s</text>`, left, top-6, type9, halo,
			template.HTMLEscapeString(fitted(name, type9, right-left)))
	}
}

// joints draws the edges at which pages join, with their counts.
func (d *chartDrawing) joints(top, bottom float64) {
	for i, count := range d.joined {
		if count == "" {
			continue
		}
		x, at, anchor := d.x(d.fromS), 3.0, "start"
		if i == 1 {
			x, at, anchor = d.x(d.toS), -3.0, "end"
		}
		d.put(`<path d="M%.1f %.1fV%.1f" stroke="#000" stroke-width="2" stroke-dasharray="7 3"/>`, x, top-20, bottom)
		d.put(`<text x="%.1f" y="%.1f" font-size="%g" font-weight="bold" text-anchor="%s" %s>%s</text>`,
			x+at, top-6, type9, anchor, halo, count)
	}
}

// counts draws a line and a number every four counts, or every 8, 16 and so on if the numbers need more room.
func (d *chartDrawing) counts(m clock.MovementTime, top, bottom float64) {
	y := top - 6
	every := 4.0
	for every < 512 && (d.x(m.StartS+m.Tempo.Seconds(m.Counts))-d.x(m.StartS))/m.Counts*every < 40 {
		every *= 2
	}
	for n := 0.0; n < m.Counts; n += every {
		x := d.x(m.StartS + m.Tempo.Seconds(n))
		if x < nameWide-1 || x > chartWide-6 {
			continue
		}
		d.put(`<path d="M%.1f %.1fV%.1f" stroke="#999" stroke-width="0.5"/>`, x, top-4, bottom)
		if text := fmt.Sprintf("%g", n+1); d.clear(x, text) {
			d.haloed(x, y, type9, text)
		}
	}
	d.text(22, y, type9, "end", "#000", "ch")
	d.text(nameWide-10, y, type9, "end", "#000", "count")
}

// clear reports whether a text centered on x has room next to the counts at which pages join.
func (d *chartDrawing) clear(x float64, text string) bool {
	half, left, right := wide(text, type9)/2, nameWide-20.0, chartWide
	if d.joined[0] != "" {
		left = nameWide + wide(d.joined[0], type9) + 6
	}
	if d.joined[1] != "" {
		right = chartWide - 8 - wide(d.joined[1], type9) - 6
	}
	return x-half >= left && x+half <= right
}

// sets draws the sets of a movement, except those without room next to the one before.
func (d *chartDrawing) sets(movement int, top float64) {
	y := top - 19
	d.text(nameWide-10, y, type9, "end", "#000", "set")
	last := -100.0
	for _, set := range d.p.Show.Clock.Sets {
		if set.At.Movement != movement {
			continue
		}
		at := clock.Moment{Movement: movement, Elapsed: set.At.Elapsed}
		x := d.x(d.p.Show.Clock.Seconds(at))
		if x < nameWide-1 || x > chartWide-6 {
			continue
		}
		if x-last > wide(set.Label, type9)+5 {
			d.haloed(x, y, type9, set.Label)
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
		switch middle := y + h/2 + type9*0.35; {
		case wide(text, type9)+6 >= w:
		case h >= type9*0.85:
			d.text(x+4, middle, type9, "start", ink, text)
		default: // higher than its bar
			d.put(`<text x="%.1f" y="%.1f" font-size="%g" %s>%s</text>`, x+4, middle, type9, halo,
				template.HTMLEscapeString(text))
		}
	}
}

// cueID is where the id of a cue is: on one of three lines, in its middle.
type cueID struct {
	row  int // among the rows of the run sheet
	at   float64
	line int
}

// cueIDs finds a place for the id of each cue, on the lowest line that has room. ok is false if one has none.
func (d *chartDrawing) cueIDs() (list []cueID, ok bool) {
	levels, ok := []float64{-99, -99, -99}, true
	for i, r := range d.p.Rows {
		if r.TimeS < d.fromS-1e-6 || r.TimeS > d.toS+1e-6 {
			continue
		}
		half := letters.Wide(r.ID, type9, true)/2 + 1.5
		at, placed := min(max(d.x(r.TimeS), half), chartWide-half), false
		for l := range levels {
			if at-half > levels[l] {
				levels[l], placed = at+half, true
				list = append(list, cueID{i, at, l})
				break
			}
		}
		ok = ok && placed
	}
	return list, ok
}

// cues draws a tick for each cue in the score, with its id.
func (d *chartDrawing) cues(top, bottom float64) {
	base := top - countHigh
	for _, r := range d.p.Rows {
		if r.TimeS < d.fromS-1e-6 || r.TimeS > d.toS+1e-6 {
			continue
		}
		dash := ""
		if r.Auto {
			dash = ` stroke-dasharray="3 2"`
		}
		d.put(`<path d="M%.1f %.1fV%.1f" stroke="#555" stroke-width="0.7"%s/>`, d.x(r.TimeS), base, bottom, dash)
	}
	ids, _ := d.cueIDs()
	for _, id := range ids {
		x, y := d.x(d.p.Rows[id.row].TimeS), base-3-13*float64(id.line)
		d.put(`<text x="%.1f" y="%.1f" font-size="%g" font-weight="bold" text-anchor="middle">%s</text>`,
			id.at, y, type9, template.HTMLEscapeString(d.p.Rows[id.row].ID))
		if id.line > 0 {
			d.put(`<path d="M%.1f %.1fV%.1f" stroke="#000" stroke-width="0.5"/>`, x, y+1, base)
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
	every := 2
	if 3/span*high < type9 {
		every = 4 // else the lines of text touch
	}
	for n := 1; n <= most; n *= every {
		d.put(`<path d="M%g %.1fH%g" stroke="#aaa" stroke-width="0.5"/>`, nameWide, at(n), chartWide-6)
		costDB := number(-math.Round(cue.OpenCostDB(n)))
		d.text(nameWide-6, at(n)+3.6, type9, "end", "#000", fmt.Sprintf("%d open  %s dB", n, costDB))
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
		if text := fmt.Sprint(s.Open); d.x(to)-d.x(from) > wide(text, type9)+2 && d.x(from) > shown {
			d.text((d.x(from)+d.x(to))/2, y+high-3, type9, "middle", "#fff", text)
			shown = d.x(from)
		}
	}
	d.put(`<path d="M%g %.1fH%g" stroke="#000" stroke-width="1"/>`, nameWide, y+high, chartWide-6)
}

func (d *chartDrawing) legend(y float64) {
	d.text(0, y-4, type9, "start", "#000", "Below: how many mics are open, and their cost in gain before feedback, "+
		"10 log10 N dB.")
	d.text(0, y-20, type9, "start", "#000", "Bars: open; louder roles are darker and thicker. "+
		"Lines: cues; automatic ones are dashed.")
	x := 0.0
	y -= 35
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
