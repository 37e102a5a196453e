package field

import (
	"math"
	"slices"
	"testing"
)

// A word is named as it is written, whatever it stands for; a meaning that only says again where a line is says nothing.
func TestWordsAsWritten(t *testing.T) {
	f, _ := ByCode("college")
	f = f.Saying([]Word{{From: "HS", To: "home sideline"}, {From: "VS", To: "visitor sideline"}, {From: "FHH", To: "front hash"}})
	hash := f.FrontHashM()
	step := f.DepthStepM
	for text, want := range map[string]float64{
		"8 behind front hash (HS)":      hash + 8*step,
		"on back hash (VS)":             f.BackHashM(),
		"on front hash (FHH)":           hash,
		"2 behind HS (HS)":              2 * step,
		"4 ifo FH (home sideline)":      hash - 4*step,
		"8 Behind Front Hash mark (HS)": hash + 8*step,
	} {
		if y, fault := f.Depth(text); fault != nil || math.Abs(y-want) > 1e-9 || len(f.Strange(text)) > 0 {
			t.Errorf("%s: %v, want %v (%v, %q)", text, y, want, fault, f.Strange(text))
		}
	}
	for text, word := range map[string]string{
		"8 behind front hash (VS)": "(VS)", // the other side
		"on HS (FHH)":              "(FHH)",
		"on back hash (HS)":        "(HS)",
	} {
		_, fault := f.Depth(text)
		if fault == nil || fault.Word != word || !slices.Equal(f.Strange(text), []string{word}) {
			t.Errorf("%s: %+v, %q", text, fault, f.Strange(text))
		}
		if _, _, fault := f.ReadDot("on 50; " + text); fault == nil || fault.Word != word {
			t.Errorf("%s in a dot: %+v", text, fault)
		}
	}
}

// A comma separates the halves also where the second is the name of a line alone.
func TestCommaBeforeLine(t *testing.T) {
	f, _ := ByCode("college")
	for text, want := range map[string]float64{"50, FH": f.FrontHashM(), "on 50, FH": f.FrontHashM(), "on 50, HSL": 0,
		"side 1, 2 inside 35, BH": f.BackHashM(), "on 50, home hash": f.FrontHashM(),
		"50, visitor sideline": f.WidthM, "S2, on 40, front hash": f.FrontHashM()} {
		if _, y, fault := f.ReadDot(text); fault != nil || math.Abs(y-want) > 1e-9 {
			t.Errorf("%s: %v, want %v: %v", text, y, want, fault)
		}
	}
}
