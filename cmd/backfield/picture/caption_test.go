package picture

import (
	"io"
	"strings"
	"testing"

	"backfield/cue"
)

func TestList(t *testing.T) {
	for want, names := range map[string][]string{
		"":                        nil,
		"Tpt 1":                   {"Tpt 1"},
		"Tpt 1, 3, 11; Mello 2":   {"Tpt 1", "Tpt 3", "Tpt 11", "Mello 2"},
		"field left; field right": {"field left", "field right"},
		"Tpt 1; Bari 1; Tpt 2":    {"Tpt 1", "Bari 1", "Tpt 2"},
		"1, 2; solo":              {"1", "2", "solo"},
		"Åsa 1, 2; Łuk":           {"Åsa 1", "Åsa 2", "Łuk"},
	} {
		if got := List(names); got != want {
			t.Errorf("%q: %q, want %q", names, got, want)
		}
	}
}

func TestLevel(t *testing.T) {
	for v, want := range map[cue.Level]string{0: "±0", -0.001: "±0", -9: "−9", 1.5: "+1.5", -4.25: "−4.25"} {
		if got := LevelText(v); got != want {
			t.Errorf("%g: %q, want %q", float64(v), got, want)
		}
	}
}

// With any characters in a name, the SVG is valid XML and the PNG can be drawn.
func TestStrangeNames(t *testing.T) {
	d := &Drawing{Title: "<&\"'>\x00\xff", Min: XY{}, W: 10, H: 10, WidthMM: 100}
	for _, name := range []string{"<b>", "a&b", "\x01\x1f", "\xff\xfe", "長い名前", "a]]>b", strings.Repeat("W", 500)} {
		text := Shape{Class: "label", Points: []XY{{5, 5}}, Fill: Dark, Text: name, Tail: "<0>", SizeM: 0.3, Bold: true}
		d.haloed(0.05, text)
	}
	text := svg(t, d)
	wellFormed(t, text)
	if !strings.Contains(text, "a&amp;b") || !strings.Contains(text, "長い名前") {
		t.Error("a name is not written as it is")
	}
	if err := d.PNG(io.Discard, 300); err != nil {
		t.Error(err)
	}
}
