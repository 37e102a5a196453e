package drill

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"backfield/layout/field"
	"backfield/layout/source"
	"backfield/layout/unit"
)

func read(t *testing.T, sets, dots string) (*Drill, *source.Problems) {
	t.Helper()
	var p source.Problems
	college, _ := field.ByCode("college")
	d := Read(Sheets{Sets: &source.File{Name: "sets.csv", Text: sets},
		Dots: &source.File{Name: "dots.csv", Text: dots, Order: 1}}, college, &p)
	return d, &p
}

func codes(p *source.Problems) string {
	var list []string
	for _, x := range p.All() {
		list = append(list, fmt.Sprintf("%s %s", x.Span.Where(), x.Code))
	}
	return strings.Join(list, "\n")
}

const threeSets = "set,movement,counts,hold\n1,1,0,0\n2,1,16,8\n3,1,8,0\n4,2,16,0\n"

// By hand: 8 counts of walking and 8 of holding, straight lines at even speed.
func TestWhere(t *testing.T) {
	d, p := read(t, threeSets,
		"set,player,lateral,depth\n1,A,on 50,on front hash\n2,A,S2 on 45,on front hash\n3,A,S2 on 45,8 behind front "+
			"hash\n4,A,S2 on 40,8 behind FH\n")
	if p.Errors() > 0 {
		t.Fatal(codes(p))
	}
	a, _ := d.Player("A")
	for _, c := range []struct {
		movement int
		elapsed  float64
		x, y     float64 // steps
	}{
		{1, 0, 0, 32}, {1, 4, 4, 32}, {1, 7.5, 7.5, 32}, {1, 8, 8, 32}, {1, 12, 8, 32}, {1, 16, 8, 32},
		{1, 18, 8, 34}, {1, 24, 8, 40}, {1, 99, 8, 40}, {2, 0, 8, 40}, {2, 8, 12, 40}, {2, 16, 16, 40},
	} {
		at, ok := a.At(d, c.movement, c.elapsed)
		if !ok || math.Abs(at.X/unit.StepM-c.x) > 1e-9 || math.Abs(at.Y/unit.StepM-c.y) > 1e-9 {
			t.Errorf("movement %d, %g counts: %g %g steps, want %g %g", c.movement, c.elapsed, at.X/unit.StepM,
				at.Y/unit.StepM, c.x, c.y)
		}
	}
	if d.Counts(1) != 24 || d.Counts(2) != 16 || d.Counts(3) != 0 {
		t.Errorf("counts %d, %d, %d", d.Counts(1), d.Counts(2), d.Counts(3))
	}
}

// x and y in steps, yards and meters give the same place.
func TestPlainCoordinates(t *testing.T) {
	for _, cells := range []string{"8,32", "5 yd,20 yd", "4.572 m,18.288 m", "180 in,60 ft", "8 steps,720 in"} {
		d, p := read(t, "set,movement,counts\n1,1,0\n", "set,player,x,y\n1,A,"+cells+"\n")
		a, _ := d.Player("A")
		if p.Errors() > 0 || math.Abs(a.Dots[0].At.X-4.572) > 1e-9 || math.Abs(a.Dots[0].At.Y-18.288) > 1e-9 {
			t.Errorf("%s: %+v\n%s", cells, a.Dots[0], codes(p))
		}
	}
}

