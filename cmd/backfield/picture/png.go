package picture

import (
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"io"
	"math"

	"golang.org/x/image/vector"

	"backfield/cmd/backfield/letters"
)

// PNG writes the drawing, widthPx pixels wide.
func (d *Drawing) PNG(w io.Writer, widthPx int) error {
	return png.Encode(w, d.raster(widthPx))
}

// glyphs are the outlines of a text and its tail, in pixels.
func glyphs(s Shape, scale float64, at XY) (outlines [][]XY) {
	size := s.SizeM * scale
	long, tail := letters.Advance(s.Text, size, s.Bold), ""
	if s.Tail != "" {
		tail = " " + s.Tail
	}
	at.X -= float64(s.Anchor+1) / 2 * (long + letters.Advance(tail, size, false))
	add := func(text string, bold bool) {
		for _, o := range letters.Outlines(text, size, bold, letters.OutlinePoint(at)) {
			points := make([]XY, len(o))
			for i, p := range o {
				points[i] = XY(p)
			}
			outlines = append(outlines, points)
		}
	}
	add(s.Text, s.Bold)
	at.X += long
	add(tail, false)
	return outlines
}

// raster paints the drawing.
func (d *Drawing) raster(widthPx int) *image.RGBA {
	scale := float64(widthPx) / d.W
	c := &canvas{img: image.NewRGBA(image.Rect(0, 0, widthPx, max(1, int(math.Round(d.H*scale)))))}
	draw.Draw(c.img, c.img.Bounds(), image.NewUniform(d.rgba(Paper)), image.Point{}, draw.Src)
	place := func(p XY) XY { return XY{(p.X - d.Min.X) * scale, (p.Y - d.Min.Y) * scale} }
	for _, s := range d.Shapes {
		if s.Text != "" {
			outlines := glyphs(s, scale, place(s.Points[0]))
			if s.Stroke != NoInk {
				c.stroke(outlines, true, s.WidthM*scale, 0, d.rgba(s.Stroke))
			}
			c.fill(outlines, d.rgba(s.Fill))
			continue
		}
		line := make([]XY, len(s.Points))
		for i, p := range s.Points {
			line[i] = place(p)
		}
		if s.Fill != NoInk && s.Closed {
			c.fill([][]XY{line}, d.rgba(s.Fill))
		}
		if s.Stroke != NoInk {
			c.stroke([][]XY{line}, s.Closed, s.WidthM*scale, s.DashM*scale, d.rgba(s.Stroke))
		}
	}
	return c.img
}

func (d *Drawing) rgba(ink Ink) color.RGBA {
	v := d.palette()[ink]
	return color.RGBA{uint8(v >> 16), uint8(v >> 8), uint8(v), 0xff}
}

// canvas paints outlines in pixels.
type canvas struct {
	img *image.RGBA
	r   vector.Rasterizer
}

// fill paints areas. Areas that turn the same way may overlap; one that turns the other way is a hole.
func (c *canvas) fill(outlines [][]XY, ink color.RGBA) {
	lo, hi := XY{math.Inf(1), math.Inf(1)}, XY{math.Inf(-1), math.Inf(-1)}
	for _, o := range outlines {
		for _, p := range o {
			lo, hi = XY{min(lo.X, p.X), min(lo.Y, p.Y)}, XY{max(hi.X, p.X), max(hi.Y, p.Y)}
		}
	}
	if !(lo.X <= hi.X) {
		return
	}
	area := image.Rect(int(math.Floor(lo.X)), int(math.Floor(lo.Y)), int(math.Ceil(hi.X))+1, int(math.Ceil(hi.Y))+1)
	if area = area.Intersect(c.img.Bounds()); area.Empty() {
		return
	}
	c.r.Reset(area.Dx(), area.Dy())
	for _, o := range outlines {
		for i, p := range o {
			x, y := float32(p.X-float64(area.Min.X)), float32(p.Y-float64(area.Min.Y))
			if i == 0 {
				c.r.MoveTo(x, y)
			} else {
				c.r.LineTo(x, y)
			}
		}
		c.r.ClosePath()
	}
	c.r.Draw(c.img, area, image.NewUniform(ink), image.Point{})
}

// stroke paints lines widthPx wide: a box along each piece and a disk on each corner. All turn the same way, so that
// their overlaps are not holes. A line thinner than a pixel is painted a pixel wide.
func (c *canvas) stroke(lines [][]XY, closed bool, widthPx, dashPx float64, ink color.RGBA) {
	half := max(widthPx, 1) / 2
	var parts [][]XY
	for _, line := range lines {
		if closed && len(line) > 0 {
			line = append(line[:len(line):len(line)], line[0])
		}
		if dashPx > 0 {
			for _, piece := range dashes(line, dashPx) {
				parts = thick(parts, piece, half, false)
			}
			continue
		}
		parts = thick(parts, line, half, true)
	}
	c.fill(parts, ink)
}

func thick(parts [][]XY, line []XY, half float64, round bool) [][]XY {
	for i := 1; i < len(line); i++ {
		p, q := line[i-1], line[i]
		d := math.Hypot(q.X-p.X, q.Y-p.Y)
		if d == 0 {
			continue
		}
		nx, ny := -(q.Y-p.Y)/d*half, (q.X-p.X)/d*half
		parts = append(parts, []XY{{p.X - nx, p.Y - ny}, {q.X - nx, q.Y - ny}, {q.X + nx, q.Y + ny},
			{p.X + nx, p.Y + ny}})
	}
	if round && half > 0.6 || !round && len(line) > 2 {
		corners := line
		if !round {
			corners = line[1 : len(line)-1]
		}
		for _, p := range corners {
			parts = append(parts, around(p, half, turned(max(8, min(32, int(4*half))), 0, 1)))
		}
	}
	return parts
}

// dashes cuts a line into pieces of the same length, with gaps of that length between them.
func dashes(line []XY, dash float64) [][]XY {
	var pieces [][]XY
	piece := line[:1:1]
	left, on := dash, true
	for i := 1; i < len(line); i++ {
		p, q := line[i-1], line[i]
		d := math.Hypot(q.X-p.X, q.Y-p.Y)
		at := 0.0
		for ; d-at > left; on, left = !on, dash {
			at += left
			cut := XY{p.X + (q.X-p.X)*at/d, p.Y + (q.Y-p.Y)*at/d}
			if on {
				pieces = append(pieces, append(piece, cut))
			}
			piece = []XY{cut}
		}
		left -= d - at
		piece = append(piece, q)
	}
	if on && len(piece) > 1 {
		pieces = append(pieces, piece)
	}
	return pieces
}
