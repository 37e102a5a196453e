package term

import (
	"strings"
	"testing"
	"unicode/utf8"
)

func TestWrap(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		line    string
		columns int
		want    string
	}{
		{"short", 40, "short"},
		{"a line that is not broken in a pipe, however long it is", 0, "a line that is not broken in a pipe, however long it is"},
		{"Bari 6, set 4: 4 steps back; moves in cues 4 and 5", 30,
			"Bari 6, set 4: 4 steps back;\n    moves in cues 4 and 5"},
		{"  3 Tpt 3   delay 62.3 -> 68.5 ms (+6.2), level +1.0 dB", 40,
			"  3 Tpt 3   delay 62.3 -> 68.5 ms\n            (+6.2), level +1.0 dB"},
		{"    why: air; 6.0 steps farther back and 2.0 toward side 1", 40,
			"    why: air; 6.0 steps farther back and\n        2.0 toward side 1"},
		{"move in cues 1 and 2, by at most 4.2 ms of it", 38, "move in cues 1 and 2, by at most\n    4.2 ms of it"},
		{"cannot read averyveryverylongnameofafolder/show.toml here", 24,
			"cannot read\n    averyveryverylongnameofafolder/show.toml\n    here"},
		{"                              deep in a table, and long", 40,
			"                              deep in a\n                    table, and long"},
	} {
		if got := strings.Join(Wrap(c.line, c.columns), "\n"); got != c.want {
			t.Errorf("%q in %d columns:\n%s\nwant\n%s", c.line, c.columns, got, c.want)
		}
	}
}

// What is to be copied, or is in its columns already, stays whole.
func TestWholeLines(t *testing.T) {
	t.Parallel()
	for line, want := range map[string]bool{
		"   16 | at = \"set 5 - 2\"": true, "      |      ^~~": true, "support = { level = -9 }": true,
		"\"Horn 1\" = 1.5": true, "[[cue]]": true, "  open.feature = [\"Tpt 1\"]": true, "# the bed": true,
		"  delay       60 ms = own sound 159.5 - inner left 119.5": false, "cue 2: moved, 1:11 -> 1:9; cue 2 comes": false,
	} {
		if got := whole.MatchString(line); got != want {
			t.Errorf("%q stays whole: %v, want %v", line, got, want)
		}
	}
}

// At any width no word is lost, and no line is too long that has more than one word.
func FuzzWrap(f *testing.F) {
	f.Add("  own sound   66.2 m to the reference seat, which is high up in the stands behind the 50", 40)
	f.Add("\u00e9 \u4e2d x", 20)
	f.Fuzz(func(t *testing.T, line string, columns int) {
		if strings.ContainsAny(line, "\n") || !utf8.ValidString(line) {
			return
		}
		columns = leastColumns + (columns%180+180)%180
		got := Wrap(line, columns)
		words := func(s string) string {
			return strings.Join(strings.FieldsFunc(s, func(r rune) bool { return r == ' ' }), " ")
		}
		if words(strings.Join(got, " ")) != words(line) {
			t.Fatalf("%q became %q", line, got)
		}
		for _, l := range got {
			if utf8.RuneCountInString(l) > columns && strings.Contains(strings.TrimLeft(l, " "), " ") {
				t.Fatalf("%q is longer than %d", l, columns)
			}
		}
	})
}
