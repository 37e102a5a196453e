package field

import (
	"math"
	"strings"
	"testing"

	"backfield/layout/unit"
)

// Fractions, hash lines and a hash of the field's own rule book are read as staff write them. The steps are worked by
// hand: the college hash is 32 steps from its sideline, the 35 is 24 from the 50.
func TestStaffNotations(t *testing.T) {
	for text, want := range map[string][2]float64{
		"side 1, 1/2 inside 35; 3-1/4 behind front hash":         {-23.5, 35.25},
		"side 1, 3½ inside 35, ½ in front of FH":                 {-20.5, 31.5},
		"S2 3 ¾ outside 40; on front hash line":                  {19.75, 32},
		"S2 1\u20442 out 40, 2 1\u20444 behind the FH":           {16.5, 34.25},
		"Side 1: 3-½ steps inside 35 yd ln, 8 steps Behind FH":   {-20.5, 40},
		"side 2, on 50 yard line, on the front hash marks":       {0, 32},
		"Side 1: 2.0 steps outside 45 yd ln; On Front Hash":      {-10, 32},
		"side 1, on 45; 8 steps Behind Front Hash (NCAA)":        {-8, 40},
		"side 1, on 45; 8.0 steps In Front Of Front Hash (ncaa)": {-8, 24},
	} {
		f, _ := ByCode("college")
		x, y, fault := f.ReadDot(text)
		if fault != nil || math.Abs(x/unit.StepM-want[0]) > 1e-9 || math.Abs(y/unit.StepM-want[1]) > 1e-9 {
			t.Errorf("%q: %g, %g (%v), want %v", text, x/unit.StepM, y/unit.StepM, fault, want)
		}
	}
	high, _ := ByCode("high-school")
	if y, fault := high.Depth("8 steps Behind Front Hash (HS)"); fault != nil ||
		math.Abs(y-(640+8*22.5)*unit.InchM) > 1e-9 {
		t.Errorf("%g m, %v", y, fault)
	}
}

// What could be read in two ways is refused, with the line that settles it.
func TestStaffNotationsInDoubt(t *testing.T) {
	f, _ := ByCode("college")
	for text, want := range map[string]string{
		"8 behind front hash (HS)":  `"(HS)" = ""`,
		"4 behind HS":               `"HS" = "..."`,
		"4 behind front hash blue":  `"blue" = "..."`,
		"4 behind fr hash":          `"fr" = "..."`,
		"3-4 behind front hash":     "a dot cannot have a minus sign",
		"1/2 1/2 behind front hash": "a hash or sideline is missing",
		"3½½ behind front hash":     "a hash or sideline is missing",
		"4 behind (front hash":      `"(" does not belong in a dot`,
	} {
		_, fault := f.Depth(text)
		if fault == nil || !strings.Contains(fault.Error(), want) {
			t.Errorf("%q: %v, want %s", text, fault, want)
		}
	}
	if _, fault := f.Lateral("Left 4 outside 40"); fault == nil ||
		!strings.Contains(fault.Do, `in [drill.words]: "Left" = "side 1"`) {
		t.Error(fault)
	}
}

// A staff's own words are read as what they stand for, and a mistake is still shown where it was written.
func TestOwnWords(t *testing.T) {
	f, _ := ByCode("college")
	f = f.Saying([]Word{{"L", "side 1"}, {"Left", "side 1"}, {"R", "side 2"}, {"(HS)", ""}, {"lne", "line"},
		{"HS", "front sideline"}, {"Out of", "outside"}})
	for text, want := range map[string][2]float64{
		"Left 2 in 35; 12 behind HS":              {-22, 12},
		"4 out R40; on front hash lne":            {20, 32},
		"L: 2 inside 35, 8 behind FH (HS)":        {-22, 40},
		"LEFT 2 Out Of 35 yd lne;8 behind FH(hs)": {-26, 40},
	} {
		x, y, fault := f.ReadDot(text)
		if fault != nil || math.Abs(x/unit.StepM-want[0]) > 1e-9 || math.Abs(y/unit.StepM-want[1]) > 1e-9 {
			t.Errorf("%q: %g, %g (%v), want %v", text, x/unit.StepM, y/unit.StepM, fault, want)
		}
	}
	for text, part := range map[string]string{"Left 2 inside 37; on FH": "37", "R 2 in 35; 8 behind lne FH": "lne"} {
		_, _, fault := f.ReadDot(text)
		if fault == nil || text[fault.Lo:fault.Hi] != part {
			t.Errorf("%q: %+v", text, fault)
		}
	}
	if got := f.InWords("Left 2 in 35"); strings.TrimSpace(got) != "side 1  2 in 35" {
		t.Errorf("%q", got)
	}
}

// The words that a sheet has and that are read by nobody else are listed as written.
func TestStrange(t *testing.T) {
	f, _ := ByCode("college")
	got := strings.Join(f.Strange("Left: 2 Steps inside the 35 yd ln; 4 abaft Front Hash (HS)"), "|")
	if got != "Left|abaft|(HS)" {
		t.Error(got)
	}
	if got := f.Strange("side 1, 3-1/4 inside 35; ½ ifo FH (NCAA)"); got != nil {
		t.Error(got)
	}
}
