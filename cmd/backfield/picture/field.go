package picture

import (
	"fmt"
	"math"

	"backfield/cmd/backfield/letters"
	"backfield/cmd/backfield/show"
	"backfield/layout"
	"backfield/layout/field"
	"backfield/layout/rig"
	"backfield/layout/unit"
)

// Frame is the part of the field that is drawn, in meters: x toward side 2, y toward the back.
type Frame struct{ Left, Right, Front, Back float64 }

func (f *Frame) take(x, y float64) {
	f.Left, f.Right = min(f.Left, x), max(f.Right, x)
	f.Front, f.Back = min(f.Front, y), max(f.Back, y)
}

// Look says how to draw.
type Look struct {
	Night   bool    // light on dark
	WidthMM float64 // on paper; 0 for 190, which fits A5 and half a sheet of letter, turned sideways
	Frame   *Frame  // the part of the field; nil for the part with something in it
	Bare    bool    // a cue without caption and legend
	LeastMM float64 // no text is smaller on paper; 0 for the usual sizes
}

const (
	usualWidthMM = 190.0
	marginM      = 2.0  // around everything drawn
	leastM       = 15.0 // to each side of the 50, so that it looks like a field
	lineNearM    = 6.0  // a back sideline this close to the drawn part is drawn too
	standsNearM  = 7.0  // if the edge of the stands is farther in front, it is drawn closer
	leastAspect  = 1.9  // width to height; with a caption it fits a sheet turned sideways
)

// Whole is the frame of everything in a show: every dot, the stacks, the mic stands, the edge of the stands. With it
// the pictures of all cues show the same part of the field.
func Whole(s *show.Loaded) Frame {
	var dots []layout.Point
	for _, p := range s.Drill.Players {
		for _, d := range p.Dots {
			if d.Known {
				dots = append(dots, d.At)
			}
		}
	}
	return frame(s.Rig, dots)
}

// frame is the part of the field with a rig and some places in it, widened to the shape of the paper.
func frame(r *rig.Rig, places []layout.Point) Frame {
	f := Frame{Left: -leastM, Right: leastM, Front: -marginM, Back: r.Field.FrontHashM() + marginM}
	for _, p := range places {
		f.take(p.X, p.Y)
	}
	for _, k := range r.Stacks {
		f.take(k.At.X, k.At.Y)
	}
	for _, m := range r.Mics {
		f.take(m.At.X, m.At.Y)
	}
	for _, b := range r.Blocks {
		if b.Front.Y < 0 && -b.Front.Y <= standsNearM {
			f.Front = min(f.Front, b.Front.Y)
		}
	}
	f = Frame{f.Left - marginM, f.Right + marginM, f.Front - 2.5*marginM, f.Back + marginM}
	if w := r.Field.WidthM; f.Back < w && f.Back > w-lineNearM {
		f.Back = w + marginM/2
	}
	if more := leastAspect*(f.Back-f.Front) - (f.Right - f.Left); more > 0 {
		// The narrower side gets more, so that the 50 moves toward the middle.
		middle := (f.Left + f.Right) / 2
		shift := math.Copysign(min(math.Abs(middle), more/2), middle)
		f.Left, f.Right = f.Left-more/2-shift, f.Right+more/2-shift
	}
	return f
}

func (l Look) width() float64 {
	if l.WidthMM > 0 {
		return l.WidthMM
	}
	return usualWidthMM
}

// drawing is an empty drawing of a part of the field.
func (l Look) drawing(title string, f Frame) *Drawing {
	return &Drawing{
		Title: title, Min: XY{f.Left, -f.Back}, W: f.Right - f.Left, H: f.Back - f.Front,
		WidthMM: l.width(), Night: l.Night, leastMM: l.LeastMM,
	}
}

func (l Look) frame(r *rig.Rig, places []layout.Point) Frame {
	if l.Frame != nil {
		return *l.Frame
	}
	return frame(r, places)
}

// at converts a place on the field to a place in the drawing.
func at(p layout.Point) XY { return XY{p.X, -p.Y} }

func (d *Drawing) field(r *rig.Rig, f Frame) {
	d.lines(r.Field, f)
	d.numbers(r.Field, f)
	d.stands(r, f)
	for _, m := range r.Mics {
		d.micStand(at(m.At), false)
	}
	for _, k := range r.Stacks {
		d.stack(k)
	}
}

// What is painted, in meters. Hash marks are 24 in long (NCAA Football Rules 2-12-7; the other codes too).
const (
	hashLong = 24 * unit.InchM
	yardLine = 5 * unit.YardM
)

