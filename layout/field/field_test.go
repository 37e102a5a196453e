package field

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"backfield/layout"
	"backfield/layout/unit"
)

func published(t *testing.T, name string) (rows []map[string]string) {
	t.Helper()
	f, err := os.Open("../../testdata/published/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range all[1:] {
		row := map[string]string{}
		for i, h := range all[0] {
			row[h] = r[i]
		}
		rows = append(rows, row)
	}
	if len(rows) == 0 {
		t.Fatalf("%s has no rows", name)
	}
	return rows
}

func num(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

var byPublishedCode = map[string]string{"NCAA": "college", "NFHS": "high-school", "NFHS exact": "high-school",
	"NFL": "pro", "Canadian amateur": "canadian"}

// The rule books' dimensions; sources in testdata/published/README.md.
func TestFieldDimensions(t *testing.T) {
	for _, row := range published(t, "field_dimensions.csv") {
		f, ok := ByCode(byPublishedCode[row["code"]])
		if !ok {
			t.Fatalf("no field for %q", row["code"])
		}
		for what, pair := range map[string][2]float64{
			"length":   {f.LengthM, num(t, row["length_m"])},
			"width":    {f.WidthM, num(t, row["width_m"])},
			"hash":     {f.FrontHashM(), num(t, row["hash_from_sideline_m"])},
			"end zone": {f.EndZoneM / unit.YardM, num(t, row["end_zone_yd"])},
			"between hashes": {(f.BackHashM() - f.FrontHashM()) / (12 * unit.InchM),
				num(t, row["between_hashes_ft"])},
			"goal line in steps": {f.LengthM / unit.StepM, num(t, row["goal_to_goal_8to5_steps"])},
			"front hash steps": {f.FrontHashM() / f.DepthStepM,
				num(t, row["front_hash_8to5_steps_from_front_sideline"])},
			"back hash steps": {f.BackHashM() / f.DepthStepM, num(t, row["back_hash_8to5_steps_from_front_sideline"])},
		} {
			if math.Abs(pair[0]-pair[1]) > 1e-6 {
				t.Errorf("%s %s: %g, published %g", row["code"], what, pair[0], pair[1])
			}
		}
	}
}

// Worked dots on three fields; sources in testdata/published/README.md. The rows of the "28-step
// convention" move the hash instead of scaling the step and are not what grid = "28" means.
func TestPublishedDots(t *testing.T) {
	checked := 0
	for _, row := range published(t, "marching_coordinates.csv") {
		f, ok := ByCode(byPublishedCode[row["code"]])
		if !ok {
			continue
		}
		checked++
		x, y, fault := f.ReadDot(row["coordinate_text"])
		if fault != nil {
			t.Errorf("%s: %v", row["coordinate_text"], fault)
			continue
		}
		if math.Abs(x-num(t, row["x_m"])) > 1e-6 || math.Abs(y-num(t, row["y_m"])) > 1e-6 {
			t.Errorf("%s %s: %.6f %.6f, published %s %s", row["code"], row["coordinate_text"], x, y, row["x_m"],
				row["y_m"])
		}
	}
	if checked != 21 {
		t.Errorf("checked %d rows, want 21", checked)
	}
}

// On the 28-step grid 28 steps reach the high-school hash exactly and 84 the back sideline: a step is 640/28 in.
func TestGrid28(t *testing.T) {
	f, _ := ByCode("high-school")
	f = f.Grid28()
	for text, wantIn := range map[string]float64{
		"28 behind front sideline": 640, "4 behind front hash": 32 * 640. / 28, "84 behind FSL": 1920,
		"8 in front of BH": 48 * 640. / 28, "on front hash": 640,
	} {
		y, fault := f.Depth(text)
		if fault != nil || math.Abs(y-wantIn*unit.InchM) > 1e-9 {
			t.Errorf("%q: %g m (%v), want %g in", text, y, fault, wantIn)
		}
	}
}

func TestLateralForms(t *testing.T) {
	f, _ := ByCode("college")
	for text, steps := range map[string]float64{
		"on 50": 0, "50": 0, "On the 50 yard line": 0, "S1 on 50": 0, "side 2, on 50 yd ln": 0,
		"S1 2 inside 35": -22, "side 1, 2 inside 35": -22, "Side 1: 2 steps inside the 35 yd line": -22,
		"s1 2 IN 35":         -22,
		"2 inside 35 side 1": -22, "side A 2 inside 35": -22, "S2 2 outside 35": 26, "side2 2 out 35": 26,
		"S 2 2 out 35":          26,
		"side 2, 2.5 inside 40": 13.5, "side 2, 2 1/2 inside 40": 13.5, "S2 1/2 inside 40": 15.5,
		"S1 4 outside goal line": -84,
		"S1 on G":                -80, "S1 40": -16, "S1: on 40": -16, "S1 3 outside 50": -3, "S2 .25 inside 45": 7.75,
		"side 1 - 2 inside 35": -22, "S2 2 outside of the 35": 26, "S1 0 inside 45": -8,
		"4 outside S1 40": -20, "4 inside side 2 40": 12, "On S2 40": 16, "4 outside of side A the 40": -20,
	} {
		x, fault := f.Lateral(text)
		if fault != nil || math.Abs(x/unit.StepM-steps) > 1e-9 {
			t.Errorf("%q: %g steps (%v), want %g", text, x/unit.StepM, fault, steps)
		}
	}
}

func TestDepthForms(t *testing.T) {
	f, _ := ByCode("college")
	for text, steps := range map[string]float64{
		"on front hash": 32, "front hash": 32, "on FH": 32, "On the Front Hash": 32, "on home hash": 32, "at HH": 32, "0 on HH": 32,
		"4 behind front hash": 36, "4 beh FH": 36, "4 bh FH": 36, "4 BH the front hash": 36, "4 steps behind the front hash mark": 36, "4 in back of fh": 36,
		"4 in rear of fh": 36, "4 steps rear of front hash": 36, "4 behind of FH": 36,
		"6 in front of front hash": 26, "6 ifo FH": 26, "6 front of FH": 26, "6 in front of the home hash": 26,
		"8 in front of BH": 160./3 - 8, "on visitor hash": 160. / 3, "12 behind front sideline": 12,
		"3 in front of front side line": -3,
		"10.5 in front of BSL":          256./3 - 10.5, "2 1/4 behind VH": 160./3 + 2.25, "on back sideline": 256. / 3,
	} {
		y, fault := f.Depth(text)
		if fault != nil || math.Abs(y/unit.StepM-steps) > 1e-9 {
			t.Errorf("%q: %g steps (%v), want %g", text, y/unit.StepM, fault, steps)
		}
	}
}

func TestDotFaults(t *testing.T) {
	f, _ := ByCode("college")
	for _, c := range []struct {
		text, part, what string
		depth            bool
	}{
		{"2 inside 35", "2", "side is missing", false},
		{"S1 2 inside 37", "37", "no 37 yard line", false},
		{"S1 2 inside 55", "55", "no 55 yard line", false},
		{"S1 2 inside 50", "50", "nothing is inside", false},
		{"S1 20 inside 40", "40", "past the 50", false},
		{"S1 inside 35", "inside", "number of steps", false},
		{"S1 2 35", "35", "inside or outside", false},
		{"S1 2 inside", "", "yard line is missing", false},
		{"S1 2 inside 35 blue", "blue", "not expected", false},
		{"S1 999 inside 35", "999", "more than any field", false},
		{"S3 2 inside 35", "S", "", false},
		{"S1 2 inside 3*5", "*", "does not belong", false},
		{"S1 -3 outside 50", "-", "a dot cannot have a minus sign", false},
		{"-4 behind front hash", "-", "a dot cannot have a minus sign", true},
		{"S1-2 inside 35", "-", "a dot cannot have a minus sign", false},
		{"4 outside R 40", "R", "the audience's or the players'", false},
		{"left: 4 outside 40", "left", "the audience's or the players'", false},
		{"S1 4 outside S2 40", "S2", "yard line is missing", false},
		{"", "", "empty", false},
		{"4 behind fron hash", "fron", "hash or sideline", true},
		{"4 front hash", "front", "in front of or behind", true},
		{"behind front hash", "behind", "number of steps", true},
		{"4 behind", "", "hash or sideline", true},
		{"1/0 behind FH", "1/0", "not a number", true},
	} {
		read := f.Lateral
		if c.depth {
			read = f.Depth
		}
		_, fault := read(c.text)
		if fault == nil {
			t.Errorf("%q was read without a fault", c.text)
			continue
		}
		if !strings.Contains(fault.What, c.what) ||
			c.part != "" && !strings.Contains(c.text[fault.Lo:fault.Hi], c.part) {
			t.Errorf("%q: fault %q at %q, want %q at %q", c.text, fault.What, c.text[fault.Lo:fault.Hi], c.what, c.part)
		}
	}
}

// What Dot words, ReadDot reads back to within half a hundredth of a step.
func TestDotRoundTrip(t *testing.T) {
	for _, code := range Codes() {
		f, _ := ByCode(code)
		for _, f := range []Field{f, f.Grid28()} {
			for sx := -100.0; sx <= 100; sx += 3.37 {
				for sy := -10.0; sy <= 110; sy += 2.71 {
					p := layout.Point{X: sx * unit.StepM, Y: sy * unit.StepM}
					x, y, fault := f.ReadDot(f.Dot(p))
					if fault != nil {
						t.Fatalf("%s: %v", f.Dot(p), fault)
					}
					if math.Abs(x-p.X) > 0.0051*unit.StepM || math.Abs(y-p.Y) > 0.0051*f.DepthStepM {
						t.Fatalf("%+v -> %q -> %g %g", p, f.Dot(p), x, y)
					}
				}
			}
		}
	}
}

func FuzzDot(f *testing.F) {
	for _, s := range []string{"side 1, 2 inside 35; 4 behind front hash", "S2 1/2 out 40|on BH", "on 50;on FSL",
		"s 1 2 in g ; ifo", "S1 .5 inside 35;1 ifo fh",
		"S1 3-1/4 in 35, ½ behind FH (HS)"} {
		f.Add(s)
	}
	college, _ := ByCode("college")
	f.Fuzz(func(t *testing.T, text string) {
		x, y, fault := college.ReadDot(text)
		if fault != nil {
			if fault.Lo < 0 || fault.Hi < fault.Lo || fault.Hi > len(text) || fault.What == "" || fault.Do == "" {
				t.Fatalf("%q: fault %+v", text, *fault)
			}
			return
		}
		p := layout.Point{X: x, Y: y}
		x2, y2, fault := college.ReadDot(college.Dot(p))
		if fault != nil || math.Abs(x2-x) > 0.0051*unit.StepM || math.Abs(y2-y) > 0.0051*unit.StepM {
			t.Fatalf("%q is %+v, words %q, read back %g %g %v", text, p, college.Dot(p), x2, y2, fault)
		}
	})
}

// A comma stands between the halves of a dot only where the second half begins like one.
func TestHalvesAtComma(t *testing.T) {
	for text, want := range map[string]string{
		"S1 on 45, on FH":                          "S1 on 45| on FH",
		"side 1, 2 inside 35, 4 behind front hash": "side 1, 2 inside 35| 4 behind front hash",
		"on 50, in front of the front sideline":    "on 50| in front of the front sideline",
		"S2 4 out 40, 2,5 behind BH":               "S2 4 out 40| 2,5 behind BH",
		"S1 4.0 in 45 / 8 bhd FH":                  "S1 4.0 in 45 | 8 bhd FH",
		"S1 3 1 / 2 in 45":                         "S1 3 1 / 2 in 45|",
		"side 1, 2 inside 35":                      "side 1, 2 inside 35|",
		"side 1, on 35":                            "side 1, on 35|",
		"S2 4 out 40 4,5 behind FH":                "S2 4 out 40 4,5 behind FH|",
		"side 1, on 35; 4,5 behind FH":             "side 1, on 35| 4,5 behind FH",
	} {
		across, along := Halves(text)
		if got := across + "|" + along; got != want {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
}

// TestWalk: worked by hand, with 8 steps of 22.5 inches in 5 yards. The side in the dot is where the player ends, and not
// always the side that the walk goes toward.
func TestWalk(t *testing.T) {
	f, _ := ByCode("college")
	step := unit.StepM
	front := f.FrontHashM()
	for _, w := range []struct {
		from, to [2]float64 // steps from the 50 toward side 2, steps behind front hash
		want     string
	}{
		{[2]float64{12.8, 0}, [2]float64{7, 0}, "5.8 steps toward side 1, to S2, 1 inside the 45; on the front hash"},
		{[2]float64{3, 0}, [2]float64{-2, 0}, "5.0 steps toward side 1, to S1, 2 outside the 50; on the front hash"},
		{[2]float64{-12, 0}, [2]float64{-8, 0}, "4.0 steps toward side 2, to S1, on the 45; on the front hash"},
		{[2]float64{0, 0}, [2]float64{0, 4}, "4.0 steps toward the back, to the 50; 4 behind front hash"},
		{[2]float64{3, 5}, [2]float64{0, 1}, "5.0 steps toward the front, to the 50; 1 behind front hash"},
		{[2]float64{0, 2}, [2]float64{3, 0}, "3.6 steps toward side 2, to S2, 3 outside the 50; on the front hash"},
	} {
		at := func(s [2]float64) layout.Point { return layout.Point{X: s[0] * step, Y: front + s[1]*f.DepthStepM} }
		if got := f.Walk(at(w.from), at(w.to)); got != w.want {
			t.Errorf("%v to %v: %q, not %q", w.from, w.to, got, w.want)
		}
	}
}