func TestFaults(t *testing.T) {
	dots := func(rows string) string { return "set,player,lateral,depth\n" + rows }
	still := "1,A,on 50,on FH\n2,A,on 50,on FH\n3,A,on 50,on FH\n4,A,on 50,on FH\n"
	for name, c := range map[string]struct{ sets, dots, want string }{
		"fine": {threeSets, dots(still), ""},
		"hold too long": {"set,movement,counts,hold\n1,1,0,0\n2,1,8,9\n",
			dots("1,A,on 50,on FH\n2,A,on 50,on FH\n"), "sets.csv:3:7 bad-hold"},
		"set twice": {"set,movement,counts\n1,1,0\n1,1,8\n", dots("1,A,on 50,on FH\n"),
			"sets.csv:3:1 duplicate-set"},
		"no counts": {"set,movement,counts\n1,1,0\n2,1,0\n", dots("1,A,on 50,on FH\n2,A,on 50,on FH\n"),
			"sets.csv:3:5 bad-counts"},
		"out of order": {"set,movement,counts\n1,2,0\n2,1,8\n", dots("1,A,on 50,on FH\n2,A,on 50,on FH\n"),
			"sets.csv:3:3 set-order"},
		"not whole": {"set,movement,counts\n1,1,0\n2,1,7.5\n", dots("1,A,on 50,on FH\n2,A,on 50,on FH\n"),
			"sets.csv:3:5 bad-number"},
		"from nowhere": {"set,movement,counts\n1,1,8\n", dots("1,A,on 50,on FH\n"), "sets.csv:2:5 bad-counts"},
		"unknown set":  {threeSets, dots(still + "9,A,on 50,on FH\n"), "dots.csv:6:1 unknown-set"},
		"dot twice":    {threeSets, dots(still + "4,A,on 50,on FH\n"), "dots.csv:6:3 duplicate-dot"},
		"bad dot": {threeSets, dots(strings.Replace(still, "2,A,on 50", "2,A,S1 on 51", 1)),
			"dots.csv:3:11 bad-dot"},
		"gap": {threeSets, dots(strings.Replace(still, "2,A,on 50,on FH\n", "", 1)),
			"dots.csv:2:3 missing-dot"},
		"no end": {threeSets, dots(strings.Replace(still, "4,A,on 50,on FH\n", "", 1)),
			"dots.csv:2:3 missing-dot"},
		"off the field": {threeSets, dots(strings.ReplaceAll(still, "on FH", "10 behind BSL")),
			"dots.csv:2:5 off-field\ndots.csv:3:5 off-field\ndots.csv:4:5 off-field\ndots.csv:5:5 off-field"},
		"pit is no fault": {threeSets, dots(strings.ReplaceAll(still, "on FH", "12 in front of FSL")), ""},
		"just off": {threeSets, dots(strings.ReplaceAll(still, "on FH", "1 behind BSL")),
			"dots.csv:2:5 off-field\ndots.csv:3:5 off-field\ndots.csv:4:5 off-field\ndots.csv:5:5 off-field"},
		"too close": {threeSets,
			dots(still + "1,B,S1 0.49 outside 50,on FH\n2,B,S1 on 40,on FH\n3,B,S1 on 40,on FH\n4,B,S1 on 40,on FH\n"),
			"dots.csv:6:5 too-close\ndots.csv:7:5 step-size"},
		"half a step is ok": {threeSets,
			dots(still +
				"1,B,S1 0.5 outside 50,on FH\n2,B,S1 0.5 outside 50,on FH\n3,B,S1 0.5 outside 50,on FH\n4,B,S1 0.5 " +
				"outside 50,on FH\n"), ""},
	} {
		d, p := read(t, c.sets, c.dots)
		d.Check(nil, p)
		if got := codes(p); got != c.want {
			t.Errorf("%s:\n%s\nwant\n%s", name, got, c.want)
		}
	}
}

// Step sizes by hand, over 8 counts: 10.6 steps are 29.8 in a step, 10.8 are 30.4 (over 6 to 5), 21.4 are
// 60.2 (impossible). Over 4 counts a step of 30.4 in is a leap, 45.3 is not.
func TestStepSizes(t *testing.T) {
	for _, c := range []struct {
		counts int
		steps  float64
		want   string
	}{
		{8, 10.6, ""}, {8, 10.8, "warning"}, {8, 21.3, "warning"}, {8, 21.4, "error"}, {4, 5.4, ""},
		{4, 8.1, "warning"}, {4, 10.7, "error"},
	} {
		d, p := read(t, fmt.Sprintf("set,movement,counts\n1,1,0\n2,1,%d\n", c.counts),
			fmt.Sprintf("set,player,x,y\n1,A,0,32\n2,A,%g,32\n", c.steps))
		d.Check(nil, p)
		got := ""
		for _, x := range p.All() {
			got += x.Severity.String()
		}
		if got != c.want {
			t.Errorf("%g steps in %d counts: %q, want %q\n%s", c.steps, c.counts, got, c.want, codes(p))
		}
	}
	d, p := read(t, "set,movement,counts\n1,1,0\n2,1,8\n", "set,player,x,y\n1,A,-20,32\n2,A,18,32\n")
	d.Check(nil, p)
	if all := p.All(); len(all) != 1 || !strings.Contains(all[0].Do, "wrong side") {
		t.Errorf("a mirrored dot: %+v", all)
	}
}

