package picture

import (
	"bufio"
	"fmt"
	"io"
	"strconv"
	"strings"
)

// svgUnitsPerM is 100, a unit for each centimeter, since some viewers draw no text smaller than one unit.
const svgUnitsPerM = 100

// SVG writes the drawing as SVG 1.1 (W3C Recommendation). The same drawing gives the same bytes. A unit is a centimeter
// on the field: the place (x, y) in meters is at (100 x, -100 y). Neighbors of one class share a group.
func (d *Drawing) SVG(w io.Writer) error {
	b := bufio.NewWriter(w)
	heightMM := d.WidthMM * d.H / d.W
	x, y, width, height := units(d.Min.X), units(d.Min.Y), units(d.W), units(d.H)
	fmt.Fprintf(b, `<svg xmlns="http://www.w3.org/2000/svg" width="%smm" height="%smm" viewBox="%s %s %s %s"`,
		decimals(d.WidthMM, 2), decimals(heightMM, 2), x, y, width, height)
	fmt.Fprintln(b, ` font-family="sans-serif" stroke-linejoin="round" stroke-linecap="round" role="img">`)
	fmt.Fprintf(b, "<title>%s</title>\n", escape(d.Title))
	fmt.Fprintf(b, `<rect class="paper" x="%s" y="%s" width="%s" height="%s" fill="%s"/>`+"\n",
		x, y, width, height, d.color(Paper))
	group, inLine := "", false // inLine: a path of lines is open, and the next line may join it
	end := func() {
		if inLine {
			b.WriteString("\"/>\n")
		}
		inLine = false
	}
	for _, s := range d.Shapes {
		if g := d.group(s); g != group {
			end()
			if group != "" {
				b.WriteString("</g>\n")
			}
			b.WriteString(g)
			group = g
		}
		if s.Text != "" {
			tail := ""
			if s.Tail != "" {
				tail = ` <tspan font-weight="normal">` + escape(s.Tail) + "</tspan>"
			}
			fmt.Fprintf(b, `<text x="%s" y="%s">%s%s</text>`+"\n", units(s.Points[0].X), units(s.Points[0].Y),
				escape(s.Text), tail)
			continue
		}
		line := s.Fill == NoInk && !s.Closed
		if !inLine || !line {
			end()
			b.WriteString(`<path d="`)
		}
		letter := "M"
		for _, p := range s.Points {
			b.WriteString(letter + units(p.X) + " " + units(p.Y))
			letter = " "
		}
		if s.Closed {
			b.WriteString("Z")
		}
		if inLine = true; !line {
			end()
		}
	}
	end()
	if group != "" {
		b.WriteString("</g>\n")
	}
	b.WriteString("</svg>\n")
	return b.Flush()
}

// group is the opening tag of the group of a shape. Neighbors with the same class and look share a group.
func (d *Drawing) group(s Shape) string {
	var b strings.Builder
	fmt.Fprintf(&b, `<g class="%s" fill="%s"`, s.Class, d.color(s.Fill))
	if s.Stroke != NoInk {
		fmt.Fprintf(&b, ` stroke="%s" stroke-width="%s"`, d.color(s.Stroke), units(s.WidthM))
	}
	if s.DashM > 0 {
		fmt.Fprintf(&b, ` stroke-dasharray="%s" stroke-linecap="butt"`, units(s.DashM))
	}
	if s.Text != "" {
		fmt.Fprintf(&b, ` font-size="%s" text-anchor="%s"`, units(s.SizeM),
			[...]string{"start", "middle", "end"}[s.Anchor+1])
		if s.Bold {
			b.WriteString(` font-weight="bold"`)
		}
	}
	b.WriteString(">\n")
	return b.String()
}

func (d *Drawing) palette() [6]uint32 {
	if d.Night {
		return rgb[1]
	}
	return rgb[0]
}

func (d *Drawing) color(ink Ink) string {
	if ink == NoInk {
		return "none"
	}
	return fmt.Sprintf("#%06x", d.palette()[ink])
}

// units prints a length in meters in units of the SVG, to the millimeter on the field.
func units(m float64) string { return decimals(m*svgUnitsPerM, 1) }

// decimals prints a number with a fixed number of decimals, never as -0.
func decimals(v float64, n int) string {
	s := strconv.FormatFloat(v, 'f', n, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return s
}

// escape makes a text valid XML, which allows no control characters.
func escape(text string) string {
	clean := strings.Map(func(r rune) rune {
		if r < 0x20 || r == 0xfffe || r == 0xffff {
			return '\ufffd'
		}
		return r
	}, strings.ToValidUTF8(text, "\ufffd"))
	return strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&quot;").Replace(clean)
}