// lines draws the sidelines, end lines, yard lines and hash marks, each cut to the frame.
func (d *Drawing) lines(g field.Field, f Frame) {
	goal, end := g.LengthM/2, g.LengthM/2+g.EndZoneM
	within := func(x float64) bool { return x >= f.Left && x <= f.Right }
	upright := func(class string, ink Ink, widthM, x, from, to float64) {
		if from, to = max(from, f.Front), min(to, f.Back); from < to && within(x) {
			d.line(class, ink, widthM, 0, XY{x, -from}, XY{x, -to})
		}
	}
	level := func(class string, ink Ink, widthM, y, from, to float64) {
		if from, to = max(from, f.Left), min(to, f.Right); from < to && y >= f.Front && y <= f.Back {
			d.line(class, ink, widthM, 0, XY{from, -y}, XY{to, -y})
		}
	}
	hashes := []float64{g.FrontHashM(), g.BackHashM()}
	for yard := math.Ceil(-goal / unit.YardM); yard <= goal/unit.YardM; yard++ {
		for _, h := range hashes {
			upright("hash", Pale, d.mm(0.12), yard*unit.YardM, h-hashLong/2, h+hashLong/2)
		}
	}
	n := int(math.Round(goal / yardLine))
	for i := -n; i <= n; i++ {
		wide := d.mm(0.18)
		if i == 0 || abs(i) == n {
			wide = d.mm(0.4)
		}
		upright("yard", Pale, wide, float64(i)*yardLine, 0, g.WidthM)
	}
	for i := -n; i <= n; i++ { // a hash mark on a yard line is a cross
		x := float64(i) * yardLine
		for _, h := range hashes {
			level("hash", Pale, d.mm(0.3), h, x-hashLong/2, x+hashLong/2)
		}
	}
	for _, y := range []float64{0, g.WidthM} {
		level("sideline", Middle, d.mm(0.35), y, -end, end)
	}
	for _, x := range []float64{-end, end} {
		upright("sideline", Middle, d.mm(0.35), x, 0, g.WidthM)
	}
}

// numbersTopM is how far from its sideline the top of a painted number is, in meters: 9 yd (NCAA 1-2-1-i and NFHS,
// recommended), or 14 yd for professionals, whose numbers begin 12 yd in. Numbers are 6 ft high, digits 4 ft wide. A
// test compares them with testdata/published/field_dimensions.csv. For Canadian and other fields, 9 yd is common
// practice.
func numbersTopM(code string) float64 {
	if code == "pro" {
		return 14 * unit.YardM
	}
	return 9 * unit.YardM
}

const (
	digitHighM   = 6 * 12 * unit.InchM
	digitWideM   = 4 * 12 * unit.InchM
	digitStrokeM = 8 * unit.InchM
)

// numbers draws the yard numbers, each half facing its own sideline, with an arrow toward the nearer goal.
func (d *Drawing) numbers(g field.Field, f Frame) {
	top := numbersTopM(g.Code)
	if 2*top > g.WidthM {
		return // no room for numbers on this field
	}
	for i := -int(math.Round(g.LengthM / 2 / yardLine)); i <= int(math.Round(g.LengthM/2/yardLine)); i++ {
		x, yard := float64(i)*yardLine, g.MiddleYard-5*abs(i)
		if yard <= 0 || yard%10 != 0 && i != 0 || x-digitWideM*1.3 < f.Left || x+digitWideM*1.3 > f.Right {
			continue
		}
		for _, half := range []struct{ y, turn float64 }{{-(top - digitHighM), 1},
			{-(g.WidthM - top + digitHighM), -1}} {
			if half.turn < 0 && g.WidthM-top+digitHighM > f.Back {
				continue
			}
			// u to the right, v up from the number's foot
			at := func(u, v float64) XY { return XY{x + half.turn*u, half.y - half.turn*v} }
			if g.Code == "canadian" && i == 0 {
				d.digit("C", func(u, v float64) XY { return at(u-digitWideM*0.4, v) })
				continue
			}
			d.digit(string(rune('0'+yard/10%10)), func(u, v float64) XY { return at(u-digitWideM*0.95, v) })
			d.digit(string(rune('0'+yard%10)), func(u, v float64) XY { return at(u+digitWideM*0.15, v) })
			if i != 0 {
				out := float64(sign(i)) * half.turn
				foot, tip := out*digitWideM*1.2, out*digitWideM*1.6
				d.area("number", Pale, NoInk, 0,
					at(foot, digitHighM*0.62), at(tip, digitHighM*0.78), at(foot, digitHighM*0.94))
			}
		}
	}
}

