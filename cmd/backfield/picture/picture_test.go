package picture

import (
	"bytes"
	"encoding/csv"
	"encoding/xml"
	"errors"
	"flag"
	"fmt"
	"image"
	"image/png"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"backfield/cmd/backfield/show"
	"backfield/cue"
	"backfield/cue/clock"
	"backfield/layout"
	"backfield/layout/drill"
	"backfield/layout/field"
	"backfield/layout/rig"
	"backfield/layout/source"
	"backfield/layout/unit"
)

var update = flag.Bool("update", false, "write the golden pictures anew")

const examples = "../../../examples/"

// compiled reads an example, once for all tests.
var compiled = func() func(t *testing.T, name, venue string) *show.Show {
	var lock sync.Mutex
	known := map[string]*show.Show{}
	return func(t *testing.T, name, venue string) *show.Show {
		t.Helper()
		if name == "harbor" && testing.Short() {
			t.Skip("compiles the demo")
		}
		lock.Lock()
		defer lock.Unlock()
		if known[name+venue] == nil {
			var p source.Problems
			o := show.Options{}
			if venue != "" {
				o.Venue = examples + name + "/venues/" + venue
			}
			s, err := show.Load(show.Disk{}, examples+name+"/show.toml", o, &p)
			if err != nil || s.Result.Show == nil {
				t.Fatalf("%s: %v %v", name, err, p.All())
			}
			known[name+venue] = s
		}
		return known[name+venue]
	}
}()

const zones = "lantern-quay-zones.toml"

