package publish

import "testing"

// Cells that a spreadsheet would calculate are shown as text, numbers stay numbers, and nothing is hidden.
func TestSpreadsheet(t *testing.T) {
	t.Parallel()
	for in, want := range map[string]string{
		"Tpt 1":          "Tpt 1",
		"-3.5":           "-3.5",
		"+1e3":           "+1e3",
		"=1+1":           "'=1+1",
		" =1":            "' =1",
		"\t=1":           `\u0009=1`,
		"@SUM(A1)":       "'@SUM(A1)",
		"-2+3":           "'-2+3",
		"＝1":             "'＝1",
		"Tpt\u202e\x1b[": `Tpt\u202e\u001b[`,
		"":               "",
	} {
		if got := defused(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
	f := Spreadsheet("a.csv", [][]string{{"name", "dB"}, {"=1", "-1"}})
	if f.Name != "a.csv" || string(f.Data) != "name,dB\n'=1,-1\n" {
		t.Errorf("%s: %q", f.Name, f.Data)
	}
	if f := ShowCSV("dots.csv", [][]string{{"=1"}}); string(f.Data) != "=1\n" {
		t.Errorf("%q", f.Data)
	}
}
