// Package picture draws the field as the press box sees it: the audience at the bottom, side 1 on the left. A picture
// is a list of shapes in meters, which look the same as SVG and as PNG. It draws what a compiled show has, and
// computes no number that the mixer gets. It uses no file and no network.
package picture

import "math"

// XY is a place in a drawing, in meters on the field: X as on the field, Y downward. The place (x, y) of the field is
// at (x, -y).
type XY struct{ X, Y float64 }

// Ink is one of the few colors, named for its use. No meaning depends on color alone.
type Ink int

// The inks. NoInk draws nothing.
const (
	NoInk  Ink = iota
	Paper      // the background
	Dark       // what is open, and text
	Middle     // players and their paths
	Pale       // the lines of the field
	Warm       // where sound seems to come from
)

// rgb is each ink on light and on dark paper. Dark and Middle stand out from the paper by more than 4.5 to 1, which
// WCAG 2.2 asks of text.
var rgb = [2][6]uint32{
	{0, 0xffffff, 0x15202b, 0x5f6b76, 0xc3cad1, 0x9c4a12},
	{0, 0x11181f, 0xf2efe6, 0xa3adb5, 0x3d4954, 0xe8a25c},
}

// Shape is one line, area or text.
type Shape struct {
	Class  string // what it is, for a style sheet: "yard", "player", "label"
	Points []XY   // of a line or an area; for text, one place
	Closed bool
	Fill   Ink
	Stroke Ink
	WidthM float64 // width of the stroke
	DashM  float64 // length of a dash and of the gap after it; 0 for a solid line

	Text   string // the place is on its baseline
	Tail   string // more text after it, in regular weight
	SizeM  float64
	Anchor int // -1 begins at the place, 0 is centered on it, 1 ends there
	Bold   bool
}

// Drawing is a picture: the part of the field that it shows, in meters, and its shapes, the lowest first. WidthMM is
// its width on paper.
type Drawing struct {
	Title   string
	Min     XY // the upper left corner
	W, H    float64
	WidthMM float64
	Night   bool // light on dark
	Shapes  []Shape

	leastMM float64 // no text is smaller on paper
}

// mm converts millimeters on paper to meters on the field.
func (d *Drawing) mm(n float64) float64 { return n * d.W / d.WidthMM }

// text is a font size, given in millimeters on paper, in meters on the field.
func (d *Drawing) text(mm float64) float64 { return d.mm(max(mm, d.leastMM)) }

func (d *Drawing) add(s Shape) { d.Shapes = append(d.Shapes, s) }

// line draws a polyline through places of the field.
func (d *Drawing) line(class string, ink Ink, widthM, dashM float64, points ...XY) {
	d.add(Shape{Class: class, Points: points, Stroke: ink, WidthM: widthM, DashM: dashM})
}

// area fills a polygon and draws its edge.
func (d *Drawing) area(class string, fill, edge Ink, widthM float64, points ...XY) {
	d.add(Shape{Class: class, Points: points, Closed: true, Fill: fill, Stroke: edge, WidthM: widthM})
}

func (d *Drawing) word(class string, ink Ink, sizeM float64, bold bool, anchor int, x, y float64, text string) {
	d.add(Shape{Class: class, Points: []XY{{x, y}}, Fill: ink, Text: text, SizeM: sizeM, Bold: bold, Anchor: anchor})
}

// haloed adds text that stays readable on top of lines: it has a rim of paper, haloM wide.
func (d *Drawing) haloed(haloM float64, text Shape) {
	halo := text
	halo.Fill, halo.Stroke, halo.WidthM = Paper, Paper, 2*haloM
	d.add(halo)
	d.add(text)
}

// around puts an outline from a box of -1 to 1 at a place, r meters from its center to its edge.
func around(at XY, r float64, outline []XY) []XY {
	placed := make([]XY, len(outline))
	for i, p := range outline {
		placed[i] = XY{at.X + r*p.X, at.Y + r*p.Y}
	}
	return placed
}

// arc is the part of a circle from one angle to another, in degrees clockwise from the top.
func arc(at XY, r, fromDeg, toDeg float64) []XY {
	n := int(math.Ceil(math.Abs(toDeg-fromDeg)/12)) + 1
	points := make([]XY, n+1)
	for i := range points {
		a := (fromDeg + (toDeg-fromDeg)*float64(i)/float64(n)) * math.Pi / 180
		points[i] = XY{at.X + r*math.Sin(a), at.Y - r*math.Cos(a)}
	}
	return points
}