func drawn(t *testing.T, s *show.Show, id string, look Look) *Drawing {
	t.Helper()
	d, err := Cue(s, id, look)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func svg(t *testing.T, d *Drawing) string {
	t.Helper()
	var b bytes.Buffer
	if err := d.SVG(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// The pictures of some cues, to the byte. After a change, -update writes them: look at them.
func TestGolden(t *testing.T) {
	tiny, harbor := compiled(t, "tiny", ""), compiled(t, "harbor", "")
	cases := map[string]*Drawing{
		"tiny-2":     drawn(t, tiny, "2", Look{}),
		"harbor-6":   drawn(t, harbor, "6", Look{}),
		"harbor-13":  drawn(t, harbor, "13", Look{Night: true}),
		"zones-8.1":  drawn(t, compiled(t, "harbor", zones), "8.1", Look{}),
		"field-home": Field(harbor.Rig, Look{}),
	}
	for name, d := range cases {
		t.Run(name, func(t *testing.T) {
			got, file := svg(t, d), filepath.Join("testdata", name+".svg")
			if *update {
				if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			if got != string(want) {
				g, w := strings.Split(got, "\n"), strings.Split(string(want), "\n")
				for i := range g {
					if i >= len(w) || g[i] != w[i] {
						t.Fatalf("%s differs from line %d on: got\n%s\nwant\n%s", file, i+1, g[i],
							slices.Concat(w, make([]string, len(g)))[i])
					}
				}
				t.Fatalf("%s is longer than what is drawn", file)
			}
		})
	}
	files, err := filepath.Glob("testdata/*.svg")
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		if cases[strings.TrimSuffix(filepath.Base(f), ".svg")] == nil {
			t.Errorf("%s belongs to no case", f)
		}
	}
}

// shapes lists the shapes of a class.
func shapes(d *Drawing, class string) []Shape {
	return slices.DeleteFunc(slices.Clone(d.Shapes), func(s Shape) bool { return s.Class != class })
}

// middle is the middle of a shape's box.
func middle(s Shape) Point {
	b := bounds(s.Points)
	return Point{(b.x0 + b.x1) / 2, (b.y0 + b.y1) / 2}
}

func bounds(points []Point) box {
	b := box{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	for _, p := range points {
		b = box{min(b.x0, p.X), min(b.y0, p.Y), max(b.x1, p.X), max(b.y1, p.Y)}
	}
	return b
}

func near(p Point, x, y float64) bool { return math.Hypot(p.X-x, p.Y-y) < 1e-6 }

// By hand, examples/tiny at cue 1: the trumpet, open, on the 50 and the front hash, 60 ft deep; the baritone, closed,
// on side 2's 35 and 8 steps behind it: 15 yd to the right and 60 ft + 180 in deep. The audience is at the bottom.
func TestPlaces(t *testing.T) {
	d := drawn(t, compiled(t, "tiny", ""), "1", Look{})
	open := slices.DeleteFunc(shapes(d, "open"), func(s Shape) bool { return s.Fill != Dark })
	if len(open) != 2 || !near(middle(open[0]), 0, -18.288) { // the second is the legend's
		t.Errorf("open: %v", open)
	}
	if p := shapes(d, "player")[0]; !near(middle(p), 13.716, -(18.288+4.572)) || p.Stroke != Dark {
		t.Errorf("closed: %v", p)
	}
	for i, x := range []float64{-20, 20} {
		if k := middle(shapes(d, "stack")[i]); !near(k, x, 2) {
			t.Errorf("stack %d at %v", i, k)
		}
	}
	// The same in the file's units, and the box that the file is seen through holds it.
	text := svg(t, d)
	var x, y, w, h float64
	if _, err := fmt.Sscanf(text[strings.Index(text, "viewBox="):], `viewBox="%f %f %f %f"`, &x, &y, &w, &h); err != nil {
		t.Fatal(err)
	}
	if !(x < 0 && x+w > 0 && y < -1828.8 && y+h > 0) {
		t.Errorf("view box %g %g %g %g", x, y, w, h)
	}
	if !strings.Contains(text, "M0.0 -1") || !strings.Contains(text, ">Tpt 1 <tspan") {
		t.Error("the trumpet is not in the file")
	}
}

// A PNG has ink where a player is, paper beside him, and the size that was asked for.
func TestPNG(t *testing.T) {
	for _, night := range []bool{false, true} {
		d := drawn(t, compiled(t, "tiny", ""), "1", Look{Night: night})
		var b bytes.Buffer
		if err := d.PNG(&b, 1000); err != nil {
			t.Fatal(err)
		}
		img, err := png.Decode(&b)
		if err != nil {
			t.Fatal(err)
		}
		if size := img.Bounds().Size(); size != image.Pt(1000, int(math.Round(1000*d.H/d.W))) {
			t.Errorf("it is %v", size)
		}
		at := func(x, y float64) uint32 { // of a place in the drawing
			r, g, b, _ := img.At(int((x-d.Min.X)/d.W*1000), int((y-d.Min.Y)/d.W*1000)).RGBA()
			return r>>8<<16 | g>>8<<8 | b>>8
		}
		palette := d.palette()
		for _, c := range []struct {
			what string
			p    Point
			want Ink
		}{
			{"the trumpet", Point{0, -18.288}, Dark}, {"beside him", Point{-6.5, -21}, Paper},
			{"within the baritone's mark", Point{13.716, -22.86}, Paper},
			{"the left stack", Point{-20, 2}, Dark}, {"the line to his image", Point{0, -8}, Warm},
			{"the front sideline", Point{-11, 0}, Middle},
			{"a corner", Point{d.Min.X + 0.1, d.Min.Y + 0.1}, Paper},
		} {
			if got := at(c.p.X, c.p.Y); got != palette[c.want] {
				t.Errorf("night %v, %s: #%06x, want #%06x", night, c.what, got, palette[c.want])
			}
		}
	}
}

// Any two marks differ, filled as for an open mic, by a good part of their ink; none fills its box or is a hair.
func TestMarksDiffer(t *testing.T) {
	const side = 40
	ink := make([][]bool, Marks)
	for n := range ink {
		d := &Drawing{Min: Point{-1, -1}, W: 2, H: 2, WidthMM: 2}
		d.area("mark", Dark, NoInk, 0, Mark(n)...)
		for _, p := range Mark(n) {
			if math.Abs(p.X) > 1+1e-9 || math.Abs(p.Y) > 1+1e-9 {
				t.Errorf("mark %d leaves its box at %v", n, p)
			}
		}
		img, some := d.raster(side), 0
		for i := range side * side {
			dark := img.RGBAAt(i%side, i/side).R < 128
			ink[n] = append(ink[n], dark)
			if dark {
				some++
			}
		}
		if share := float64(some) / side / side; share < 0.2 || share > 0.9 {
			t.Errorf("mark %d takes %.2f of its box", n, share)
		}
		for m := range n {
			differ, either := 0, 0
			for i := range ink[n] {
				if ink[n][i] != ink[m][i] {
					differ++
				}
				if ink[n][i] || ink[m][i] {
					either++
				}
			}
			if share := float64(differ) / float64(either); share < 0.18 {
				t.Errorf("marks %d and %d differ by %.2f of their ink", m, n, share)
			}
		}
	}
	if Marks < 8 {
		t.Errorf("there are %d marks", Marks)
	}
	if !slices.Equal(Mark(3), Mark(3+Marks)) || !slices.Equal(Mark(-1), Mark(Marks-1)) {
		t.Error("marks do not begin again")
	}
}

// In the picture of a show the sections have the marks of their order in the roster.
func TestSections(t *testing.T) {
	s := compiled(t, "harbor", "")
	if got, want := Sections(s), []string{"trumpet", "mellophone", "baritone", "tuba"}; !slices.Equal(got[:4], want) {
		t.Errorf("sections %v", got)
	}
	if n := len(Sections(s)); n > Marks {
		t.Errorf("%d sections share %d marks", n, Marks)
	}
}

// The image of who stands still lies where he is seen from the reference seat, within half a step of the desk's pan:
// the test works the tangent law out by itself. By hand for tiny's cue 2: the baritone at (10.973, 22.86) is seen at
// atan(10.973 / 52.86); the line of the stacks lies 28 m from the seat, so his image is 28 * 10.973 / 52.86 = 5.81 m
// towards side 2.
func TestImageStereo(t *testing.T) {
	s := compiled(t, "tiny", "")
	snapshot, _ := s.Show.Find("2")
	for _, c := range snapshot.Channels {
		p, ok := Image(s, c)
		l, r := math.Cos((c.Pan+1)*math.Pi/4), math.Sin((c.Pan+1)*math.Pi/4)
		want := 28 * (r - l) / (r + l) * (20.0 / 28)
		if !ok || math.Abs(p.X-want) > 1e-9 || math.Abs(p.Y+2) > 1e-9 {
			t.Errorf("%s: %v, want x %.4f", c.Player, p, want)
		}
		if x := 28 * c.X / (c.Y + 30); math.Abs(p.X-x) > 0.2 {
			t.Errorf("%s: image at %.3f m, seen at %.3f", c.Player, p.X, x)
		}
		c.Open = false
		if _, ok := Image(s, c); ok {
			t.Error("a closed mic has an image")
		}
	}
}

// In zones too, whoever stands still within the stacks' span is heard where he is seen; who is outside it, at the
// outermost stack.
func TestImageZones(t *testing.T) {
	s := compiled(t, "harbor", zones)
	ref, still, held := s.Rig.Reference, 0, 0
	for _, snapshot := range s.Show.Cues {
		for _, c := range snapshot.Channels {
			if !c.Open || c.Kind != cue.Worn || c.Place != c.End {
				continue
			}
			p, ok := Image(s, c)
			if !ok {
				t.Fatalf("cue %s, %s: no image", snapshot.ID, c.Player)
			}
			seen := layout.Point{X: c.X, Y: c.Y}.Azimuth(ref)
			outer := layout.Point{X: 24, Y: -2}.Azimuth(ref)
			if math.Abs(seen) > outer {
				held++
				seen = math.Copysign(outer, seen)
			}
			still++
			if off := math.Abs(p.Azimuth(ref)-seen) * 180 / math.Pi; off > 0.1 {
				t.Errorf("cue %s, %s: image %.2f degrees off", snapshot.ID, c.Player, off)
			}
		}
	}
	if still < 20 {
		t.Errorf("only %d places were looked at", still)
	}
	t.Logf("%d places, %d of them beyond the stacks", still, held)
}

func TestCrossing(t *testing.T) {
	a, b := layout.Point{X: -10, Y: 20}, layout.Point{X: 10, Y: 20}
	for name, c := range map[string]struct {
		deg, x float64
	}{
		"ahead": {0, 0}, "right": {math.Atan(0.25) * 180 / math.Pi, 5},
		"beyond": {60, 10}, "beyond on the left": {-60, -10},
	} {
		if p, ok := crossing(layout.Point{}, c.deg*math.Pi/180, a, b); !ok || math.Abs(p.X-c.x) > 1e-9 || p.Y != 20 {
			t.Errorf("%s: %v", name, p)
		}
	}
	if _, ok := crossing(layout.Point{Y: 5}, 0, layout.Point{Y: 8}, layout.Point{Y: 9}); ok {
		t.Error("a line seen end on has no crossing")
	}
}

// Of every rule book: hashes and numbers lie where testdata/published has them, and nothing is painted off the field.
func TestFieldsAsPublished(t *testing.T) {
	file, err := os.Open("../../../testdata/published/field_dimensions.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	column := func(row []string, name string) float64 {
		v, err := strconv.ParseFloat(row[slices.Index(rows[0], name)], 64)
		if err != nil {
			return math.NaN()
		}
		return v
	}
	codes := map[string]string{"NCAA": "college", "NFHS": "high-school", "NFL": "pro", "Canadian amateur": "canadian"}
	if len(rows) != 1+len(codes) {
		t.Fatalf("%d rows", len(rows))
	}
	for _, row := range rows[1:] {
		f, ok := field.ByCode(codes[row[0]])
		if !ok {
			t.Fatalf("no code for %q", row[0])
		}
		d := Field(&rig.Rig{Field: f, Reference: layout.Point{Y: -30, Z: 10}}, Look{})
		hash := column(row, "hash_from_sideline_m")
		found := false
		for _, s := range shapes(d, "hash") {
			m := middle(s)
			switch y := -m.Y; {
			case math.Abs(y-hash) < 1e-3:
				found = true
			case math.Abs(y-(f.WidthM-hash)) > 1e-3:
				t.Errorf("%s: a hash mark %.3f m deep", f.Code, y)
			}
		}
		if !found {
			t.Errorf("%s: no hash mark at %.3f m", f.Code, hash)
		}
		end, front, back := f.LengthM/2+f.EndZoneM, box{}, box{}
		front, back = bounds(nil), bounds(nil)
		for _, s := range shapes(d, "number") {
			b := bounds(s.Points)
			if b.x0 < -end || b.x1 > end {
				t.Errorf("%s: a number off the field at %v", f.Code, b)
			}
			into := &front
			if -b.y1 > f.WidthM/2 {
				into = &back
			}
			*into = box{min(into.x0, b.x0), min(into.y0, b.y0), max(into.x1, b.x1), max(into.y1, b.y1)}
		}
		top, bottom := -front.y0, -front.y1
		if math.Abs(top-(f.WidthM+back.y1)) > 1e-6 || math.Abs(bottom-(f.WidthM+back.y0)) > 1e-6 {
			t.Errorf("%s: front numbers from %.3f to %.3f m, back ones from %.3f to %.3f", f.Code, bottom, top,
				f.WidthM+back.y0, f.WidthM+back.y1)
		}
		if want := column(row, "numbers_top_8to5_steps") * unit.StepM; !math.IsNaN(want) && math.Abs(top-want) > 1e-3 {
			t.Errorf("%s: numbers reach %.3f m, published %.3f", f.Code, top, want)
		}
		if want := column(row, "numbers_bottom_8to5_steps") * unit.StepM; !math.IsNaN(want) && math.Abs(bottom-want) > 1e-3 {
			t.Errorf("%s: numbers begin at %.3f m, published %.3f", f.Code, bottom, want)
		}
	}
}

// A field of one's own, with no room for numbers, another number in the middle and a stand beside the goal line.
func TestOwnField(t *testing.T) {
	f := field.Field{Code: "own", LengthM: 60, EndZoneM: 5, WidthM: 16, HashM: 6, MiddleYard: 30, DepthStepM: unit.StepM}
	r := &rig.Rig{Field: f, Reference: layout.Point{Y: 3}}
	d := Field(r, Look{})
	if n := shapes(d, "number"); len(n) > 0 {
		t.Errorf("%d numbers", len(n))
	}
	for _, s := range d.Shapes {
		for _, p := range s.Points {
			if math.IsNaN(p.X) || math.IsInf(p.X, 0) || math.IsNaN(p.Y) || math.IsInf(p.Y, 0) {
				t.Fatalf("%s at %v", s.Class, p)
			}
		}
	}
	if text := svg(t, d); !strings.Contains(text, "reference seat, on the field") {
		t.Error("the seat is not told")
	}
}

// Every cue of the demo, in both feeds: the file is XML, its words are inside, the names are all there, no name lies on
// another or on an open mark, and what is drawn twice is the same.
func TestEveryCue(t *testing.T) {
	for _, venue := range []string{"", zones} {
		s := compiled(t, "harbor", venue)
		for i, snapshot := range s.Show.Cues {
			d := drawn(t, s, snapshot.ID, Look{})
			text := svg(t, d)
			wellFormed(t, text)
			if i%10 == 0 && svg(t, drawn(t, s, snapshot.ID, Look{})) != text {
				t.Errorf("cue %s is drawn in two ways", snapshot.ID)
			}
			names := map[string]bool{}
			var spots []box
			for _, l := range shapes(d, "label") {
				if l.Fill == Paper {
					continue
				}
				names[l.Text] = true
				long := wide(l.Text, l.SizeM, l.Bold)
				if l.Tail != "" {
					long += wide(" "+l.Tail, l.SizeM, false)
				}
				p := l.Points[0]
				spots = append(spots, box{p.X - long/2, p.Y - ascent*l.SizeM, p.X + long/2, p.Y})
			}
			for i, a := range spots {
				for j, b := range spots[:i] {
					if a.overlap(b) > 0.15*d.mm(1)*d.mm(1) {
						t.Errorf("cue %s: labels %d and %d overlap", snapshot.ID, i, j)
					}
				}
				for _, o := range shapes(d, "open") {
					if o.Fill == Dark && a.overlap(bounds(o.Points)) > 0.15*d.mm(1)*d.mm(1) {
						t.Errorf("cue %s: label %d covers an open mark", snapshot.ID, i)
					}
				}
				if a.x0 < d.Min.X || a.x1 > d.Min.X+d.W || a.y0 < d.Min.Y || a.y1 > d.Min.Y+d.H {
					t.Errorf("cue %s: label %d is cut off", snapshot.ID, i)
				}
			}
			for _, c := range snapshot.Channels {
				if c.Open && !names[c.Player] {
					t.Errorf("cue %s: %s has no name", snapshot.ID, c.Player)
				}
			}
			for _, w := range append(shapes(d, "caption"), shapes(d, "legend")...) {
				if p := w.Points[0]; w.Text != "" && (p.X < d.Min.X || p.X+wide(w.Text, w.SizeM, w.Bold) > d.Min.X+d.W ||
					p.Y > d.Min.Y+d.H || p.Y-ascent*w.SizeM < d.Min.Y) {
					t.Errorf("cue %s: %q is cut off", snapshot.ID, w.Text)
				}
			}
		}
	}
}

func wellFormed(t *testing.T, text string) {
	t.Helper()
	if strings.Contains(text, "NaN") || strings.Contains(text, "Inf") || strings.Contains(text, `"-0.0`) {
		t.Error("a number is none")
	}
	for d := xml.NewDecoder(strings.NewReader(text)); ; {
		_, err := d.Token()
		if errors.Is(err, io.EOF) {
			return
		}
		if err != nil {
			t.Fatal(err)
		}
	}
}

// Bare pictures are the ground alone, as tall as the frame that was asked for.
func TestBare(t *testing.T) {
	s := compiled(t, "harbor", "")
	whole := Whole(s)
	for _, id := range []string{"1", "6", "49"} {
		d := drawn(t, s, id, Look{Bare: true, Frame: &whole, WidthMM: 120})
		if len(shapes(d, "caption"))+len(shapes(d, "legend")) > 0 {
			t.Errorf("cue %s has words around it", id)
		}
		if d.H != whole.Back-whole.Front || d.W != whole.Right-whole.Left || d.WidthMM != 120 {
			t.Errorf("cue %s: %g x %g m", id, d.W, d.H)
		}
	}
	for _, p := range s.Drill.Players {
		for _, dot := range p.Dots {
			if p := dot.At; dot.Known && (p.X < whole.Left || p.X > whole.Right || p.Y < whole.Front || p.Y > whole.Back) {
				t.Fatalf("%v is not in the whole frame", p)
			}
		}
	}
}

// By hand: 4 counts in each of two directions, then a hold. The corners are where the sets are reached.
func TestWay(t *testing.T) {
	sheet := func(text string) *source.File {
		f, err := source.Open("x.csv", []byte(text), len(text))
		if err != nil {
			t.Fatal(err)
		}
		return f
	}
	g, _ := field.ByCode("college")
	var p source.Problems
	d := drill.Read(drill.Sheets{Sets: sheet("set,movement,counts,hold\n1,1,0,0\n2,1,4,0\n3,1,8,4\n4,1,8,8\n"), Dots: sheet("set,player,lateral,depth\n1,A,on 50,on FH\n2,A,side 2 4 outside 50,on FH\n" +
		"3,A,side 2 4 outside 50,4 behind FH\n4,A,side 2 4 outside 50,4 behind FH\n")}, g, &p)
	a, ok := d.Player("A")
	if !ok || p.Errors() > 0 {
		t.Fatal(p.All())
	}
	m := func(elapsed float64) clock.Moment { return clock.Moment{Movement: 1, Elapsed: elapsed} }
	steps := func(way []layout.Point) string {
		var b strings.Builder
		for _, p := range way {
			fmt.Fprintf(&b, "(%.4g,%.4g)", p.X/unit.StepM, (p.Y-g.FrontHashM())/unit.StepM)
		}
		return b.String()
	}
	for _, c := range []struct {
		from, to float64
		want     string
	}{
		{0, 2, "(0,0)(2,0)"}, {2, 6, "(2,0)(4,0)(4,2)"}, {0, 20, "(0,0)(4,0)(4,4)"}, {8, 20, "(4,4)"}, {4, 4, "(4,0)"},
	} {
		if got := steps(Way(d, a, m(c.from), m(c.to))); got != c.want {
			t.Errorf("from %g to %g: %s, want %s", c.from, c.to, got, c.want)
		}
	}
	if way := Way(d, &drill.Player{Name: "nobody", Dots: make([]drill.Dot, 4)}, m(0), m(8)); len(way) > 0 {
		t.Errorf("who has no dot walks %v", way)
	}
}

func TestList(t *testing.T) {
	for want, names := range map[string][]string{
		"":                        nil,
		"Tpt 1":                   {"Tpt 1"},
		"Tpt 1, 3, 11; Mello 2":   {"Tpt 1", "Tpt 3", "Tpt 11", "Mello 2"},
		"field left; field right": {"field left", "field right"},
		"Tpt 1; Bari 1; Tpt 2":    {"Tpt 1", "Bari 1", "Tpt 2"},
		"1, 2; solo":              {"1", "2", "solo"},
		"Åsa 1, 2; Łuk":           {"Åsa 1", "Åsa 2", "Łuk"},
	} {
		if got := List(names); got != want {
			t.Errorf("%q: %q, want %q", names, got, want)
		}
	}
}

func TestLevel(t *testing.T) {
	for v, want := range map[cue.Level]string{0: "±0", -0.001: "±0", -9: "−9", 1.5: "+1.5", -4.25: "−4.25"} {
		if got := level(v); got != want {
			t.Errorf("%g: %q, want %q", float64(v), got, want)
		}
	}
}

// Whatever a name is made of, the file is XML, and the picture can be painted.
func TestStrangeNames(t *testing.T) {
	d := &Drawing{Title: "<&\"'>\x00\xff", Min: Point{}, W: 10, H: 10, WidthMM: 100}
	for _, name := range []string{"<b>", "a&b", "\x01\x1f", "\xff\xfe", "長い名前", "a]]>b", strings.Repeat("W", 500)} {
		word := Shape{Class: "label", Points: []Point{{5, 5}}, Fill: Dark, Text: name, Tail: "<0>", SizeM: 0.3, Bold: true}
		d.haloed(0.05, word)
	}
	text := svg(t, d)
	wellFormed(t, text)
	if !strings.Contains(text, "a&amp;b") || !strings.Contains(text, "長い名前") {
		t.Error("a name is not told as it is")
	}
	if err := d.PNG(io.Discard, 300); err != nil {
		t.Error(err)
	}
}

func TestDashes(t *testing.T) {
	long := func(pieces [][]Point) string {
		var b strings.Builder
		for _, p := range pieces {
			for _, q := range p {
				fmt.Fprintf(&b, "(%.4g,%.4g)", q.X, q.Y)
			}
			b.WriteByte(' ')
		}
		return strings.TrimSpace(b.String())
	}
	for _, c := range []struct {
		line []Point
		want string
	}{
		{[]Point{{0, 0}, {7, 0}}, "(0,0)(2,0) (4,0)(6,0)"},
		{[]Point{{0, 0}, {1, 0}, {1, 5}}, "(0,0)(1,0)(1,1) (1,3)(1,5)"},
		{[]Point{{0, 0}, {1, 0}}, "(0,0)(1,0)"},
		{[]Point{{0, 0}, {0, 0}}, "(0,0)(0,0)"},
	} {
		if got := long(dashes(c.line, 2)); got != c.want {
			t.Errorf("%v: %s, want %s", c.line, got, c.want)
		}
	}
}

// A word is broken between words only, and no line is wider than asked for unless one word is.
func TestWrap(t *testing.T) {
	text := "one two three four five six seven"
	lines := wrap(text, 1, 6)
	if strings.Join(lines, " ") != text || len(lines) < 3 {
		t.Errorf("%q", lines)
	}
	for _, l := range lines {
		if wide(l, 1, false) > 6 {
			t.Errorf("%q is %.2f wide", l, wide(l, 1, false))
		}
	}
	if got := brief("A Name with an Ünd 37", 1, 6, true); !strings.HasPrefix(got, "A N") ||
		!strings.HasSuffix(got, " 37") || wide(got, 1, true) > 6 {
		t.Errorf("a name is cut to %q", got)
	}
	if got := brief("Tpt 3", 1, 6, true); got != "Tpt 3" {
		t.Errorf("a name that fits is %q", got)
	}
	if got := short("a long name of a cue", 1, 5, false); !strings.HasSuffix(got, "…") || wide(got, 1, false) > 5 {
		t.Errorf("%q", got)
	}
	if got := short("ab", 1, 5, false); got != "ab" {
		t.Errorf("%q", got)
	}
}

func TestUnknownCue(t *testing.T) {
	if _, err := Cue(compiled(t, "harbor", ""), "17B", Look{}); err == nil ||
		!strings.Contains(err.Error(), `no cue "17B"; did you mean`) {
		t.Errorf("%v", err)
	}
}

// Roles that differ are drawn with different rings, and their lines too are told apart without colour.
func TestRanksDiffer(t *testing.T) {
	seen := map[string]int{}
	for n := range ranks {
		d := &Drawing{W: 10, H: 10, WidthMM: 10}
		d.ring(Point{5, 5}, n)
		key := fmt.Sprint(d.Shapes)
		if m, again := seen[key]; again {
			t.Errorf("ranks %d and %d look alike", m, n)
		}
		seen[key] = n
	}
}

// Words stand out from the paper by 4.5 to 1 at least (WCAG 2.2, 1.4.3), lines that carry meaning by 3 to 1 (1.4.11).
func TestContrast(t *testing.T) {
	luminance := func(v uint32) float64 {
		sum := 0.0
		for i, weight := range []float64{0.2126, 0.7152, 0.0722} {
			c := float64(v>>(16-8*i)&0xff) / 255
			if c <= 0.04045 {
				c /= 12.92
			} else {
				c = math.Pow((c+0.055)/1.055, 2.4)
			}
			sum += weight * c
		}
		return sum
	}
	for theme, palette := range rgb {
		for ink, least := range map[Ink]float64{Dark: 7, Middle: 4.5, Warm: 4.5} {
			a, b := luminance(palette[ink]), luminance(palette[Paper])
			if ratio := (max(a, b) + 0.05) / (min(a, b) + 0.05); ratio < least {
				t.Errorf("theme %d, ink %d: %.2f to 1", theme, ink, ratio)
			}
		}
	}
}
