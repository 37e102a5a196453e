package picture

import (
	"bytes"
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
	"strings"
	"sync"
	"testing"

	"backfield/cmd/backfield/letters"
	"backfield/cmd/backfield/show"
	"backfield/cue/clock"
	"backfield/layout"
	"backfield/layout/drill"
	"backfield/layout/field"
	"backfield/layout/source"
	"backfield/layout/unit"
)

var update = flag.Bool("update", false, "write the golden pictures")

const examples = "../../../examples/"

// compiled reads an example, once for all tests.
var compiled = func() func(t *testing.T, name, venue string) *show.Loaded {
	var lock sync.Mutex
	known := map[string]*show.Loaded{}
	return func(t *testing.T, name, venue string) *show.Loaded {
		t.Helper()
		if name == "harbor" && testing.Short() {
			t.Skip("compiles the demo")
		}
		lock.Lock()
		defer lock.Unlock()
		if known[name+venue] == nil {
			var p source.Problems
			o := show.LoadOptions{}
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

func drawn(t *testing.T, s *show.Loaded, id string, look Look) *Drawing {
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

// The pictures of some cues, byte by byte. After a change, write them with -update and look at them.
func TestGolden(t *testing.T) {
	tiny, harbor := compiled(t, "tiny", ""), compiled(t, "harbor", "")
	cases := map[string]*Drawing{
		"tiny-2":     drawn(t, tiny, "2", Look{}),
		"harbor-6":   drawn(t, harbor, "6", Look{}),
		"harbor-13":  drawn(t, harbor, "13", Look{Night: true}),
		"zones-8":    drawn(t, compiled(t, "harbor", zones), "8", Look{}),
		"field-home": emptyField(harbor.Rig),
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
func middle(s Shape) XY {
	b := bounds(s.Points)
	return XY{(b.x0 + b.x1) / 2, (b.y0 + b.y1) / 2}
}

func bounds(points []XY) box {
	b := box{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	for _, p := range points {
		b = box{min(b.x0, p.X), min(b.y0, p.Y), max(b.x1, p.X), max(b.y1, p.Y)}
	}
	return b
}

func near(p XY, x, y float64) bool { return math.Hypot(p.X-x, p.Y-y) < 1e-6 }

// By hand, examples/tiny at cue 1: the trumpet, open, on the 50 and the front hash, 60 ft deep. The baritone, closed,
// on the 35 of side 2 and 8 steps behind the hash: 15 yd to the right and 60 ft + 180 in deep. The audience is at the
// bottom.
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
	// The same in the units of the file, and inside its view box.
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

// A PNG has ink at a player, paper next to the player, and the requested width.
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
			p    XY
			want Ink
		}{
			{"the trumpet", XY{0, -18.288}, Dark}, {"next to the trumpet", XY{-6.5, -21}, Paper},
			{"within the baritone's mark", XY{13.716, -22.86}, Paper},
			{"the left stack", XY{-20, 2}, Dark}, {"the line to the image", XY{0, -8}, Warm},
			{"the front sideline", XY{-11, 0}, Middle},
			{"a corner", XY{d.Min.X + 0.1, d.Min.Y + 0.1}, Paper},
		} {
			if got := at(c.p.X, c.p.Y); got != palette[c.want] {
				t.Errorf("night %v, %s: #%06x, want #%06x", night, c.what, got, palette[c.want])
			}
		}
	}
}

// Every cue of the demo, in stereo and with zones: the file is valid XML, all text is inside, every open mic has its
// name, no name covers another or an open mark, and drawing twice gives the same bytes.
func TestEveryCue(t *testing.T) {
	for _, venue := range []string{"", zones} {
		s := compiled(t, "harbor", venue)
		for i, snapshot := range s.Show.Cues {
			d := drawn(t, s, snapshot.ID, Look{})
			text := svg(t, d)
			wellFormed(t, text)
			if i%10 == 0 && svg(t, drawn(t, s, snapshot.ID, Look{})) != text {
				t.Errorf("cue %s is drawn differently the second time", snapshot.ID)
			}
			names := map[string]bool{}
			var spots []box
			for _, l := range shapes(d, "label") {
				if l.Fill == Paper {
					continue
				}
				names[l.Text] = true
				long := letters.Wide(l.Text, l.SizeM, l.Bold)
				if l.Tail != "" {
					long += letters.Wide(" "+l.Tail, l.SizeM, false)
				}
				p := l.Points[0]
				spots = append(spots, box{p.X - long/2, p.Y - letters.Ascent*l.SizeM, p.X + long/2, p.Y})
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
				if p := w.Points[0]; w.Text != "" && (p.X < d.Min.X || p.X+letters.Wide(w.Text, w.SizeM, w.Bold) > d.Min.X+d.W ||
					p.Y > d.Min.Y+d.H || p.Y-letters.Ascent*w.SizeM < d.Min.Y) {
					t.Errorf("cue %s: %q is cut off", snapshot.ID, w.Text)
				}
			}
		}
	}
}

func wellFormed(t *testing.T, text string) {
	t.Helper()
	if strings.Contains(text, "NaN") || strings.Contains(text, "Inf") || strings.Contains(text, `"-0.0`) {
		t.Error("the file has an invalid number")
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

// Bare pictures have no caption and no legend, and the size of the requested frame.
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
func TestPath(t *testing.T) {
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
	steps := func(path []layout.Point) string {
		var b strings.Builder
		for _, p := range path {
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
		if got := steps(Path(d, a, m(c.from), m(c.to))); got != c.want {
			t.Errorf("from %g to %g: %s, want %s", c.from, c.to, got, c.want)
		}
	}
	if path := Path(d, &drill.Marcher{Name: "nobody", Dots: make([]drill.Dot, 4)}, m(0), m(8)); len(path) > 0 {
		t.Errorf("a player without dots has the path %v", path)
	}
}

func TestUnknownCue(t *testing.T) {
	if _, err := Cue(compiled(t, "harbor", ""), "17B", Look{}); err == nil ||
		!strings.Contains(err.Error(), `no cue "17B"; did you mean`) {
		t.Errorf("%v", err)
	}
}
