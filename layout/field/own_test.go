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

// A word that means one thing already may be spelled out, and not given another meaning.
func TestClash(t *testing.T) {
	for _, c := range []struct{ from, to, means string }{
		{"FH", "back hash", "front hash"}, {"FH", "front hash", ""}, {"fh", "Front hash mark", ""}, {"HH", "home hash", ""},
		{"HH", "FH", ""}, {"FSL", "front side line", ""}, {"HSL", "the home sideline", ""}, {"VH", "visitors hash line", ""},
		{"BSL", "back hash", "back sideline"}, {"in", "outside", "inside"}, {"In", "inside", ""}, {"beh", "behind", ""},
		{"ifo", "in front of", ""}, {"ifo", "front of", ""}, {"ifo", "behind", "in front of"}, {"behind", "", "behind"},
		{"S1", "side A", ""}, {"S1", "side 2", "side 1"}, {"beh", "in back of", ""}, {"SL", "side line", ""},
		{"HS", "hash", ""}, {"Left", "side 1", ""}, {"back", "behind", ""}, {"B", "back", ""}, // no such words
	} {
		means, clash := Word{From: c.from, To: c.to}.Clash()
		if clash != (c.means != "") || clash && means != c.means {
			t.Errorf("%q = %q: %q, %v, want %q", c.from, c.to, means, clash, c.means)
		}
	}
}

// A number that is written oddly is refused plainly at its place, or read as what it is.
func TestOddNumbers(t *testing.T) {
	f, _ := ByCode("college")
	for text, want := range map[string]string{
		"1e308 in front of front hash":       `"1e308" is not how a number of steps or a yard line is written`,
		"2.5E+00 behind FH":                  `"2.5E+00" is not how a number of steps or a yard line is written`,
		"0x10 behind FH":                     `"0x10" is not how a number of steps or a yard line is written`,
		"１２ behind FH":                       `"１" is a digit of another kind than 0 to 9`,
		"٤ behind FH":                        `"٤" is a digit of another kind than 0 to 9`,
		"NaN behind FH":                      "a hash or sideline is missing or not known",
		"4\u00a0behind\u2009front\u202fhash": "",
		"4 behind \u200bFH":                  `"\u200b" does not belong in a dot`,
		"4 st behind FH":                     "",
		"4-1/2 behind FH":                    "",
	} {
		_, fault := f.Depth(text)
		got := ""
		if fault != nil {
			got = fault.What
		}
		if got != want {
			t.Errorf("%s: %s, want %s", text, got, want)
		}
	}
	if x, fault := f.Lateral("side 2,\u00a02e1 outside 40"); fault == nil || fault.Lo != 9 || fault.Hi != 12 {
		t.Errorf("%g %v", x, fault)
	}
	if x, fault := f.Lateral("S1\u00a02\u00a0inside\u00a035"); fault != nil || math.Abs(x/unit.StepM+22) > 1e-9 {
		t.Errorf("%g %v", x, fault)
	}
}
