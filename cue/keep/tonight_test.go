package keep_test

import (
	"strings"
	"testing"

	"backfield/cue/keep"
	"backfield/layout/source"
	"backfield/layout/table"
)

func TestTonightRow(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		before, key string
		names       []string
		after       string // or the error
	}{
		{"", "dead", []string{"P07"}, "dead = [\"P07\"]\n"},
		{"", "swapped", []string{"P03", "P07"}, "swapped = [[\"P03\", \"P07\"]]\n"},
		{"# tonight\nabsent = [\"Tpt 3\"]", "dead", []string{"P07"}, "# tonight\nabsent = [\"Tpt 3\"]\ndead = [\"P07\"]\n"},
		{"dead = []\n", "dead", []string{"P07"}, "dead = [\"P07\"]\n"},
		{"dead = [\"P01\"] # wet\n", "dead", []string{"P07"}, "dead = [\"P01\", \"P07\"] # wet\n"},
		{"dead = [\n  \"P01\", # wet\n]\n", "dead", []string{"P07"}, "dead = [\n  \"P01\", \"P07\", # wet\n]\n"},
		{"dead = [\"P01\"]\n", "dead", []string{"P01"}, "dead = [\"P01\"]\n"},
		{"dead = [{ P07 = 21 }]\n", "dead", []string{"P07"}, "dead = [{ P07 = 21 }]\n"},
		{"swapped = [['P07', 'P03']]\n", "swapped", []string{"P03", "P07"}, "swapped = [['P07', 'P03']]\n"},
		{"swapped = [['P07', 'P03']]\n", "swapped", []string{"P04", "P05"},
			"swapped = [['P07', 'P03'], [\"P04\", \"P05\"]]\n"},
		{"from = \"set 9\"\r\n\r\n[substitute]\r\n\"Tpt 3\" = \"Tpt 5\"\r\n", "dead", []string{"P07"},
			"from = \"set 9\"\r\n\r\ndead = [\"P07\"]\r\n[substitute]\r\n\"Tpt 3\" = \"Tpt 5\"\r\n"},
		{"from = \"set 9\"\n[levels.far]\nx = 1\n", "dead", []string{"P07"},
			"from = \"set 9\"\ndead = [\"P07\"]\n[levels.far]\nx = 1\n"},
		{"[[note]]\ntext = \"wet\"\n[[note]]\ntext = \"cold\"\n", "dead", []string{"P07"},
			"dead = [\"P07\"]\n[[note]]\ntext = \"wet\"\n[[note]]\ntext = \"cold\"\n"},
		{"air.a = 1\nair.b = 2\n", "dead", []string{`P"7`}, "air.a = 1\nair.b = 2\ndead = ['P\"7']\n"},
		{"dead = { P07 = 21 }\n", "dead", []string{"P05"},
			"tonight.toml:1:8: dead is no list in brackets; add \"P05\" to it yourself"},
		{"dead = [\n", "dead", []string{"P05"}, "fix that first"},
	} {
		f, err := source.Open("tonight.toml", []byte(c.before), table.TOMLLimit)
		if err != nil {
			t.Fatal(err)
		}
		text, err := keep.TonightRow(f, c.key, c.names...)
		if err != nil {
			if !strings.Contains(err.Error(), c.after) {
				t.Errorf("%q: %v", c.before, err)
			}
			continue
		}
		if text != c.after {
			t.Errorf("%q with %s %q: %q, want %q", c.before, c.key, c.names, text, c.after)
		}
		var p source.Problems
		after, err := source.Open("tonight.toml", []byte(text), table.TOMLLimit)
		if err != nil {
			t.Fatal(err)
		}
		if root := table.ReadTOML(after, &p); p.Errors() > 0 || root.Get(c.key) == nil {
			t.Errorf("%q cannot be read: %v", text, p.All())
		}
		if again, err := keep.TonightRow(after, c.key, c.names...); err != nil || again != text {
			t.Errorf("a second time: %q, %v", again, err)
		}
	}
}
