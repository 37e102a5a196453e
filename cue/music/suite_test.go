package music

import (
	"archive/zip"
	"fmt"
	"io"
	"math"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"backfield/cue/clock"
	"backfield/layout/source"
	"backfield/layout/table"
)

// notCompared are the files of the suite whose notes are not compared, with the reason: they are refused, as said there.
var notCompared = map[string]string{
	// A step back before its measure's beginning, where Backfield stops and the other program does not.
	"11b-TimeSignatures-NoTime.xml": "of 2 and 2 notes the first that differ",

	"31c-MetronomeMarks.xml":   "music-tempo: this tempo is not a number",
	"32ad-Notations5.musicxml": "bad-music: XML syntax error on line 141",
	// The other program leaves out the third and later endings of d, and measures 7 and 9 once each of e.
	"45d-Repeats-Nested-Alternatives.xml": "measures 1 2 1 3 4 5 1 6 7 8 9 1 10 1 11 12",
	"45e-Repeats-Nested-Alternatives.xml": "measures 1 2 1 3 4 5 5 6 7 6 8 9 8 9 10",
	"45f-Repeats-InvalidEndings.xml":      "music-repeats: measure 3 of MusicXML Part: nothing leads back before this ending",
	"90a-Compressed-MusicXML.mxl":         "music-tempo: the music has no tempo", // it cannot be given one, being packed
}

// suiteFiles are the files of the suite by name, and suiteNotes their notes as another program reads them, one a line.
func suiteFiles(t *testing.T) (texts map[string]string, notes map[string][]string) {
	t.Helper()
	archive, err := zip.OpenReader("testdata/suite/suite.zip")
	if err != nil {
		t.Fatal(err)
	}
	defer archive.Close()
	texts, notes = map[string]string{}, map[string][]string{}
	for _, f := range archive.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		raw, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		texts[f.Name] = string(raw)
	}
	raw, err := os.ReadFile("testdata/suite/independent.tsv")
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(string(raw)) {
		name, note, _ := strings.Cut(strings.TrimSpace(line), "\t")
		notes[name] = append(notes[name], note)
	}
	return texts, notes
}

var firstMeasure = regexp.MustCompile(`<measure [^>]*>`)

// withTempo adds a tempo to the first measure, without which no file is taken.
func withTempo(text string) string {
	at := firstMeasure.FindStringIndex(text)
	if at == nil || strings.Contains(text, "tempo=") {
		return text
	}
	return text[:at[1]] + `<sound tempo="120"/>` + text[at[1]:]
}

// Every part's notes, with their beginnings, lengths and sounding pitches, are those that a program reads which is not
// ours.
func TestSuite(t *testing.T) {
	texts, other := suiteFiles(t)
	compared, notes := 0, 0
	for name, text := range texts {
		p := &source.Problems{}
		r := musicReader{path: name, raw: []byte(withTempo(text)), at: table.Text{}.Span, p: p}
		c := r.read()
		why := ""
		if c == nil {
			why = firstError(p)
		} else {
			ours, order := listed(c.parts), asPlayed(c.bars)
			if order != "" {
				ours = append(ours, "order\t"+order)
			}
			if why = firstDifference(ours, other[name]); why != "" && order != "" {
				why = "measures " + order
			}
			if why == "" {
				compared, notes = compared+1, notes+len(ours)
			}
		}
		if reason, refused := notCompared[name]; !strings.HasPrefix(why, reason) || !refused && why != "" {
			t.Errorf("%s: %q, and the reason that is listed is %q", name, why, reason)
		}
	}
	if compared != len(texts)-len(notCompared) || notes < 1790 {
		t.Errorf("%d of %d files and %d notes were compared", compared, len(texts), notes)
	}
}

func firstError(p *source.Problems) string {
	for _, x := range p.All() {
		return x.Code + ": " + x.What
	}
	return ""
}

// asPlayed lists the numbers of the measures in the order in which they are played, if any is played twice.
func asPlayed(bars []bar) string {
	var list []string
	again := false
	for _, b := range bars {
		number, _, twice := strings.Cut(b.number, "(")
		list, again = append(list, number), again || twice
	}
	if !again {
		return ""
	}
	return strings.Join(list, " ")
}

var staffNumber = regexp.MustCompile(`, staff (\d+)`)

// listed writes the notes as the other program's list has them.
func listed(parts []clock.MusicPart) (list []string) {
	number, before := 0, ""
	for _, p := range parts {
		staff, name := "1", p.Name
		if m := staffNumber.FindStringSubmatch(p.Name); m != nil {
			staff, name = m[1], strings.Replace(p.Name, m[0], "", 1)
		}
		if staff == "1" || name != before {
			number++
		}
		before = name
		round := func(v float64) float64 { return math.Round(v*1e4) / 1e4 }
		for _, n := range p.Notes {
			list = append(list, fmt.Sprintf("%d\t%s\t%g\t%g\t%g", number, staff, round(n.From), round(n.To-n.From), n.Key))
		}
	}
	return list
}

func firstDifference(ours, theirs []string) string {
	ours, theirs = slices.Sorted(slices.Values(ours)), slices.Sorted(slices.Values(theirs))
	for i := range max(len(ours), len(theirs)) {
		a, b := "nothing", "nothing"
		if i < len(ours) {
			a = ours[i]
		}
		if i < len(theirs) {
			b = theirs[i]
		}
		if a != b {
			return fmt.Sprintf("of %d and %d notes the first that differ: ours %q, theirs %q", len(ours), len(theirs), a, b)
		}
	}
	return ""
}