// Every player within half a step of one before is found, as plain comparison of all pairs finds them.
func TestTooCloseAgainstAllPairs(t *testing.T) {
	var rows strings.Builder
	rows.WriteString("set,player,x,y\n")
	const n = 300
	x, y := make([]float64, n), make([]float64, n)
	seed := uint32(7)
	next := func() float64 { seed = seed*1664525 + 1013904223; return float64(seed>>8) / (1 << 24) }
	for i := range n {
		x[i], y[i] = math.Round(next()*1000)/100-5, math.Round(next()*1000)/100
		fmt.Fprintf(&rows, "1,P%d,%g,%g\n", i, x[i], y[i])
	}
	want := 0
	for i := range n {
		for j := range i {
			if math.Hypot(x[i]-x[j], y[i]-y[j]) < 0.5-1e-9 {
				want++
				break
			}
		}
	}
	d, p := read(t, "set,movement,counts\n1,1,0\n", rows.String())
	d.Check(nil, p)
	if got := strings.Count(codes(p), "too-close"); got != want || want == 0 {
		t.Errorf("found %d players, want %d", got, want)
	}
}

func FuzzSheets(f *testing.F) {
	f.Add(threeSets, "set,player,lateral,depth\n1,A,on 50,on front hash\n2,A,S2 on 45,on FH\n")
	f.Add("set;movement;counts\n1;1;0\n", "set;player;x;y\n1;A;2,5;4 yd\n")
	college, _ := field.ByCode("college")
	f.Fuzz(func(t *testing.T, sets, dots string) {
		var p source.Problems
		d := Read(Sheets{Sets: &source.File{Name: "s", Text: sets},
			Dots: &source.File{Name: "d", Text: dots, Order: 1}},
			college, &p)
		d.Check(nil, &p)
		for _, x := range p.All() {
			if x.Span.File == nil || x.Span.Start < 0 || x.Span.End < x.Span.Start ||
				x.Span.End > len(x.Span.File.Text) {
				t.Fatalf("%s: span %d to %d", x.What, x.Span.Start, x.Span.End)
			}
		}
		for i := range d.Players {
			for m := 1; m <= min(d.Movements(), 3); m++ {
				for _, e := range []float64{0, 0.25, float64(d.Counts(m)) / 2, float64(d.Counts(m))} {
					if at, ok := d.Players[i].At(d, m, e); ok && (math.IsNaN(at.X) || math.IsNaN(at.Y)) {
						t.Fatalf("%s at %d:%g is nowhere", d.Players[i].Name, m, e)
					}
				}
			}
		}
	})
}

// The sheet of sets may say where bells point, and is written with it.
func TestFacing(t *testing.T) {
	sets := "set,movement,counts,hold,facing\n1,1,0,0,\n2,1,16,8,back\n3,1,8,0,-40\n4,2,16,0,Box\n"
	d, p := read(t, sets, "set,player,x,y\n1,A,0,0\n2,A,0,0\n3,A,0,0\n4,A,0,0\n")
	if p.Errors() > 0 {
		t.Fatal(codes(p))
	}
	var got []string
	for _, s := range d.Sets {
		got = append(got, s.Facing.Words())
	}
	if all := strings.Join(got, ","); all != ",back,-40,box" {
		t.Errorf("facings %s", all)
	}
	written, _ := d.Sheets()
	var b strings.Builder
	for _, row := range written {
		b.WriteString(strings.Join(row, ",") + "\n")
	}
	if want := strings.Replace(sets, "Box", "box", 1); b.String() != want {
		t.Errorf("written as\n%swant\n%s", b.String(), want)
	}
	if plain, _ := read(t, threeSets, "set,player,x,y\n"); len(plain.Sets) > 0 {
		if sheet, _ := plain.Sheets(); strings.Join(sheet[0], ",") != "set,movement,counts,hold" {
			t.Errorf("without a facing the header is %v", sheet[0])
		}
	}
	for cell, want := range map[string]string{"left": "sets.csv:3:10 bad-choice", "270": "sets.csv:3:10 out-of-range"} {
		_, p := read(t, strings.Replace(sets, "back", cell, 1), "set,player,x,y\n1,A,0,0\n2,A,0,0\n3,A,0,0\n4,A,0,0\n")
		if got := codes(p); got != want {
			t.Errorf("%s: %s, want %s", cell, got, want)
		}
	}
}

// A crowd on one spot is reported once for each player, not for each pair of them.
func TestCrowd(t *testing.T) {
	var dots strings.Builder
	dots.WriteString("set,player,lateral,depth\n")
	for i := range 50 {
		fmt.Fprintf(&dots, "1,P%d,on 50,on FH\n", i)
	}
	var p source.Problems
	d := Read(Sheets{Sets: &source.File{Text: "set,movement,counts\n1,1,0\n"}, Dots: &source.File{Text: dots.String()}},
		field.Field{MiddleYard: 50, LengthM: 91, WidthM: 48, HashM: 18, DepthStepM: 0.5715}, &p)
	if d.Check(nil, &p); len(p.All()) != 49 {
		t.Errorf("%d problems", len(p.All()))
	}
}
