package picture

import (
	"math"

	"backfield/cmd/backfield/show"
	"backfield/layout"
	"backfield/layout/field"
	"backfield/layout/rig"
	"backfield/layout/unit"
)

// Frame is the part of the ground that is drawn, in metres of the field: x towards side 2, y towards the back.
type Frame struct{ Left, Right, Front, Back float64 }

func (f *Frame) take(x, y float64) {
	f.Left, f.Right = min(f.Left, x), max(f.Right, x)
	f.Front, f.Back = min(f.Front, y), max(f.Back, y)
}

// Look is how a drawing is made.
type Look struct {
	Night   bool    // light on dark
	WidthMM float64 // on paper; 0 for 190, which fits A5 and half a sheet of letter, laid across
	Frame   *Frame  // what part of the ground; nil for what there is to see
	Bare    bool    // of a cue: no caption and no legend, for who writes their own
}

const (
	usualWidthMM = 190.0
	marginM      = 2.0  // around what there is to see
	leastM       = 15.0 // to either side of the 50, so that it is a field
	standNearM   = 14.0 // a stand's edge further in front than this is told, not drawn to scale
)

// Whole is the frame of everything that a show has to see: every dot, the stacks, the mic stands, the stand's edge.
// With it the pictures of all its cues can be laid over one another.
func Whole(s *show.Show) Frame {
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

// frame is what there is to see of a rig and some places.
func frame(r *rig.Rig, places []layout.Point) Frame {
	f := Frame{Left: -leastM, Right: leastM, Front: -marginM, Back: r.Field.WidthM}
	for _, p := range places {
		f.take(p.X, p.Y)
	}
	for _, k := range r.Stacks {
		f.take(k.At.X, k.At.Y)
	}
	for _, m := range r.Mics {
		f.take(m.At.X, m.At.Y)
	}
	f.Left, f.Right, f.Front, f.Back = f.Left-marginM, f.Right+marginM, f.Front-marginM, f.Back+marginM/2
	for _, b := range r.Blocks {
		if b.Front.Y < 0 && -b.Front.Y <= standNearM {
			f.Front = min(f.Front, b.Front.Y-marginM/2)
		}
	}
	return f
}

// Field draws the field of a rig alone: lines, numbers and hashes as the rule book has them painted, the stacks and the
// mic stands in front, and the stand's edge. Nobody is on it.
func Field(r *rig.Rig, look Look) *Drawing {
	f := look.frame(r, nil)
	d := &Drawing{Title: "The field", Min: Point{f.Left, -f.Back}, W: f.Right - f.Left, H: f.Back - f.Front, WidthMM: look.width(), Night: look.Night}
	d.field(r, f)
	return d
}

func (l Look) width() float64 {
	if l.WidthMM > 0 {
		return l.WidthMM
	}
	return usualWidthMM
}

func (l Look) frame(r *rig.Rig, places []layout.Point) Frame {
	if l.Frame != nil {
		return *l.Frame
	}
	return frame(r, places)
}

// at turns a place of the field into one of the drawing.
func at(p layout.Point) Point { return Point{p.X, -p.Y} }

func (d *Drawing) field(r *rig.Rig, f Frame) {
	d.lines(r.Field, f)
	d.numbers(r.Field, f)
	d.stand(r, f)
	for _, m := range r.Mics {
		d.micStand(at(m.At), false)
	}
	for _, k := range r.Stacks {
		d.stack(k)
	}
}

// What is painted, in metres. Lines are 4 in wide and hash marks 24 in long (NCAA Football Rules 2-12-7; the others alike).
const (
	lineM    = 4 * unit.InchM
	hashLong = 24 * unit.InchM
	yardLine = 5 * unit.YardM
)

// lines draws the sidelines, end lines, yard lines and hash marks, each cut to the frame.
func (d *Drawing) lines(g field.Field, f Frame) {
	goal, end := g.LengthM/2, g.LengthM/2+g.EndZoneM
	left, right := max(f.Left, -end), min(f.Right, end)
	if left >= right {
		return
	}
	within := func(x float64) bool { return x >= f.Left && x <= f.Right }
	upright := func(class string, widthM, x, from, to float64) {
		d.line(class, Pale, widthM, 0, Point{x, -from}, Point{x, -to})
	}
	thin := d.mm(0.12)
	for yard := math.Ceil(max(left, -goal) / unit.YardM); yard <= math.Floor(min(right, goal)/unit.YardM); yard++ {
		x := yard * unit.YardM
		for _, h := range []float64{g.FrontHashM(), g.BackHashM()} {
			upright("hash", thin, x, h-hashLong/2, h+hashLong/2)
		}
	}
	n := int(math.Round(goal / yardLine))
	for i := -n; i <= n; i++ {
		x := float64(i) * yardLine
		if within(x) {
			wide := d.mm(0.18)
			if i == 0 || i == -n || i == n {
				wide = d.mm(0.35)
			}
			upright("yard", wide, x, 0, g.WidthM)
		}
	}
	for i := -n; i < n; i++ { // the crosses that tell a yard line's hash from a yard's
		x := float64(i) * yardLine
		for _, h := range []float64{g.FrontHashM(), g.BackHashM()} {
			if within(x-hashLong/2) && within(x+hashLong/2) {
				d.line("hash", Pale, d.mm(0.3), 0, Point{x - hashLong/2, -h}, Point{x + hashLong/2, -h})
			}
		}
	}
	for _, y := range []float64{0, g.WidthM} {
		d.line("sideline", Middle, d.mm(0.35), 0, Point{left, -y}, Point{right, -y})
	}
	for _, x := range []float64{-end, end} {
		if within(x) {
			d.line("sideline", Middle, d.mm(0.35), 0, Point{x, 0}, Point{x, -g.WidthM})
		}
	}
}

// numbersTopM is how far from its sideline the top of a painted number is, which is 6 ft high and a digit 4 ft wide:
// 9 yd (NCAA 1-2-1-i and NFHS, recommended), or 14 yd for the professionals, whose numbers begin 12 yd in; held to
// testdata/published/field_dimensions.csv. Of Canadian fields and fields of one's own 9 yd is common practice.
func numbersTopM(code string) float64 {
	if code == "pro" {
		return 14 * unit.YardM
	}
	return 9 * unit.YardM
}

const (
	digitHighM = 6 * 12 * unit.InchM
	digitWideM = 4 * 12 * unit.InchM
)

// numbers draws the yard numbers, each half facing its own sideline, with the arrow towards the nearer goal.
func (d *Drawing) numbers(g field.Field, f Frame) {
	top := numbersTopM(g.Code)
	if 2*top > g.WidthM {
		return // of a field of one's own that has no room for them
	}
	for i := -int(math.Round(g.LengthM / 2 / yardLine)); i <= int(math.Round(g.LengthM/2/yardLine)); i++ {
		x, yard := float64(i)*yardLine, g.MiddleYard-5*abs(i)
		if yard <= 0 || yard%10 != 0 && i != 0 || x-digitWideM*1.3 < f.Left || x+digitWideM*1.3 > f.Right {
			continue
		}
		for _, half := range []struct{ y, turn float64 }{{-(top - digitHighM), 1}, {-(g.WidthM - top + digitHighM), -1}} {
			at := func(u, v float64) Point { return Point{x + half.turn*u, half.y - half.turn*v} } // from the number's foot
			if g.Code == "canadian" && i == 0 {
				d.digit("C", func(u, v float64) Point { return at(u-digitWideM*0.4, v) })
				continue
			}
			d.digit(string(rune('0'+yard/10%10)), func(u, v float64) Point { return at(u-digitWideM*0.95, v) })
			d.digit(string(rune('0'+yard%10)), func(u, v float64) Point { return at(u+digitWideM*0.15, v) })
			if i != 0 {
				out := float64(sign(i)) * half.turn
				d.area("number", Pale, NoInk, 0,
					at(out*digitWideM*1.2, digitHighM*0.62), at(out*digitWideM*1.6, digitHighM*0.78), at(out*digitWideM*1.2, digitHighM*0.94))
			}
		}
	}
}

// digits are drawn as a stencil would paint them, in boxes 0.8 wide and 1 high, from the foot up.
var digits = map[string][]Point{
	"0": {{.2, 0}, {.6, 0}, {.8, .2}, {.8, .8}, {.6, 1}, {.2, 1}, {0, .8}, {0, .2}, {.2, 0}},
	"1": {{.15, .8}, {.4, 1}, {.4, 0}},
	"2": {{0, .8}, {.2, 1}, {.6, 1}, {.8, .8}, {.8, .6}, {0, 0}, {.8, 0}},
	"3": {{0, 1}, {.8, 1}, {.4, .6}, {.6, .6}, {.8, .4}, {.8, .2}, {.6, 0}, {.2, 0}, {0, .2}},
	"4": {{.6, 0}, {.6, 1}, {0, .35}, {.8, .35}},
	"5": {{.8, 1}, {0, 1}, {0, .6}, {.6, .6}, {.8, .4}, {.8, .2}, {.6, 0}, {0, 0}},
	"6": {{.7, 1}, {.2, 1}, {0, .8}, {0, .2}, {.2, 0}, {.6, 0}, {.8, .2}, {.8, .4}, {.6, .6}, {0, .6}},
	"7": {{0, 1}, {.8, 1}, {.3, 0}},
	"8": {{.2, .55}, {.6, .55}, {.8, .75}, {.6, 1}, {.2, 1}, {0, .75}, {.2, .55}, {0, .35}, {0, .2}, {.2, 0}, {.6, 0}, {.8, .2}, {.8, .35}, {.6, .55}},
	"9": {{.1, 0}, {.6, 0}, {.8, .2}, {.8, .8}, {.6, 1}, {.2, 1}, {0, .8}, {0, .6}, {.2, .4}, {.8, .4}},
	"C": {{.8, .8}, {.6, 1}, {.2, 1}, {0, .8}, {0, .2}, {.2, 0}, {.6, 0}, {.8, .2}},
}

func (d *Drawing) digit(name string, at func(u, v float64) Point) {
	var points []Point
	for _, p := range digits[name] {
		points = append(points, at(p.X*digitWideM, p.Y*digitHighM))
	}
	d.line("number", Pale, d.mm(0.45), 0, points...)
}

// stand draws the edge of the stand, or tells how far in front of the picture it lies.
func (d *Drawing) stand(r *rig.Rig, f Frame) {
	for _, b := range r.Blocks {
		y := b.Front.Y
		if y >= 0 || y < f.Front {
			continue
		}
		left, right := max(b.Front.X-b.Front.WidthM/2, f.Left), min(b.Front.X+b.Front.WidthM/2, f.Right)
		if left >= right {
			continue
		}
		d.line("stand", Middle, d.mm(0.5), 0, Point{left, -y}, Point{right, -y})
		for x := left + d.mm(1); x < right; x += d.mm(2) {
			d.line("stand", Middle, d.mm(0.15), 0, Point{x, -y}, Point{max(x-d.mm(0.8), left), -y + d.mm(1.2)})
		}
	}
}

// stack draws a loudspeaker position as seen from above: a box that opens towards the stand. A sub is hollow.
func (d *Drawing) stack(k rig.Stack) {
	p, r := at(k.At), d.mm(1.4)
	outline := around(p, r, []Point{{-.55, -.8}, {.55, -.8}, {1, .8}, {-1, .8}})
	if k.Sub {
		d.area("stack", Paper, Middle, d.mm(0.3), outline...)
		return
	}
	d.area("stack", Dark, Dark, d.mm(0.3), outline...)
}

// micStand draws a fixed mic: a head on a foot.
func (d *Drawing) micStand(p Point, open bool) {
	ink, fill, r := Middle, Paper, d.mm(0.7)
	if open {
		ink, fill, r = Dark, Dark, d.mm(0.9)
	}
	d.line("mic", ink, d.mm(0.25), 0, Point{p.X, p.Y}, Point{p.X, p.Y + 2.2*r})
	d.line("mic", ink, d.mm(0.25), 0, Point{p.X - 0.8*r, p.Y + 2.2*r}, Point{p.X + 0.8*r, p.Y + 2.2*r})
	d.area("mic", fill, ink, d.mm(0.25), around(p, r, turned(16, 0, 1))...)
}

func abs(n int) int { return max(n, -n) }

func sign(n int) int {
	if n < 0 {
		return -1
	}
	return 1
}
