package runsheet

import (
	"bytes"
	"fmt"
	"html/template"
	"math"

	"backfield/cue"
	"backfield/cue/clock"
	"backfield/cue/sheet"
	"backfield/layout"
	"backfield/layout/unit"
)

// A stamp is a small field as the press box sees it, cropped to the worn mics that a cue is about. Its sizes are in
// points on paper.
const (
	stampWide  = 120.0
	stampHigh  = 48.0
	stripHigh  = 11.0 // of the yard numbers
	stampLeast = 26 * unit.YardM
	stampEdgeM = 2.2
	numberPt   = 9.0
)

// stampMark is a worn mic on the stamp: the class of its sign, and its place on the field.
type stampMark struct {
	class string
	at    layout.Point
}

// marks are the worn mics that close, stay open and open, in the order in which they are drawn.
func (s *Source) marks(r *sheet.RunRow) (list []stampMark) {
	now := clock.Moment{Movement: r.Movement, Elapsed: r.Count - 1}
	add := func(class string, c *cue.Channel) {
		if c.Kind != cue.Worn {
			return
		}
		if at, ok := s.Show.Where(c.Player, now); ok {
			list = append(list, stampMark{class, at})
		}
	}
	for _, c := range r.Step.Closes() {
		add("closes", c.Was)
	}
	for _, class := range []string{"stays", "opens"} {
		for _, c := range r.Step.Open() {
			if c.Starts() == (class == "opens") {
				add(class, c.Is)
			}
		}
	}
	return list
}

// crop is the part of the field on a stamp, in meters.
type crop struct{ left, right, front, back float64 }

// cropped is the part with all marks, widened to the shape of the stamp.
func cropped(list []stampMark, widthM float64) crop {
	c := crop{math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)}
	for _, m := range list {
		c.left, c.right = min(c.left, m.at.X-stampEdgeM), max(c.right, m.at.X+stampEdgeM)
		c.front, c.back = min(c.front, m.at.Y-stampEdgeM), max(c.back, m.at.Y+stampEdgeM)
	}
	if len(list) == 0 {
		c = crop{0, 0, 0, widthM / 2}
	}
	const shape = stampWide / (stampHigh - stripHigh)
	wide := max(c.right-c.left, stampLeast, (c.back-c.front)*shape)
	x, y := (c.left+c.right)/2, (c.front+c.back)/2
	return crop{x - wide/2, x + wide/2, y - wide/shape/2, y + wide/shape/2}
}

// stamp draws the open worn mics of a row: filled if they open, rings if they stay open, crosses if they close. It helps
// the eye to find a cue.
func (s *Source) stamp(r *sheet.RunRow) template.HTML {
	f, list := s.Show.Rig.Field, s.marks(r)
	c := cropped(list, f.WidthM)
	scale := stampWide / (c.right - c.left)
	x := func(m float64) float64 { return (m - c.left) * scale }
	y := func(m float64) float64 { return (c.back - m) * scale }
	const bottom = stampHigh - stripHigh
	var b bytes.Buffer
	fmt.Fprintf(&b, `<svg class="stamp" viewBox="0 0 %g %g" role="img"><title>open at cue %s</title>`,
		stampWide, stampHigh, template.HTMLEscapeString(r.ID))
	yard := 5 * unit.YardM
	numbers := 2.0 // every so many yard lines
	for numbers < 8 && numbers*yard*scale < 15 {
		numbers *= 2
	}
	for i := -int(f.LengthM / 2 / yard); i <= int(f.LengthM/2/yard); i++ {
		at := x(float64(i) * yard)
		if at < 2 || at > stampWide-2 {
			continue
		}
		class := "five"
		if i%2 == 0 {
			class = "ten"
		}
		if i == 0 {
			class = "fifty"
		}
		fmt.Fprintf(&b, `<path d="M%.1f 1V%g" class="%s"/>`, at, bottom, class)
		number := f.MiddleYard - 5*max(i, -i)
		if math.Mod(float64(i), numbers) == 0 && number > 0 && at > 6 && at < stampWide-6 {
			fmt.Fprintf(&b, `<text x="%.1f" y="%.1f">%d</text>`, at, stampHigh-2.2, number)
		}
	}
	for _, line := range []struct {
		m     float64
		class string
	}{{0, "side"}, {f.FrontHashM(), "hash"}, {f.BackHashM(), "hash"}, {f.WidthM, "side"}} {
		if at := y(line.m); at > 1 && at < bottom {
			fmt.Fprintf(&b, `<path d="M1 %.1fH%g" class="%s"/>`, at, stampWide-1, line.class)
		}
	}
	fmt.Fprintf(&b, `<rect x="0.6" y="0.6" width="%g" height="%g" class="edge"/>`, stampWide-1.2, stampHigh-1.2)
	for _, m := range list {
		at := fmt.Sprintf("%.1f %.1f", x(m.at.X), y(m.at.Y))
		if m.class == "closes" {
			fmt.Fprintf(&b, `<path d="M%sm-2.2 -2.2l4.4 4.4m0 -4.4l-4.4 4.4" class="closes"/>`, at)
			continue
		}
		fmt.Fprintf(&b, `<circle cx="%.1f" cy="%.1f" r="2.3" class="%s"/>`, x(m.at.X), y(m.at.Y), m.class)
	}
	if len(list) == 0 {
		b.WriteString(`<rect x="26" y="12" width="68" height="14" fill="#fff"/><text x="60" y="22">no worn mic</text>`)
	}
	b.WriteString(`</svg>`)
	return template.HTML(b.String())
}