// digits are lines as from a stencil, in boxes 0.8 wide and 1 high, from the foot up.
var digits = map[string][]XY{
	"0": {{.2, 0}, {.6, 0}, {.8, .2}, {.8, .8}, {.6, 1}, {.2, 1}, {0, .8}, {0, .2}, {.2, 0}},
	"1": {{.15, .8}, {.4, 1}, {.4, 0}},
	"2": {{0, .8}, {.2, 1}, {.6, 1}, {.8, .8}, {.8, .6}, {0, 0}, {.8, 0}},
	"3": {{0, 1}, {.8, 1}, {.4, .6}, {.6, .6}, {.8, .4}, {.8, .2}, {.6, 0}, {.2, 0}, {0, .2}},
	"4": {{.6, 0}, {.6, 1}, {0, .35}, {.8, .35}},
	"5": {{.8, 1}, {0, 1}, {0, .6}, {.6, .6}, {.8, .4}, {.8, .2}, {.6, 0}, {0, 0}},
	"6": {{.7, 1}, {.2, 1}, {0, .8}, {0, .2}, {.2, 0}, {.6, 0}, {.8, .2}, {.8, .4}, {.6, .6}, {0, .6}},
	"7": {{0, 1}, {.8, 1}, {.3, 0}},
	"8": {
		{.2, .55}, {.6, .55}, {.8, .75}, {.6, 1}, {.2, 1}, {0, .75}, {.2, .55},
		{0, .35}, {0, .2}, {.2, 0}, {.6, 0}, {.8, .2}, {.8, .35}, {.6, .55},
	},
	"9": {{.1, 0}, {.6, 0}, {.8, .2}, {.8, .8}, {.6, 1}, {.2, 1}, {0, .8}, {0, .6}, {.2, .4}, {.8, .4}},
	"C": {{.8, .8}, {.6, 1}, {.2, 1}, {0, .8}, {0, .2}, {.2, 0}, {.6, 0}, {.8, .2}},
}

func (d *Drawing) digit(name string, at func(u, v float64) XY) {
	var points []XY
	for _, p := range digits[name] {
		points = append(points, at(p.X*digitWideM, p.Y*digitHighM))
	}
	d.line("number", Pale, max(digitStrokeM, d.mm(0.25)), 0, points...)
}

// stands draws the front edge of each block of the stands. An edge farther in front than the picture goes is drawn at
// the bottom of the picture, with its real distance as text.
func (d *Drawing) stands(r *rig.Rig, f Frame) {
	lowest := f.Front + d.mm(6)
	shownM := math.Inf(1)
	for _, b := range r.Blocks {
		y := b.Front.Y
		left, right := max(b.Front.X-b.Front.WidthM/2, f.Left+d.mm(1)), min(b.Front.X+b.Front.WidthM/2, f.Right-d.mm(1))
		if y >= 0 || left >= right {
			continue
		}
		if y < lowest {
			shownM = min(shownM, -y)
			y = lowest
		}
		d.line("stands", Middle, d.mm(0.4), 0, XY{left, -y}, XY{right, -y})
		for x := left + d.mm(1); x < right; x += d.mm(2) {
			d.line("stands", Middle, d.mm(0.15), 0, XY{x, -y}, XY{max(x-d.mm(0.8), left), -y + d.mm(1.2)})
		}
	}
	size, p := d.text(smallMM), XY{min(max(r.Reference.X, f.Left+d.mm(edgeMM)), f.Right-d.mm(60)), -f.Front - d.mm(2)}
	text := fmt.Sprintf("reference seat, %.0f m in front, %.0f m up", -r.Reference.Y, r.Reference.Z)
	if r.Reference.Y >= 0 {
		text = fmt.Sprintf("reference seat, on the field at x %.0f m, y %.0f m", r.Reference.X, r.Reference.Y)
	}
	if !math.IsInf(shownM, 1) {
		text += fmt.Sprintf("; the stands begin %.0f m in front", shownM)
	}
	d.area("seat", Dark, NoInk, 0, around(p, d.mm(0.9), []XY{{-1, -.7}, {1, -.7}, {0, 1}})...)
	d.haloed(d.mm(0.3), Shape{
		Class: "seat", Points: []XY{{p.X + d.mm(1.8), p.Y + letters.Ascent*size/2}},
		Fill: Dark, Text: text, SizeM: size, Anchor: -1,
	})
}

// stack draws a loudspeaker stack from above: a box that opens toward the stands. A sub is hollow.
func (d *Drawing) stack(k rig.Stack) {
	p, r := at(k.At), d.mm(1.4)
	outline := around(p, r, []XY{{-.55, -.8}, {.55, -.8}, {1, .8}, {-1, .8}})
	if k.Sub {
		d.area("stack", Paper, Middle, d.mm(0.3), outline...)
		return
	}
	d.area("stack", Dark, Dark, d.mm(0.3), outline...)
}

// micStand draws a fixed mic: a head on a stand.
func (d *Drawing) micStand(p XY, open bool) {
	ink, fill, r := Middle, Paper, d.mm(0.7)
	if open {
		ink, fill, r = Dark, Dark, d.mm(0.9)
	}
	d.line("mic", ink, d.mm(0.25), 0, XY{p.X, p.Y}, XY{p.X, p.Y + 2.2*r})
	d.line("mic", ink, d.mm(0.25), 0, XY{p.X - 0.8*r, p.Y + 2.2*r}, XY{p.X + 0.8*r, p.Y + 2.2*r})
	d.area("mic", fill, ink, d.mm(0.25), around(p, r, turned(16, 0, 1))...)
}

func abs(n int) int { return max(n, -n) }

func sign(n int) int {
	if n < 0 {
		return -1
	}
	return 1
}
