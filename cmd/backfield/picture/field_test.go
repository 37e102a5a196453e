package picture

import (
	"encoding/csv"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"backfield/layout"
	"backfield/layout/field"
	"backfield/layout/rig"
	"backfield/layout/unit"
)

// emptyField draws the field of a rig without players, from end line to end line.
func emptyField(r *rig.Rig) *Drawing {
	end := r.Field.LengthM/2 + r.Field.EndZoneM
	f := Look{}.frame(r, []layout.Point{{X: -end}, {X: end, Y: r.Field.WidthM}})
	d := Look{}.drawing("The field", f)
	d.field(r, f)
	return d
}

// For every rule book, hashes and numbers are where testdata/published has them, and nothing is off the field.
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
		d := emptyField(&rig.Rig{Field: f, Reference: layout.Point{Y: -30, Z: 10}})
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

// A field with its own measures, no room for numbers, another number in the middle, and the seat on the field.
func TestOwnField(t *testing.T) {
	f := field.Field{Code: "own", LengthM: 60, EndZoneM: 5, WidthM: 16, HashM: 6, MiddleYard: 30, DepthStepM: unit.StepM}
	r := &rig.Rig{Field: f, Reference: layout.Point{Y: 3}}
	d := emptyField(r)
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
		t.Error("the seat is not described")
	}
}
