package notes

import "testing"

// Sums of fractions put a mark a hair after the note that it is for: its level is that of the mark, and a number.
func TestMarkAHairAfterItsNote(t *testing.T) {
	for _, hair := range []float64{0, 1e-15, 1e-12, 1e-9, -1e-9} {
		c := newCourse([]staffSign{{at: 1 + hair, mark: true, db: -12}})
		if got := c.at(1); got != -12 {
			t.Errorf("%g after: %g dB", hair, got)
		}
	}
	for place, want := range map[float64]float64{1.0 / 3: 1.0 / 3, 0.1 + 0.2: 0.3, 1.0/3 + 1.0/3 + 1.0/3: 1, 1.0 / 128: 1.0 / 128} {
		if onGrid(place) != onGrid(want) {
			t.Errorf("%g and %g are two places", place, want)
		}
	}
}

// Words of level are those that players read as one.
func TestLevelWords(t *testing.T) {
	for text, want := range map[string]float64{"p": -12, "sub. pp": -16, "(mf)": -4, "sempre f, non dim.": 0, "f, dim.": 0} {
		if db, ok := levelWords(text); !ok || db != want || unreadLevel(text) {
			t.Errorf("%q: %g dB, %v", text, db, ok)
		}
	}
	for text, unread := range map[string]bool{"più f": true, "f 2nd time": true, "P": false, "dolce": false,
		"Allegro": false, "meno p": true} {
		if db, ok := levelWords(text); ok || unreadLevel(text) != unread {
			t.Errorf("%q: %g dB, %v", text, db, ok)
		}
	}
}
